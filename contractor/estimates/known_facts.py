"""Gathers what is known of many systems from the tables, in a number of queries that doesn't grow with them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db.models import Max

from contractor.checkups.models import CheckUp
from contractor.estimates.known_climate import Climates
from contractor.estimates.known_lives import OwnLives, own_lives
from contractor.estimates.known_readings import Series, found_of, readings_of
from contractor.estimates.models import ClimateNormals
from contractor.estimates.rules.declared import declared_number, declared_years
from contractor.estimates.rules.facts import (
    BATTERY,
    DECLARED,
    ESTIMATED_KINDS,
    MEASURED,
    PRIMARY,
    STANDBY,
    BatteryFacts,
    Counted,
    Found,
    Given,
    LineFacts,
    PitFacts,
    PumpFacts,
    Reading,
    SystemFacts,
    latest,
)
from contractor.estimates.rules.inflow import counter
from contractor.systems.models import AsBuilt, CatalogueModel, Component, ComponentQuerySet, System
from contractor.systems.part_kinds import part_kind as kind_of

# The parts whose catalogue data say something about line and pit.
FITTING_KINDS = ("pit", "discharge_line", "check_valve", "freeze_relief")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One component in place, with what its maker declares of the model."""

    component_id: int
    system_id: int
    part_kind: str
    word: str
    in_on: date
    model_id: int | None
    model: str
    data: Mapping[str, Any]


def facts_of(system_ids: Sequence[int], *, on: date) -> dict[int, SystemFacts]:
    """Everything that is known of these systems on a day, by system id; a system that doesn't exist is left out."""
    systems = {
        pk: (installed_on, postcode)
        for pk, installed_on, postcode in System.objects.filter(pk__in=system_ids).values_list(
            "pk", "installed_on", "property__postcode"
        )
    }
    in_place = Component.objects.in_place(on).filter(system__in=list(systems))
    parts = _parts(in_place)
    as_built = {row.system_id: row for row in AsBuilt.objects.filter(system__in=list(systems))}
    pits = {system_id: _pit(parts[system_id], as_built.get(system_id)) for system_id in systems}
    readings = readings_of(list(systems), pits, on)
    found = found_of(in_place.filter(part_kind__in=ESTIMATED_KINDS), on)
    checked = _checked(list(systems), on)
    climates = Climates(ClimateNormals.objects.all())
    lives = own_lives()
    before = _pumps_before(list(systems), on)
    return {
        system_id: SystemFacts(
            system_id=system_id,
            installed_on=installed_on,
            pumps=tuple(_pumps(parts[system_id], readings[system_id], found, lives)),
            batteries=tuple(_batteries(parts[system_id], readings[system_id], found, lives)),
            line=_line(parts[system_id], as_built.get(system_id), readings[system_id]),
            pit=replace(
                pits[system_id],
                inflows=_inflows(readings[system_id], parts[system_id]),
                counted_before=_counted(before.get(system_id), readings[system_id]),
            ),
            temperatures=readings[system_id].get((None, "basement.temperature_c"), ()),
            checked_on=checked.get(system_id),
            climate=climates.of(postcode),
        )
        for system_id, (installed_on, postcode) in systems.items()
    }


def _parts(in_place: ComponentQuerySet) -> dict[int, list[_Part]]:
    wanted = in_place.filter(part_kind__in=(*ESTIMATED_KINDS, *FITTING_KINDS)).order_by("in_on", "pk")
    rows = list(wanted.values_list("pk", "system_id", "part_kind", "in_on", "model_id"))
    models = CatalogueModel.objects.in_bulk({model_id for *_, model_id in rows if model_id is not None})
    parts: dict[int, list[_Part]] = defaultdict(list)
    for pk, system_id, part_kind, in_on, model_id in rows:
        model = models.get(model_id) if model_id is not None else None
        parts[system_id].append(
            _Part(
                component_id=pk,
                system_id=system_id,
                part_kind=part_kind,
                word=kind_of(part_kind).word,
                in_on=in_on,
                model_id=model_id,
                model=str(model or ""),
                data=model.data if model else {},
            )
        )
    return parts


def _of_kind(parts: Iterable[_Part], part_kind: str) -> list[_Part]:
    return [part for part in parts if part.part_kind == part_kind]


def _pit(parts: list[_Part], built: AsBuilt | None) -> PitFacts:
    """The pit's size: of the one pit on record as its maker declares it, else as measured."""
    pits = _of_kind(parts, "pit")
    declared = pits[0] if len(pits) == 1 else None
    return PitFacts(
        diameter_m=_declared(declared, "diameter_m", "m") or _measured(built, "pit_diameter_m", "m"),
        depth_m=_declared(declared, "depth_m", "m") or _measured(built, "pit_depth_m", "m"),
        on_m=_measured(built, "pump_on_m", "m"),
        off_m=_measured(built, "pump_off_m", "m"),
        standby_on_m=_measured(built, "standby_on_m", "m"),
    )


def _declared(part: _Part | None, name: str, unit: str) -> Given[float] | None:
    value = declared_number(part.data, name) if part else None
    return None if value is None or part is None else _given(value, unit, DECLARED, None, part.model)


def _given(value: float, unit: str, origin: str, on: date | None, note: str = "") -> Given[float]:
    return Given(value=value, unit=unit, origin=origin, on=on, note=note)


def _measured(built: AsBuilt | None, name: str, unit: str) -> Given[float] | None:
    value = getattr(built, name, None)
    return None if value is None or built is None else _given(float(value), unit, MEASURED, built.measured_on)


def _told(built: AsBuilt | None, name: str) -> Given[bool] | None:
    value = getattr(built, name, None)
    return None if value is None or built is None else Given(value=bool(value), origin=MEASURED, on=built.measured_on)


def _line(parts: list[_Part], built: AsBuilt | None, readings: Series) -> LineFacts:
    lines, valves, reliefs = (_of_kind(parts, kind) for kind in ("discharge_line", "check_valve", "freeze_relief"))
    line = lines[-1] if lines else None
    closes_by = str(valves[-1].data.get("closes_by") or "") if valves else ""
    tests = [test for part in reliefs for test in readings.get((part.component_id, "freeze_relief.tested"), ())]
    tested = max(tests, key=lambda test: test.on, default=None)
    return LineFacts(
        static_lift_m=_measured(built, "static_lift_m", "m"),
        length_m=_measured(built, "length_m", "m"),
        bore_m=_declared(line, "bore_m", "m") or _measured(built, "bore_m", "m"),
        elbows_90=_measured(built, "elbows_90", "count"),
        elbows_45=_measured(built, "elbows_45", "count"),
        check_valve=Given(value=closes_by, origin=DECLARED, note=valves[-1].model) if closes_by else None,
        cover_m=_measured(built, "cover_m", "m"),
        exposed_length_m=_measured(built, "exposed_length_m", "m"),
        is_insulated=_told(built, "is_insulated"),
        falls_to_outlet=_told(built, "falls_to_outlet"),
        sags=_measured(built, "sags", "count"),
        outlet_above_ground_m=_measured(built, "outlet_above_ground_m", "m"),
        relief_fitting=bool(reliefs),
        relief_tested=None if tested is None else Given(value=bool(tested.value), origin=MEASURED, on=tested.on),
    )


def _inflows(readings: Series, parts: list[_Part]) -> tuple[Reading, ...]:
    """The rises timed in the one pit; with several nobody knows which one it was."""
    pits = _of_kind(parts, "pit")
    return readings.get((pits[0].component_id, "pit.inflow_m3_s"), ()) if len(pits) == 1 else ()


def _pumps_before(system_ids: list[int], on: date) -> dict[int, tuple[int, date]]:
    """The primary pump that was taken out last, by system: its component and when it had gone in."""
    gone = Component.objects.filter(system__in=system_ids, part_kind=PRIMARY, out_on__lte=on).order_by("out_on", "pk")
    return {system_id: (pk, in_on) for system_id, pk, in_on in gone.values_list("system_id", "pk", "in_on")}


def _counted(pump: tuple[int, date] | None, readings: Series) -> Counted | None:
    if pump is None:
        return None
    component_id, in_on = pump
    hours, starts = (counter(readings.get((component_id, f"pump.{feed}"), ())) for feed in ("run_hours", "starts"))
    on = max((reading.on for reading in (hours, starts) if reading is not None), default=None)
    if on is None:
        return None
    flow = latest(readings.get((component_id, "pump.flow_m3_s"), ()))
    return Counted(
        since=in_on,
        on=on,
        run_hours=hours.value if hours is not None and hours.on == on else None,
        starts=starts.value if starts is not None and starts.on == on else None,
        flow_m3_s=None if flow is None else flow.value,
    )


def _pumps(parts: list[_Part], readings: Series, found: Mapping[int, Found], lives: OwnLives) -> Iterable[PumpFacts]:
    for part in parts:
        if part.part_kind not in {PRIMARY, STANDBY}:
            continue
        yield PumpFacts(
            component_id=part.component_id,
            part_kind=part.part_kind,
            word=part.word,
            model_id=part.model_id,
            model=part.model,
            installed_on=part.in_on,
            curve=_curve(part.data),
            curve_at_v=_declared(part, "curve_at_v", "V"),
            current_a=_declared(part, "current_a", "A"),
            rated_hours=_declared(part, "rated_hours", "h"),
            rated_starts=_declared(part, "rated_starts", "count"),
            expected_years=_years(part),
            flows=readings.get((part.component_id, "pump.flow_m3_s"), ()),
            currents=readings.get((part.component_id, "pump.current_a"), ()),
            run_hours=readings.get((part.component_id, "pump.run_hours"), ()),
            starts=readings.get((part.component_id, "pump.starts"), ()),
            found=found.get(part.component_id),
            own_life=lives.of(part.part_kind, part.model_id),
        )


def _curve(data: Mapping[str, Any]) -> tuple[tuple[float, float], ...] | None:
    """The declared points; None where there are none that can be read."""
    try:
        return tuple((float(flow), float(head)) for flow, head in data.get("curve") or ()) or None
    except (TypeError, ValueError):
        return None


def _years(part: _Part) -> Given[float] | None:
    years = declared_years(part.data)
    return None if years is None else _given(years, "", DECLARED, None, part.model)


def _batteries(
    parts: list[_Part], readings: Series, found: Mapping[int, Found], lives: OwnLives
) -> Iterable[BatteryFacts]:
    for part in _of_kind(parts, BATTERY):
        chemistry = str(part.data.get("chemistry") or "")

        def series(feed: str, component_id: int = part.component_id) -> tuple[Reading, ...]:
            return readings.get((component_id, f"battery.{feed}"), ())

        yield BatteryFacts(
            component_id=part.component_id,
            word=part.word,
            model_id=part.model_id,
            model=part.model,
            installed_on=part.in_on,
            chemistry=Given(value=chemistry, origin=DECLARED, note=part.model) if chemistry else None,
            capacity_ah=_declared(part, "capacity_ah", "Ah"),
            rate_h=_declared(part, "rate_h", "h"),
            expected_years=_years(part),
            capacities=series("capacity_ah"),
            load_tests=series("load_test_v"),
            running_v=series("running_v"),
            rest_v=series("rest_v"),
            deep_discharges=series("deep_discharges"),
            found=found.get(part.component_id),
            own_life=lives.of(BATTERY, part.model_id),
        )


def _checked(system_ids: list[int], on: date) -> dict[int, date]:
    finished = CheckUp.objects.finished().filter(system__in=system_ids, done_on__lte=on)
    return dict(finished.order_by().values_list("system_id").annotate(day=Max("done_on")))
