"""The pit's chart: one cycle of the water's level between the on-level and the off-level of the pump."""

from dataclasses import dataclass

from contractor.core.units import UNITS, display_unit, from_si, shown
from contractor.engineering.pit import PumpCycle
from contractor.estimates.charts import Chart, Frame, Writing, axis, grid, stroke, svg

_LONGEST_DRAWN_S = 7 * 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Levels in metres above the pit's floor; what nobody knows is None and not drawn.

    Without a level of its own the alarm is that of the standby pump, which sounds when it starts.
    """

    off_m: float
    on_m: float
    standby_on_m: float | None = None
    alarm_m: float | None = None
    rim_m: float | None = None


def pit_chart(levels: Levels, cycle: PumpCycle, *, system: str, prefix: str, title: str) -> Chart:
    """Level against time over one cycle and the beginning of the next, in the company's units.

    A cycle that never ends is drawn as far as it goes: without inflow the water stands, and with more inflow than the
    pump moves it stays at the on-level and rises.
    """
    unit = display_unit("length", system)
    times, heights = _course(levels, cycle)
    seconds = max(times)
    time_unit = "s" if seconds < 300 else "min" if seconds < 3 * 3600 else "h"
    known = [level for level in (levels.on_m, levels.standby_on_m, levels.alarm_m, levels.rim_m) if level is not None]
    frame = Frame(
        x=axis([from_si(seconds, time_unit)], f"Time, {UNITS[time_unit].symbol}"),
        y=axis([from_si(level, unit) * 1.02 for level in known], f"Water above the pit’s floor, {UNITS[unit].symbol}"),
    )
    course = frame.line([from_si(one, time_unit) for one in times], [from_si(one, unit) for one in heights])
    writing = Writing(bounds=(frame.left + 2, 0, frame.right + 8, frame.bottom - 2))
    writing.avoid(course)
    marks = _level_lines(frame, levels, unit, writing)
    _cycle_words(frame, cycle, levels, (time_unit, unit), writing)
    description = sentence(cycle)
    return Chart(
        svg=svg(
            grid(frame) + marks + stroke(course, colour="water-line", width=2.6) + writing.svg(),
            title=title,
            description=description,
            prefix=prefix,
            height=284,
        ),
        title=title,
        description=description,
        head=("What", "Value"),
        rows=_rows(levels, cycle, unit),
    )


def _course(levels: Levels, cycle: PumpCycle) -> tuple[list[float], list[float]]:
    fill, run = float(cycle.fill_s), float(cycle.run_s)
    if fill == float("inf") or fill > _LONGEST_DRAWN_S:
        return [0.0, 3600.0], [levels.off_m, levels.off_m]
    if run == float("inf"):
        return [0.0, fill, 2 * fill], [levels.off_m, levels.on_m, levels.on_m]
    again = 0.25 * fill
    height = levels.off_m + 0.25 * (levels.on_m - levels.off_m)
    return [0.0, fill, fill + run, fill + run + again], [levels.off_m, levels.on_m, levels.off_m, height]


def _named(levels: Levels) -> list[tuple[str, float, str]]:
    """Word, level and stroke of each level that is known, from below."""
    named = [
        ("pump off", levels.off_m, "2 3"),
        ("pump on", levels.on_m, "2 3"),
        ("standby and alarm on" if levels.alarm_m is None else "standby on", levels.standby_on_m, "7 4"),
        ("alarm", levels.alarm_m, "8 3 2 3"),
        ("rim", levels.rim_m, ""),
    ]
    return [(word, level, dash) for word, level, dash in named if level is not None]


def _level_lines(frame: Frame, levels: Levels, unit: str, writing: Writing) -> str:
    pieces = []
    for word, level, dash in _named(levels):
        height = frame.up(from_si(level, unit))
        line = [[(frame.left, height), (frame.right, height)]]
        writing.avoid(line)
        places = [(frame.left + part * (frame.right - frame.left), height) for part in (0.98, 0.02, 0.5, 0.7)]
        writing.write([f"{word} {shown(level, unit)}"], places, gap=5)
        pieces.append(stroke(line, colour="ink" if word in {"alarm", "rim"} else "soft", width=1.1, dash=dash))
    return "".join(pieces)


def _cycle_words(frame: Frame, cycle: PumpCycle, levels: Levels, units: tuple[str, str], writing: Writing) -> None:
    fill, run = float(cycle.fill_s), float(cycle.run_s)
    if fill == float("inf") or run == float("inf"):
        return
    middle = from_si((levels.off_m + levels.on_m) / 2, units[1])
    writing.write([f"fills {duration(fill)}"], [frame.at(from_si(fill / 2, units[0]), middle)], fill="water-line")
    writing.write([f"runs {duration(run)}"], [frame.at(from_si(fill + run / 2, units[0]), middle)], fill="water-line")


def duration(seconds: float) -> str:
    """A time as one says it.

    >>> duration(14.2), duration(265), duration(3900), duration(200000)
    ('14 s', '4 min 25 s', '1 h 5 min', '2.3 days')
    """
    if seconds == float("inf"):
        return "without end"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        minutes, rest = divmod(whole, 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    if whole < 86400:
        hours, minutes = divmod(round(seconds / 60), 60)
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    return f"{seconds / 86400:.1f} days"


def sentence(cycle: PumpCycle) -> str:
    """The cycle in one sentence."""
    fill, run = float(cycle.fill_s), float(cycle.run_s)
    if fill == float("inf"):
        return "No water comes in, so the pump does not start."
    if run == float("inf"):
        return f"The pit fills in {duration(fill)}, and the pump runs without stopping: more comes in than it lifts."
    return f"The pit fills in {duration(fill)} and the pump runs {duration(run)}, {starts(cycle)}."


def starts(cycle: PumpCycle) -> str:
    """How often the pump starts, in words."""
    an_hour = float(cycle.starts_per_hour)
    if an_hour < 1:
        return f"{an_hour * 24:.1f} starts a day"
    return f"{an_hour:.1f} starts an hour" if an_hour < 10 else f"{an_hour:.0f} starts an hour"


def _rows(levels: Levels, cycle: PumpCycle, unit: str) -> tuple[tuple[str, str], ...]:
    return (
        *((word[0].upper() + word[1:], shown(level, unit)) for word, level, _ in _named(levels)),
        ("Filling", duration(float(cycle.fill_s))),
        ("Running", duration(float(cycle.run_s))),
        ("Starts", starts(cycle)),
        ("Part of the time that the pump runs", f"{float(cycle.duty):.1%}"),
    )
