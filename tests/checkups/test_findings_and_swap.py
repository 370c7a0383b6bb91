"""Findings are raised, closed and remembered; a swapped part keeps its chain and brings lines of its own."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import close_finding, raise_finding, swap_component
from contractor.checkups.errors import FindingDone, NothingAnswered, NotOfThisHouse, NotYourVisit, ReasonMissing
from contractor.checkups.models import CheckUp, Finding
from contractor.checkups.queries import checkup_lines, component_conditions
from contractor.systems.errors import SerialNumberTaken
from contractor.systems.models import Component, System
from tests.checkups import factories as made


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
