"""Answers: judged when they are saved, superseded and never overwritten, refused when they say nothing."""

from datetime import date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import record_answer
from contractor.checkups.errors import AlreadyFinished, NothingAnswered, NotOfThisHouse, NotYourVisit, ReasonMissing
from contractor.checkups.models import Answer, ChecklistItem, CheckUp
from contractor.core import audit
from contractor.core.models import AuditEntry
from contractor.core.units import UnreadableMeasurement
from contractor.systems.models import AsBuilt, Component
from tests.checkups import factories as made
from tests.factories import ComponentFactory, PropertyFactory, SystemFactory


def test_a_measurement_keeps_what_was_typed_beside_the_base_unit(checkup: CheckUp, at: datetime) -> None:
    kept = made.answer(checkup, "temperature", at, typed="68", unit="degF")
    assert (kept.typed, kept.unit) == ("68", "degF")
    # NIST SP 811, appendix B: t/degC = (t/degF - 32) / 1.8
    assert kept.number_si == pytest.approx((68 - 32) / 1.8)


@pytest.mark.parametrize(("typed", "word"), [("12.7", "good"), ("12.4", "good"), ("12.39", "bad"), ("11.2", "bad")])
def test_a_verdict_stands_with_the_answer_at_once(typed: str, word: str, checkup: CheckUp, at: datetime) -> None:
    kept = made.answer(checkup, "rest-volts", at, typed=typed, unit="V")
    assert kept.verdict == word
    assert typed in kept.verdict_sentence


@pytest.mark.parametrize(
    ("degrees", "volts", "word"),
    # Least volts after 15 s at half the cold-cranking amperes, Battery Council International's table (from memory):
    # 9.6 V at 70 degF and above, 9.4 V at 50 degF, 9.1 V at 30 degF.
    [("70", "9.6", "good"), ("70", "9.5", "bad"), ("50", "9.4", "good"), ("50", "9.3", "bad"), ("30", "9.1", "good")],
)
def test_the_load_test_is_judged_at_the_rooms_temperature(
    degrees: str, volts: str, word: str, checkup: CheckUp, at: datetime
) -> None:
    made.answer(checkup, "temperature", at, typed=degrees, unit="degF")
    assert made.answer(checkup, "load-test", at, typed=volts, unit="V").verdict == word


def test_a_timed_test_gives_the_flow(checkup: CheckUp, at: datetime) -> None:
    kept = made.answer(checkup, "pit-rise", at, typed="3", unit="in", seconds=60.0)
    # A cylinder 18 in wide and 3 in high is 763.4 cubic inches; a US gallon is 231 (NIST Handbook 44): 3.30 gal.
    assert "3.3 gal/min" in kept.verdict_sentence
    assert (kept.number_si, kept.seconds) == (pytest.approx(0.0762), 60.0)


def test_a_later_answer_supersedes_and_the_earlier_one_stays(checkup: CheckUp, at: datetime) -> None:
    first = made.answer(checkup, "rest-volts", at, typed="11.9", unit="V")
    second = made.answer(checkup, "rest-volts", at + timedelta(minutes=1), typed="12.6", unit="V")
    assert second.supersedes == first
    assert list(checkup.answers.standing()) == [second]
    first.refresh_from_db()
    assert (first.typed, first.verdict) == ("11.9", "bad")
    third = made.answer(checkup, "rest-volts", at + timedelta(minutes=2), typed="12.5", unit="V")
    assert list(checkup.answers.standing()) == [third]
    assert checkup.answers.count() == 3


def test_what_a_device_sends_twice_is_kept_once(checkup: CheckUp, at: datetime) -> None:
    row, _ = made.line(checkup, "mould")
    sent: dict[str, Any] = {
        "checkup_id": checkup.pk,
        "item_id": row.pk,
        "component_id": None,
        "by_user": checkup.technician,
        "at": at,
        "condition": "good",
        "answer_id": uuid4(),
    }
    assert record_answer(**sent) == record_answer(**sent)
    assert Answer.objects.count() == 1


def test_not_possible_needs_its_reason(checkup: CheckUp, at: datetime) -> None:
    with pytest.raises(ReasonMissing):
        made.answer(checkup, "rest-volts", at, condition="not_possible", because=" ")
    kept = made.answer(checkup, "rest-volts", at, condition="not_possible", because="The shelf is locked")
    assert kept.verdict == "not possible"
    assert "shelf is locked" in kept.verdict_sentence


@pytest.mark.parametrize(
    ("code", "given", "refusal"),
    [
        ("mould", {"text": "all well"}, NothingAnswered),
        ("rest-volts", {"typed": "", "unit": "V"}, NothingAnswered),
        ("rest-volts", {"typed": "twelve", "unit": "V"}, UnreadableMeasurement),
        ("pit-rise", {"typed": "3", "unit": "in"}, NothingAnswered),
        ("pit-rise", {"seconds": 60.0}, NothingAnswered),
        ("starts", {"typed": "2.5", "unit": "count"}, UnreadableMeasurement),
        ("owner-told", {"text": "  "}, NothingAnswered),
    ],
)
def test_an_answer_that_says_nothing_is_refused_and_not_kept(
    code: str, given: dict[str, Any], refusal: type[Exception], checkup: CheckUp, at: datetime
) -> None:
    with pytest.raises(refusal):
        made.answer(checkup, code, at, **given)
    assert not Answer.objects.exists()


def test_somebody_else_cannot_answer(checkup: CheckUp, ana: User, nora: User, at: datetime) -> None:
    row, _ = made.line(checkup, "mould")
    for stranger in (ana, nora):
        with pytest.raises(NotYourVisit):
            record_answer(
                checkup_id=checkup.pk, item_id=row.pk, component_id=None, by_user=stranger, at=at, condition="good"
            )


def test_a_part_of_another_house_or_kind_is_refused(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime
) -> None:
    row, _ = made.line(checkup, "rest-volts")
    elsewhere = ComponentFactory(
        system=SystemFactory(property=PropertyFactory(street="9 Elsewhere Road")), part_kind="battery"
    )
    for component_id in (elsewhere.pk, parts["pit"].pk, None):
        with pytest.raises(NotOfThisHouse):
            record_answer(
                checkup_id=checkup.pk,
                item_id=row.pk,
                component_id=component_id,
                by_user=theo,
                at=at,
                typed="12.6",
                unit="V",
            )


def test_an_item_of_another_edition_is_refused(checkup: CheckUp, theo: User, at: datetime) -> None:
    other = made.published_checklist(at, edition=2)
    row = ChecklistItem.objects.get(checklist=other, code="mould")
    with pytest.raises(NotOfThisHouse):
        record_answer(checkup_id=checkup.pk, item_id=row.pk, component_id=None, by_user=theo, at=at, condition="good")


def test_a_finished_checkup_takes_no_more_answers(checkup: CheckUp, at: datetime, on: date) -> None:
    made.finished(checkup, at)
    with pytest.raises(AlreadyFinished):
        made.answer(checkup, "mould", at, condition="bad")


def test_a_device_that_sends_again_after_the_end_gets_the_same_answer(checkup: CheckUp, at: datetime) -> None:
    row, _ = made.line(checkup, "mould")
    sent: dict[str, Any] = {
        "checkup_id": checkup.pk,
        "item_id": row.pk,
        "component_id": None,
        "by_user": checkup.technician,
        "at": at,
        "condition": "good",
        "answer_id": uuid4(),
    }
    first = record_answer(**sent)
    made.finished(checkup, at + timedelta(minutes=5))
    assert record_answer(**sent) == first


def test_a_number_of_another_checkups_answer_gives_nothing_away(
    checkup: CheckUp, ana: User, theo: User, on: date, at: datetime
) -> None:
    kept = made.answer(checkup, "mould", at, condition="good")
    hers = made.begun(SystemFactory(property=PropertyFactory(street="9 Elsewhere Road")), ana, on, at)
    row, _ = made.line(hers, "mould")
    sent: dict[str, Any] = {"item_id": row.pk, "component_id": None, "at": at, "condition": "bad", "answer_id": kept.pk}
    with pytest.raises(NotOfThisHouse):
        record_answer(checkup_id=hers.pk, by_user=ana, **sent)
    with pytest.raises(NotYourVisit):
        record_answer(checkup_id=checkup.pk, by_user=ana, **sent)
    kept.refresh_from_db()
    assert (kept.condition, Answer.objects.count()) == ("good", 1)


@pytest.mark.parametrize(
    ("code", "unit"),
    [("rest-volts", "degF"), ("rest-volts", "in"), ("temperature", "V"), ("rest-volts", "furlong"), ("mould", "V")],
)
def test_a_figure_in_a_unit_of_something_else_is_refused_with_what_to_do(
    code: str, unit: str, checkup: CheckUp, at: datetime
) -> None:
    with pytest.raises(UnreadableMeasurement) as refused:
        made.answer(checkup, code, at, condition="good" if code == "mould" else "", typed="12.6", unit=unit)
    assert "Reload the page" in refused.value.sentence
    assert not Answer.objects.exists()


def test_without_a_unit_a_figure_is_in_that_of_the_gauge(checkup: CheckUp, at: datetime) -> None:
    # NIST SP 811, appendix B: t/degC = (t/degF - 32) / 1.8
    assert made.answer(checkup, "temperature", at, typed="50").number_si == pytest.approx(10.0)
    assert made.answer(checkup, "temperature", at, typed="10", unit="degC").number_si == pytest.approx(10.0)


def test_without_a_temperature_the_strictest_load_test_is_taken_and_said(checkup: CheckUp, at: datetime) -> None:
    kept = made.answer(checkup, "load-test", at, typed="9.5", unit="V")
    # 9.6 V at 70 degF and above, Battery Council International's table (from memory).
    assert kept.verdict == "bad"
    assert "No temperature was recorded" in kept.verdict_sentence


def test_an_answer_goes_into_the_houses_trail(checkup: CheckUp, at: datetime) -> None:
    made.answer(checkup, "rest-volts", at, typed="12.6", unit="V")
    entry = AuditEntry.objects.get(verb="answer recorded")
    assert (entry.body["after"]["typed"], entry.body["after"]["verdict"]) == ("12.6 V", "good")
    assert audit.breaks(f"property:{checkup.system.property_id}") == []


# π/4 · (20 in)² · 3 in in 60 s, 231 cubic inches to the gallon (NIST Handbook 44): 4.08 gal/min.
def test_a_pit_of_unknown_make_is_as_wide_as_it_was_measured(
    checkup: CheckUp, parts: dict[str, Component], theo: User, on: date, at: datetime
) -> None:
    parts["pit"].model = None
    parts["pit"].save()
    assert made.answer(checkup, "pit-rise", at, typed="3", unit="in", seconds=60.0).value_si is None
    AsBuilt.objects.create(system=checkup.system, pit_diameter_m=20 * 0.0254, measured_on=on, measured_by=theo)
    judged = made.answer(checkup, "pit-rise", at, typed="3", unit="in", seconds=60.0)
    assert "4.1 gal/min" in judged.verdict_sentence
