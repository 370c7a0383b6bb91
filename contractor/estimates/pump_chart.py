"""The pump's chart: its curve when new and as worn, the line's curve, and where the pump worked then and works now."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from contractor.core.units import UNITS, display_unit, from_si, shown, to_si
from contractor.engineering.pump_curves import DischargeLine, OperatingPoint, PumpCurve, operating_point
from contractor.estimates.charts import Chart, Frame, Point, Writing, axis, dot, grid, ring, stroke, svg

_SAMPLES = 60
Pieces = list[list[Point]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One state of pump and line: the word for it ("new", "now"), the pump's curve, the line, the working point."""

    word: str
    curve: PumpCurve
    line: DischargeLine
    point: OperatingPoint


def state(word: str, curve: PumpCurve, line: DischargeLine) -> Drawn:
    """A state with its working point."""
    return Drawn(word=word, curve=curve, line=line, point=operating_point(curve, line))


def pump_chart(then: Drawn, now: Drawn | None, *, system: str, prefix: str, title: str) -> Chart:
    """Head against flow, in the company's units (``system`` "US" or "metric").

    ``then`` is drawn whole with an open ring, ``now`` (None: nothing was measured) dashed with a full disc; the line
    is drawn heavy in the colour of water, a second one only when it differs.
    """
    head_unit, flow_unit = ("ft" if system == "US" else "m"), display_unit("flow", system)
    states = [then] if now is None else [then, now]
    units = (head_unit, flow_unit)
    frame = _frame(states, units)
    writing = Writing(bounds=(frame.left + 2, frame.top - 8, frame.right + 18, frame.bottom - 2))
    pumps = states if now is not None and now.curve != then.curve else states[:1]
    lines = states if now is not None and now.line != then.line else states[:1]
    pump_lines = [_pump_line(frame, drawn, units) for drawn in pumps]
    discharge_lines = [_discharge_line(frame, drawn, units) for drawn in lines]
    places = [_place(frame, drawn.point, units) for drawn in states]
    for pieces in (*pump_lines, *discharge_lines):
        writing.avoid(pieces)
    writing.keep_clear += [(x + dx, y + dy) for x, y in places for dx in (-5, 0, 5) for dy in (-5, 0, 5)]
    for drawn, place in zip(states, places, strict=True):
        writing.write(_point_words(drawn, flow_unit), [place], gap=12)
    _name_lines(writing, [drawn.word for drawn in lines], discharge_lines, [drawn.word for drawn in pumps], pump_lines)
    rings = "".join((ring if number == 0 and now is not None else dot)(place) for number, place in enumerate(places))
    body = grid(frame) + _strokes(pump_lines, discharge_lines) + rings + writing.svg()
    description = " ".join(_sentence(drawn, head_unit, flow_unit) for drawn in states)
    return Chart(
        svg=svg(body, title=title, description=description, prefix=prefix, height=284),
        title=title,
        description=description,
        head=_head(states, lines, head_unit, flow_unit),
        rows=_rows(states, lines, head_unit, flow_unit),
    )


def _name_lines(
    writing: Writing,
    lines: Sequence[str],
    line_pieces: Sequence[Pieces],
    pumps: Sequence[str],
    pump_pieces: Sequence[Pieces],
) -> None:
    """Writes beside each line what it is; the state only where there are two."""
    for word, pieces in zip(lines, line_pieces, strict=True):
        # Two lines begin at the same lift: their words stand where they have parted.
        spots = _spots(pieces, (0.85, 0.7, 0.95) if len(lines) > 1 else (0.2, 0.1, 0.85))
        writing.write([f"line, {word}" if len(lines) > 1 else "discharge line"], spots, fill="water-line")
    for number, (word, pieces) in enumerate(zip(pumps, pump_pieces, strict=True)):
        spots = _spots(pieces, (0.9, 0.8, 0.95) if number else (0.35, 0.25, 0.5))
        writing.write([f"pump, {word}" if len(pumps) > 1 else "pump"], spots)


def _strokes(pump_lines: Sequence[Pieces], discharge_lines: Sequence[Pieces]) -> str:
    return "".join(
        (
            *(stroke(pieces, dash="7 5" if number else "") for number, pieces in enumerate(pump_lines)),
            *(
                stroke(pieces, colour="water-line", width=3.4, dash="2 5" if number else "")
                for number, pieces in enumerate(discharge_lines)
            ),
        )
    )


def _frame(states: Sequence[Drawn], units: tuple[str, str]) -> Frame:
    head_unit, flow_unit = units
    flows = [from_si(drawn.curve.flows_m3_s[-1], flow_unit) for drawn in states]
    heads = [from_si(drawn.curve.shutoff_head_m, head_unit) for drawn in states]
    heads += [from_si(float(drawn.line.head_m(drawn.point.flow_m3_s)), head_unit) * 1.15 for drawn in states]
    return Frame(x=axis(flows, f"Flow, {UNITS[flow_unit].symbol}"), y=axis(heads, f"Head, {UNITS[head_unit].symbol}"))


def _flows(drawn: Drawn, first_m3_s: float, last_m3_s: float) -> list[float]:
    """Flows to draw a curve through; the working point is one of them, so that it lies on the drawn line."""
    even = np.linspace(first_m3_s, last_m3_s, _SAMPLES)
    return sorted({*even.tolist(), min(max(drawn.point.flow_m3_s, first_m3_s), last_m3_s)})


def _pump_line(frame: Frame, drawn: Drawn, units: tuple[str, str]) -> Pieces:
    flows = _flows(drawn, drawn.curve.flows_m3_s[0], drawn.curve.flows_m3_s[-1])
    heads = [drawn.curve.head_m(flow) for flow in flows]
    return frame.line([from_si(flow, units[1]) for flow in flows], [from_si(head, units[0]) for head in heads])


def _discharge_line(frame: Frame, drawn: Drawn, units: tuple[str, str]) -> Pieces:
    flows = _flows(drawn, 0.0, to_si(frame.x.high, units[1]))
    heads = [float(drawn.line.head_m(flow)) for flow in flows]
    return frame.line([from_si(flow, units[1]) for flow in flows], [from_si(head, units[0]) for head in heads])


def _spots(pieces: Pieces, parts: Sequence[float]) -> list[Point]:
    along = [place for piece in pieces for place in piece]
    return [along[round(part * (len(along) - 1))] for part in parts] if along else [(200.0, 120.0)]


def _place(frame: Frame, point: OperatingPoint, units: tuple[str, str]) -> Point:
    return frame.at(from_si(point.flow_m3_s, units[1]), from_si(point.head_m, units[0]))


def _point_words(drawn: Drawn, flow_unit: str) -> list[str]:
    if drawn.point.flow_m3_s <= 0:
        return [f"{drawn.word}: cannot lift"]
    return [f"{drawn.word}:", shown(drawn.point.flow_m3_s, flow_unit)]


def _sentence(drawn: Drawn, head_unit: str, flow_unit: str) -> str:
    if drawn.point.flow_m3_s <= 0:
        return f"Pump {drawn.word}: it cannot lift the water."
    flow, head = shown(drawn.point.flow_m3_s, flow_unit), shown(drawn.point.head_m, head_unit)
    return f"Pump {drawn.word}: it moves {flow} against a head of {head}."


def _head(states: Sequence[Drawn], lines: Sequence[Drawn], head_unit: str, flow_unit: str) -> tuple[str, ...]:
    head, flow = UNITS[head_unit].symbol, UNITS[flow_unit].symbol
    return (
        f"Flow, {flow}",
        *(f"Pump {drawn.word}, {head}" for drawn in states),
        *(f"Line {drawn.word}, {head}" if len(lines) > 1 else f"Line, {head}" for drawn in lines),
    )


def _rows(
    states: Sequence[Drawn], lines: Sequence[Drawn], head_unit: str, flow_unit: str
) -> tuple[tuple[str, ...], ...]:
    """The maker's points of the first curve, with what each curve asks or gives there, and the working points."""
    flows = sorted({*states[0].curve.flows_m3_s, *(drawn.point.flow_m3_s for drawn in states)})
    return tuple(
        (
            _figure(flow, flow_unit) + _which(flow, states),
            *(_pump_head(drawn.curve, flow, head_unit) for drawn in states),
            *(_figure(float(drawn.line.head_m(flow)), head_unit) for drawn in lines),
        )
        for flow in flows
    )


def _which(flow_m3_s: float, states: Sequence[Drawn]) -> str:
    words = [drawn.word for drawn in states if drawn.point.flow_m3_s == flow_m3_s]
    return f" (works here, {' and '.join(words)})" if words else ""


def _pump_head(curve: PumpCurve, flow_m3_s: float, head_unit: str) -> str:
    inside = curve.flows_m3_s[0] <= flow_m3_s <= curve.flows_m3_s[-1]
    return _figure(curve.head_m(flow_m3_s), head_unit) if inside else "—"


def _figure(value_si: float, unit: str) -> str:
    """A value without its unit, which stands in the table's head."""
    return shown(value_si, unit).removesuffix(UNITS[unit].symbol).strip()
