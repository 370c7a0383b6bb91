"""The battery's charts: its capacity over the years against the 80 % at which it is worn out, and its reserve."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from contractor.engineering.battery_life import END_OF_LIFE_CAPACITY
from contractor.engineering.outlook import DAYS_PER_YEAR, in_words
from contractor.engineering.trends import FEWEST_VISITS, theil_sen
from contractor.estimates.charts import (
    SIZE,
    Axis,
    Chart,
    Frame,
    Point,
    Writing,
    axis,
    bar,
    diamond,
    dot,
    grid,
    stroke,
    svg,
    text_width,
)
from contractor.systems.drawing_ink import path, words

_WORN_OUT = 100 * END_OF_LIFE_CAPACITY
_MOST_YEAR_TICKS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A measured capacity as a part of the rating, and the day."""

    on: date
    part: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityStory:
    """What is known of a battery's capacity.

    ``trend`` the two ends of the straight fall that was drawn through the measurements (None: no trend);
    ``replace_by`` the day of the estimate; ``rated_ah`` None when the model is not known.
    """

    installed_on: date
    today: date
    replace_by: date
    measured: Sequence[Measured] = ()
    trend: tuple[Measured, Measured] | None = None
    rated_ah: float | None = None


def capacity_chart(story: CapacityStory, *, prefix: str, title: str) -> Chart:
    """Capacity in percent of the rating against the year, with the line at 80 %, today and the day to replace it."""
    days = [story.installed_on, story.today, story.replace_by, *(one.on for one in story.measured)]
    percents = [100.0, *(100 * one.part for one in story.measured)]
    frame = Frame(x=year_axis(min(days), max(days)), y=_percent_axis(percents))
    worn = frame.line([frame.x.low, frame.x.high], [_WORN_OUT, _WORN_OUT])
    trend = _trend(frame, story)
    measured = [frame.at(_day(one.on), 100 * one.part) for one in story.measured]
    replace_at = (frame.across(_day(story.replace_by)), frame.bottom)
    today_x = frame.across(_day(story.today))
    today = [[(today_x, frame.bottom), (today_x, frame.top)]]
    writing = Writing(bounds=(frame.left + 2, 2, frame.right + 8, frame.bottom - 2))
    for pieces in (worn, trend, today):
        writing.avoid(pieces)
    writing.keep_clear += [*measured, replace_at]
    writing.write(["today"], [(today_x, frame.bottom - 10), (today_x, frame.top + 8)], fill="soft")
    writing.write(["replace by"], [(replace_at[0], replace_at[1] - 6)], gap=6)
    _name_lines(writing, frame, story, measured, trend)
    body = (
        grid(frame)
        + stroke(worn, width=1.6, dash="8 3 2 3")
        + stroke(today, colour="soft", width=1, dash="2 3")
        + stroke(trend, colour="water-line", width=2.4, dash="7 5")
        + "".join(dot(place) for place in measured)
        + diamond(replace_at)
        + writing.svg()
    )
    description = _described(story)
    return Chart(
        svg=svg(body, title=title, description=description, prefix=prefix, height=284),
        title=title,
        description=description,
        head=("Day", "Capacity", "What it is"),
        rows=_capacity_rows(story),
    )


def _name_lines(
    writing: Writing,
    frame: Frame,
    story: CapacityStory,
    measured: Sequence[Point],
    trend: Sequence[Sequence[Point]],
) -> None:
    """Writes beside the line of 80 %, the last measurement and the trend what they are."""
    at_worn_out = frame.up(_WORN_OUT)
    writing.write(
        [f"{_WORN_OUT:.0f}%: worn out"], [(frame.left + 6, at_worn_out), (frame.right - 60, at_worn_out)], gap=6
    )
    if measured:
        writing.write([f"measured {story.measured[-1].part:.0%}"], [measured[-1]])
    if trend:
        writing.write(["trend"], [_middle(trend[0]), trend[0][0]], gap=6)


def year_axis(first: date, last: date, *, most: int = _MOST_YEAR_TICKS) -> Axis:
    """An axis of days that covers both, with a tick at the start of a year, of every second, third … year for many."""
    low_year, high_year = first.year, last.year + 1
    every = next(every for every in (1, 2, 3, 5, 10, 20, 50) if (high_year - low_year) / every <= most)
    years = list(range(low_year, high_year + every, every))
    ticks = tuple(_day(date(year, 1, 1)) for year in years)
    return Axis(low=ticks[0], high=ticks[-1], ticks=ticks, words=tuple(str(year) for year in years), title="Year")


def _day(on: date) -> float:
    return float(on.toordinal())


def _percent_axis(percents: Sequence[float]) -> Axis:
    return axis([*percents, 60.0], "Capacity, % of the rating", low=None if min(percents) >= 60 else 0.0)


def _trend(frame: Frame, story: CapacityStory) -> list[list[Point]]:
    if story.trend is None:
        return []
    first, last = story.trend
    return frame.line([_day(first.on), _day(last.on)], [100 * first.part, 100 * last.part])


def _middle(piece: Sequence[Point]) -> Point:
    (x, y), (other_x, other_y) = piece[0], piece[-1]
    return (x + other_x) / 2, (y + other_y) / 2


def _capacity_rows(story: CapacityStory) -> tuple[tuple[str, ...], ...]:
    rows = [(one.on, one.part, "measured") for one in story.measured]
    if story.trend is not None:
        rows += [(one.on, one.part, "on the trend") for one in story.trend]
    found = [(on, _capacity(part, story.rated_ah), word) for on, part, word in rows]
    found.append((story.replace_by, "—", "replace by"))
    return tuple((in_words(on), capacity, word) for on, capacity, word in sorted(found))


def _capacity(part: float, rated_ah: float | None) -> str:
    return f"{part:.0%}" if rated_ah is None else f"{part:.0%}, {part * rated_ah:.0f} Ah"


def _described(story: CapacityStory) -> str:
    if not story.measured:
        said = "Its capacity has not been measured."
    else:
        last = max(story.measured, key=lambda one: one.on)
        said = f"Its capacity was last measured at {last.part:.0%} of the rating on {in_words(last.on)}."
    return f"In since {in_words(story.installed_on)}. {said} Replace it by {in_words(story.replace_by)}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Lasting:
    """How many hours something lasts, in the words that stand beside its bar; ``is_reserve`` is what we have."""

    word: str
    hours: float
    is_reserve: bool = False


def reserve_chart(lines: Sequence[Lasting], *, prefix: str, title: str, description: str) -> Chart:
    """Hours side by side: what the battery carries (full bars) against how long power cuts last (hollow bars)."""
    finite = [line.hours for line in lines if line.hours < float("inf")]
    frame = Frame(
        x=axis([*finite, 2.0], "Hours", most=4),
        y=Axis(low=0, high=1, ticks=(), words=()),
        left=12,
        top=6,
        bottom=6 + 44.0 * len(lines),
    )
    pieces = [path("".join(_tick_lines(frame)), stroke="rule", width=0.4)]
    for number, line in enumerate(lines):
        top = frame.top + 44 * number
        hours = frame.x.high if line.hours == float("inf") else line.hours
        width = frame.across(hours) - frame.left
        pieces.append(words(frame.left, top + 14, line.word, size=SIZE, weight=600))
        pieces.append(bar(frame.left, top + 20, max(width, 1), 16, fill="water" if line.is_reserve else "sheet"))
        pieces.append(_hours_beside(frame, width, top + 33, hours_in_words(line.hours)))
    pieces.append(_hour_scale(frame))
    rows = tuple((line.word, hours_in_words(line.hours)) for line in lines)
    return Chart(
        svg=svg("".join(pieces), title=title, description=description, prefix=prefix, height=round(frame.bottom + 46)),
        title=title,
        description=description,
        head=("What", "Lasts"),
        rows=rows,
    )


def _tick_lines(frame: Frame) -> list[str]:
    return [f"M{frame.across(tick):.2f} {frame.top:g}V{frame.bottom:g}" for tick in frame.x.ticks]


def _hour_scale(frame: Frame) -> str:
    pieces = [path(f"M{frame.left:g} {frame.bottom:g}H{frame.right:g}", stroke="ink", width=1)]
    last = len(frame.x.ticks) - 1
    for number, (tick, word) in enumerate(zip(frame.x.ticks, frame.x.words, strict=True)):
        anchor = "start" if number == 0 else "end" if number == last else "middle"
        pieces.append(words(frame.across(tick), frame.bottom + 18, word, size=SIZE, fill="soft", anchor=anchor))
    middle = (frame.left + frame.right) / 2
    pieces.append(words(middle, frame.bottom + 37, frame.x.title, size=SIZE, weight=600, anchor="middle"))
    return "".join(pieces)


def _hours_beside(frame: Frame, width: float, y: float, text: str) -> str:
    """The hours behind the bar, or inside where there is no room behind it."""
    behind = frame.left + width + 6
    if behind + text_width(text) <= frame.right:
        return words(round(behind, 1), y, text, size=SIZE)
    return words(round(frame.left + width - 6, 1), y, text, size=SIZE, anchor="end")


def hours_in_words(hours: float) -> str:
    """Hours as one says them: no more exact than they are known."""
    if hours == float("inf"):
        return "as long as it holds its charge"
    if hours <= 0:
        return "not at all"
    if hours < 1:
        return f"about {max(5, round(hours * 12) * 5)} minutes"
    if hours >= 72:
        return f"about {hours / 24:.0f} days"
    number = f"{hours:.1f}".removesuffix(".0") if hours < 3 else f"{hours:.0f}"
    return f"about {number} hour" if number == "1" else f"about {number} hours"


def fall(installed_on: date, measured: Sequence[Measured], until: date) -> tuple[Measured, Measured] | None:
    """The two ends of the fall of capacity, on to a day: by Theil and Sen through three measurements or more, else
    straight from the full rating when new through the last one. None when nothing falls or nothing was measured.
    """
    if not measured:
        return None
    in_order = sorted(measured, key=lambda one: one.on)
    last = in_order[-1]
    days = [float((one.on - installed_on).days) for one in in_order]
    if len(in_order) >= FEWEST_VISITS:
        trend = theil_sen(days, [one.part for one in in_order], argument="measured")
        slope_per_day, start, at_start = trend.slope_per_year / DAYS_PER_YEAR, days[0], trend.at(days[0])
    else:
        slope_per_day, start, at_start = (last.part - 1.0) / max(days[-1], 1.0), 0.0, 1.0
    if slope_per_day >= 0:
        return None
    end = min(max((until - installed_on).days, days[-1]), start - at_start / slope_per_day)
    return (
        Measured(on=installed_on + timedelta(days=int(start)), part=at_start),
        Measured(on=installed_on + timedelta(days=int(end)), part=at_start + slope_per_day * (int(end) - start)),
    )
