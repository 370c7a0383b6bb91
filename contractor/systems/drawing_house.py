"""What stands round the parts in the section drawing: soil, footing, wall, slab and the floor above. Not to scale.

The field is 720 wide and 664 high. The wall's inner face is at x 240, the slab's top at y 464, the footing's top at
y 524; outside is on the left.
"""

from collections.abc import Set as AbstractSet

from contractor.systems.drawing_ink import aggregate, box, path, stones

WIDTH = 720
HEIGHT = 664


def house(kinds: AbstractSet[str]) -> str:
    """The house in section; the floor's edge is broken out where a channel lies."""
    return _soil() + _frame() + _concrete() + (_broken_edge() if "channel" in kinds else _whole_edge())


def _soil() -> str:
    ground = path(f"M0 178L200 150V524H{WIDTH}V{HEIGHT}H0z", fill="earth")
    grade = path("M0 178L200 150", stroke="ink", width=3)
    # The drawing sign for earth: short strokes in threes below the line of grade.
    strokes = "".join(
        f"M{x} {182 - x * 0.14:.0f}l-11 12M{x + 9} {181 - x * 0.14:.0f}l-11 12M{x + 18} {180 - x * 0.14:.0f}l-11 12"
        for x in range(16, 180, 44)
    )
    grains = _grains(8, 222, 188, 436) + _grains(196, 588, 520, 70)
    seep = path("M150 506h32l-8 -5M182 506l-8 5M150 480h32l-8 -5M182 480l-8 5", stroke="water-line", width=1.8)
    table = path("M14 452q9 -6 18 0t18 0t18 0t18 0t18 0t18 0t18 0t18 0", stroke="water-line", width=2)
    level = path("M62 428h20l-10 14zM60 462h24M65 469h14M69 476h6", stroke="water-line", width=1.8)
    return (
        ground
        + path(strokes, stroke="earth-line", width=1.8)
        + path(grains, stroke="earth-line", width=2.6)
        + seep
        + table
        + level
        + grade
    )


def _grains(x: float, y: float, w: float, h: float) -> str:
    """Grains of soil, without a pattern yet always the same: steps of the golden ratio fill a field evenly."""
    count = int(w * h / 1100)
    return "".join(f"M{x + w * (i * 0.618034 % 1):.0f} {y + h * (i + 0.5) / count:.0f}h.5" for i in range(count))


def _frame() -> str:
    siding = path("M200 24V66M212 24V66M200 36h12M200 51h12", stroke="ink", width=1.6)
    subfloor = box(196, 66, WIDTH - 196, 9, fill="earth", stroke="ink", width=1.6)
    joist = box(214, 75, WIDTH - 214, 30, fill="sheet", stroke="ink", width=1.6)
    grain = path(f"M226 84H{WIDTH}M226 97H{WIDTH}", stroke="rule", width=0.8, dash="60 16 22 12")
    rim = box(200, 75, 14, 30, fill="earth", stroke="ink", width=1.6) + path(
        "M200 75l14 30M214 75l-14 30", stroke="ink", width=0.9
    )
    sill = box(200, 105, 40, 8, fill="earth", stroke="ink", width=1.6)
    return siding + subfloor + joist + grain + rim + sill


def _concrete() -> str:
    bed = box(240, 490, WIDTH - 240, 34, fill="earth") + stones(306, 492, WIDTH - 310, 30, step=13)
    footing = box(160, 524, 144, 52, fill="concrete", stroke="ink", width=2.2) + aggregate(162, 526, 140, 48)
    wall = box(200, 113, 40, 411, fill="concrete", stroke="ink", width=2.2) + aggregate(202, 116, 37, 404)
    slab = path(f"M302 464H{WIDTH}V490H302", fill="concrete") + path(
        f"M302 464H{WIDTH}M302 490H{WIDTH}", stroke="ink", width=2.2
    )
    return bed + footing + wall + slab + aggregate(318, 465, WIDTH - 322, 24)


def _whole_edge() -> str:
    rest = box(240, 464, 64, 26, fill="concrete") + path("M240 464H304M240 490H304", stroke="ink", width=2.2)
    return rest + aggregate(244, 467, 58, 22) + stones(242, 492, 64, 30, step=13)


def _broken_edge() -> str:
    """The old slab ends in a broken line; the trench is filled with clean stone and closed with new concrete."""
    trench = box(240, 488, 64, 36, fill="earth") + stones(241, 490, 64, 34, step=10)
    patch = path("M247 464H302L297 471L304 477L298 484L303 490H247z", fill="sheet", stroke="ink", width=1.8)
    grout = path(
        "M254 472h.5M268 470h.5M282 473h.5M262 481h.5M276 483h.5M291 481h.5M289 468h.5", stroke="rule", width=2
    )
    return trench + patch + grout
