"""The shapes of every mark on a 16 by 16 field: pure text that pages, PDFs and the section drawing share.

Three families that nobody can take for one another: conditions are a disc, a triangle, a diamond or a broken ring;
cover is a gable house; care is a sheet of paper. ``currentColor`` takes the colour of what the mark means;
the class ``mark-cut`` is what is cut out of a filled shape and takes the ground's colour.
"""

from dataclasses import dataclass

# The light set of static/css/tokens.css, for places that no style sheet reaches (the PDF's drawings).
TONE_COLOURS = {
    "good": "#256337",
    "watch": "#865000",
    "bad": "#a32a1c",
    "unknown": "#56636b",
    "water": "#0c5873",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark: the word people read, what it means (``tone`` names the colour), and its shape as SVG elements."""

    word: str
    tone: str
    shape: str


def _cut(path: str, width: float = 2) -> str:
    return (
        f'<path class="mark-cut" d="{path}" fill="none" stroke="#fffefa" stroke-width="{width:g}" '
        'stroke-linecap="square"/>'
    )


def _line(path: str, *, dash: str = "", width: float = 1.8) -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{path}" fill="none" stroke="currentColor" stroke-width="{width:g}"{dashes}/>'


def _solid(path: str) -> str:
    return f'<path d="{path}" fill="currentColor"/>'


_RING = "M8 1.6a6.4 6.4 0 1 1 0 12.8a6.4 6.4 0 1 1 0-12.8z"
_HOUSE = "M8 1L15 7V15H1V7z"
_SHEET = "M2.5 1H10l3.5 3.5V15h-11z"
_TICK = "M4.8 8.3L7.1 10.6L11.3 5.7"

CONDITIONS: dict[str, Mark] = {
    "good": Mark(word="good", tone="good", shape=_solid("M8 .5a7.5 7.5 0 1 1 0 15a7.5 7.5 0 1 1 0-15z") + _cut(_TICK)),
    "watch": Mark(
        word="watch", tone="watch", shape=_solid("M8 .6L15.8 14.8H.2z") + _cut("M8 6V9.4") + _cut("M8 12.2V12.3")
    ),
    "bad": Mark(
        word="bad",
        tone="bad",
        shape=_solid("M8 0L16 8L8 16L0 8z") + _cut("M5.9 5.9L10.1 10.1") + _cut("M10.1 5.9L5.9 10.1"),
    ),
    "unknown": Mark(word="not checked", tone="unknown", shape=_line(_RING, dash="2.7 2.33")),
    "not_possible": Mark(
        word="not possible", tone="unknown", shape=_line(_RING, dash="2.7 2.33") + _line("M4.6 8H11.4")
    ),
}

COVERS: dict[str, Mark] = {
    "not_started": Mark(word="not started", tone="unknown", shape=_line("M8 2L14.1 7.4V14.1H1.9V7.4z", dash="2.6 2")),
    "in_force": Mark(word="in force", tone="good", shape=_solid(_HOUSE) + _cut("M4.9 9.6L7.1 11.8L11.2 7")),
    "suspended": Mark(
        word="suspended", tone="watch", shape=_line("M8 2L14.1 7.4V14.1H1.9V7.4z") + _line("M6.2 7.2V12M9.8 7.2V12")
    ),
    "ended": Mark(word="ended", tone="unknown", shape=_line("M8 2L14.1 7.4V14.1H1.9V7.4z") + _line("M4.8 10H11.2")),
    "void": Mark(word="void", tone="bad", shape=_solid(_HOUSE) + _cut("M5.7 7.4L10.3 12") + _cut("M10.3 7.4L5.7 12")),
}

CARES: dict[str, Mark] = {
    "not_asked": Mark(
        word="no check-up asked", tone="unknown", shape=_line("M3.2 1.9H9.6L12.8 5V14.1H3.2z", dash="2.6 2")
    ),
    "current": Mark(word="check-up current", tone="good", shape=_solid(_SHEET) + _cut("M5.2 9L7.2 11L10.9 6.8")),
    "due": Mark(
        word="check-up due",
        tone="water",
        shape=_line("M3.2 1.9H9.6L12.8 5V14.1H3.2z") + _line("M5.4 8.4H10.6M5.4 11.2H8.4"),
    ),
    "in_grace": Mark(word="in grace", tone="watch", shape=_solid(_SHEET) + _cut("M8 5.4V9.6") + _cut("M8 12.3V12.4")),
    "gap": Mark(
        word="check-up missed",
        tone="bad",
        shape=_solid("M2.5 1H10l3.5 3.5V6.8L10 5.6L6.4 7.6L2.5 6.2z")
        + _solid("M2.5 9.4L6.4 10.8L10 8.8L13.5 10V15h-11z"),
    ),
}

TONES: dict[str, Mark] = {
    "good": CONDITIONS["good"],
    "watch": CONDITIONS["watch"],
    "bad": CONDITIONS["bad"],
    "unknown": CONDITIONS["unknown"],
    "water": Mark(word="open", tone="water", shape=_line(_RING) + _solid("M8 5a3 3 0 1 1 0 6a3 3 0 1 1 0-6z")),
}
