"""Signing and finishing: what is missing is named, what was found is written down, everything follows once."""

from datetime import date, datetime, timedelta

import pytest
from django.core import mail

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import finish_checkup, sign, swap_component
from contractor.checkups.actions.evidence import close_finding
from contractor.checkups.actions.reporting import NEWS_FOR, make_report
from contractor.checkups.errors import (
    AlreadyFinished,
    ChangedSinceSigned,
    NameMissing,
    NothingDrawn,
    NotSigned,
    NotYourVisit,
    StillMissing,
)
from contractor.checkups.lines import content_sha256
from contractor.checkups.models import CheckUp, CheckUpReport, Finding
from contractor.checkups.queries import care_record
from contractor.checkups.tasks import render_missing_reports, render_report
from contractor.core import audit
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.properties.models import Ownership
from contractor.systems.models import Component
from contractor.visits.models import Appointment
from tests.checkups import factories as made

STROKES = [[[0.1, 0.5], [0.4, 0.2], [0.7, 0.6]], [[0.5, 0.5], [0.6, 0.5]]]


def finish(checkup: CheckUp, at: datetime) -> CheckUp:
    return finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)


def test_finishing_an_unanswered_checkup_names_everything_that_is_missing(checkup: CheckUp, at: datetime) -> None:
    made.signed(checkup, at)
    with pytest.raises(StillMissing) as refused:
        finish(checkup, at)
    # Eight items, of which counting the starts is not required.
    assert len(refused.value.missing) == 7
    made.answer(checkup, "mould", at, condition="good")
    with pytest.raises(StillMissing) as refused:
        finish(checkup, at)
    assert len(refused.value.missing) == 6
    assert not any("mould" in sentence for sentence in refused.value.missing)
    assert Appointment.objects.get().state == "planned"


def test_a_bad_answer_that_asks_for_a_photo_is_not_complete_without_one(checkup: CheckUp, at: datetime) -> None:
    made.answer_all(checkup, at, instead={"mould": {"condition": "bad"}})
    made.signed(checkup, at)
    with pytest.raises(StillMissing) as refused:
        finish(checkup, at)
    [missing] = refused.value.missing
    assert "photo" in missing
    made.answer(checkup, "mould", at, condition="bad", because="The camera is broken")
    made.signed(checkup, at)
    assert finish(checkup, at).finished_at == at


def test_nothing_is_finished_unsigned(checkup: CheckUp, at: datetime) -> None:
    made.answer_all(checkup, at)
    with pytest.raises(NotSigned):
        finish(checkup, at)


def test_finishing_ends_the_visit_and_counts_for_care(checkup: CheckUp, on: date, at: datetime) -> None:
    made.finished(checkup, at)
    assert Appointment.objects.get().state == "done"
    [entry] = care_record(checkup.system_id)
    assert (entry.done_on, entry.kind, entry.is_passed, entry.by_us) == (on, "checkup", True, True)
    assert audit.breaks(f"property:{checkup.system.property_id}") == []
    with pytest.raises(AlreadyFinished):
        finish(checkup, at)


def test_what_a_verdict_asks_for_is_written_down_and_keeps_it_from_passing(
    checkup: CheckUp, theo: User, at: datetime
) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    finding = Finding.objects.get()
    assert (finding.severity, finding.item.code if finding.item else "") == ("bad", "rest-volts")
    assert "11.2 V" in finding.what
    assert care_record(checkup.system_id)[0].is_passed is False
    close_finding(finding_id=finding.pk, note="New battery.", by=theo.actor, at=at + timedelta(days=3))
    assert care_record(checkup.system_id)[0].is_passed is True


def test_another_technician_does_not_finish_it(checkup: CheckUp, ana: User, at: datetime) -> None:
    with pytest.raises(NotYourVisit):
        finish_checkup(checkup_id=checkup.pk, by_user=ana, at=at)


def test_a_signature_says_who_and_hashes_what_was_there(checkup: CheckUp, theo: User, at: datetime) -> None:
    def signs(kind: str, name: str = "", strokes: list[list[list[float]]] | None = None) -> str:
        signature = sign(checkup_id=checkup.pk, kind=kind, name=name, strokes=strokes or [], at=at, by=theo.actor)
        return signature.signed_sha256

    with pytest.raises(NameMissing):
        signs("typed")
    with pytest.raises(NothingDrawn):
        signs("drawn", "Iris Holloway")
    before = signs("drawn", "Iris Holloway", STROKES)
    assert before == content_sha256(checkup)
    made.answer(checkup, "mould", at, condition="good")
    assert content_sha256(checkup) != before
    signs("nobody_home", "Iris Holloway")
    checkup.signature.refresh_from_db()
    assert (checkup.signature.name, checkup.signature.strokes) == ("", [])


def test_what_changed_after_the_owner_signed_is_signed_once_more(checkup: CheckUp, at: datetime) -> None:
    made.answer_all(checkup, at)
    made.signed(checkup, at)
    made.answer(checkup, "rest-volts", at, typed="12.9", unit="V")
    with pytest.raises(ChangedSinceSigned):
        finish(checkup, at)
    made.signed(checkup, at)
    assert finish(checkup, at).finished_at == at


def test_a_swap_after_the_signature_is_signed_once_more(
    checkup: CheckUp, parts: dict[str, Component], at: datetime
) -> None:
    made.signed(checkup, at)
    before = checkup.signature.signed_sha256
    swap_component(
        checkup_id=checkup.pk,
        component_id=parts["primary_pump"].pk,
        model_id=None,
        serial_number="",
        because="Loud",
        failed=False,
        by_user=checkup.technician,
        on=checkup.done_on,
        at=at,
    )
    assert content_sha256(checkup) != before


def test_where_nobody_was_at_home_later_changes_need_no_second_word(checkup: CheckUp, at: datetime) -> None:
    made.answer_all(checkup, at)
    made.signed(checkup, at, kind="nobody_home", name="")
    made.answer(checkup, "rest-volts", at, typed="12.9", unit="V")
    assert finish(checkup, at).finished_at == at


# Least voltage under half the cold-cranking current: 9.4 V at 50 °F, 9.6 V at 70 °F (makers' service manuals). Without
# a temperature the strictest is asked, so 9.5 V is bad until the room turns out to be cold.
def test_verdicts_are_settled_with_everything_that_was_measured_in_the_end(checkup: CheckUp, at: datetime) -> None:
    early = made.answer(checkup, "load-test", at, typed="9.5", unit="V")
    assert early.verdict == "bad"
    made.finished(checkup, at, instead={"temperature": {"typed": "50", "unit": "degF"}}, keep=("load-test",))
    early.refresh_from_db()
    assert (early.verdict, early.value_si) == ("good", 9.5)
    assert not Finding.objects.exists()
    settled = AuditEntry.objects.get(verb="verdict settled")
    assert (settled.body["before"]["verdict"], settled.body["after"]["verdict"]) == ("bad", "good")


# π/4 · (18 in)² · 2 in in 60 s = 0.1390 L/s (geometry).
def test_the_computed_flow_of_a_timed_test_is_kept(checkup: CheckUp, at: datetime) -> None:
    kept = made.answer(checkup, "pit-rise", at, typed="2", unit="in", seconds=60.0)
    assert kept.number_si == pytest.approx(0.0508)
    assert kept.value_si == pytest.approx(0.0001390, rel=1e-3)


def test_a_report_made_long_after_the_visit_is_kept_but_no_news(
    checkup: CheckUp, ownership: Ownership, at: datetime
) -> None:
    made.finished(checkup, at)
    assert make_report(checkup_id=checkup.pk, at=at + NEWS_FOR + timedelta(days=1))
    assert not Notice.objects.filter(template="report_ready").exists()


def test_the_owner_hears_of_the_report_once(
    checkup: CheckUp,
    ownership: Ownership,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: object,
) -> None:
    monkeypatch.setattr("contractor.core.clock.now", lambda: at)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        made.finished(checkup, at)
    report = CheckUpReport.objects.get(checkup=checkup)
    render_report(checkup_id=checkup.pk)
    render_missing_reports()
    assert make_report(checkup_id=checkup.pk, at=at).pk == report.pk
    notices = Notice.objects.filter(template="report_ready")
    assert [(notice.occasion, notice.person) for notice in notices] == [(f"report:{checkup.pk}", ownership.person)]
    assert len([message for message in mail.outbox if "report" in message.subject]) == 1
    assert "12 Millrace Lane" in notices[0].subject


def test_a_report_that_a_wake_up_call_missed_is_made_by_the_sweep(checkup: CheckUp, at: datetime) -> None:
    made.finished(checkup, at)
    assert not CheckUpReport.objects.exists()
    render_missing_reports()
    render_missing_reports()
    assert CheckUpReport.objects.get().checkup == checkup
