"""Files signed with a key that leaked: what the check page answers, and what to do."""

from datetime import date, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.warranties.actions import certifying
from contractor.warranties.check_upload import check_file, signed_since
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.signing_keys import SigningKey, distrust_key, make_key, stored_key
from tests.portal.test_check_upload import file_of, plain_page, told
from tests.warranties.factories import checkup_done

ISSUED = date(2026, 5, 4)


@pytest.fixture
def certificate(
    warranty: Warranty,
    theo: User,
    office: Actor,
    on: date,
    at: datetime,
    settings: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Certificate:
    """Issued and signed on May 4, with a key of its own folder."""
    settings.SIGNING_KEY_DIR = tmp_path / "keys"
    monkeypatch.setattr(certifying, "certificate_pdf", plain_page)
    make_key(organisation="Harrow Creek", at=at)
    for year in (2021, 2022, 2023, 2024, 2025):
        checkup_done(warranty.system, date(year, 5, 10), theo)
    return certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)


@pytest.fixture
def file(certificate: Certificate) -> bytes:
    made = file_of(certificate)
    certificate.refresh_from_db()
    return made


def leak(from_on: date) -> SigningKey:
    key = stored_key()
    assert key is not None
    distrust_key(fingerprint=key.fingerprint, from_on=from_on, today=date(2026, 7, 1))
    return key


# The first day on which the key is not trusted, and whether the file of May 4 is still believed.
CASES = [
    ("long after", date(2026, 7, 1), True),
    ("the day after", ISSUED + timedelta(days=1), True),
    ("that very day", ISSUED, False),
    ("the day before", ISSUED - timedelta(days=1), False),
    ("long before", date(2020, 1, 1), False),
]


@pytest.mark.parametrize(("from_on", "is_good"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_a_file_is_believed_when_it_was_signed_and_recorded_before_the_day(
    file: bytes, certificate: Certificate, on: date, from_on: date, is_good: bool
) -> None:
    key = leak(from_on)
    answer = check_file(file, on=on)
    assert answer.is_known is is_good
    assert answer.trouble == ("" if is_good else "distrusted")
    assert answer.untrusted_from_on == from_on
    number = display_number(certificate.number)
    assert signed_since(key.fingerprint, from_on=from_on) == ([] if is_good else [number])


@pytest.mark.parametrize("claims", [ISSUED - timedelta(days=200), ISSUED + timedelta(days=20)])
def test_the_later_of_register_and_signature_counts(
    file: bytes, certificate: Certificate, on: date, at: datetime, claims: date
) -> None:
    # Whoever has the key can claim any time in the signature; the register keeps its own.
    leak(date(2026, 5, 10))
    assert check_file(file, on=on).is_known
    shift = claims - ISSUED
    Certificate.objects.filter(pk=certificate.pk).update(issued_at=at + shift)
    assert check_file(file, on=on).is_known is (shift < timedelta(0))


def test_the_command_lists_what_to_issue_anew(file: bytes, certificate: Certificate) -> None:
    key = stored_key()
    assert key is not None
    out = StringIO()
    call_command("signing_key", "distrust", key.fingerprint, "--from", "2026-05-04", stdout=out)
    lines = out.getvalue().splitlines()
    assert f"  {display_number(certificate.number)}" in lines
    assert lines[-1] == "What it signed before that day stays good, and the check page says so."


def test_the_page_says_what_to_do_and_names_nobody(file: bytes, certificate: Certificate) -> None:
    leak(ISSUED)
    shown = told(file)
    assert "signed with a key that is no longer trusted" in shown
    assert "since May 4, 2026 others may have had the key" in shown
    assert "ask the owner or the agent for a new certificate" in shown
    assert "555-01" in shown
    for word in ("is genuine", "in force", "Holloway", "Millrace"):
        assert word not in shown


def test_a_file_of_before_stays_good_and_the_page_says_why(file: bytes) -> None:
    leak(date(2026, 6, 1))
    shown = told(file)
    assert "is genuine." in shown
    assert "has not been trusted since June 1, 2026; this file was signed and recorded before that day" in shown


def test_number_and_code_from_the_paper_are_checked_as_before(
    certificate: Certificate, file: bytes, client: Any
) -> None:
    leak(ISSUED)
    answer = client.post(
        reverse("portal:check"), {"number": certificate.number, "code": certificate.check_code}
    ).content.decode()
    assert "is genuine" in answer


def test_a_certificate_issued_anew_after_the_rotation_is_believed_and_nothing_is_left_to_do(
    file: bytes, warranty: Warranty, office: Actor, on: date, at: datetime
) -> None:
    key = leak(ISSUED)
    make_key(organisation="Harrow Creek", at=at, replaces=True)
    newer = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at + timedelta(hours=1))
    assert check_file(file_of(newer), on=on).is_known
    assert check_file(file, on=on).trouble == "distrusted"
    assert signed_since(key.fingerprint, from_on=ISSUED) == []


def test_another_key_that_leaked_touches_nothing(file: bytes, certificate: Certificate, on: date, at: datetime) -> None:
    make_key(organisation="Harrow Creek", at=at, replaces=True)
    leak(date(2020, 1, 1))
    answer = check_file(file, on=on)
    assert answer.is_known
    assert answer.untrusted_from_on is None
