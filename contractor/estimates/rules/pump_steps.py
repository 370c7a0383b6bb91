"""The inputs of a pump's estimate and its computation with this pump's numbers put in, enough to do it by hand."""

from collections.abc import Sequence
from datetime import date
from itertools import combinations
from statistics import median

from contractor.engineering.outlook import years_between
from contractor.engineering.pump_curves import PumpCurve
from contractor.engineering.seasons import season_day_after, season_years
from contractor.engineering.trends import FEWEST_VISITS
from contractor.engineering.water import GRAVITY_M_S2
from contractor.estimates.rules import assumed
from contractor.estimates.rules.facts import ASSUMED, DECLARED, MEASURED, ON_RECORD, Given, PumpFacts
from contractor.estimates.rules.inflow import HOURS_A_MONTH
from contractor.estimates.rules.results import Input, Step
from contractor.estimates.rules.wording import Wording, entry, number, step, words
from contractor.estimates.rules.workings import PumpWorking, Workings

_CIRCLE = "0.785398"
# The months' parts of a year's inflow where the climate isn't known.
EVEN = (1.0 / 12.0,) * 12


def line_inputs(worked: Workings, say: Wording) -> tuple[Input, ...]:
    """What the discharge line was reckoned with."""
    line = worked.line
    return (
        entry("Lift to the line's highest point", line.static_lift_m, say),
        entry("Length of the line", line.length_m, say),
        entry("Bore of the line", line.bore_m, say, held=True),
        entry("Elbows of 90°", line.elbows_90, say),
        entry("Elbows of 45°", line.elbows_45, say),
    )


def pit_inputs(worked: Workings, say: Wording) -> tuple[Input, ...]:
    """What the pit was reckoned with."""
    pit = worked.pit
    return (
        entry("Pit, inside diameter", pit.diameter_m, say, held=True),
        entry("Pump starts above the floor", pit.on_m, say, held=True),
        entry("Pump stops above the floor", pit.off_m, say, held=True),
    )


def inflow_inputs(worked: Workings, say: Wording) -> tuple[Input, ...]:
    """The mean inflow of the year, and the rises that were timed."""
    timed = [_read("Inflow timed in the pit", say.flow(rise.value), rise.on) for rise in worked.facts.pit.inflows]
    return entry("Mean inflow of the year", worked.inflow.mean_m3_s, say), *timed


def inflow_steps(worked: Workings, say: Wording) -> tuple[Step, ...]:
    """How the mean inflow was found; nothing where it is assumed or supposed."""
    inflow, mean = worked.inflow, worked.inflow.mean_m3_s.value
    if not inflow.formula:
        return ()
    result = f"{number(mean, 5)} m³/s ({say.flow(mean)})"
    return (step("Mean inflow of the year", inflow.formula, inflow.with_numbers, result),)


def pump_inputs(
    pump: PumpFacts, worked: Workings, working: PumpWorking, years: Given[float], say: Wording
) -> tuple[Input, ...]:
    """Everything a pump's date was made from, each with where it came from."""
    inputs = [
        Input(name="In since", value=words(pump.installed_on), unit="", origin=ON_RECORD),
        entry("Expected life (median)", years, say, word=f"{number(years.value)} years"),
    ]
    if pump.rated_hours:
        inputs.append(entry("Rated running time", pump.rated_hours, say))
    if pump.rated_starts:
        inputs.append(entry("Rated starts", pump.rated_starts, say))
    if pump.run_hours:
        inputs.append(_read("Run hours counted", f"{number(pump.run_hours[-1].value, 6)} h", pump.run_hours[-1].on))
    if pump.starts:
        inputs.append(_read("Starts counted", f"{pump.starts[-1].value:,.0f}", pump.starts[-1].on))
    inputs += [_read("Flow measured", say.flow(reading.value), reading.on) for reading in pump.flows]
    if working.curve is not None:
        origin = ASSUMED if working.curve_is_assumed else DECLARED
        note = assumed.PRACTICE if working.curve_is_assumed else pump.model
        inputs.append(
            Input(name="Pump curve", value=curve_in_words(working.curve, say), unit="", origin=origin, note=note)
        )
        inputs += line_inputs(worked, say)
    if pump is worked.facts.primary:
        inputs += [*pit_inputs(worked, say), *inflow_inputs(worked, say)]
    return tuple(inputs)


def _read(name: str, value: str, on: date) -> Input:
    return Input(name=name, value=value, unit="", origin=MEASURED, on=on.isoformat())


def curve_in_words(curve: PumpCurve, say: Wording) -> str:
    """The points of a curve."""
    points = zip(curve.flows_m3_s, curve.heads_m, strict=True)
    return "; ".join(f"{say.flow(flow)} at {say.run(head)}" for flow, head in points)


def fittings_step(worked: Workings) -> Step:
    """All loss factors of the line."""
    line = worked.line
    return step(
        "Loss factors of all fittings",
        "ΣK = 0.63 · elbows of 90° + 0.34 · elbows of 45° + 2 (check valve) + 1 (open end)",
        f"{assumed.K_ELBOW_90} · {number(line.elbows_90.value)} + {assumed.K_ELBOW_45} · "
        f"{number(line.elbows_45.value)} + {assumed.K_CHECK:g} + {assumed.K_EXIT:g}",
        number(line.k_sum),
    )


def head_step(name: str, worked: Workings, flow_m3_s: float, head_m: float, say: Wording) -> Step:
    """The head that the line asks for at a flow."""
    line, q, d = worked.line, number(flow_m3_s, 6), number(worked.line.bore_m.value, 6)
    return step(
        name,
        "h = lift + 10.67 · L · (Q ÷ C)^1.852 ÷ D^4.8704 + ΣK · (Q ÷ (π/4 · D²))² ÷ (2 · g), in m, m³/s",
        f"{number(line.static_lift_m.value, 5)} + 10.67 · {number(line.length_m.value, 5)} · "
        f"({q} ÷ {assumed.HAZEN_WILLIAMS_C:g})^1.852 ÷ {d}^4.8704 + {number(line.k_sum)} · "
        f"({q} ÷ ({_CIRCLE} · {d}²))² ÷ (2 · {GRAVITY_M_S2})",
        f"{number(head_m)} m ({say.run(head_m)}), which the pump's curve gives at this flow",
    )


def hydraulic_steps(pump: PumpFacts, worked: Workings, working: PumpWorking, say: Wording) -> tuple[Step, ...]:
    """Where the pump works when new and now."""
    new_flow, new_head = working.new_flow_m3_s, working.new_head_m
    if new_flow is None or new_head is None:
        return ()
    steps = [fittings_step(worked)]
    if working.speed_ratio != 1.0:
        volts = pump.curve_at_v.value if pump.curve_at_v else assumed.PUMP_SUPPLY_V
        steps.append(
            step(
                "Speed on the battery",
                "r = volts under load ÷ volts of the curve; flow · r, head · r²",
                f"{number(working.speed_ratio * volts)} ÷ {number(volts)}",
                number(working.speed_ratio),
            )
        )
    named = f"{say.flow(new_flow)} ({number(new_flow, 5)} m³/s)"
    steps.append(head_step(f"Flow when new, where pump and line meet: {named}", worked, new_flow, new_head, say))
    if pump.flows and working.now_is_measured and working.flow_ratio > 0:
        last = pump.flows[-1]
        same_head = last.value / working.flow_ratio
        steps.append(
            step(
                f"Flow measured on {words(last.on)} ÷ flow of the new pump at the same head",
                "ratio = measured ÷ new at that head",
                f"{number(last.value, 5)} ÷ {number(same_head, 5)}",
                f"{working.flow_ratio:.2f}",
            )
        )
    return tuple(steps)


def year_steps(pump: PumpFacts, worked: Workings, working: PumpWorking, say: Wording) -> tuple[Step, ...]:
    """A year of the primary pump's running and starting at the inflow."""
    year, storage, flow = worked.year, worked.storage_m3, working.now_flow_m3_s
    if pump is not worked.facts.primary or year is None or storage is None or not flow:
        return ()
    months = worked.inflow.months_m3_s
    # Litres a second keep the numbers short enough to type.
    inflows = ", ".join(number(month * 1000.0, 4) for month in months)
    products = sum(max(month * (flow - month), 0.0) for month in months)
    return (
        storage_step(worked),
        *inflow_steps(worked, say),
        step(
            "Inflow of each month, January first",
            "mean · 12 · the month's part of the year's water",
            f"{number(worked.inflow.mean_m3_s.value * 1000.0, 5)} · 12 · each of "
            + ", ".join(number(weight, 4) for weight in worked.weights or EVEN),
            f"{inflows} L/s",
        ),
        step(
            "Run hours a year",
            "730.5 h · Σ of the months' inflow ÷ pump flow",
            f"{HOURS_A_MONTH:g} · {number(sum(min(month, flow) for month in months) * 1000.0, 5)} ÷ "
            f"{number(flow * 1000.0, 5)}",
            f"{number(year.run_hours)} h",
        ),
        step(
            "Starts a year",
            "730.5 · 3600 s · Σ Qi · (Qp − Qi) ÷ (V · Qp), in m³ and m³/s",
            f"{HOURS_A_MONTH:g} · 3600 · {number(products, 5)} ÷ ({number(storage, 5)} · {number(flow, 5)})",
            f"{year.starts:,.0f}",
        ),
    )


def storage_step(worked: Workings) -> Step:
    """What the pit holds between the two levels."""
    pit = worked.pit
    return step(
        "Water between the levels",
        "V = π/4 · D² · (start − stop)",
        f"{_CIRCLE} · {number(pit.diameter_m.value, 5)}² · ({number(pit.on_m.value, 5)} − "
        f"{number(pit.off_m.value, 5)})",
        f"{number(worked.storage_m3 or 0.0, 5)} m³",
    )


def wear_steps(
    pump: PumpFacts, run_hours: float | None, starts: float | None, on: date, weights: Sequence[float]
) -> tuple[Step, ...]:
    """The share of the rated life that is used, and when it is used up at that pace."""
    formula, numbers, used = [], [], 0.0
    for word, count, rated in (("hours", run_hours, pump.rated_hours), ("starts", starts, pump.rated_starts)):
        if count is not None and rated is not None:
            formula.append(f"{word} ÷ rated {word}")
            numbers.append(f"{number(count, 6)} ÷ {number(rated.value, 6)}")
            used += count / rated.value
    if not used:
        return ()
    passed = season_years(pump.installed_on, on, weights)
    after = season_day_after(pump.installed_on, passed / used, weights)
    return (
        step("Share of the rated life used", f"D = {' + '.join(formula)}", " + ".join(numbers), number(used)),
        step(
            "Rated life used up",
            "years of inflow so far ÷ D, where each month counts by its part of the year's water: "
            + ", ".join(number(weight, 3) for weight in weights),
            f"{number(passed)} ÷ {number(used)}",
            f"{number(passed / used)} years of inflow, which end on {words(after)}",
        ),
    )


def trend_steps(pump: PumpFacts, working: PumpWorking, least: float) -> tuple[Step, ...]:
    """The slope of the measured flow through all pairs of visits, and the ratio at which the pump is replaced."""
    if not working.ratios:
        return ()
    listed = "; ".join(f"{words(day)}: {ratio:.3f}" for day, ratio in working.ratios)
    steps = (
        step(
            "Flow as a part of the new pump's" if working.ratios_are_to_curve else "Flow as a part of its first one",
            "ratio on each day; replaced at the least ratio",
            listed,
            f"least {number(least)}",
        ),
    )
    return (*steps, *slope_steps("flow", working.ratios, least))


def slope_steps(word: str, readings: tuple[tuple[date, float], ...], level: float) -> tuple[Step, ...]:
    """A straight trend through three readings or more by hand: its slope, and the day it reaches a level."""
    if len(readings) < FEWEST_VISITS:
        return ()
    pairs = combinations(readings, 2)
    slopes = sorted((later - first) / years_between(day, after) for (day, first), (after, later) in pairs)
    slope, first_day = median(slopes), readings[0][0]
    middle_years = median(years_between(first_day, day) for day, _ in readings)
    middle = median(value for _, value in readings)
    fall = step(
        f"Fall of the {word} (Theil–Sen)",
        "median of the slopes between all pairs of visits, a year",
        "; ".join(f"{one:.4f}" for one in slopes),
        f"{slope:.4f} a year",
    )
    if slope >= 0:
        return (fall,)
    reaches = step(
        f"When the {word} reaches {level:.0%}",
        "median of the days + (level − median of the readings) ÷ slope, in years after the first visit",
        f"{number(middle_years)} + ({number(level)} − {number(middle)}) ÷ {slope:.4f}",
        f"{number(middle_years + (level - middle) / slope)} years after {words(first_day)}",
    )
    return fall, reaches
