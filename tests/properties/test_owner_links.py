"""Secret links of owners: hashed, expiring, revocable."""

from datetime import datetime, timedelta

import pytest

from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties import actions
from contractor.properties.models import OwnerLink, Ownership


@pytest.fixture
def token(ownership: Ownership, office: Actor, at: datetime) -> str:
    return actions.make_owner_link(ownership_id=ownership.pk, by=office, at=at)


def test_a_token_opens_its_house_and_the_opening_is_noted(token: str, ownership: Ownership, at: datetime) -> None:
    later = at + timedelta(hours=1)
    opened = actions.open_owner_link(token=token, at=later)
    assert opened is not None
    assert opened.ownership == ownership
    assert OwnerLink.objects.get().last_opened_at == later


def test_a_token_has_256_bits_and_only_its_hash_is_kept(token: str) -> None:
    # 32 bytes in base 64 without padding are 43 characters (RFC 4648).
    assert len(token) == 43
    link = OwnerLink.objects.get()
    assert token not in (link.token_sha256, str(AuditEntry.objects.values_list("body", "personal")))
    assert link.token_sha256 == actions.token_sha256(token)


def test_two_links_never_share_a_token(token: str, ownership: Ownership, office: Actor, at: datetime) -> None:
    assert actions.make_owner_link(ownership_id=ownership.pk, by=office, at=at) != token


@pytest.mark.parametrize(
    ("passed", "opens"),
    [
        (timedelta(days=29, hours=23, minutes=59), True),
        (timedelta(days=30), False),
        (timedelta(days=300), False),
    ],
)
def test_a_link_lasts_thirty_days(token: str, at: datetime, passed: timedelta, opens: bool) -> None:
    assert (actions.open_owner_link(token=token, at=at + passed) is not None) is opens


@pytest.mark.parametrize("wrong", ["", "x", "A" * 43])
def test_a_wrong_token_opens_nothing_and_leaves_no_trace(token: str, at: datetime, wrong: str) -> None:
    assert actions.open_owner_link(token=wrong, at=at) is None
    assert actions.open_owner_link(token=token[:-1], at=at) is None
    assert OwnerLink.objects.get().last_opened_at is None


def test_revoked_links_open_nothing_and_the_others_still_do(
    token: str, ownership: Ownership, neighbour: Ownership, office: Actor, at: datetime
) -> None:
    nextdoor = actions.make_owner_link(ownership_id=neighbour.pk, by=office, at=at)
    actions.make_owner_link(ownership_id=ownership.pk, by=office, at=at)
    assert actions.revoke_owner_links(ownership_id=ownership.pk, by=office, at=at) == 2
    assert actions.open_owner_link(token=token, at=at) is None
    assert actions.open_owner_link(token=nextdoor, at=at) is not None
    assert actions.revoke_owner_links(ownership_id=ownership.pk, by=office, at=at) == 0
