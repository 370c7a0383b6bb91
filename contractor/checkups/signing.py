"""A signature drawn on the glass: the strokes as points, checked when they come in, and drawn again as a path."""

import math
from collections.abc import Sequence
from typing import Any

from contractor.checkups.errors import SignatureMissing, StrokesUnreadable

# The box in which every signature is kept, whatever the size of the screen it was drawn on.
BOX_WIDTH, BOX_HEIGHT = 1000, 320
MOST_POINTS = 6000
LEAST_INK = 40  # less ink than this is a slip of the finger, not a name

Strokes = list[list[list[float]]]


def read_strokes(given: Any) -> Strokes:
    """Strokes as lists of [x, y] within the box, to a tenth. Raises StrokesUnreadable or SignatureMissing."""
    if not isinstance(given, list) or not all(isinstance(stroke, list) for stroke in given):
        raise StrokesUnreadable
    if sum(len(stroke) for stroke in given) > MOST_POINTS:
        raise StrokesUnreadable
    strokes = [[_point(point) for point in stroke] for stroke in given if stroke]
    if sum(map(_length, strokes)) < LEAST_INK:
        raise SignatureMissing
    return strokes


def _point(given: Any) -> list[float]:
    if not isinstance(given, list) or len(given) != 2:
        raise StrokesUnreadable
    if not all(isinstance(n, int | float) and not isinstance(n, bool) and math.isfinite(n) for n in given):
        raise StrokesUnreadable
    x, y = given
    return [round(min(max(x, 0), BOX_WIDTH), 1), round(min(max(y, 0), BOX_HEIGHT), 1)]


def _length(stroke: list[list[float]]) -> float:
    return sum(math.dist(a, b) for a, b in zip(stroke, stroke[1:], strict=False))


def signature_path(strokes: Sequence[Sequence[Sequence[float]]]) -> str:
    """The strokes as the ``d`` of one SVG path; a dot becomes a short line, so that it shows."""
    pieces = []
    for stroke in strokes:
        first, *rest = stroke
        points = rest or [[first[0] + 0.1, first[1]]]
        pieces.append(f"M{first[0]:g} {first[1]:g}" + "".join(f"L{x:g} {y:g}" for x, y in points))
    return "".join(pieces)
