"""What the rooms above read of check-ups: conditions, the drawing's parts, the care record, last year's figures."""

from datetime import date, datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import swap_component
from contractor.checkups.actions.evidence import close_finding, raise_finding
from contractor.checkups.actions.records import decide_outside_record, send_outside_record
from contractor.checkups.models import CheckUp, Finding
from contractor.checkups.queries import (
    care_record,
    checkups_of,
    component_conditions,
    drawn_parts,
    last_values,
    latest_checkup,
    open_findings,
    round_stops,
    rounds_ahead,
)
from contractor.core.audit import Actor
from contractor.properties.models import Ownership
from contractor.systems.models import Component, System
from tests.checkups import factories as made
from tests.factories import ComponentFactory, SystemFactory

WEAK = {"typed": "11.2", "unit": "V"}
YEAR = timedelta(days=365)


def next_checkup(checkup: CheckUp, years: int = 1) -> tuple[CheckUp, datetime]:
    """A check-up of the same system some years later, just begun, and its moment."""
    at = checkup.started_at + years * YEAR
    return made.begun(checkup.system, checkup.technician, checkup.done_on + years * YEAR, at), at


def close_all(theo: User, at: datetime) -> None:
    for finding in Finding.objects.still_open():
        close_finding(finding_id=finding.pk, note="Charged it.", by=theo.actor, at=at)


# How each part stands.


def test_what_was_never_looked_at_is_unknown(system: System, parts: dict[str, Component], on: date) -> None:
    assert {word for word, _ in component_conditions(system=system, on=on).values()} == {"unknown"}


def test_a_part_looked_at_is_as_its_answers_say_with_the_sentence(
    checkup: CheckUp, parts: dict[str, Component], at: datetime, on: date
) -> None:
    made.finished(checkup, at, instead={"rest-volts": WEAK})
    found = component_conditions(system=checkup.system, on=on)
    assert found[parts["pit"].pk] == ("good", "Nothing wrong was found.")
    word, sentence = found[parts["battery"].pk]
    assert (word, "11.2 V is below the 12.4 V needed" in sentence) == ("bad", True)


def test_a_finding_that_is_only_worth_watching_makes_its_part_so(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime, on: date
) -> None:
    raise_finding(
        checkup_id=checkup.pk,
        severity="watch",
        what="It hums.",
        by_user=theo,
        at=at,
        component_id=parts["primary_pump"].pk,
    )
    made.finished(checkup, at)
    assert component_conditions(system=checkup.system, on=on)[parts["primary_pump"].pk] == ("watch", "It hums.")


def test_before_the_day_of_a_checkup_its_answers_say_nothing(
    checkup: CheckUp, parts: dict[str, Component], at: datetime, on: date
) -> None:
    made.finished(checkup, at, instead={"rest-volts": WEAK})
    yesterday = component_conditions(system=checkup.system, on=on - timedelta(days=1))
    assert yesterday[parts["battery"].pk][0] == "unknown"


def test_the_latest_checkup_speaks_and_not_the_worst_ever(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime
) -> None:
    made.finished(checkup, at, instead={"rest-volts": WEAK})
    close_all(theo, at)
    again, later = next_checkup(checkup)
    made.finished(again, later)
    found = component_conditions(system=checkup.system, on=again.done_on)
    assert found[parts["battery"].pk] == ("good", "Nothing wrong was found.")


def test_what_was_put_right_last_year_says_nothing_about_this_years_answer(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime, on: date
) -> None:
    pit, (row, _) = parts["pit"].pk, made.line(checkup, "pit-rise")
    raise_finding(
        checkup_id=checkup.pk, severity="bad", what="Silt.", by_user=theo, at=at, item_id=row.pk, component_id=pit
    )
    close_all(theo, at)
    made.finished(checkup, at)
    assert component_conditions(system=checkup.system, on=on)[pit] == ("good", "What was found was put right.")
    again, later = next_checkup(checkup)
    made.finished(again, later)
    found = component_conditions(system=checkup.system, on=again.done_on)
    assert found[pit] == ("good", "Nothing wrong was found.")


def test_a_finding_with_its_part_never_answered_counts_all_the_same(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime, on: date
) -> None:
    other = ComponentFactory(system=checkup.system, part_kind="containment_ring", in_on=checkup.system.installed_on)
    found = raise_finding(
        checkup_id=checkup.pk, severity="bad", what="Cracked.", by_user=theo, at=at, component_id=other.pk
    )
    assert component_conditions(system=checkup.system, on=on)[other.pk] == ("bad", "Cracked.")
    close_finding(finding_id=found.pk, note="New ring.", by=theo.actor, at=at)
    assert component_conditions(system=checkup.system, on=on)[other.pk][0] == "unknown"


def test_a_new_part_is_unknown_until_it_is_looked_at_and_the_old_one_is_gone(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime, on: date
) -> None:
    old = parts["battery"]
    made.answer(checkup, "rest-volts", at, **WEAK)
    new = swap_component(
        checkup_id=checkup.pk,
        component_id=old.pk,
        model_id=old.model_id,
        serial_number="B-200",
        because="Tested weak",
        failed=True,
        by_user=theo,
        on=on,
        at=at,
    )
    found = component_conditions(system=checkup.system, on=on)
    assert old.pk not in found
    assert found[new.pk][0] == "unknown"
    made.finished(checkup, at)
    assert component_conditions(system=checkup.system, on=on)[new.pk][0] == "good"


def test_the_drawing_shows_each_part_in_place_and_a_note_only_where_something_is_wrong(
    checkup: CheckUp, parts: dict[str, Component], at: datetime, on: date
) -> None:
    made.finished(checkup, at, instead={"rest-volts": WEAK})
    drawn = {part.kind: part for part in drawn_parts(system=checkup.system, on=on)}
    assert set(drawn) == {"pit", "primary_pump", "battery"}
    assert (drawn["battery"].condition, "11.2 V" in drawn["battery"].note) == ("bad", True)
    assert (drawn["pit"].condition, drawn["pit"].note) == ("good", "")
    assert drawn["battery"].label == str(parts["battery"].model)
    assert drawn["primary_pump"].label == "Primary pump"


# What counts as care.


def test_the_care_record_is_in_order_and_holds_only_what_counts(
    checkup: CheckUp, system: System, theo: User, nora: User, at: datetime, on: date
) -> None:
    made.finished(checkup, at, instead={"rest-volts": WEAK})
    for number, (done_on, decision) in enumerate([(date(2025, 5, 2), True), (date(2024, 5, 2), False)]):
        record = send_outside_record(
            system_id=system.pk,
            provider=f"Basin {number}",
            done_on=done_on,
            what="x",
            sent_by=Actor("owner:1", "I"),
            at=at,
        )
        decide_outside_record(record_id=record.pk, accepted=decision, because="Seen.", by_user=nora, at=at)
    send_outside_record(
        system_id=system.pk, provider="Basin 3", done_on=on, what="x", sent_by=Actor("owner:1", "I"), at=at
    )
    made.begun(system, theo, on + YEAR, at + YEAR)
    entries = [(entry.done_on, entry.by_us, entry.is_passed, entry.provider) for entry in care_record(system.pk)]
    assert entries == [(date(2025, 5, 2), False, True, "Basin 0"), (on, True, False, "Theo Marsh")]
    assert care_record(SystemFactory(property=system.property, name="Other").pk) == []


@pytest.mark.parametrize(
    ("severity", "is_passed"), [("watch", True), ("bad", False), ("urgent", False)], ids=["watch", "bad", "urgent"]
)
def test_what_is_bad_or_urgent_and_open_keeps_a_checkup_from_passing(
    severity: str, is_passed: bool, checkup: CheckUp, theo: User, at: datetime
) -> None:
    found = raise_finding(checkup_id=checkup.pk, severity=severity, what="Wet floor.", by_user=theo, at=at)
    made.finished(checkup, at)
    assert care_record(checkup.system_id)[0].is_passed is is_passed
    assert checkups_of(checkup.system)[0].is_passed is is_passed  # type: ignore[attr-defined]
    close_finding(finding_id=found.pk, note="Dried.", by=theo.actor, at=at)
    assert care_record(checkup.system_id)[0].is_passed is True


def test_the_latest_checkup_is_the_last_finished_one_up_to_a_day(checkup: CheckUp, at: datetime, on: date) -> None:
    assert latest_checkup(checkup.system) is None
    made.finished(checkup, at)
    again, later = next_checkup(checkup)
    assert latest_checkup(checkup.system) == checkup
    made.finished(again, later)
    assert latest_checkup(checkup.system) == again
    assert latest_checkup(checkup.system, on=on) == checkup
    assert latest_checkup(checkup.system, on=on - timedelta(days=1)) is None
    assert checkups_of(checkup.system) == [again, checkup]


# Last time's figures.


def test_last_values_are_those_of_the_last_finished_checkup_of_the_same_part(
    checkup: CheckUp, parts: dict[str, Component], at: datetime
) -> None:
    assert last_values(checkup) == {}
    key = ("rest-volts", parts["battery"].pk)
    made.answer(checkup, "rest-volts", at, typed="12.5", unit="V")
    made.finished(checkup, at + timedelta(minutes=5), instead={"rest-volts": {"typed": "12.9", "unit": "V"}})
    second, later = next_checkup(checkup)
    assert last_values(second)[key].typed == "12.9"
    made.finished(second, later, instead={"rest-volts": {"typed": "12.6", "unit": "V"}})
    third, _ = next_checkup(checkup, years=2)
    assert last_values(third)[key].typed == "12.6"
    assert last_values(second)[key].typed == "12.9"
    made.answer(third, "rest-volts", later, typed="12.41", unit="V")
    assert last_values(third)[key].typed == "12.6"


def test_a_swapped_part_has_no_last_value(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime
) -> None:
    made.finished(checkup, at)
    again, later = next_checkup(checkup)
    new = swap_component(
        checkup_id=again.pk,
        component_id=parts["battery"].pk,
        model_id=parts["battery"].model_id,
        serial_number="B-200",
        because="Old",
        failed=False,
        by_user=theo,
        on=again.done_on,
        at=later,
    )
    known = last_values(again)
    assert ("rest-volts", new.pk) not in known
    assert ("rest-volts", parts["battery"].pk) in known


# Findings and rounds.


def test_open_findings_come_gravest_first_and_only_of_this_system(
    checkup: CheckUp, theo: User, ownership: Ownership, at: datetime
) -> None:
    for minute, severity in enumerate(("watch", "urgent", "bad", "bad")):
        raise_finding(
            checkup_id=checkup.pk,
            severity=severity,
            what=f"{severity} {minute}",
            by_user=theo,
            at=at + timedelta(minutes=minute),
        )
    closed = Finding.objects.get(what="bad 2")
    close_finding(finding_id=closed.pk, note="Done.", by=theo.actor, at=at)
    assert [row.what for row in open_findings(system_id=checkup.system_id)] == ["urgent 1", "bad 3", "watch 0"]
    other = SystemFactory(property=checkup.system.property, name="Crawl space")
    assert open_findings(system_id=other.pk) == []


def test_a_stop_knows_what_was_begun_and_what_is_open(
    checkup: CheckUp, system: System, theo: User, on: date, at: datetime
) -> None:
    raise_finding(checkup_id=checkup.pk, severity="bad", what="Wet floor.", by_user=theo, at=at)
    made.appointment_for(system, theo, on, kind="repair")
    first, second = sorted(round_stops(technician=theo, on=on), key=lambda stop: stop.appointment.pk)
    assert (first.checkup, first.has_checklist) == (checkup, True)
    assert (second.checkup, second.has_checklist) == (None, False)
    assert [row.what for row in second.findings] == ["Wet floor."]


def test_days_ahead_are_ones_own_live_stops_after_today(system: System, theo: User, ana: User, on: date) -> None:
    for days, technician, state in [
        (0, theo, "planned"),
        (1, theo, "planned"),
        (1, theo, "confirmed"),
        (3, theo, "planned"),
        (4, theo, "cancelled"),
        (2, ana, "planned"),
    ]:
        stop = made.appointment_for(system, technician, on + timedelta(days=days))
        stop.state = state
        stop.save()
    assert rounds_ahead(technician=theo, on=on) == [(on + timedelta(days=1), 2), (on + timedelta(days=3), 1)]
