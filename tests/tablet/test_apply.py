"""A visit's events become a check-up: in any order of arrival, once, and only when all that was meant is there."""

import random
from datetime import date, datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.checkups.models import Answer, CheckUp, Finding, Photo, Signature
from contractor.core import audit, clock
from contractor.systems.models import Component
from contractor.tablet.actions.apply import apply_visit, waiting
from contractor.tablet.actions.decisions import reopen
from contractor.tablet.models import PhotoUpload, TabletVisit
from contractor.visits.actions.appointments import cancel_appointment, move_appointment
from contractor.visits.models import Appointment
from tests.checkups.factories import picture, published_checklist
from tests.factories import CatalogueModelFactory
from tests.tablet.hands import Tablet, registered, sha256, whole_checkup

pytestmark = pytest.mark.django_db(transaction=True)


def applied(tablet: Tablet, at: datetime) -> TabletVisit:
    apply_visit(appointment_id=tablet.visit.pk, at=at)
    return TabletVisit.objects.get(appointment=tablet.visit)


def codes(row: TabletVisit) -> list[str]:
    return [problem["code"] for problem in row.problems]


@pytest.fixture
def whole(tablet: Tablet, parts: dict[str, Component]) -> Tablet:
    """A tablet with a check-up from beginning to end on it, of which nothing has come in."""
    whole_checkup(tablet, parts)
    tablet.sign()
    tablet.finish()
    return tablet


def test_a_whole_visit_becomes_a_finished_check_up(whole: Tablet, at: datetime, on: date, theo: User) -> None:
    whole.send(at)
    whole.send_photos(at)
    row = TabletVisit.objects.get()
    assert row.problems == []
    checkup = CheckUp.objects.get()
    assert (checkup.technician, checkup.done_on, checkup.appointment_id) == (theo, on, whole.visit.pk)
    assert checkup.finished_at is not None
    assert Appointment.objects.get().state == "done"
    assert Signature.objects.get().name == "Iris Holloway"
    assert {str(pk) for pk in Answer.objects.values_list("pk", flat=True)} <= set(whole.kept)
    assert Answer.objects.get(item__code="rest-volts").number_si == 12.7
    assert audit.breaks(f"property:{checkup.system.property_id}") == []


def test_it_waits_for_what_finishing_names(whole: Tablet, at: datetime) -> None:
    late = whole.heads["answer:mould:0"][0]
    whole.send(at, *[one for one in whole.kept if one != late])
    whole.send_photos(at)
    assert codes(TabletVisit.objects.get()) == ["wanted"]
    assert CheckUp.objects.get().finished_at is None
    whole.send(at + timedelta(minutes=5), late)
    assert TabletVisit.objects.get().problems == []
    assert CheckUp.objects.get().finished_at is not None


def test_it_waits_for_the_photos(whole: Tablet, at: datetime) -> None:
    whole.send(at)
    assert codes(TabletVisit.objects.get()) == ["wanted"]
    whole.send_photos(at)
    assert CheckUp.objects.get().finished_at is not None
    [photo] = Photo.objects.all()
    upload = PhotoUpload.objects.get()
    assert (upload.photo, photo.original_sha256) == (photo, upload.sha256)
    assert photo.original.read() == next(iter(whole.photos.values()))


@pytest.mark.parametrize("seed", range(8))
def test_the_order_of_arrival_changes_nothing(whole: Tablet, at: datetime, seed: int) -> None:
    dice = random.Random(seed)
    steps = [(whole.send, one) for one in whole.kept] + [(whole.send_photos, one) for one in whole.photos]
    dice.shuffle(steps)
    for number, (send, one) in enumerate([*steps, *dice.sample(steps, 4)]):
        send(at + timedelta(seconds=number), one)
    assert TabletVisit.objects.get().problems == []
    assert Answer.objects.standing().count() == 6
    assert CheckUp.objects.get().finished_at is not None


def test_applying_twice_writes_nothing_more(whole: Tablet, at: datetime) -> None:
    whole.send(at)
    whole.send_photos(at)
    before = audit.head(CheckUp.objects.get().system.property_id)
    applied(whole, at + timedelta(hours=1))
    assert audit.head(CheckUp.objects.get().system.property_id) == before
    assert waiting(most=9) == []


def test_a_corrected_answer_counts_once(tablet: Tablet, parts: dict[str, Component], at: datetime) -> None:
    whole_checkup(tablet, parts)
    tablet.answer("rest-volts", parts["battery"], number="12.9", unit="V")
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    assert [one.typed for one in Answer.objects.filter(item__code="rest-volts")] == ["12.9"]


def test_a_swapped_battery_gets_its_own_answers(tablet: Tablet, parts: dict[str, Component], at: datetime) -> None:
    """The old one's bad answer becomes a finding that the swap put right; the new one is checked like any other."""
    model = CatalogueModelFactory(part_kind="battery", name="Deep 90")
    whole_checkup(tablet, parts)
    tablet.answer("load-test", parts["battery"], number="8.1", unit="V")
    new = "swap:6f1c2a3e-0000-4000-8000-000000000001"
    value = {"component": parts["battery"].pk, "model": model.pk, "serial": "B-200", "because": "Weak", "failed": True}
    tablet.say("swap", new, value)
    tablet.answer("rest-volts", new, number="12.8", unit="V")
    tablet.answer("load-test", new, number="10.6", unit="V")
    tablet.photo(picture("red"), item="rest-volts", part=new)
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    assert TabletVisit.objects.get().problems == []
    battery = Component.objects.get(serial_number="B-200")
    assert (battery.replaces, battery.model) == (parts["battery"], model)
    assert Component.objects.get(pk=parts["battery"].pk).failed
    assert {one.typed for one in Answer.objects.filter(component=battery)} == {"12.8", "10.6"}
    finding = Finding.objects.get()
    assert finding.component == parts["battery"]
    assert finding.done_at is not None
    assert Photo.objects.filter(component=battery).count() == 1


def test_a_finding_is_written_once_with_whether_it_was_put_right(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    whole_checkup(tablet, parts)
    value = {"severity": "watch", "what": "Rust on the bolt", "what_to_do": "Grease", "item": "", "component": "0"}
    tablet.say("finding", "finding:6f1c2a3e-0000-4000-8000-000000000002", {**value, "done": True, "done_note": "Done"})
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    applied(tablet, at)
    finding = Finding.objects.get()
    assert (finding.what, finding.done_note) == ("Rust on the bolt", "Done")


def test_what_was_left_open_keeps_its_reason(tablet: Tablet, parts: dict[str, Component], at: datetime) -> None:
    whole_checkup(tablet, parts)
    tablet.say("answer", "answer:mould:0", None)
    tablet.sign()
    tablet.finish(left_open=[{"field": "answer:mould:0", "because": "Boxes in front of the wall"}])
    tablet.send(at)
    tablet.send_photos(at)
    answer = Answer.objects.get(item__code="mould")
    assert (answer.condition, answer.because) == ("not_possible", "Boxes in front of the wall")
    assert CheckUp.objects.get().finished_at is not None


def test_a_change_after_the_signature_shows_and_keeps_the_visit_open(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    whole_checkup(tablet, parts)
    tablet.sign()
    tablet.answer("mould", condition="watch")
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    assert codes(TabletVisit.objects.get()) == ["changed_since_signed"]
    tablet.sign()
    tablet.finish()
    tablet.send(at + timedelta(minutes=1))
    assert CheckUp.objects.get().finished_at is not None


def test_a_signature_over_another_list_than_it_says_signs_nothing(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    whole_checkup(tablet, parts)
    value = {"kind": "typed", "name": "I. H.", "strokes": [], "signed": tablet.said(), "signed_sha256": "0" * 64}
    tablet.say("signature", "signature", value)
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    assert codes(TabletVisit.objects.get()) == ["changed_since_signed"]


def test_where_nobody_was_at_home_nobody_has_to_sign(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    whole_checkup(tablet, parts)
    tablet.sign(kind="nobody_home", name="")
    tablet.answer("mould", condition="watch")
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    assert Signature.objects.get().kind == "nobody_home"


def test_what_the_checklist_still_asks_for_is_said(tablet: Tablet, at: datetime) -> None:
    tablet.say("begun", "begun", {})
    tablet.answer("mould", condition="good")
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    row = TabletVisit.objects.get()
    assert set(codes(row)) == {"refused"}
    assert any("room-photo" in problem["sentence"] for problem in row.problems)


def test_the_edition_that_the_technician_had_is_the_one_it_is_made_from(whole: Tablet, at: datetime) -> None:
    published_checklist(at, edition=2)
    whole.send(at)
    assert CheckUp.objects.get().checklist.edition == 1


@pytest.mark.parametrize(
    ("value", "word"),
    [
        ({"number": "12,700,", "unit": "V"}, "cannot be read"),
        ({"number": "12.7", "unit": "furlong"}, "unit"),
        ({"condition": "splendid"}, "splendid"),
        ({"seconds": "NaN", "number": "3", "unit": "V"}, "seconds"),
        ({}, "Nothing was answered"),
        ({"condition": "not_possible"}, "why"),
    ],
)
def test_an_answer_that_makes_no_sense_is_kept_and_asked_about(
    whole: Tablet, parts: dict[str, Component], at: datetime, value: dict[str, str], word: str
) -> None:
    whole.answer("rest-volts", parts["battery"], **value)
    whole.sign()
    whole.finish()
    receipts = whole.send(at)
    whole.send_photos(at)
    assert {receipt.status for receipt in receipts} == {"stored"}
    [problem] = TabletVisit.objects.get().problems
    assert word in problem["sentence"]
    assert problem["field"] == f"answer:rest-volts:{parts['battery'].pk}"
    assert CheckUp.objects.get().finished_at is None


def test_a_file_that_is_no_photo_is_kept_and_keeps_no_visit_open(
    whole: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    bad = whole.photo(b"GIF89a and nothing that a basement ever saw", item="mould")
    whole.sign()
    whole.finish()
    whole.send(at)
    whole.send_photos(at)
    [problem] = TabletVisit.objects.get().problems
    assert (problem["code"], problem["field"]) == ("photo", f"photo:{bad}")
    assert CheckUp.objects.get().finished_at is not None
    assert PhotoUpload.objects.get(pk=bad).sha256 == sha256(whole.photos[bad])


def test_a_photo_that_was_taken_back_is_not_shown(whole: Tablet, at: datetime) -> None:
    photo_id = whole.photo(picture("green"), item="mould")
    whole.say("photo", f"photo:{photo_id}", None)
    whole.sign()
    whole.finish()
    whole.send(at)
    whole.send_photos(at)
    assert Photo.objects.count() == 1
    assert PhotoUpload.objects.count() == 2


def test_text_that_no_database_takes_is_cleaned_for_the_check_up_and_kept_as_it_came(
    whole: Tablet, at: datetime
) -> None:
    one = whole.answer("owner-told", text="Dry\x00 all \ud800over")
    whole.sign()
    whole.finish()
    whole.send(at)
    whole.send_photos(at)
    assert Answer.objects.get(pk=one).text == "Dry all over"
    assert whole.visit.events.get(pk=one).raw == whole.kept[one]


def test_could_not_ends_the_visit(tablet: Tablet, at: datetime) -> None:
    tablet.say("could_not", "could_not", {"because": "Nobody opened"})
    tablet.send(at)
    visit = Appointment.objects.get()
    assert (visit.state, visit.state_because) == ("could_not", "Nobody opened")
    assert CheckUp.objects.count() == 0


def test_work_on_a_visit_that_was_called_off_waits_for_the_office(
    whole: Tablet, at: datetime, nora: User
) -> None:
    cancel_appointment(appointment_id=whole.visit.pk, because="The owner is away", by=nora.actor, at=at)
    receipts = whole.send(at)
    assert {receipt.status for receipt in receipts} == {"stored"}
    assert {flag for receipt in receipts for flag in receipt.flags} == {"late:cancelled"}
    whole.send_photos(at)
    assert codes(TabletVisit.objects.get())[0] == "not_begun"
    assert CheckUp.objects.count() == 0


def test_work_on_a_visit_that_went_to_another_is_taken_and_says_whose_it_was(
    whole: Tablet, at: datetime, on: date, nora: User, ana: User, theo: User
) -> None:
    move_appointment(appointment_id=whole.visit.pk, technician_id=ana.pk, on=on, by=nora.actor, at=at)
    receipts = whole.send(at)
    whole.send_photos(at)
    assert {flag for receipt in receipts for flag in receipt.flags} == {"late:reassigned"}
    assert CheckUp.objects.get().technician == theo
    assert CheckUp.objects.get().finished_at is not None


def test_two_technicians_at_one_visit_both_stand_in_the_check_up(
    tablet: Tablet, parts: dict[str, Component], at: datetime, on: date, nora: User, ana: User
) -> None:
    whole_checkup(tablet, parts)
    tablet.send(at)
    move_appointment(appointment_id=tablet.visit.pk, technician_id=ana.pk, on=on, by=nora.actor, at=at)
    second = registered(ana, tablet.visit, at, name="Tablet 2")
    second.kept, second.heads, second.photos = dict(tablet.kept), dict(tablet.heads), dict(tablet.photos)
    second.answer("mould", condition="watch")
    second.sign()
    second.finish()
    second.send(at)
    second.send_photos(at)
    assert TabletVisit.objects.get().problems == []
    assert Answer.objects.get(item__code="mould").recorded_by == ana
    assert Answer.objects.get(item__code="temperature").recorded_by == tablet.person


def test_two_answers_side_by_side_keep_the_visit_open(
    whole: Tablet, at: datetime, on: date, nora: User, ana: User
) -> None:
    whole.send(at)
    move_appointment(appointment_id=whole.visit.pk, technician_id=ana.pk, on=on, by=nora.actor, at=at)
    second = registered(ana, whole.visit, at, name="Tablet 2")
    second.answer("mould", condition="bad")
    second.send(at)
    whole.send_photos(at)
    row = TabletVisit.objects.get()
    assert [(problem["code"], problem["field"]) for problem in row.problems] == [("conflict", "answer:mould:0")]
    assert CheckUp.objects.get().finished_at is None


def test_what_comes_after_the_finishing_changes_nothing_and_is_seen(whole: Tablet, at: datetime) -> None:
    whole.send(at)
    whole.send_photos(at)
    late = whole.answer("mould", condition="bad")
    whole.sign()
    whole.finish()
    [receipt] = whole.send(at + timedelta(days=1), late)
    assert receipt.flags == ("late:finished",)
    whole.send(at + timedelta(days=1))
    assert codes(TabletVisit.objects.get()) == ["after_finish"]
    assert Answer.objects.get(item__code="mould").condition == "good"


def test_a_photo_that_comes_after_the_finishing_is_seen_and_written_once_it_is_opened_again(
    tablet: Tablet, parts: dict[str, Component], at: datetime, nora: User
) -> None:
    """Where nobody was at home nobody signed, so no signature shows that something came afterwards."""
    whole_checkup(tablet, parts)
    tablet.sign(kind="nobody_home", name="")
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    number = tablet.photo(picture("green"), item="room-photo")
    later = clock.now() + timedelta(days=1)  # the finishing was noted by the clock
    tablet.send(later)
    assert codes(TabletVisit.objects.get()) == []  # nothing to decide on before its bytes are here
    tablet.send_photos(later, number)
    assert codes(TabletVisit.objects.get()) == ["after_finish"]
    reopen(appointment_id=tablet.visit.pk, because="One more photo", by_user=nora, at=later)
    assert Photo.objects.filter(original_sha256=sha256(tablet.photos[number])).count() == 1


def test_a_tablet_with_a_wrong_clock_is_not_believed(tablet: Tablet, at: datetime, on: date) -> None:
    tablet.clock = at - timedelta(days=400)
    tablet.say("begun", "begun", {}, clock_off=None)
    tablet.send(at)
    assert CheckUp.objects.get().done_on == on


def test_work_that_comes_in_days_later_keeps_the_day_on_which_it_was_done(
    whole: Tablet, at: datetime, on: date
) -> None:
    whole.send(at + timedelta(days=5))
    whole.send_photos(at + timedelta(days=5))
    assert CheckUp.objects.get().done_on == on
