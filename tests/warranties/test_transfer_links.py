"""The secret links of a sale: made when a message is sent, for one person and one part, ended when the sale ends."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core import mail

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.core.models import AuditEntry
from contractor.notices.actions import queue_notice
from contractor.notices.models import Notice
from contractor.properties.errors import NoEmail
from contractor.properties.models import OwnerLink, Person
from contractor.warranties.actions import transfer_links, transfers
from contractor.warranties.errors import BuyerIsSeller, ClosingTooFar, LinkGone, TransferSettled
from contractor.warranties.models import Transfer, TransferLink, Warranty
from contractor.warranties.transfer_people import parts_with_address, people_in_sale
from tests.factories import PersonFactory
from tests.warranties.test_transfer import CLOSING, ask, complete, issue

pytestmark = pytest.mark.django_db
LINK = re.compile(r"/home/sale/link/([A-Za-z0-9_-]+)/")
Committed = Callable[..., AbstractContextManager[Any]]


@pytest.fixture(autouse=True)
def standing_clock(monkeypatch: pytest.MonkeyPatch, on: date, at: datetime) -> None:
    """Messages are sent at the moment of the test."""
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


@pytest.fixture
def sale(
    cared_for: Warranty,
    buyer: Person,
    office: Actor,
    at: datetime,
    django_capture_on_commit_callbacks: Committed,
) -> Transfer:
    """Asked for, with the mail out and an agent invited."""
    with django_capture_on_commit_callbacks(execute=True):
        transfer = ask(cared_for, buyer, office, at)
        transfer_links.invite_agent(
            transfer_id=transfer.pk, name="Ada Lorimer", email="Ada@Example.com ", by=office, at=at
        )
    return transfer


def tokens() -> dict[str, str]:
    """The token in the last message to each mailbox, in text and HTML the same."""
    found = {}
    for message in mail.outbox:
        in_text, in_html = (LINK.findall(str(body)) for body in (message.body, message.alternatives[0][0]))  # type: ignore[attr-defined]
        assert len(set(in_text + in_html)) <= 1
        if in_text:
            found[message.to[0]] = in_text[0]
    return found


def opened(token: str, at: datetime) -> TransferLink | None:
    return transfer_links.open_transfer_link(token=token, at=at)


def test_seller_buyer_and_agent_each_get_a_link_to_their_own_part(sale: Transfer, at: datetime) -> None:
    links = {address: opened(token, at) for address, token in tokens().items()}
    roles = {address: link.role for address, link in links.items() if link is not None}
    assert roles == {"iris@example.com": "seller", "ben@example.com": "buyer", "ada@example.com": "agent"}
    assert {link.transfer_id for link in links.values() if link is not None} == {sale.pk}


def test_the_secret_stands_in_no_table(sale: Transfer, at: datetime) -> None:
    told = str([list(model.objects.values()) for model in (TransferLink, Notice, AuditEntry)])  # type: ignore[attr-defined]
    assert len(tokens()) == 3
    for token in tokens().values():
        assert len(token) >= 43  # 256 random bits in base64url
        assert token not in told


def test_nobody_reads_of_the_other_in_their_message(sale: Transfer) -> None:
    to = {address: [str(m.body) + m.subject for m in mail.outbox if m.to == [address]] for address in tokens()}
    assert not any("Iris" in body or "Holloway" in body for body in to["ben@example.com"] + to["ada@example.com"])
    assert not any("Ben" in body or "Okafor" in body for body in to["ada@example.com"])


def test_each_message_holds_a_link_of_its_own_and_the_earlier_ones_stay_open(
    sale: Transfer, office: Actor, at: datetime, django_capture_on_commit_callbacks: Committed
) -> None:
    first = tokens()["ben@example.com"]
    with django_capture_on_commit_callbacks(execute=True):
        for _ in range(2):  # pressed twice, sent once
            transfer_links.send_transfer_link(transfer_id=sale.pk, role="buyer", email="", by=office, at=at)
    second = tokens()["ben@example.com"]
    assert first != second
    assert all(opened(token, at) is not None for token in (first, second))
    assert Notice.objects.filter(template="transfer_link", person__name="Ben Okafor").count() == 1


def test_a_link_lasts_thirty_days(sale: Transfer, at: datetime) -> None:
    token = tokens()["ben@example.com"]
    assert opened(token, at + timedelta(days=30) - timedelta(seconds=1)) is not None
    assert opened(token, at + timedelta(days=30)) is None


@pytest.mark.parametrize("token", ["", "x" * 43, "\0"])
def test_a_wrong_token_opens_nothing(token: str, sale: Transfer, at: datetime) -> None:
    assert opened(token, at) is None


def test_opening_is_noted_in_the_trail_of_the_house(sale: Transfer, at: datetime) -> None:
    opened(tokens()["ben@example.com"], at)
    [entry] = AuditEntry.objects.filter(verb="transfer link opened")
    assert entry.stream == f"property:{sale.seller.property_id}"
    assert entry.actor.startswith("buyer:")
    assert "Ben" not in str(entry.body)


def test_ending_somebodys_links_ends_all_of_theirs_and_nobody_elses(
    sale: Transfer, office: Actor, at: datetime
) -> None:
    count = transfer_links.revoke_transfer_links(
        transfer_id=sale.pk, role="agent", email="ada@example.com", by=office, at=at
    )
    assert count == 2  # the row that stands for her, and the one in the message
    links = {address: opened(token, at) for address, token in tokens().items()}
    assert [address for address, link in links.items() if link is None] == ["ada@example.com"]
    # She is out until invited again; seller and buyer may always ask for a new link.
    assert parts_with_address("ada@example.com") == []
    assert parts_with_address("ben@example.com") == [(sale.pk, "buyer")]
    assert parts_with_address("iris@example.com") == [(sale.pk, "seller")]
    assert parts_with_address("") == []
    told = {one.word: (one.opens_until is not None, one.is_revoked) for one in people_in_sale(sale, at=at)}
    assert told == {"Seller": (True, False), "Buyer": (True, False), "Agent": (False, True)}
    transfer_links.invite_agent(transfer_id=sale.pk, name="Ada Lorimer", email="ada@example.com", by=office, at=at)
    assert parts_with_address("ada@example.com") == [(sale.pk, "agent")]
    assert Person.objects.filter(email="ada@example.com").count() == 1


def test_somebody_without_a_part_or_an_address_gets_no_link(
    sale: Transfer, buyer: Person, office: Actor, at: datetime
) -> None:
    words = {"transfer_id": sale.pk, "by": office, "at": at}
    with pytest.raises(LinkGone):
        transfer_links.send_transfer_link(role="agent", email="stranger@example.com", **words)  # type: ignore[arg-type]
    with pytest.raises(LinkGone):
        transfer_links.revoke_transfer_links(role="agent", email="stranger@example.com", **words)  # type: ignore[arg-type]
    with pytest.raises(NoEmail):
        transfer_links.invite_agent(name="Ada", email=" ", **words)  # type: ignore[arg-type]
    buyer.email = ""
    buyer.save()
    with pytest.raises(NoEmail):
        transfer_links.send_transfer_link(role="buyer", email="", **words)  # type: ignore[arg-type]


def test_withdrawing_ends_every_link_and_tells_everybody(
    sale: Transfer, office: Actor, at: datetime, django_capture_on_commit_callbacks: Committed
) -> None:
    before = tokens()
    with django_capture_on_commit_callbacks(execute=True):
        transfers.withdraw_transfer(transfer_id=sale.pk, because="The sale fell through.", by=office, at=at)
    assert all(opened(token, at) is None for token in before.values())
    assert not sale.links.filter(revoked_at__isnull=True).exists()
    told = Notice.objects.filter(template="transfer_withdrawn").order_by("pk")
    assert [notice.person.name for notice in told] == ["Iris Holloway", "Ben Okafor", "Ada Lorimer"]
    # Why it was called off is between the seller and the office.
    assert not any("fell through" in notice.text for notice in told)
    assert tokens() == before
    for make in (
        lambda: transfer_links.send_transfer_link(transfer_id=sale.pk, role="buyer", email="", by=office, at=at),
        lambda: transfer_links.invite_agent(transfer_id=sale.pk, name="A", email="a@example.com", by=office, at=at),
        lambda: transfer_links.make_transfer_link(
            transfer_id=sale.pk, role="buyer", name="B", email="b@example.com", by=office, at=at
        ),
    ):
        with pytest.raises(TransferSettled):
            make()


def test_issuing_ends_every_link_and_gives_the_buyer_one_to_the_house(
    sale: Transfer,
    theo: User,
    office: Actor,
    on: date,
    at: datetime,
    django_capture_on_commit_callbacks: Committed,
) -> None:
    complete(sale, theo, office, at)
    before = tokens()
    with django_capture_on_commit_callbacks(execute=True):
        issue(sale, office, at, on)
    assert all(opened(token, at) is None for token in before.values())
    assert not sale.links.filter(revoked_at__isnull=True).exists()
    sale.refresh_from_db()
    assert OwnerLink.objects.get(ownership=sale.buyer_ownership).revoked_at is None
    told = Notice.objects.filter(template__startswith="transfer_issued").order_by("template")
    assert [notice.person.name for notice in told] == ["Ada Lorimer", "Ben Okafor", "Iris Holloway"]


def test_a_settled_sale_opens_for_nobody_even_if_somebody_forgot_the_links(sale: Transfer, at: datetime) -> None:
    Transfer.objects.filter(pk=sale.pk).update(state=Transfer.State.WITHDRAWN)
    assert all(opened(token, at) is None for token in tokens().values())


def test_a_message_that_waits_until_the_sale_is_settled_is_withdrawn_and_its_link_opens_nothing(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime, django_capture_on_commit_callbacks: Committed
) -> None:
    with django_capture_on_commit_callbacks() as waiting:
        transfer = ask(cared_for, buyer, office, at)
    transfers.withdraw_transfer(transfer_id=transfer.pk, because="Called off.", by=office, at=at)
    for callback in waiting:
        callback()
    assert mail.outbox == []
    late = Notice.objects.filter(template__in=["transfer_asked", "transfer_asked_buyer"])
    assert set(late.values_list("state", flat=True)) == {"withdrawn"}
    # One that a worker had in hand at that moment still goes out, and names the page to ask at.
    late.update(state="queued")
    for callback in waiting:
        callback()
    assert len(mail.outbox) == 2
    assert tokens() == {}
    assert all("/home/ask/" in str(message.body) for message in mail.outbox)


def test_a_marker_that_somebody_types_into_a_text_opens_nothing(
    sale: Transfer, neighbour: Any, at: datetime, django_capture_on_commit_callbacks: Committed
) -> None:
    theirs = sale.links.filter(role="buyer").earliest("pk")
    with django_capture_on_commit_callbacks(execute=True):
        queue_notice(
            occasion="forged",
            template="transfer_link",
            person=neighbour.person,
            property=neighbour.property,
            context={"sale_link": f"{{personal-link-to-your-part-of-the-sale:{theirs.pk}}}", "transfer": sale},
            by=SYSTEM,
            at=at,
        )
    assert "nextdoor@example.com" not in tokens()


def test_buyer_and_seller_are_two_people(cared_for: Warranty, iris: Person, office: Actor, at: datetime) -> None:
    alike = PersonFactory(name="I. Holloway", email=iris.email)
    with pytest.raises(BuyerIsSeller):
        ask(cared_for, alike, office, at)
    assert not Transfer.objects.exists()


def test_a_closing_more_than_a_year_ahead_is_a_slip(
    cared_for: Warranty, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    with pytest.raises(ClosingTooFar):
        ask(cared_for, buyer, office, at, closing_on=on + timedelta(days=367))
    assert ask(cared_for, buyer, office, at, closing_on=on + timedelta(days=366)).closing_on > CLOSING
