"""Stored estimates are the ones computed again, and a row that was tampered with is found."""

from datetime import date, datetime, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from contractor.accounts.models import User
from contractor.estimates.actions import refresh_all_estimates
from contractor.estimates.models import FleetLife, LifeEstimate, SystemEstimate
from contractor.estimates.queries import wrong_estimates
from contractor.systems.models import Component, System
from tests.estimates.factories import checkup_on, looked_at
from tests.factories import CatalogueModelFactory, ComponentFactory, SystemFactory


@pytest.fixture
def renewed(system: System, theo: User, on: date, at: datetime) -> System:
    """A system and its neighbour, renewed on May 4, and again after something was found and a month had passed."""
    for kind in ("primary_pump", "standby_pump", "battery"):
        ComponentFactory(system=system, part_kind=kind, model=CatalogueModelFactory(part_kind=kind))
    ComponentFactory(part_kind="battery", system=SystemFactory(property__street="1 Quarry Lane"))
    refresh_all_estimates(on=on, at=at)
    battery = Component.objects.filter(system=system, part_kind="battery").get()
    looked_at(checkup_on(system, date(2026, 5, 10), theo), battery, "watch", "Rests at 12.2 V.")
    for days in (10, 40):
        refresh_all_estimates(on=on + timedelta(days=days), at=at)
    return system


def verify() -> str:
    out = StringIO()
    call_command("verify_estimates", stdout=out)
    return out.getvalue()


def test_what_was_renewed_is_what_is_computed_again(renewed: System) -> None:
    assert verify() == "Every stored estimate is the one computed again.\n"


def test_what_was_made_on_different_days_of_a_month_is_right(
    system: System, theo: User, on: date, at: datetime
) -> None:
    pump = ComponentFactory(system=system, part_kind="primary_pump")
    ComponentFactory(system=system, part_kind="battery")
    refresh_all_estimates(on=on, at=at)
    looked_at(checkup_on(system, date(2026, 5, 4), theo), pump, "watch", "It hums.")
    refresh_all_estimates(on=on + timedelta(days=9), at=at)
    assert verify().startswith("Every stored estimate")


TAMPERED: tuple[tuple[type[Any], dict[str, Any], str], ...] = (
    (LifeEstimate, {"replace_by": date(2040, 1, 1)}, "the stored estimate is not the one computed again"),
    (LifeEstimate, {"reason": "It will last."}, "the stored estimate is not the one computed again"),
    (LifeEstimate, {"inputs": []}, "the stored estimate is not the one computed again"),
    (LifeEstimate, {"urgency": 0.0}, "the stored estimate is not the one computed again"),
    (LifeEstimate, {"inputs_sha256": "0" * 64}, "the stored estimate is not the one computed again"),
    (SystemEstimate, {"results": []}, "the stored estimate of the whole system is not the one computed again"),
)


@pytest.mark.parametrize(("table", "changes", "sentence"), TAMPERED, ids=[str(list(row[1])) for row in TAMPERED])
def test_a_row_that_was_tampered_with_is_found(
    renewed: System, table: type[Any], changes: dict[str, Any], sentence: str
) -> None:
    row = table.objects.order_by("pk").first()
    table.objects.filter(pk=row.pk).update(**changes)
    out = StringIO()
    with pytest.raises(CommandError, match="1 stored estimates differ"):
        call_command("verify_estimates", stdout=out)
    assert out.getvalue().startswith(f"System {renewed.pk}")
    assert sentence in out.getvalue()


def test_facts_that_changed_without_a_renewal_are_found(renewed: System) -> None:
    Component.objects.filter(system=renewed, part_kind="battery").update(in_on=date(2021, 1, 1))
    with pytest.raises(CommandError):
        call_command("verify_estimates", stdout=StringIO())


def test_a_missing_row_and_one_too_many_are_found(renewed: System) -> None:
    pump = Component.objects.get(system=renewed, part_kind="primary_pump")
    LifeEstimate.objects.filter(component=pump).delete()
    standby = Component.objects.get(system=renewed, part_kind="standby_pump")
    Component.objects.filter(pk=standby.pk).update(out_on=date(2026, 5, 1))
    SystemEstimate.objects.exclude(system=renewed).delete()
    problems, after = wrong_estimates()
    assert after is None
    text = "\n".join(problems)
    assert f"component {pump.pk}: no estimate is stored." in text
    assert f"component {standby.pk}: an estimate is stored for a part that is not in place." in text
    assert f"System {System.objects.exclude(pk=renewed.pk).get().pk}: no estimate is stored." in text


def test_all_systems_are_gone_through(renewed: System) -> None:
    first, after = wrong_estimates(most=1)
    assert (first, after) == ([], System.objects.order_by("pk").values_list("pk", flat=True)[0])
    assert wrong_estimates(after=after or 0, most=5) == ([], None)


def test_a_fit_of_own_records_that_was_tampered_with_is_found(company: object, on: date, at: datetime) -> None:
    model = CatalogueModelFactory(part_kind="battery")
    for age in (900, 1100, 1200, 1350, 1500):
        into = date(2020, 1, 2)
        ComponentFactory(
            system=SystemFactory(property__street=f"{age} Old Mill Road", installed_on=into),
            part_kind="battery",
            model=model,
            in_on=into,
            out_on=into + timedelta(days=age),
            failed=True,
        )
    refresh_all_estimates(on=on, at=at)
    assert FleetLife.objects.count() == 2
    assert verify().startswith("Every stored estimate")
    FleetLife.objects.filter(model=model).update(scale_years=30.0)
    with pytest.raises(CommandError):
        call_command("verify_estimates", stdout=StringIO())
