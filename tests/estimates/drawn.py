"""Reads a chart back the way a person does: by its ink and by the words at its ticks."""

import math
import re
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

Point = tuple[float, float]
SVG = "{http://www.w3.org/2000/svg}"
MOVES = re.compile(r"([MLHVhvl])([^MLHVhvlaz]*)")


@dataclass(frozen=True)
class Drawn:
    """A parsed chart."""

    root: ElementTree.Element

    @classmethod
    def of(cls, svg: str) -> "Drawn":
        return cls(ElementTree.fromstring(svg))

    def said(self, tag: str) -> str:
        found = self.root.find(f"{SVG}{tag}")
        return "" if found is None or found.text is None else found.text

    def texts(self) -> dict[str, Point]:
        """Words that stand upright, with their place."""
        return {word: (x, y) for word, x, y, _ in self._upright()}

    def lines(self, *, stroke: str | None = None, dash: str | None = None) -> list[list[Point]]:
        """Lines of one colour class and one dash, as points."""
        found = []
        for element in self.root.iter(f"{SVG}path"):
            if stroke is not None and f"s-{stroke}" not in element.get("class", "").split():
                continue
            if dash is not None and element.get("stroke-dasharray", "") != dash:
                continue
            found.append(points(element.attrib["d"]))
        return found

    def discs(self, fill: str) -> list[Point]:
        return [
            (float(disc.attrib["cx"]), float(disc.attrib["cy"]))
            for disc in self.root.iter(f"{SVG}circle")
            if f"d-{fill}" in disc.get("class", "").split()
        ]

    def bars(self) -> list[tuple[float, float, float, float]]:
        """Left, top, width and height of every bar."""
        return [
            (float(bar.attrib["x"]), float(bar.attrib["y"]), float(bar.attrib["width"]), float(bar.attrib["height"]))
            for bar in self.root.iter(f"{SVG}rect")
        ]

    def diamonds(self) -> list[Point]:
        """Middles of the full diamonds."""
        middles = []
        for element in self.root.iter(f"{SVG}path"):
            four = points(element.attrib["d"])
            if element.attrib["d"].endswith("z") and len(four) == 4 and four[0][0] == four[2][0]:
                middles.append((four[0][0], (four[0][1] + four[2][1]) / 2))
        return middles

    def places(self) -> list[Point]:
        """Every place that ink touches."""
        found = [point for line in self.lines() for point in line]
        found += [*self.discs("ink"), *self.discs("sheet"), *self.texts().values()]
        for left, top, width, height in self.bars():
            found += [(left, top), (left + width, top + height)]
        return found

    def across(self, first: str, last: str) -> "Ruler":
        """A ruler along the lower axis, laid against two of its tick words."""
        words = self._upright()
        row = [max(y for word, _, y, _ in words if word == end) for end in (first, last)]
        at = [next(x for word, x, y, _ in words if word == end and y == row[0]) for end in (first, last)]
        return Ruler(float(first), at[0], float(last), at[1])

    def up(self, first: str, last: str) -> "Ruler":
        """A ruler along the left axis, whose words end at it and stand a little below their ticks' middle."""
        at = [
            next(y for word, x, y, anchor in self._upright() if word == end and anchor == "end" and x < 60) - 4.5
            for end in (first, last)
        ]
        return Ruler(float(first), at[0], float(last), at[1])

    def _upright(self) -> list[tuple[str, float, float, str]]:
        turned = {id(text) for group in self.root.iter(f"{SVG}g") for text in group.iter(f"{SVG}text")}
        return [
            (text.text or "", float(text.attrib["x"]), float(text.attrib["y"]), text.get("text-anchor", "start"))
            for text in self.root.iter(f"{SVG}text")
            if id(text) not in turned
        ]


@dataclass(frozen=True)
class Ruler:
    """Two values and where they stand: everything between is even."""

    low: float
    low_at: float
    high: float
    high_at: float

    def value(self, place: float) -> float:
        return self.low + (place - self.low_at) / (self.high_at - self.low_at) * (self.high - self.low)


def points(d: str) -> list[Point]:
    """The corners of a path of straight lines."""
    x = y = 0.0
    found: list[Point] = []
    for command, numbers in MOVES.findall(d):
        values = [float(number) for number in re.findall(r"-?[\d.]+(?:e-?\d+)?", numbers)]
        match command:
            case "M" | "L":
                x, y = values[0], values[1]
            case "l":
                x, y = x + values[0], y + values[1]
            case "H":
                x = values[0]
            case "V":
                y = values[0]
            case "h":
                x += values[0]
            case "v":
                y += values[0]
        found.append((x, y))
    return found


def distance(place: Point, line: list[Point]) -> float:
    """How far a place is from a line."""
    return min(_to_segment(place, start, end) for start, end in pairwise(line))


def _to_segment(place: Point, start: Point, end: Point) -> float:
    (px, py), (x, y) = place, start
    dx, dy = end[0] - x, end[1] - y
    length = dx * dx + dy * dy
    part = 0.0 if length == 0 else min(max(((px - x) * dx + (py - y) * dy) / length, 0.0), 1.0)
    return math.hypot(px - x - part * dx, py - y - part * dy)
