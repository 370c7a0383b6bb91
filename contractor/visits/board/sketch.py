"""A map of rounds as SVG: no tiles and no network, only the houses where they lie and the order of driving. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import cos, radians

WIDTH, HEIGHT, EDGE = 400.0, 320.0, 26.0
MILES_PER_DEGREE = 69.05  # of latitude: 6,371.0088 km · pi / 180
SCALES_MILES = (0.25, 0.5, 1, 2, 5, 10, 20, 50)
# What a technician's stops look like: shape, then dash of the line; both repeat only after twelve technicians.
SHAPES = ("disc", "square", "diamond", "triangle")
DASHES = ("", "7 3", "2 3")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A house on the map: degrees, the number of its stop, what to call it, and whether its position is only rough."""

    latitude: float
    longitude: float
    number: str
    name: str
    is_rough: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """One round: from its start through its stops to its end, both None where they are not known."""

    style: int
    name: str
    start: tuple[float, float] | None
    stops: tuple[Spot, ...]
    end: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """The name of a town, where its houses lie."""

    latitude: float
    longitude: float
    name: str


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where degrees fall on the sheet: a plane true at its middle latitude, which holds for a county."""

    west: float
    north: float
    shrink: float
    scale: float
    left: float
    top: float

    def at(self, latitude: float, longitude: float) -> tuple[float, float]:
        x = self.left + (longitude - self.west) * self.shrink * self.scale
        return round(x, 1), round(self.top + (self.north - latitude) * self.scale, 1)


def shape_of(style: int) -> str:
    """The shape of a technician's stops."""
    return SHAPES[style % len(SHAPES)]


def dash_of(style: int) -> str:
    """The dashes of a technician's line."""
    return DASHES[style % len(DASHES)]


def sketch(trails: Sequence[Trail], waiting: Sequence[Spot], labels: Sequence[Label]) -> str:
    """The map as an SVG element; empty when nothing has a position."""
    points = [(spot.latitude, spot.longitude) for trail in trails for spot in trail.stops]
    points += [(spot.latitude, spot.longitude) for spot in waiting]
    points += [place for trail in trails for place in (trail.start, trail.end) if place is not None]
    if not points:
        return ""
    frame = _frame(points)
    named = _spread([(label.name, frame.at(label.latitude, label.longitude)) for label in labels])
    parts = [
        f'<text class="map-town" x="{x}" y="{y}" text-anchor="middle">{escape(name)}</text>' for name, (x, y) in named
    ]
    parts += [_waiting(frame, spot) for spot in waiting]
    parts += [_line(frame, trail) for trail in trails]
    parts += [_depots(frame, trails)]
    parts += [_stop(frame, trail.style, spot, trail.name) for trail in trails for spot in trail.stops]
    parts.append(_scale_bar(frame))
    return f'<svg class="map-sketch" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" aria-hidden="true">{"".join(parts)}</svg>'


def mark(style: int) -> str:
    """A technician's shape and line by itself, for the legend."""
    dash = dash_of(style)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<svg class="map-key" viewBox="0 0 44 20" aria-hidden="true"><path class="map-line is-{style % 6}" '
        f'd="M1 10H43"{dashes}/>{_shape(style, 22, 10)}</svg>'
    )


def _frame(points: Sequence[tuple[float, float]]) -> _Frame:
    south, north = min(lat for lat, _ in points), max(lat for lat, _ in points)
    west, east = min(lon for _, lon in points), max(lon for _, lon in points)
    shrink = max(0.01, cos(radians((south + north) / 2)))
    tall, wide = max(north - south, 0.01), max((east - west) * shrink, 0.01)
    scale = min((WIDTH - 2 * EDGE) / wide, (HEIGHT - 2 * EDGE - 14) / tall)
    left = (WIDTH - (east - west) * shrink * scale) / 2
    top = (HEIGHT - 14 - (north - south) * scale) / 2
    return _Frame(west, north, shrink, scale, left, top)


def _line(frame: _Frame, trail: Trail) -> str:
    places = [frame.at(*trail.start)] if trail.start else []
    places += [frame.at(spot.latitude, spot.longitude) for spot in trail.stops]
    places += [frame.at(*trail.end)] if trail.end else []
    if len(places) < 2:
        return ""
    dash = dash_of(trail.style)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    path = " ".join(f"{x},{y}" for x, y in places)
    return f'<polyline class="map-line is-{trail.style % 6}" points="{path}"{dashes}/>'


def _depots(frame: _Frame, trails: Sequence[Trail]) -> str:
    places = {place for trail in trails for place in (trail.start, trail.end) if place is not None}
    return "".join(
        f'<path class="map-yard" d="M{x - 7} {y + 7}V{y - 1}L{x} {y - 8}L{x + 7} {y - 1}V{y + 7}z"/>'
        for x, y in sorted(frame.at(*place) for place in places)
    )


def _stop(frame: _Frame, style: int, spot: Spot, whose: str) -> str:
    x, y = frame.at(spot.latitude, spot.longitude)
    rough = f'<circle class="map-rough" cx="{x}" cy="{y}" r="14"/>' if spot.is_rough else ""
    title = f"{whose}, stop {spot.number}: {spot.name}" + (", position rough" if spot.is_rough else "")
    return (
        f"<g><title>{escape(title)}</title>{rough}{_shape(style, x, y)}"
        f'<text class="map-number" x="{x}" y="{y + 3.6:g}" text-anchor="middle">{escape(spot.number)}</text></g>'
    )


def _shape(style: int, x: float, y: float) -> str:
    kind = f'class="map-stop is-{style % 6}"'
    match shape_of(style):
        case "square":
            return f'<rect {kind} x="{x - 7.5:g}" y="{y - 7.5:g}" width="15" height="15"/>'
        case "diamond":
            return f'<path {kind} d="M{x:g} {y - 10.5:g}L{x + 10.5:g} {y:g}L{x:g} {y + 10.5:g}L{x - 10.5:g} {y:g}z"/>'
        case "triangle":
            return f'<path {kind} d="M{x:g} {y - 11.5:g}L{x + 11:g} {y + 7.5:g}H{x - 11:g}z"/>'
        case _:
            return f'<circle {kind} cx="{x:g}" cy="{y:g}" r="8.5"/>'


def _waiting(frame: _Frame, spot: Spot) -> str:
    x, y = frame.at(spot.latitude, spot.longitude)
    rough = f'<circle class="map-rough" cx="{x}" cy="{y}" r="9"/>' if spot.is_rough else ""
    disc = f'<circle class="map-waiting" cx="{x}" cy="{y}" r="4"/>'
    return f"<g><title>{escape(spot.name)}, not planned</title>{rough}{disc}</g>"


def _spread(named: list[tuple[str, tuple[float, float]]]) -> list[tuple[str, tuple[float, float]]]:
    """Names kept inside the sheet and off one another, each a line lower than one that stands in its way."""
    placed: list[tuple[str, tuple[float, float]]] = []
    for name, (x, y) in sorted(named, key=lambda each: (each[1][1], each[1][0])):
        half = len(name) * 3.4
        inside = min(max(x, half + 4), WIDTH - half - 4)
        lower = y - 14
        while any(abs(inside - ox) < half + len(other) * 3.4 and abs(lower - oy) < 13 for other, (ox, oy) in placed):
            lower += 13
        placed.append((name, (round(inside, 1), round(min(max(lower, 12), HEIGHT - 24), 1))))
    return placed


def _scale_bar(frame: _Frame) -> str:
    """A dimension line of a round length, as on a drawing."""
    per_mile = frame.scale / MILES_PER_DEGREE
    miles = max((each for each in SCALES_MILES if each * per_mile <= WIDTH / 3), default=SCALES_MILES[0])
    length = round(miles * per_mile, 1)
    y = HEIGHT - 12
    return (
        f'<path class="map-scale" d="M12 {y - 4:g}V{y + 4:g}M12 {y:g}H{12 + length:g}M{12 + length:g} {y - 4:g}'
        f'V{y + 4:g}"/><text class="map-town" x="{18 + length:g}" y="{y + 4:g}">{miles:g} mi</text>'
    )
