"""Axes, scales and ink that every chart of the estimates shares: plain numbers in, SVG text out.

A chart is drawn on a field of 400 units, small enough that its print can be read on a telephone. What tells two lines
apart is their stroke and the words written beside them, never colour alone. Every chart carries its figures as rows,
for the table that stands beside it. Colours are those of the section drawing (``systems/drawing_ink.py``).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from itertools import pairwise
from typing import Final

from contractor.systems.drawing_ink import FACE_TEXT, box, disc, path, words

WIDTH: Final = 400.0
SIZE: Final = 13.5
# Mean width of a letter as a part of its size, on the wide side, to keep words off one another.
_LETTER: Final = 0.51
_LEADING: Final = 1.2

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A drawn chart: the SVG, its title, what it shows in sentences, and its figures as a table's head and rows."""

    svg: str
    title: str
    description: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One axis: the values at its two ends, where its ticks stand, what is written at each, and its title."""

    low: float
    high: float
    ticks: tuple[float, ...]
    words: tuple[str, ...]
    title: str = ""

    def part(self, value: float) -> float:
        """Where a value stands, 0 at the low end and 1 at the high end; outside, the nearest end."""
        return min(max((value - self.low) / (self.high - self.low), 0.0), 1.0)


def step_of(span: float, most: int) -> float:
    """The smallest step of 1, 2, 2.5 or 5 times a power of ten that cuts a span into at most ``most`` pieces.

    >>> step_of(7.3, 5), step_of(0.02, 4)
    (2.0, 0.005)
    """
    if not (math.isfinite(span) and span > 0 and most >= 1):
        raise ValueError(f"A span must be greater than zero and be cut at least once, not {span} into {most}.")
    size = 10.0 ** math.floor(math.log10(span / most))
    return next(step * size for step in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0) if step * size * most >= span * (1 - 1e-9))


def axis(values: Sequence[float], title: str, *, most: int = 5, low: float | None = 0.0) -> Axis:
    """An axis that covers all values and ends on a tick; from ``low`` on, or from the lowest value when that is None.

    >>> axis([0.4, 7.3], "Head, ft").ticks
    (0.0, 2.0, 4.0, 6.0, 8.0)
    """
    lowest = min(values) if low is None else min(low, *values)
    highest = max(values)
    step = step_of(highest - lowest if highest > lowest else max(abs(highest), 1.0), most)
    first, last = math.floor(lowest / step + 1e-9), math.ceil(highest / step - 1e-9)
    last = max(last, first + 1)
    ticks = tuple(number * step for number in range(first, last + 1))
    return Axis(low=ticks[0], high=ticks[-1], ticks=ticks, words=_tick_words(ticks, step), title=title)


def _tick_words(ticks: Sequence[float], step: float) -> tuple[str, ...]:
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    in_tenths = step * 10**decimals
    decimals += 0 if math.isclose(in_tenths, round(in_tenths), rel_tol=1e-6) else 1
    return tuple(f"{tick:,.{decimals}f}".replace("-", "−") for tick in ticks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Two axes on the paper, and the edges of the field between them."""

    x: Axis
    y: Axis
    left: float = 52.0
    right: float = 380.0
    top: float = 14.0
    bottom: float = 236.0

    def at(self, x: float, y: float) -> Point:
        """The place of two values; what lies outside the axes is brought to the nearest edge."""
        return self.across(x), self.up(y)

    def across(self, x: float) -> float:
        return self.left + self.x.part(x) * (self.right - self.left)

    def up(self, y: float) -> float:
        return self.bottom - self.y.part(y) * (self.bottom - self.top)

    def line(self, xs: Sequence[float], ys: Sequence[float]) -> list[list[Point]]:
        """The pieces of a line through the values that lie within the axes, cut where it leaves them."""
        pieces: list[list[Point]] = []
        values = list(zip(xs, ys, strict=True))
        for start, end in pairwise(values):
            kept = self._cut(start, end)
            if kept is None:
                continue
            first, last = (self.at(*value) for value in kept)
            if pieces and pieces[-1][-1] == first:
                pieces[-1].append(last)
            else:
                pieces.append([first, last])
        return pieces

    def _cut(self, start: Point, end: Point) -> tuple[Point, Point] | None:
        """The part of a segment within the axes (Liang and Barsky)."""
        (x, y), across, up = start, end[0] - start[0], end[1] - start[1]
        enters, leaves = 0.0, 1.0
        for move, room in (
            (-across, x - self.x.low),
            (across, self.x.high - x),
            (-up, y - self.y.low),
            (up, self.y.high - y),
        ):
            if move == 0:
                if room < 0:
                    return None
            elif move < 0:
                enters = max(enters, room / move)
            else:
                leaves = min(leaves, room / move)
        if enters > leaves:
            return None
        return (x + enters * across, y + enters * up), (x + leaves * across, y + leaves * up)


def grid(frame: Frame) -> str:
    """Both axes with ticks, words and titles, over faint lines."""
    lines = "".join(f"M{frame.left:g} {_place(frame.up(tick))}H{frame.right:g}" for tick in frame.y.ticks)
    feet = "".join(f"M{_place(frame.across(tick))} {frame.bottom:g}v5" for tick in frame.x.ticks)
    pieces = [path(lines, stroke="rule", width=0.4)]
    pieces.append(path(f"M{frame.left:g} {frame.top:g}V{frame.bottom:g}H{frame.right:g}{feet}", stroke="ink", width=1))
    for tick, word in zip(frame.y.ticks, frame.y.words, strict=True):
        pieces.append(words(frame.left - 6, frame.up(tick) + 4.5, word, size=SIZE, fill="soft", anchor="end"))
    for tick, word in zip(frame.x.ticks, frame.x.words, strict=True):
        pieces.append(words(frame.across(tick), frame.bottom + 19, word, size=SIZE, fill="soft", anchor="middle"))
    middle = (frame.left + frame.right) / 2
    pieces.append(words(middle, frame.bottom + 38, frame.x.title, size=SIZE, weight=600, anchor="middle"))
    pieces.append(_upright(13.0, (frame.top + frame.bottom) / 2, frame.y.title))
    return "".join(pieces)


def _upright(x: float, y: float, text: str) -> str:
    return f'<g transform="rotate(-90 {x:g} {y:g})">{words(x, y, text, size=SIZE, weight=600, anchor="middle")}</g>'


def _place(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def stroke(pieces: Sequence[Sequence[Point]], *, colour: str = "ink", width: float = 2.2, dash: str = "") -> str:
    """A line in one or more pieces; nothing for none."""
    d = "".join(
        f"M{_place(x)} {_place(y)}" if number == 0 else f"L{_place(x)} {_place(y)}"
        for piece in pieces
        for number, (x, y) in enumerate(piece)
    )
    return path(d, stroke=colour, width=width, dash=dash) if d else ""


def dot(place: Point) -> str:
    """A full disc: how things are."""
    return disc(*_rounded(place), 5.5, fill="ink", stroke="sheet", width=1.5)


def ring(place: Point) -> str:
    """An open ring: how things were, or would be."""
    return disc(*_rounded(place), 5.5, fill="sheet", stroke="ink", width=2)


def diamond(place: Point, *, size: float = 7.0) -> str:
    """A full diamond: the day to act."""
    x, y = _rounded(place)
    d = f"M{x:g} {y - size:g}L{x + size:g} {y:g}L{x:g} {y + size:g}L{x - size:g} {y:g}z"
    return path(d, fill="ink", stroke="sheet", width=1.2)


def _rounded(place: Point) -> Point:
    return round(place[0], 2), round(place[1], 2)


@dataclass(slots=True)
class Writing:
    """Words beside lines and points: each goes to the first place that is free, or to the least bad one.

    Where words can't keep off a line, they stand on a piece of the sheet's ground.

    ``bounds`` left, top, right and bottom that no word may cross; ``keep_clear`` places that words should not cover.
    """

    bounds: tuple[float, float, float, float]
    keep_clear: list[Point] = field(default_factory=list)
    _boxes: list[tuple[float, float, float, float]] = field(default_factory=list)
    _drawn: list[str] = field(default_factory=list)

    def avoid(self, pieces: Sequence[Sequence[Point]]) -> None:
        """Keeps words off a line."""
        for piece in pieces:
            for (x, y), (next_x, next_y) in pairwise(piece):
                count = max(1, int(math.hypot(next_x - x, next_y - y) // 4))
                self.keep_clear += [
                    (x + (next_x - x) * part / count, y + (next_y - y) * part / count) for part in range(count + 1)
                ]

    def write(self, lines: Sequence[str], near: Sequence[Point], *, fill: str = "ink", gap: float = 9.0) -> None:
        """Writes one or more lines of words beside the first of the places that has room for them."""
        choices = [
            (order * 0.01, place, anchor, box)
            for order, (place, anchor, box) in enumerate(
                (place, anchor, box)
                for reach in (gap, gap + 12, gap + 26)
                for place in near
                for anchor, box in _sides(lines, place, reach)
            )
        ]
        _, _, anchor, chosen = min(choices, key=lambda choice: choice[0] + self._cost(choice[3]))
        left, top, right, _ = chosen
        self._boxes.append(chosen)
        x = {"start": left, "middle": (left + right) / 2, "end": right}[anchor]
        on_ground = self._covers_lines(chosen) > 0
        for number, text in enumerate(lines):
            y = top + SIZE * (0.9 + number * _LEADING)
            if on_ground:
                self._drawn.append(_ground(x, y, text_width(text) * 0.9, anchor))
            self._drawn.append(words(round(x, 1), round(y, 1), text, size=SIZE, fill=fill, weight=600, anchor=anchor))

    def _cost(self, place: tuple[float, float, float, float]) -> float:
        left, top, right, bottom = place
        outside = sum(
            max(0.0, over)
            for over in (
                self.bounds[0] - left,
                self.bounds[1] - top,
                right - self.bounds[2],
                bottom - self.bounds[3],
            )
        )
        on_words = sum(
            max(0.0, min(right, other[2]) - max(left, other[0]) + 5)
            * max(0.0, min(bottom, other[3]) - max(top, other[1]))
            for other in self._boxes
        )
        return outside * 10 + on_words + self._covers_lines(place)

    def _covers_lines(self, place: tuple[float, float, float, float]) -> int:
        """How much of the lines and points the words would cover."""
        left, top, right, bottom = place
        return sum(left - 2 < x < right + 2 and top - 1 < y < bottom + 1 for x, y in self.keep_clear)

    def svg(self) -> str:
        """All words written so far."""
        return "".join(self._drawn)


def _ground(x: float, baseline: float, width: float, anchor: str) -> str:
    """A piece of the sheet's ground behind one line of words."""
    left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
    return path(f"M{left:.1f} {baseline - 10:.1f}h{width:.1f}v13h{-width:.1f}z", fill="sheet")


def text_width(text: str) -> float:
    """How wide a line of words is at most."""
    return len(text) * SIZE * _LETTER


def _sides(lines: Sequence[str], place: Point, gap: float) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Right above, left above, right below, left below, above and below, right and left of a place."""
    x, y = place
    width, height = max(text_width(text) for text in lines), SIZE * _LEADING * len(lines)

    def at(left: float, top: float) -> tuple[float, float, float, float]:
        return left, top, left + width, top + height

    middle = x - width / 2
    return [
        ("start", at(x + gap * 0.7, y - height - gap * 0.4)),
        ("end", at(x - width - gap * 0.7, y - height - gap * 0.4)),
        ("start", at(x + gap * 0.7, y + gap * 0.4)),
        ("end", at(x - width - gap * 0.7, y + gap * 0.4)),
        ("middle", at(middle, y - height - gap)),
        ("middle", at(middle, y + gap)),
        ("start", at(x + gap, y - height / 2)),
        ("end", at(x - width - gap, y - height / 2)),
    ]


def svg(body: str, *, title: str, description: str, prefix: str, width: float = WIDTH, height: float) -> str:
    """One SVG element that says what it shows; ``prefix`` keeps the ids of several charts on a page apart."""
    names = escape(prefix, quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'aria-labelledby="{names}-title {names}-description" font-family="{FACE_TEXT}">'
        f'<title id="{names}-title">{escape(title)}</title>'
        f'<desc id="{names}-description">{escape(description)}</desc>{body}</svg>'
    )


def bar(left: float, top: float, width: float, height: float, *, fill: str, edge: str = "ink") -> str:
    """A bar of a bar chart."""
    return box(round(left, 2), round(top, 2), round(width, 2), round(height, 2), fill=fill, stroke=edge, width=1.2)
