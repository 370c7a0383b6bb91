"""The section drawing: a basement in cross-section with the parts that are installed, each with its condition.

Pure: parts in, SVG text out. The same text stands in a page, where classes let a style sheet recolour it, and in a
PDF, where its own attributes hold. A condition is told by shape, word and colour.
"""

import textwrap
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from contractor.core.templatetags.mark_shapes import CONDITIONS, TONE_COLOURS
from contractor.systems.drawing_house import HEIGHT, WIDTH, house
from contractor.systems.drawing_ink import COLOURS, FACE_TEXT, FACE_TITLE, box, disc, path, words
from contractor.systems.drawing_shapes import SHAPES, PartShape, Scene
from contractor.systems.part_kinds import BY_CODE, PART_KINDS

# From the mildest to the worst: several parts of one kind show the worst of theirs.
SEVERITY = ("good", "unknown", "watch", "bad")
LEGEND_WIDTH = 430


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """One installed part: its kind's code, what people call it, its condition (good, watch, bad, unknown), a note.

    ``key`` comes back as ``data-keys`` on the drawing, so that a page can join drawing and list.
    ValueError for a kind or a condition that does not exist.
    """

    kind: str
    label: str
    condition: str
    note: str = ""
    key: str = ""

    def __post_init__(self) -> None:
        if self.kind not in BY_CODE:
            raise ValueError(f"There is no kind of part called {self.kind!r}.")
        if self.condition not in SEVERITY:
            raise ValueError(f"A condition is one of {', '.join(SEVERITY)}, not {self.condition!r}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LegendRow:
    """One numbered call-out in words: "1 Primary pump x2", its worst condition, and a line for every part."""

    number: int
    kind: str
    word: str
    condition: str
    condition_word: str
    lines: tuple[str, ...]
    keys: tuple[str, ...]


def legend(parts: Sequence[DrawnPart]) -> tuple[LegendRow, ...]:
    """The call-outs in walking order, numbered from 1: the drawing's text alternative and its list on a page."""
    rows: list[LegendRow] = []
    for kind in PART_KINDS:
        same = [part for part in parts if part.kind == kind.code]
        if not same:
            continue
        worst = max((part.condition for part in same), key=SEVERITY.index)
        word = kind.word[0].upper() + kind.word[1:]
        rows.append(
            LegendRow(
                number=len(rows) + 1,
                kind=kind.code,
                word=word if len(same) == 1 else f"{word} ×{len(same)}",
                condition=worst,
                condition_word=CONDITIONS[worst].word,
                lines=tuple(filter(None, (_line(part, alone=len(same) == 1) for part in same))),
                keys=tuple(part.key for part in same if part.key),
            )
        )
    return tuple(rows)


def _line(part: DrawnPart, *, alone: bool) -> str:
    """A part in words; where it shares its call-out with others, its own condition too."""
    named = part.label if alone else f"{part.label or 'No label'} — {CONDITIONS[part.condition].word}"
    return ", ".join(filter(None, (named, part.note)))


def section_drawing(
    parts: Sequence[DrawnPart],
    *,
    title: str,
    description: str,
    walls: Sequence[str] = (),
    prefix: str = "section",
    compact: bool = False,
) -> str:
    """The drawing as one SVG element.

    ``title`` and ``description`` are read out, followed by the legend in words; ``walls`` names the treated walls;
    ``prefix`` keeps ids apart when several drawings share a page; ``compact`` leaves the legend to the page's own
    list (see ``legend``), for screens too narrow for small print.
    """
    rows = legend(parts)
    scene = Scene(counts=Counter(part.kind for part in parts))
    beside = "" if compact else _legend_block(rows, title, walls)
    width = WIDTH if compact else WIDTH + LEGEND_WIDTH
    height = HEIGHT if compact else max(HEIGHT, _legend_height(rows, title, walls))
    spoken = " ".join(filter(None, (description, _spoken(rows), _walls_sentence(walls))))
    names = escape(prefix, quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="section-drawing" viewBox="0 0 {width} {height:g}" role="img" '
        f'aria-labelledby="{names}-title {names}-description" font-family="{FACE_TEXT}">'
        f'<title id="{names}-title">{escape(title)}</title>'
        f'<desc id="{names}-description">{escape(spoken)}</desc>'
        f"{house(set(scene.counts))}{_installed(rows, scene)}{_callouts(rows)}{_frame()}{beside}</svg>"
    )


def _installed(rows: Sequence[LegendRow], scene: Scene) -> str:
    by_layer = sorted(rows, key=lambda row: SHAPES[row.kind].layer)
    return "".join(_part_group(row, SHAPES[row.kind], scene) for row in by_layer)


def _part_group(row: LegendRow, shape: PartShape, scene: Scene) -> str:
    """A part's shape; what wants attention is drawn heavier and in its condition's colour."""
    alarming = row.condition in {"watch", "bad"}
    tone = CONDITIONS[row.condition].tone if alarming else "plain"
    colour = TONE_COLOURS[tone] if alarming else COLOURS["ink"]
    keys = f' data-keys="{escape(" ".join(row.keys), quote=True)}"' if row.keys else ""
    return (
        f'<g class="part is-{tone}" data-kind="{row.kind}"{keys} color="{colour}" '
        f'stroke-width="{3.2 if alarming else 2.2}">{shape.draw(scene)}</g>'
    )


def _callouts(rows: Sequence[LegendRow]) -> str:
    leaders = "".join(_leader(SHAPES[row.kind]) for row in rows)
    return leaders + "".join(_balloon(row, *SHAPES[row.kind].callout) for row in rows)


def _leader(shape: PartShape) -> str:
    line = f"M{shape.callout[0]:g} {shape.callout[1]:g}L{shape.point[0]:g} {shape.point[1]:g}"
    return (
        path(line, stroke="sheet", width=4)
        + path(line, stroke="ink", width=1.5)
        + disc(*shape.point, 4, fill="ink", stroke="sheet", width=1.2)
    )


def _balloon(row: LegendRow, x: float, y: float) -> str:
    """Number and mark in one call-out."""
    tone = CONDITIONS[row.condition].tone
    return (
        f'<g class="callout is-{tone}" data-kind="{row.kind}" data-number="{row.number}" '
        f'color="{TONE_COLOURS[tone]}">'
        + box(x - 33, y - 18, 66, 36, fill="sheet", stroke="part", width=2, corner=3)
        + words(x - 16, y + 8.5, str(row.number), size=24, weight=600, anchor="middle")
        + _mark(row.condition, x + 4, y - 11.5, 23)
        + "</g>"
    )


def _mark(condition: str, x: float, y: float, size: float) -> str:
    return f'<g transform="translate({x:g} {y:g}) scale({size / 16:g})">{CONDITIONS[condition].shape}</g>'


def _frame() -> str:
    return f'<g class="drawing-frame">{box(0.75, 0.75, WIDTH - 1.5, HEIGHT - 1.5, stroke="rule", width=1.5)}</g>'


def _walls_sentence(walls: Sequence[str]) -> str:
    return f"Treated walls: {'; '.join(walls)}." if walls else ""


def _spoken(rows: Sequence[LegendRow]) -> str:
    if not rows:
        return "No part is recorded yet."
    return " ".join(f"{row.number} {row.word}: {row.condition_word}." for row in rows)


def _wrapped(rows: Sequence[LegendRow]) -> list[tuple[LegendRow, list[str]]]:
    return [(row, [piece for line in row.lines for piece in textwrap.wrap(line, 44)]) for row in rows]


def _head(title: str, walls: Sequence[str]) -> tuple[list[str], list[str]]:
    return textwrap.wrap(title, 34) or [""], textwrap.wrap(_walls_sentence(walls), 48)


def _legend_height(rows: Sequence[LegendRow], title: str, walls: Sequence[str]) -> float:
    titles, under = _head(title, walls)
    return 30 + 30 * len(titles) + 21 * len(under) + 20 + sum(31 + 19 * len(lines) for _, lines in _wrapped(rows)) + 34


def _legend_block(rows: Sequence[LegendRow], title: str, walls: Sequence[str]) -> str:
    left, right = WIDTH + 28, WIDTH + LEGEND_WIDTH
    titles, under = _head(title, walls)
    y = 24.0
    pieces: list[str] = []
    for text in titles:
        pieces.append(words(left, y, text, size=24, weight=600, face=FACE_TITLE))
        y += 30
    for text in under:
        pieces.append(words(left, y, text, size=16, fill="soft"))
        y += 21
    for row, lines in _wrapped(rows):
        pieces.append(path(f"M{left} {y - 8:g}H{right}", stroke="rule", width=0.8))
        pieces.append(_legend_row(row, lines, left, y + 14))
        y += 31 + 19 * len(lines)
    pieces.append(path(f"M{left} {y - 8:g}H{right}", stroke="rule", width=0.8))
    pieces.append(words(left, y + 14, "Not to scale.", size=15, fill="soft"))
    return "".join(pieces)


def _legend_row(row: LegendRow, lines: Sequence[str], x: float, y: float) -> str:
    tone = CONDITIONS[row.condition].tone
    first = (
        words(x + 20, y, str(row.number), size=19, weight=600, fill="soft", anchor="end")
        + f'<g class="is-{tone}" color="{TONE_COLOURS[tone]}">{_mark(row.condition, x + 32, y - 15, 18)}</g>'
        + words(x + 60, y, f"{row.word} — {row.condition_word}", size=19, weight=600)
    )
    return first + "".join(
        words(x + 60, y + 19 * count, line, size=16, fill="soft") for count, line in enumerate(lines, start=1)
    )
