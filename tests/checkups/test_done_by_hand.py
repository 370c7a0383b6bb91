"""Repairs and claim calls noted as done: by the technician, by the office; what follows, and when it is refused."""

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.actions.evidence import raise_finding
from contractor.checkups.actions.repair_visits import finish_repair
from contractor.checkups.models import CheckUp, Finding
from contractor.core import clock
from contractor.core.models import AuditEntry
from contractor.systems.models import System
from contractor.visits.actions.appointments import ask_for_visit, could_not
from contractor.visits.errors import HasChecklist, NotLive, NotYet, WorkMissing
from contractor.visits.models import Appointment, Request
from contractor.visits.rules import Finishing, finishing
from tests.factories import ComponentFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

SignIn = Callable[[User], Client]
DAY = date(2026, 5, 4)
CASES = [
    # kind, planned on, today: what becomes of it
    ("repair", DAY, DAY, Finishing.POSSIBLE),
    ("claim", DAY, DAY, Finishing.POSSIBLE),
    ("repair", DAY, DAY + timedelta(days=3), Finishing.POSSIBLE),
    ("repair", DAY + timedelta(days=1), DAY, Finishing.NOT_YET),
    ("checkup", DAY, DAY, Finishing.HAS_CHECKLIST),
    ("transfer", DAY, DAY, Finishing.HAS_CHECKLIST),
    ("reinstatement", DAY + timedelta(days=1), DAY, Finishing.HAS_CHECKLIST),
]


@pytest.mark.parametrize(("kind", "planned_on", "on", "becomes"), CASES)
def test_a_visit_without_a_checklist_is_done_on_its_day_or_noted_afterwards(
    kind: str, planned_on: date, on: date, becomes: Finishing
) -> None:
    assert finishing(kind=kind, planned_on=planned_on, on=on) == becomes


@pytest.fixture(autouse=True)
def this_day(monkeypatch: pytest.MonkeyPatch, on: date, at: datetime) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


@pytest.fixture
def repair(system: System, theo: User, on: date) -> Appointment:
    stop: Appointment = AppointmentFactory(
        request=RequestFactory(system=system, kind="repair", reason="The alarm is silent.", minutes=45),
        technician=theo,
        on=on,
    )
    return stop


@pytest.fixture
def finish(repair: Appointment, theo: User, at: datetime) -> Callable[..., Appointment]:
    def note(**changed: object) -> Appointment:
        asked = {"minutes_taken": 35, "work_done": " New buzzer. ", "by_user": theo, "at": at, **changed}
        return finish_repair(appointment_id=repair.pk, **asked)

    return note


def test_it_says_what_was_done_and_how_long_it_took_and_the_request_is_fulfilled(
    finish: Callable[..., Appointment], repair: Appointment
) -> None:
    finish(office_note="The dog bites.")
    repair.refresh_from_db()
    assert (repair.state, repair.minutes_taken) == ("done", 35)
    assert (repair.work_done, repair.office_note) == ("New buzzer.", "The dog bites.")
    assert not Request.objects.wanting().exists()
    verbs = list(AuditEntry.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["visit done", "what was done noted"]


def test_noted_twice_the_first_words_stay(finish: Callable[..., Appointment], repair: Appointment) -> None:
    finish()
    entries = AuditEntry.objects.count()
    finish(work_done="Something else.", minutes_taken=5)
    repair.refresh_from_db()
    assert (repair.work_done, AuditEntry.objects.count()) == ("New buzzer.", entries)


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"on": DAY + timedelta(days=1)}, NotYet),
        ({"state": "cancelled"}, NotLive),
        ({"state": "could_not"}, NotLive),
    ],
)
def test_what_is_not_due_yet_or_was_called_off_is_not_done(
    finish: Callable[..., Appointment], changes: dict[str, object], refusal: type[Exception]
) -> None:
    Appointment.objects.update(**changes)
    with pytest.raises(refusal):
        finish()
    assert not AuditEntry.objects.exists()


@pytest.mark.parametrize("kind", ["checkup", "transfer", "reinstatement"])
def test_a_visit_with_a_checklist_is_not_finished_by_hand(finish: Callable[..., Appointment], kind: str) -> None:
    Request.objects.update(kind=kind)
    with pytest.raises(HasChecklist, match="finished through its checklist"):
        finish()


def test_without_a_word_about_what_was_done_it_stays_open(
    finish: Callable[..., Appointment], repair: Appointment
) -> None:
    with pytest.raises(WorkMissing):
        finish(work_done="  ")
    repair.refresh_from_db()
    assert repair.state == "planned"


def test_what_went_along_is_done_too_but_for_what_was_left(
    finish: Callable[..., Appointment], repair: Appointment, system: System
) -> None:
    done = RequestFactory(system=system, kind="claim", goes_with=repair.request)
    left = RequestFactory(system=system, kind="repair", goes_with=repair.request)
    finish(left_ids=[left.pk])
    assert set(Request.objects.wanting()) == {left}
    assert list(Request.objects.without_appointment()) == [left]
    left.refresh_from_db()
    done.refresh_from_db()
    assert (left.goes_with, done.goes_with) == (None, repair.request)


@pytest.fixture
def finding(checkup: CheckUp, theo: User, at: datetime) -> Finding:
    return raise_finding(
        checkup_id=checkup.pk,
        severity="bad",
        what="The check valve leaks.",
        what_to_do="Replace it.",
        by_user=theo,
        at=at,
    )


def test_the_findings_it_put_right_are_closed_and_others_stay_open(
    finish: Callable[..., Appointment], finding: Finding, checkup: CheckUp, theo: User, at: datetime
) -> None:
    other = raise_finding(
        checkup_id=checkup.pk, severity="watch", what="Rust.", what_to_do="Look again.", by_user=theo, at=at
    )
    finish(put_right=[finding.pk])
    finding.refresh_from_db()
    other.refresh_from_db()
    assert (finding.done_note, finding.done_by, other.done_at) == ("New buzzer.", theo, None)


def test_a_finding_of_another_house_is_left_alone(
    finish: Callable[..., Appointment], finding: Finding, repair: Appointment
) -> None:
    elsewhere = ComponentFactory().system
    Request.objects.filter(pk=repair.request_id).update(system=elsewhere)
    finish(put_right=[finding.pk])
    finding.refresh_from_db()
    assert finding.done_at is None


# ---- the pages ----


def test_the_technician_notes_it_on_the_round(
    repair: Appointment, finding: Finding, theo: User, signed_in_as: SignIn, on: date
) -> None:
    Request.objects.filter(pk=repair.request_id).update(occasion=f"finding:{finding.pk}")
    client, page = signed_in_as(theo), reverse("checkups:done", args=[repair.pk])
    round_page = reverse("checkups:my_round")
    assert f'href="{page}">Note it as done' in client.get(round_page).content.decode()
    text = client.get(page).content.decode()
    assert "The alarm is silent." in text
    assert 'value="45"' in text
    # The finding that asked for this visit is ticked already.
    assert re.search(f'value="{finding.pk}"[^>]*checked|checked[^>]*value="{finding.pk}"', text)
    wrong = client.post(page, {"work_done": "", "minutes_taken": "0"}).content.decode()
    assert "This field is required" in wrong
    typed = {"work_done": "New valve.", "minutes_taken": "50", "put_right": [str(finding.pk)]}
    answer = client.post(page, typed)
    assert answer["Location"] == reverse("checkups:round_day", args=[theo.pk, on])
    finding.refresh_from_db()
    assert finding.done_note == "New valve."
    shown = client.get(round_page).content.decode()
    assert "New valve." in shown
    assert page not in shown
    assert "is done already" in client.get(page).content.decode()


def test_the_office_notes_it_afterwards_and_reads_it_on_the_round_and_the_house_file(
    repair: Appointment, nora: User, theo: User, signed_in_as: SignIn, on: date
) -> None:
    Appointment.objects.update(on=on - timedelta(days=2))
    client, page = signed_in_as(nora), reverse("checkups:done", args=[repair.pk])
    round_page = reverse("visits:round_day", args=[theo.pk, on - timedelta(days=2)])
    assert page in client.get(round_page).content.decode()
    typed = {"work_done": "New buzzer.", "minutes_taken": "30", "office_note": "Send the bill."}
    assert client.post(page, typed)["Location"] == round_page
    text = client.get(round_page).content.decode()
    assert "New buzzer. (30 minutes)" in text
    assert "Send the bill." in text
    house = client.get(reverse("office:house", args=[repair.request.system.property_id])).content.decode()
    assert "New buzzer." in house


def test_before_its_day_and_for_a_checkup_the_page_says_why_not(
    repair: Appointment, theo: User, signed_in_as: SignIn, on: date
) -> None:
    client, page = signed_in_as(theo), reverse("checkups:done", args=[repair.pk])
    Appointment.objects.update(on=on + timedelta(days=1))
    assert "on that day or afterwards" in client.get(page).content.decode()
    refused = client.post(page, {"work_done": "Too early.", "minutes_taken": "5"})
    assert refused.status_code == 200
    assert Appointment.objects.get().state == "planned"
    ahead = reverse("checkups:round_day", args=[theo.pk, on + timedelta(days=1)])
    assert page not in client.get(ahead).content.decode()
    Request.objects.update(kind="checkup")
    assert "finished through its checklist" in client.get(page).content.decode()


def test_another_technicians_visit_is_not_there(repair: Appointment, ana: User, signed_in_as: SignIn) -> None:
    client = signed_in_as(ana)
    for answer in (client.get, client.post):
        assert answer(reverse("checkups:done", args=[repair.pk])).status_code == 404


def test_could_not_be_done_the_request_waits_for_another_day(
    system: System, theo: User, at: datetime, on: date
) -> None:
    asked = ask_for_visit(
        occasion="test", system_id=system.pk, kind="claim", target_on=on, earliest_on=on, latest_on=on, minutes=30,
        reason="Look.", by=theo.actor, at=at,
    )
    stop = AppointmentFactory(request=asked, technician=theo, on=on)
    could_not(appointment_id=stop.pk, because="Nobody at home.", by=theo.actor, at=at)
    assert list(Request.objects.without_appointment()) == [asked]
