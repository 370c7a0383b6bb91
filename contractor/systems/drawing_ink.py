"""The pencil of the section drawing: SVG elements with plain attributes, and classes by which a page may recolour them.

Attributes carry the light colours, because a PDF's drawing is out of a style sheet's reach; a page that has the
style sheet overrides them by class (``d-`` for what is filled, ``s-`` for lines). The stroke ``part`` stands for the
colour and weight of the part's own condition, which its group sets.
"""

from html import escape

# The light set of static/css/tokens.css.
COLOURS = {
    "ink": "#17232b",
    "soft": "#4c5a62",
    "rule": "#838884",
    "sheet": "#fffefa",
    "earth-line": "#8a6a4c",
    "earth": "#e9dfcd",
    "concrete": "#d9d7cf",
    "concrete-line": "#6d726f",
    "water": "#a9cfdb",
    "water-line": "#0c5873",
    "steel": "#eef1f0",
}
FACE_TEXT = "'Atkinson Hyperlegible Next', sans-serif"
FACE_TITLE = "'Source Serif 4', serif"


def paint(fill: str = "", stroke: str = "", width: float = 0.0, dash: str = "") -> str:
    """The attributes for a fill and a line; ``width`` 0 leaves the weight to the group."""
    classes = [f"d-{fill}"] if fill else []
    attributes = [f'fill="{COLOURS[fill]}"' if fill else 'fill="none"']
    if stroke == "part":
        attributes.append('stroke="currentColor"')
    elif stroke:
        classes.append(f"s-{stroke}")
        attributes.append(f'stroke="{COLOURS[stroke]}"')
    if width:
        attributes.append(f'stroke-width="{width:g}"')
    if dash:
        attributes.append(f'stroke-dasharray="{dash}"')
    if classes:
        attributes.insert(0, f'class="{" ".join(classes)}"')
    return " ".join(attributes)


def path(d: str, *, fill: str = "", stroke: str = "", width: float = 0.0, dash: str = "") -> str:
    """A path; without fill and stroke it would not be seen."""
    return f'<path d="{d}" {paint(fill, stroke, width, dash)} stroke-linejoin="round" stroke-linecap="round"/>'


def box(
    x: float, y: float, w: float, h: float, *, fill: str = "", stroke: str = "", width: float = 0.0, corner: float = 0.0
) -> str:
    """A rectangle from its upper left corner."""
    rounded = f' rx="{corner:g}"' if corner else ""
    return f'<rect x="{x:g}" y="{y:g}" width="{w:g}" height="{h:g}"{rounded} {paint(fill, stroke, width)}/>'


def disc(x: float, y: float, r: float, *, fill: str = "", stroke: str = "", width: float = 0.0) -> str:
    """A circle round its centre."""
    return f'<circle cx="{x:g}" cy="{y:g}" r="{r:g}" {paint(fill, stroke, width)}/>'


def pipe(d: str, bore: float = 9) -> str:
    """A pipe along a line: the part's colour outside, steel within."""
    inner = f'<path d="{d}" {paint("", "steel", bore)} stroke-linejoin="round" stroke-linecap="butt"/>'
    outer = f'<path d="{d}" {paint("", "part", bore + 5)} stroke-linejoin="round" stroke-linecap="butt"/>'
    return outer + inner


def stones(x: float, y: float, w: float, h: float, *, step: float = 11) -> str:
    """Clean stone: a bed of small rounded pieces, always the same for the same place."""
    pieces: list[str] = []
    rows = max(1, int(h // step))
    for row in range(rows):
        columns = int((w - (step / 2 if row % 2 else 0)) // step)
        for column in range(columns):
            turn = (row * 7 + column * 5) % 6
            cx = x + step / 2 + column * step + (step / 2 if row % 2 else 0)
            cy = y + h * (row + 0.5) / rows + (turn - 2.5) * 0.35
            r = step * (0.36 + 0.02 * turn)
            half = f"a{r:.1f} {r * 0.82:.1f} 0 1 0"
            pieces.append(f"M{cx - r:.1f} {cy:.1f}{half} {2 * r:.1f} 0{half} {-2 * r:.1f} 0")
    return path("".join(pieces), fill="sheet", stroke="rule", width=1)


def aggregate(x: float, y: float, w: float, h: float) -> str:
    """The sign for concrete in section: scattered triangles and grains."""
    marks: list[str] = []
    for row in range(max(1, int(h // 22))):
        for column in range(max(1, int(w // 30))):
            cx = x + 9 + column * 30 + (row % 2) * 13
            cy = y + 10 + row * 22 + (column * 7 + row * 3) % 8
            if cx > x + w - 7 or cy > y + h - 6:
                continue
            marks.append(
                f"M{cx:g} {cy:g}l4 -5l3 6z" if (row + column) % 2 else f"M{cx:g} {cy:g}h.5M{cx + 7:g} {cy + 5:g}h.5"
            )
    return path("".join(marks), stroke="concrete-line", width=1.2)


def words(
    x: float,
    y: float,
    text: str,
    *,
    size: float,
    fill: str = "ink",
    weight: int = 400,
    face: str = FACE_TEXT,
    anchor: str = "start",
) -> str:
    """A line of text; the text is escaped here."""
    return (
        f'<text x="{x:g}" y="{y:g}" {paint(fill)} font-family="{face}" font-size="{size:g}" font-weight="{weight}" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )
