"""Check-ups documented elsewhere: sent in, looked at, accepted or refused with a reason."""

import hashlib
import io
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.actions.records import decide_outside_record, send_outside_record
from contractor.checkups.errors import AlreadyDecided, BeforeInstallation, DayAhead, ReasonMissing, UnreadableDocument
from contractor.checkups.models import OutsideRecord
from contractor.checkups.queries import care_record
from contractor.core import renewal
from contractor.core.audit import Actor
from contractor.systems.models import System
from tests.checkups import factories as made

OWNER = Actor("owner:1", "Iris Holloway")
PDF = b"%PDF-1.7\n%whatever a scanner wrote\n"


def sent(system: System, at: datetime, **fields: Any) -> OutsideRecord:
    given: dict[str, Any] = {
        "provider": "Basin Pump Service",
        "done_on": date(2026, 4, 20),
        "what": "Pumps run, battery tested.",
        "sent_by": OWNER,
        **fields,
    }
    return send_outside_record(system_id=system.pk, at=at, **given)


def test_a_record_counts_only_once_it_is_accepted(system: System, nora: User, at: datetime) -> None:
    record = sent(system, at)
    assert (record.accepted, record.sent_by, care_record(system.pk)) == (None, "owner:1", [])
    decide_outside_record(record_id=record.pk, accepted=True, because="The invoice names it.", by_user=nora, at=at)
    [entry] = care_record(system.pk)
    assert (entry.done_on, entry.by_us, entry.provider) == (date(2026, 4, 20), False, "Basin Pump Service")


def test_a_refused_record_does_not_count_and_a_decision_stays(system: System, nora: User, at: datetime) -> None:
    record = sent(system, at)
    with pytest.raises(ReasonMissing):
        decide_outside_record(record_id=record.pk, accepted=False, because="", by_user=nora, at=at)
    decide_outside_record(record_id=record.pk, accepted=False, because="Names no system.", by_user=nora, at=at)
    with pytest.raises(AlreadyDecided):
        decide_outside_record(record_id=record.pk, accepted=True, because="After all.", by_user=nora, at=at)
    record.refresh_from_db()
    assert (record.accepted, record.decided_because, record.decided_by) == (False, "Names no system.", nora)
    assert care_record(system.pk) == []


@pytest.mark.parametrize(
    ("done_on", "refusal"),
    [(date(2026, 5, 5), DayAhead), (date(2020, 5, 13), BeforeInstallation)],
)
def test_a_day_that_cannot_be_is_refused(done_on: date, refusal: type[Exception], system: System, at: datetime) -> None:
    with pytest.raises(refusal):
        sent(system, at, done_on=done_on)


@pytest.mark.parametrize(("content", "suffix"), [(PDF, ".pdf"), (made.picture(), ".jpeg")])
def test_a_document_is_kept_byte_for_byte(content: bytes, suffix: str, system: System, at: datetime) -> None:
    record = sent(system, at, document=SimpleUploadedFile("evil.html", content))
    assert record.document.name.endswith(suffix)
    assert record.document_sha256 == hashlib.sha256(content).hexdigest()
    with record.document.open("rb") as file:
        assert file.read() == content


@pytest.mark.parametrize(
    "content",
    [b"", b"<html><script>1</script></html>", b"<svg/>", b"PK\x03\x04 a word document", PDF + b"0" * 10 * 1024 * 1024],
    ids=["empty", "html", "svg", "zip", "more than 10 MB"],
)
def test_only_a_pdf_or_a_picture_of_ten_megabytes_is_taken(content: bytes, system: System, at: datetime) -> None:
    with pytest.raises(UnreadableDocument):
        sent(system, at, document=io.BytesIO(content))
    assert not OutsideRecord.objects.exists()


def test_the_document_is_saved_and_never_run(
    system: System, nora: User, theo: User, at: datetime, signed_in_as: Callable[[User], Client]
) -> None:
    record = sent(system, at, document=io.BytesIO(PDF))
    address = reverse("checkups:record_document", args=[record.pk])
    response = signed_in_as(nora).get(address)
    assert response["Content-Disposition"].startswith("attachment")
    assert response["X-Content-Type-Options"] == "nosniff"
    assert b"".join(response.streaming_content) == PDF  # type: ignore[attr-defined]
    assert signed_in_as(theo).get(address).status_code == 403
    assert Client().get(address).status_code == 302
    bare = sent(system, at, done_on=date(2026, 4, 21))
    assert signed_in_as(nora).get(reverse("checkups:record_document", args=[bare.pk])).status_code == 404


def test_the_desk_sees_what_waits_and_decides(
    system: System, nora: User, theo: User, at: datetime, signed_in_as: Callable[[User], Client]
) -> None:
    record = sent(system, at - timedelta(days=1))
    desk = signed_in_as(nora)
    page = desk.get(reverse("checkups:outside_records", args=[system.pk])).content.decode()
    assert "Basin Pump Service" in page
    assert "waits for a decision" in page
    decide = reverse("checkups:decide_record", args=[record.pk])
    desk.post(decide, {"accepted": "no", "because": ""})
    record.refresh_from_db()
    assert record.accepted is None
    desk.post(decide, {"accepted": "no", "because": "Names no system."})
    record.refresh_from_db()
    assert record.accepted is False
    page = desk.get(reverse("checkups:outside_records", args=[system.pk])).content.decode()
    assert "Names no system." in page
    assert signed_in_as(theo).post(decide, {"accepted": "yes", "because": "x"}).status_code == 403


def test_a_system_without_records_says_what_will_be_there(
    system: System, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    page = signed_in_as(nora).get(reverse("checkups:outside_records", args=[system.pk])).content.decode()
    assert "No records from outside" in page


@pytest.mark.parametrize("done_on", [date(2020, 5, 14), date(2026, 5, 4)], ids=["day of installation", "today"])
def test_the_first_and_the_last_day_that_can_be_are_taken(done_on: date, system: System, at: datetime) -> None:
    assert sent(system, at, done_on=done_on).done_on == done_on


def test_today_is_the_day_where_the_company_is(system: System) -> None:
    """At 03:30 UTC it is still the evening before in Pennsylvania (UTC-4 in May; tz database, America/New_York)."""
    night = datetime(2026, 5, 5, 3, 30, tzinfo=UTC)
    assert sent(system, night, done_on=date(2026, 5, 4)).done_on == date(2026, 5, 4)
    with pytest.raises(DayAhead):
        sent(system, night, done_on=date(2026, 5, 5))


def test_a_decision_needs_its_reason_whichever_it_is_and_renews_the_house(
    system: System, nora: User, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    renewed: list[int] = []
    monkeypatch.setattr(renewal, "facts_changed", lambda *, property_id: renewed.append(property_id))
    record = sent(system, at)
    with pytest.raises(ReasonMissing) as refused:
        decide_outside_record(record_id=record.pk, accepted=True, because="  ", by_user=nora, at=at)
    assert "why" in refused.value.sentence
    assert "could not be done" not in refused.value.sentence
    assert renewed == []
    decide_outside_record(record_id=record.pk, accepted=True, because="The invoice names it.", by_user=nora, at=at)
    assert renewed == [system.property_id]


def test_a_document_that_is_a_picture_is_saved_under_its_own_kind(
    system: System, nora: User, at: datetime, signed_in_as: Callable[[User], Client]
) -> None:
    record = sent(system, at, document=io.BytesIO(made.picture()))
    response = signed_in_as(nora).get(reverse("checkups:record_document", args=[record.pk]))
    assert response["Content-Disposition"] == 'attachment; filename="record-2026-04-20.jpeg"'
    assert "no-store" in response["Cache-Control"]
