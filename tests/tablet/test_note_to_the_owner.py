"""What the technician says to the owner on the tablet stands in the report, and a report made anew is told of again."""

from datetime import datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.note import write_to_owner
from contractor.checkups.errors import AlreadyFinished, NotYourVisit
from contractor.checkups.models import CheckUp
from contractor.checkups.reports import report_pdf
from contractor.core import audit
from contractor.notices.models import Notice
from contractor.properties.models import Ownership
from contractor.systems.models import Component
from contractor.tablet.actions import decisions
from contractor.tablet.actions.apply import apply_visit
from contractor.tablet.pack import pack_for
from tests.factories import OwnershipFactory
from tests.tablet.hands import Tablet, whole_checkup

pytestmark = pytest.mark.django_db(transaction=True)

WORDS = "The pump is sound. Keep the lid of the pit closed."


def finished(tablet: Tablet, at: datetime) -> CheckUp:
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    return CheckUp.objects.get()


def test_the_words_to_the_owner_stand_in_the_check_up_and_its_report(
    tablet: Tablet, parts: dict[str, Component], at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    printed: list[str] = []
    monkeypatch.setattr(
        "contractor.checkups.reports.render_pdf",
        lambda template, context, **_: printed.append(context["checkup"].note_to_owner) or b"%PDF-",
    )
    whole_checkup(tablet, parts)
    tablet.say("note", "summary", {"text": "Half a sent"})
    tablet.say("note", "summary", {"text": f" {WORDS}\n"})
    checkup = finished(tablet, at)
    assert checkup.note_to_owner == WORDS
    report_pdf(checkup)
    assert printed[-1] == WORDS
    apply_visit(appointment_id=tablet.visit.pk, at=at)
    assert audit.breaks(f"property:{checkup.system.property_id}") == []


def test_words_that_were_taken_back_are_not_told(tablet: Tablet, parts: dict[str, Component], at: datetime) -> None:
    whole_checkup(tablet, parts)
    tablet.say("note", "summary", {"text": WORDS})
    tablet.say("note", "summary", None)
    assert finished(tablet, at).note_to_owner == ""


def test_a_finished_check_up_and_another_ones_take_no_words(
    tablet: Tablet, parts: dict[str, Component], at: datetime, theo: User, ana: User
) -> None:
    tablet.say("begun", "begun", {})
    tablet.send(at)
    checkup = CheckUp.objects.get()
    with pytest.raises(NotYourVisit):
        write_to_owner(checkup_id=checkup.pk, text=WORDS, by_user=ana, at=at)
    whole_checkup(tablet, parts)
    finished(tablet, at)
    with pytest.raises(AlreadyFinished):
        write_to_owner(checkup_id=checkup.pk, text=WORDS, by_user=theo, at=at)


@pytest.fixture
def owner(tablet: Tablet) -> Ownership:
    house = tablet.visit.request.system.property
    return house.ownerships.open_ended().first() or OwnershipFactory(property=house)


def test_the_owner_hears_of_the_report_of_a_check_up_that_was_opened_again(
    tablet: Tablet,
    parts: dict[str, Component],
    owner: Ownership,
    at: datetime,
    nora: User,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("contractor.core.clock.now", lambda: at)
    whole_checkup(tablet, parts)
    checkup = finished(tablet, at)
    tablet.answer("mould", condition="watch")
    tablet.sign()
    tablet.finish()
    later = at + timedelta(hours=3)
    tablet.send(later)
    decisions.reopen(appointment_id=tablet.visit.pk, because="Mould was found", by_user=nora, at=later)
    told = Notice.objects.filter(template="report_ready").order_by("queued_at", "pk")
    assert [one.occasion for one in told] == [f"report:{checkup.pk}", f"report:{checkup.pk}:2"]
    assert {one.person_id for one in told} == {owner.person_id}
    assert "completed" not in told[0].subject
    assert "completed" in told[1].subject


def test_whoever_signed_before_can_be_chosen_beside_the_owner(
    tablet: Tablet, parts: dict[str, Component], owner: Ownership, at: datetime, theo: User
) -> None:
    whole_checkup(tablet, parts)
    tablet.sign(name="Tess Amory")
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    pack = pack_for(person=theo, on=tablet.visit.on, days=1, epoch="e", client="c").content
    houses = [visit["house"] for visit in pack["visits"]]
    assert [house["people"] for house in houses] == [
        [{"name": owner.person.name, "what": "owner"}, {"name": "Tess Amory", "what": "signed before"}]
    ]
