"""The range of a replace-by date as a small band: from the earliest to the latest day, the date, and today.

In a list all bands share one scale, so that rows can be compared down the column; the dates stand beside them in words.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from contractor.engineering.outlook import in_words
from contractor.estimates.battery_chart import year_axis
from contractor.estimates.charts import SIZE, Axis, Frame, Writing, diamond, svg
from contractor.systems.drawing_ink import path, words

# What a list looks at: from a year ago to six years ahead; a part that reaches further says so by an arrow's head.
_BEFORE, _AHEAD = timedelta(days=365), timedelta(days=6 * 365)
_LIST_WIDTH, _LIST_HEIGHT = 150.0, 22.0
_AT_MOST = timedelta(days=40 * 365)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """The three days of an estimate, and today."""

    earliest: date
    replace_by: date
    latest: date
    today: date

    def sentence(self) -> str:
        """The range in words."""
        return (
            f"Replace by {in_words(self.replace_by)}; the need may come between {in_words(self.earliest)} and "
            f"{in_words(self.latest)}. Today is {in_words(self.today)}."
        )


def small_band(one: Range, *, prefix: str) -> str:
    """The band for a row of a list, on the scale that all rows of a day share."""
    scale = Axis(
        low=float((one.today - _BEFORE).toordinal()),
        high=float((one.today + _AHEAD).toordinal()),
        ticks=(),
        words=(),
    )
    frame = Frame(x=scale, y=Axis(low=0, high=1, ticks=(), words=()), left=9, right=_LIST_WIDTH - 9, top=0, bottom=22)
    left, right = _across(frame, one.earliest), _across(frame, one.latest)
    body = (
        path(f"M1 11H{_LIST_WIDTH - 1:g}", stroke="rule", width=0.8)
        + _today_line(_across(frame, one.today), 2, 20)
        + _block(left, right, 6, 10)
        + _overflow(frame, one)
        + diamond((_across(frame, one.replace_by), 11), size=6)
    )
    return svg(
        body,
        title="Range of the date",
        description=one.sentence(),
        prefix=prefix,
        width=_LIST_WIDTH,
        height=_LIST_HEIGHT,
    )


def large_band(one: Range, *, prefix: str) -> str:
    """The band with its own scale in years, and its days written beside it."""
    latest = min(one.latest, max(one.today, one.replace_by) + _AT_MOST)
    scale = year_axis(min(one.earliest, one.today), max(latest, one.today, one.replace_by), most=6)
    frame = Frame(x=scale, y=Axis(low=0, high=1, ticks=(), words=()), left=20, right=380, top=34, bottom=66)
    left, right = _across(frame, one.earliest), _across(frame, latest)
    at, today = _across(frame, one.replace_by), _across(frame, one.today)
    writing = Writing(bounds=(2, 0, 398, 80), keep_clear=[(at, 50.0), (today, 40.0), (today, 60.0)])
    writing.avoid([[(left, 42), (right, 42)], [(left, 58), (right, 58)], [(20, 82), (380, 82)]])
    writing.write([f"replace by {_short(one.replace_by)}"], [(at, 34.0)], gap=4)
    writing.write(["today"], [(today, 34.0), (today, 60.0)], fill="soft", gap=4)
    body = (
        _year_ticks(frame)
        + _block(left, right, 42, 16)
        + _today_line(today, 32, 80)
        + diamond((at, 50), size=9)
        + writing.svg()
    )
    return svg(body, title="Range of the date", description=one.sentence(), prefix=prefix, height=106)


def _short(on: date) -> str:
    return f"{on:%b} {on.day}, {on.year}"


def _across(frame: Frame, on: date) -> float:
    return round(frame.across(float(on.toordinal())), 2)


def _block(left: float, right: float, top: float, height: float) -> str:
    """The range itself; a range of no width is still seen."""
    width = max(right - left, 3.0)
    return path(f"M{left:g} {top:g}h{width:g}v{height:g}h{-width:g}z", fill="water", stroke="water-line", width=1.2)


def _today_line(x: float, top: float, bottom: float) -> str:
    """Today: a dotted upright with a small flag, so that it isn't taken for an edge of the range."""
    return path(f"M{x:g} {top:g}V{bottom:g}", stroke="ink", width=1.3, dash="2 2") + path(
        f"M{x - 4:g} {top:g}h8l-4 5z", fill="ink"
    )


def _overflow(frame: Frame, one: Range) -> str:
    """Heads of arrows where the range goes on beyond the list's scale."""
    heads = []
    if one.latest.toordinal() > frame.x.high:
        heads.append(f"M{frame.right + 1:g} 6l6 5l-6 5z")
    if one.earliest.toordinal() < frame.x.low:
        heads.append(f"M{frame.left - 1:g} 6l-6 5l6 5z")
    return path("".join(heads), fill="water-line") if heads else ""


def _year_ticks(frame: Frame) -> str:
    feet = "".join(f"M{frame.across(tick):.2f} 86v5" for tick in frame.x.ticks)
    years = "".join(
        words(round(frame.across(tick), 2), 103, word, size=SIZE, fill="soft", anchor="middle")
        for tick, word in zip(frame.x.ticks, frame.x.words, strict=True)
    )
    return path(f"M{frame.left:g} 86H{frame.right:g}{feet}", stroke="ink", width=1) + years
