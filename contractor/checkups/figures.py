"""Figures as people read them: the value, its limits, and what it was last year, each in the unit of the gauge."""

from collections.abc import Mapping
from dataclasses import dataclass

from contractor.checkups.lines import SheetLine
from contractor.checkups.models import Answer
from contractor.core.units import shown

WITH_FIGURE = ("measurement", "timed_test", "count")
FLOW_FORMULAS = ("pit_rise_inflow", "pump_down_flow")
# What only ever goes up: less than last time is a slip of the reader, or another counter.
COUNTERS = ("pump.run_hours", "pump.starts")
LESS_COUNTED = "Less than last time: read it again, unless the counter is another one or was set back."


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """The words of one line: empty where there is nothing to say."""

    value: str
    limits: str
    last: str
    caution: str = ""


def figure_of(line: SheetLine, before: Mapping[tuple[str, int | None], Answer], units: str) -> Figure:
    """The figure of a line; ``before`` holds last year's answers by item code and component id."""
    if line.row.kind not in WITH_FIGURE:
        return Figure(value="", limits="", last="")
    unit = judged_unit(line, units)
    earlier = before.get((line.row.code, line.component.pk if line.component else None))
    return Figure(
        value=_value(line, unit),
        limits=_limits(line, unit),
        last=_last(earlier, unit) if earlier else "",
        caution=counter_caution(line.row.feeds, _read(line.answer), _read(earlier)),
    )


def counter_caution(feeds: str, now: float | None, last: float | None) -> str:
    """What to do about a counter that reads less than last time; empty for everything else."""
    return LESS_COUNTED if feeds in COUNTERS and now is not None and last is not None and now < last else ""


def judged_unit(line: SheetLine, units: str) -> str:
    """The unit of what is judged: for a timed test that makes a flow, that of the flow."""
    if line.row.formula in FLOW_FORMULAS:
        return "gal/min" if units == "US" else "L/min"
    return line.line.item.unit(units) or "count"


def _value(line: SheetLine, unit: str) -> str:
    if line.verdict is None or line.answer is None:
        return ""
    if line.verdict.word == "not possible":
        return "not possible"
    value_si = line.verdict.value_si
    if value_si is None:
        value_si = line.answer.seconds if line.row.kind == "timed_test" else line.answer.number_si
    return "" if value_si is None else shown(value_si, unit)


def _limits(line: SheetLine, unit: str) -> str:
    low, high = line.row.good_low, line.row.good_high
    if low is not None and high is not None:
        return f"{shown(low, unit)} to {shown(high, unit)}"
    if low is not None:
        return f"at least {shown(low, unit)}"
    return f"at most {shown(high, unit)}" if high is not None else ""


def _last(answer: Answer, unit: str) -> str:
    value_si = answer.value_si
    if value_si is None and answer.item.formula not in FLOW_FORMULAS:
        value_si = answer.seconds if answer.item.kind == "timed_test" else answer.number_si
    return "" if value_si is None else shown(value_si, unit)


def _read(answer: Answer | None) -> float | None:
    return answer.number_si if answer else None
