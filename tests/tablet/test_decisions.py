"""What the office decides: an answer out of two, a visit without a new signature, late work, and what was set aside."""

from datetime import date, datetime, timedelta
from uuid import UUID, uuid4

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.reopening import reopen_checkup
from contractor.checkups.errors import NotFinished
from contractor.checkups.errors import ReasonMissing as CheckUpReasonMissing
from contractor.checkups.models import Answer, CheckUp, CheckUpReport, Signature
from contractor.core import audit
from contractor.systems.models import Component
from contractor.tablet.actions import decisions
from contractor.tablet.actions.door import take_items
from contractor.tablet.errors import AlreadyDecided, NoConflict, NothingToDecide, ReasonMissing, StillUnreadable
from contractor.tablet.models import OFFICE_DEVICE, Event, SetAside, TabletVisit
from contractor.visits.actions.appointments import cancel_appointment, give_to_technician, take_up_again
from contractor.visits.errors import AlreadyGiven, NotLive
from contractor.visits.models import Appointment
from tests.checkups.factories import appointment_for
from tests.factories import SystemFactory
from tests.tablet.hands import Tablet, item, registered, whole_checkup

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def second(tablet: Tablet, at: datetime) -> Tablet:
    """Another tablet of Theo's, that knows nothing of the first."""
    return registered(tablet.person, tablet.visit, at, name="Tablet 2")


def codes() -> list[str]:
    return [problem["code"] for problem in TabletVisit.objects.get().problems]


def disagreeing(tablet: Tablet, second: Tablet, parts: dict[str, Component], at: datetime) -> list[UUID]:
    """A finished visit whose "mould" is good on one tablet and bad on the other; the ids of both answers."""
    whole_checkup(tablet, parts)
    tablet.sign()
    tablet.finish()
    other = second.answer("mould", condition="bad", because="No camera")
    second.send(at)
    tablet.send(at)
    tablet.send_photos(at)
    assert codes() == ["conflict"]
    return [UUID(tablet.heads["answer:mould:0"][0]), UUID(other)]


def test_the_chosen_answer_holds_and_the_other_stays_on_record(
    tablet: Tablet, second: Tablet, parts: dict[str, Component], at: datetime, nora: User
) -> None:
    both = disagreeing(tablet, second, parts, at)
    field = {"appointment_id": tablet.visit.pk, "field": "answer:mould:0"}
    event = decisions.choose(**field, event_id=both[0], seen=both, by_user=nora, at=at)
    assert (event.actor, event.device_id) == (nora, OFFICE_DEVICE)
    assert codes() == []
    assert Answer.objects.get(item__code="mould").condition == "good"
    assert CheckUp.objects.get().finished_at is not None  # what the owner signed is what holds
    assert Event.objects.filter(pk__in=both).count() == 2
    assert audit.breaks(f"property:{tablet.visit.request.system.property_id}") == []


def test_choosing_what_was_not_signed_shows(
    tablet: Tablet, second: Tablet, parts: dict[str, Component], at: datetime, nora: User
) -> None:
    both = disagreeing(tablet, second, parts, at)
    field = {"appointment_id": tablet.visit.pk, "field": "answer:mould:0"}
    decisions.choose(**field, event_id=both[1], seen=both, by_user=nora, at=at)
    assert codes() == ["changed_since_signed"]
    with pytest.raises(ReasonMissing):
        decisions.finish_unsigned(appointment_id=tablet.visit.pk, because=" ", by_user=nora, at=at)
    decisions.finish_unsigned(appointment_id=tablet.visit.pk, because="She agreed by phone", by_user=nora, at=at)
    assert Signature.objects.get().kind == "nobody_home"
    assert CheckUp.objects.get().finished_at is not None
    with pytest.raises(NothingToDecide):
        decisions.finish_unsigned(appointment_id=tablet.visit.pk, because="Again", by_user=nora, at=at)


def test_a_choice_between_other_answers_than_were_seen_is_refused(
    tablet: Tablet, second: Tablet, parts: dict[str, Component], at: datetime, nora: User
) -> None:
    both = disagreeing(tablet, second, parts, at)
    field = {"appointment_id": tablet.visit.pk, "field": "answer:mould:0", "by_user": nora, "at": at}
    for event_id, seen in ((both[0], both[:1]), (both[0], [*both, uuid4()]), (uuid4(), both)):
        with pytest.raises(NoConflict):
            decisions.choose(**field, event_id=event_id, seen=seen)
    decisions.choose(**field, event_id=both[0], seen=both)
    with pytest.raises(NoConflict):
        decisions.choose(**field, event_id=both[1], seen=both)


@pytest.fixture
def called_off(tablet: Tablet, parts: dict[str, Component], at: datetime, nora: User) -> Tablet:
    """A whole visit that came in after it was called off."""
    whole_checkup(tablet, parts)
    tablet.sign()
    tablet.finish()
    cancel_appointment(appointment_id=tablet.visit.pk, because="Away", by=nora.actor, at=at)
    tablet.send(at)
    tablet.send_photos(at)
    return tablet


def test_late_work_is_taken_as_done(called_off: Tablet, at: datetime, nora: User) -> None:
    decisions.take_late_work(appointment_id=called_off.visit.pk, because="He was there", by_user=nora, at=at)
    assert Appointment.objects.get().state == "done"
    assert CheckUp.objects.get().finished_at is not None
    with pytest.raises(NotLive):
        take_up_again(appointment_id=called_off.visit.pk, because="x", by=nora.actor, at=at)


def test_late_work_on_a_visit_that_was_given_out_anew_is_not(
    called_off: Tablet, at: datetime, on: date, nora: User, ana: User
) -> None:
    request = called_off.visit.request
    give_to_technician(request_id=request.pk, technician_id=ana.pk, on=on, by=nora.actor, at=at)
    with pytest.raises(AlreadyGiven):
        decisions.take_late_work(appointment_id=called_off.visit.pk, because="x", by_user=nora, at=at)
    assert CheckUp.objects.count() == 0


def test_a_finished_check_up_is_opened_again_for_what_came_after(
    tablet: Tablet, parts: dict[str, Component], at: datetime, nora: User
) -> None:
    whole_checkup(tablet, parts)
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    report = CheckUpReport.objects.get().sha256
    tablet.answer("mould", condition="watch")
    tablet.sign()
    tablet.finish()
    tablet.send(at + timedelta(days=1))
    assert codes() == ["after_finish"]
    with pytest.raises(CheckUpReasonMissing):
        decisions.reopen(appointment_id=tablet.visit.pk, because=" ", by_user=nora, at=at)
    decisions.reopen(
        appointment_id=tablet.visit.pk, because="The owner asked", by_user=nora, at=at + timedelta(days=1)
    )
    assert codes() == []
    assert Answer.objects.standing().get(item__code="mould").condition == "watch"
    assert CheckUp.objects.get().finished_at is not None
    assert CheckUpReport.objects.get().sha256 != report


def test_only_what_is_finished_is_opened_again(tablet: Tablet, at: datetime, nora: User) -> None:
    tablet.say("begun", "begun", {})
    tablet.send(at)
    with pytest.raises(NotFinished):
        reopen_checkup(checkup_id=CheckUp.objects.get().pk, because="x", by=nora.actor, at=at)
    with pytest.raises(NothingToDecide):
        decisions.reopen(appointment_id=987_654, because="x", by_user=nora, at=at)


def test_what_the_office_vouches_for_is_taken_and_says_so(
    tablet: Tablet, at: datetime, on: date, nora: User, ana: User
) -> None:
    helper = registered(ana, tablet.visit, at, name="Tablet 2")
    one = helper.answer("mould", condition="good")
    helper.send(at)
    aside = SetAside.objects.get()
    with pytest.raises(ReasonMissing):
        decisions.hand_in_again(aside_id=aside.pk, because="", by_user=nora, at=at)
    taken = decisions.hand_in_again(aside_id=aside.pk, because="She helped him", by_user=nora, at=at)
    assert (taken.state, taken.decided_by) == ("taken", nora)
    row = Event.objects.get(pk=one)
    assert "vouched:foreign" in row.flags
    assert (row.raw, row.uploaded_by) == (helper.kept[one], ana)
    with pytest.raises(AlreadyDecided):
        decisions.hand_in_again(aside_id=aside.pk, because="x", by_user=nora, at=at)
    with pytest.raises(AlreadyDecided):
        decisions.close_set_aside(aside_id=aside.pk, because="x", by_user=nora, at=at)


def test_what_still_makes_no_sense_stays_aside_until_it_is_left_there(
    tablet: Tablet, at: datetime, nora: User
) -> None:
    take_items(items=[{"id": "x", "raw": "{", "sha256": ""}], sender=tablet.sender, at=at)
    aside = SetAside.objects.get()
    with pytest.raises(StillUnreadable):
        decisions.hand_in_again(aside_id=aside.pk, because="Try", by_user=nora, at=at)
    with pytest.raises(ReasonMissing):
        decisions.close_set_aside(aside_id=aside.pk, because=" ", by_user=nora, at=at)
    closed = decisions.close_set_aside(aside_id=aside.pk, because="A test", by_user=nora, at=at)
    assert (closed.state, bytes(closed.raw)) == ("closed", b"{")


def test_what_was_foreign_is_taken_by_itself_once_the_visit_was_given(
    tablet: Tablet, at: datetime, on: date, nora: User, ana: User
) -> None:
    stop = appointment_for(SystemFactory(), ana, on)
    one = tablet.say("answer", "answer:mould:0", {"condition": "good"}, visit=str(stop.pk))
    tablet.send(at)
    Appointment.objects.filter(pk=stop.pk).update(technician=tablet.person)
    [receipt] = take_items(items=[item(tablet.kept[one])], sender=tablet.sender, at=at)
    assert receipt.status == "stored"
    assert not SetAside.objects.waiting().exists()
