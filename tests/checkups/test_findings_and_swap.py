"""Findings are raised, closed and remembered; a swapped part keeps its chain and brings lines of its own."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import finish_checkup, swap_component
from contractor.checkups.actions.evidence import add_photo, close_finding, raise_finding
from contractor.checkups.errors import (
    FindingDone,
    NothingAnswered,
    NotOfThisHouse,
    NotYourVisit,
    ReasonMissing,
    StillMissing,
)
from contractor.checkups.models import CheckUp, Finding, Photo
from contractor.checkups.queries import checkup_lines, component_conditions
from contractor.systems.errors import SerialNumberTaken
from contractor.systems.models import Component, System
from tests.checkups import factories as made
from tests.factories import ComponentFactory, PropertyFactory, SystemFactory


def weak_battery(checkup: CheckUp, at: datetime) -> Finding:
    row, part = made.line(checkup, "rest-volts")
    return raise_finding(
        checkup_id=checkup.pk,
        severity="bad",
        what="The battery is weak.",
        what_to_do="Replace it.",
        by_user=checkup.technician,
        at=at,
        item_id=row.pk,
        component_id=part.pk if part else None,
    )


def swap(
    checkup: CheckUp, part: Component, at: datetime, *, serial: str = "B-200", because: str = "Tested weak"
) -> Component:
    return swap_component(
        checkup_id=checkup.pk,
        component_id=part.pk,
        model_id=part.model_id,
        serial_number=serial,
        because=because,
        failed=True,
        by_user=checkup.technician,
        on=checkup.done_on,
        at=at,
    )


def test_a_finding_is_closed_once_with_what_was_done(checkup: CheckUp, theo: User, at: datetime) -> None:
    found = weak_battery(checkup, at)
    with pytest.raises(ReasonMissing):
        close_finding(finding_id=found.pk, note=" ", by=theo.actor, at=at, done_by=theo)
    closed = close_finding(finding_id=found.pk, note="New battery.", by=theo.actor, at=at, done_by=theo)
    assert (closed.done_note, closed.done_by, closed.done_at) == ("New battery.", theo, at)
    with pytest.raises(FindingDone):
        close_finding(finding_id=found.pk, note="Again.", by=theo.actor, at=at)


def test_a_finding_says_what_and_is_the_technicians(checkup: CheckUp, ana: User, theo: User, at: datetime) -> None:
    with pytest.raises(NothingAnswered):
        raise_finding(checkup_id=checkup.pk, severity="bad", what=" ", by_user=theo, at=at)
    with pytest.raises(NotYourVisit):
        raise_finding(checkup_id=checkup.pk, severity="bad", what="Wet floor", by_user=ana, at=at)


def test_a_swap_keeps_the_chain_and_the_new_part_gets_lines_of_its_own(
    checkup: CheckUp, parts: dict[str, Component], theo: User, on: date, at: datetime
) -> None:
    old = parts["battery"]
    made.answer(checkup, "rest-volts", at, typed="11.2", unit="V")
    new = swap(checkup, old, at)
    old.refresh_from_db()
    assert (new.replaces, old.out_on, old.failed, old.out_because) == (old, on, True, "Tested weak")
    assert (old.out_by, new.in_by, new.serial_number) == (theo, theo, "B-200")
    asked = {(row.code, part.pk) for row, part in checkup_lines(checkup) if part}
    assert ("rest-volts", new.pk) in asked
    assert ("rest-volts", old.pk) not in asked
    # What was measured on the old one stays on record, and the new one is still to be measured.
    assert checkup.answers.filter(component=old).count() == 1
    assert not checkup.answers.filter(component=new).exists()
    made.answer(checkup, "rest-volts", at, typed="12.8", unit="V")
    assert checkup.answers.get(component=new).supersedes is None


def test_a_swap_needs_its_reason_and_a_number_nobody_else_has(
    checkup: CheckUp, parts: dict[str, Component], at: datetime
) -> None:
    with pytest.raises(ReasonMissing):
        swap(checkup, parts["battery"], at, because="")
    with pytest.raises(SerialNumberTaken):
        swap(checkup, parts["battery"], at, serial="B-100")
    parts["battery"].refresh_from_db()
    assert parts["battery"].out_on is None


def test_a_part_is_swapped_out_once(checkup: CheckUp, parts: dict[str, Component], at: datetime) -> None:
    swap(checkup, parts["battery"], at)
    with pytest.raises(NotOfThisHouse):
        swap(checkup, parts["battery"], at, serial="B-300")


def test_conditions_come_from_the_latest_finished_checkup_and_open_findings(
    system: System, checkup: CheckUp, parts: dict[str, Component], theo: User, on: date, at: datetime
) -> None:
    battery, pump = parts["battery"].pk, parts["primary_pump"].pk
    made.answer(checkup, "rest-volts", at, typed="11.2", unit="V")
    assert component_conditions(system=system, on=on)[battery][0] == "unknown"
    made.finished(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    word, sentence = component_conditions(system=system, on=on)[battery]
    assert word == "bad"
    assert "11.2 V" in sentence
    assert component_conditions(system=system, on=on)[pump][0] == "good"
    for finding in Finding.objects.still_open():
        close_finding(finding_id=finding.pk, note="New battery.", by=theo.actor, at=at)
    assert component_conditions(system=system, on=on)[battery][0] == "good"


def test_a_finding_or_photo_goes_only_with_a_part_of_its_items_kind(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime
) -> None:
    row, _ = made.line(checkup, "rest-volts")
    elsewhere = ComponentFactory(
        system=SystemFactory(property=PropertyFactory(street="9 Elsewhere Road")), part_kind="battery"
    )
    for component_id in (parts["pit"].pk, elsewhere.pk, None):
        with pytest.raises(NotOfThisHouse):
            raise_finding(
                checkup_id=checkup.pk,
                severity="bad",
                what="Weak.",
                by_user=theo,
                at=at,
                item_id=row.pk,
                component_id=component_id,
            )
        with pytest.raises(NotOfThisHouse):
            add_photo(
                checkup_id=checkup.pk,
                content=made.picture(),
                by_user=theo,
                at=at,
                item_id=row.pk,
                component_id=component_id,
            )
    assert (Finding.objects.count(), Photo.objects.count()) == (0, 0)


def test_a_photo_of_another_checkups_finding_is_refused(
    checkup: CheckUp, ana: User, theo: User, on: date, at: datetime
) -> None:
    hers = made.begun(SystemFactory(property=PropertyFactory(street="9 Elsewhere Road")), ana, on, at)
    found = raise_finding(checkup_id=hers.pk, severity="bad", what="Hers.", by_user=ana, at=at)
    with pytest.raises(NotOfThisHouse):
        add_photo(checkup_id=checkup.pk, content=made.picture(), by_user=theo, at=at, finding_id=found.pk)
    mine = raise_finding(checkup_id=checkup.pk, severity="bad", what="Mine.", by_user=theo, at=at)
    kept = add_photo(checkup_id=checkup.pk, content=made.picture(), by_user=theo, at=at, finding_id=mine.pk)
    assert kept.finding == mine


def test_another_technician_or_house_swaps_nothing(
    checkup: CheckUp, parts: dict[str, Component], ana: User, theo: User, on: date, at: datetime
) -> None:
    elsewhere = ComponentFactory(
        system=SystemFactory(property=PropertyFactory(street="9 Elsewhere Road")), part_kind="battery"
    )
    for component, by_user, refusal in (
        (parts["battery"], ana, NotYourVisit),
        (elsewhere, theo, NotOfThisHouse),
    ):
        with pytest.raises(refusal):
            swap_component(
                checkup_id=checkup.pk,
                component_id=component.pk,
                model_id=parts["battery"].model_id,
                serial_number="B-200",
                because="Weak",
                failed=False,
                by_user=by_user,
                on=on,
                at=at,
            )
        component.refresh_from_db()
        assert component.out_on is None


def test_after_a_swap_the_new_part_has_to_be_checked_before_the_end(
    checkup: CheckUp, parts: dict[str, Component], at: datetime
) -> None:
    made.answer_all(checkup, at)
    made.signed(checkup, at)
    swap(checkup, parts["battery"], at)
    with pytest.raises(StillMissing) as refused:
        finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)
    assert set(refused.value.missing) == {
        "Answer “Look at rest-volts”.",
        "Answer “Look at load-test”.",
    }


def test_what_was_bad_about_a_swapped_part_stays_on_record_as_put_right_by_the_swap(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime
) -> None:
    made.answer(checkup, "rest-volts", at, typed="11.2", unit="V")
    swap(checkup, parts["battery"], at, because="Tested weak")
    finding = Finding.objects.get()
    assert (finding.component, finding.severity, "11.2 V" in finding.what) == (parts["battery"], "bad", True)
    assert (finding.done_by, finding.done_note) == (theo, "The part was swapped: Tested weak")
    assert made.finished(checkup, at).summary.startswith("Passed")
    assert Finding.objects.count() == 1


@pytest.mark.parametrize(
    ("volts", "written_before"),
    [("12.7", False), ("11.2", True)],
    ids=["nothing was wrong with it", "it was written down already"],
)
def test_a_swap_writes_nothing_down_when(
    checkup: CheckUp, parts: dict[str, Component], at: datetime, volts: str, written_before: bool
) -> None:
    made.answer(checkup, "rest-volts", at, typed=volts, unit="V")
    if written_before:
        weak_battery(checkup, at)
    before = Finding.objects.count()
    swap(checkup, parts["battery"], at)
    assert Finding.objects.count() == before
