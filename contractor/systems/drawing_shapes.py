"""One shape per kind of part: how it is drawn in the section, where its call-out stands and where that points.

A new kind needs one function and one line in ``SHAPES``. Coordinates are those of ``drawing_house``. The stroke
``part`` takes the colour and weight of the part's condition. A shape draws itself only: the riser comes with the
discharge line, water with the pit, the heater with its ring.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from contractor.systems.drawing_ink import box, disc, path, pipe, stones


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is installed, by kind code, and how many of each: shapes that join others look here."""

    counts: Mapping[str, int]

    def has(self, kind: str) -> bool:
        """Whether at least one part of this kind is installed."""
        return self.counts.get(kind, 0) > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartShape:
    """A kind's drawing, its place in the stack (low first), its call-out's centre and the point it names."""

    draw: Callable[[Scene], str]
    layer: int
    callout: tuple[float, float]
    point: tuple[float, float]


def _liner(scene: Scene) -> str:
    end = "V476Q243 492 254 492" if scene.has("channel") else "V462"
    sheet = path(f"M243 142{end}", stroke="part", width=2.4)
    dimples = "".join(f"M244 {y}q8 5 0 10" for y in range(156, 452, 14))
    clips = box(240, 138, 12, 8, fill="steel", stroke="part", width=1.8)
    seep = path(
        "M229 300v9M229 340v9M229 380v9M226 346l3 4l3 -4M226 306l3 4l3 -4M226 386l3 4l3 -4",
        stroke="water-line",
        width=1.8,
    )
    return sheet + path(dimples, stroke="part", width=1.6) + clips + seep


def _channel(scene: Scene) -> str:
    to_pit = path("M290 503L400 510M290 519L400 526", stroke="part", width=1.6, dash="7 5") if scene.has("pit") else ""
    body = path("M247 490V523H292V504Q292 494 282 494H256", stroke="part", fill="steel")
    water = path("M250 515q5 -4 10 0t10 0t10 0t9 0V521H250z", fill="water", stroke="water-line", width=1.2)
    holes = "".join(disc(x, 501, 1.9, stroke="part", width=1.4) for x in (260, 269, 278))
    side = "".join(disc(287, y, 1.6, stroke="part", width=1.3) for y in (507,))
    return to_pit + body + water + holes + side


def _pit(scene: Scene) -> str:
    surround = path(
        "M384 490H588L586 560L582 622H392L386 560z", fill="earth", stroke="earth-line", width=1.4, dash="5 4"
    ) + stones(385, 491, 204, 130, step=13)
    hole = path("M400 462L404 608H568L572 462z", fill="sheet", stroke="part")
    water = path("M403.5 568q10 -5 20 0t20 0t20 0t20 0t20 0t20 0t20 0t24 0V605H405.5z", fill="water")
    ripple = path("M404 568q10 -5 20 0t20 0t20 0t20 0t20 0t20 0t20 0t23 0", stroke="water-line", width=1.6)
    holes = "".join(
        disc(x, y, 2.2, stroke="part", width=1.4)
        for y in (522, 540, 556)
        for x in (401.5 + (y - 462) * 0.027, 570.5 - (y - 462) * 0.027)
    )
    inlet = disc(404, 517, 8.5, fill="sheet", stroke="part", width=1.8) if scene.has("channel") else ""
    lid = box(392, 455, 188, 9, fill="steel", stroke="part", corner=2)
    return surround + hole + water + ripple + holes + inlet + lid


def _primary_pump(scene: Scene) -> str:
    outlet = pipe("M418 590H426V540")
    motor = path("M438 578V540Q438 526 455 526Q472 526 472 540V578z", fill="steel", stroke="part")
    fins = path("M446 546V570M455 544V570M464 546V570", stroke="part", width=1.5)
    volute = path("M420 603V588Q420 577 432 577H472Q481 577 481 588V603z", fill="steel", stroke="part")
    strainer = path("M430 603v-8M439 603v-8M448 603v-8M457 603v-8M466 603v-8", stroke="part", width=1.6)
    handle = path("M447 526q8 -10 16 0", stroke="part", width=2)
    cord = path("M463 529Q476 520 476 500V322", stroke="ink", width=1.6)
    socket = box(467, 296, 18, 26, fill="sheet", stroke="ink", width=1.6, corner=2) + path(
        "M473 303v4M479 303v4M473 313v4M479 313v4", stroke="ink", width=1.4
    )
    return outlet + motor + fins + volute + strainer + handle + cord + socket


def _float_switch(scene: Scene) -> str:
    tether = path("M430 512Q462 506 484 556", stroke="part", width=2)
    clamp = box(418, 507, 16, 9, fill="steel", stroke="part", width=1.6)
    ball = path(
        "M482 558L500 551Q509 550 509 559Q509 568 500 570L488 574Q479 575 478 567Q478 560 482 558z",
        fill="sheet",
        stroke="part",
    )
    return tether + clamp + ball + path("M487 566L501 560", stroke="part", width=1.6)


def _standby_pump(scene: Scene) -> str:
    riser = pipe("M532 506V330H433" if scene.has("discharge_line") else "M532 506V330", 8)
    # The wye: the bore opens into the riser.
    wye = path("M440 330H426", stroke="steel", width=8) if scene.has("discharge_line") else ""
    bracket = path("M570 556H508M570 556V540", stroke="part", width=2)
    body = path("M512 552V520Q512 505 530 505Q548 505 548 520V552z", fill="steel", stroke="part")
    base = path("M508 553V543H552V553z", fill="steel", stroke="part", width=2)
    slots = path("M516 553v-6M524 553v-6M532 553v-6M540 553v-6", stroke="part", width=1.5)
    band = path("M512 524H548", stroke="part", width=1.6)
    lead = path("M622 380H600V448L556 470Q549 482 547 512", stroke="ink", width=1.6) if scene.has("battery") else ""
    return riser + wye + bracket + body + base + slots + band + lead


def _battery(scene: Scene) -> str:
    shelf = path("M606 399H712M614 399V463M704 399V463", stroke="ink", width=2.4)
    case = box(620, 350, 76, 48, fill="steel", stroke="part", corner=2) + path("M620 363H696", stroke="part", width=1.6)
    poles = box(632, 343, 12, 8, fill="steel", stroke="part", width=1.8) + box(
        672, 343, 12, 8, fill="steel", stroke="part", width=1.8
    )
    signs = path("M633 376h10M638 371v10M673 376h10", stroke="part", width=2.2)
    return shelf + case + poles + signs


def _charger(scene: Scene) -> str:
    leads = path("M648 312V330H638V343M668 312V330H678V343", stroke="ink", width=1.6) if scene.has("battery") else ""
    case = box(632, 262, 52, 50, fill="steel", stroke="part", corner=3)
    dial = path("M643 296A15 15 0 0 1 673 296M658 296L666 285", stroke="part", width=1.8)
    lamp = disc(641, 271, 2.6, stroke="part", width=1.6)
    return leads + case + dial + lamp


def _high_water_alarm(scene: Scene) -> str:
    probe = path("M562 308V516", stroke="ink", width=1.6) + box(
        558, 516, 8, 15, fill="sheet", stroke="part", width=2, corner=3
    )
    case = box(542, 262, 40, 46, fill="steel", stroke="part", corner=3)
    grille = path("M552 288H572M552 294H572M552 300H572", stroke="part", width=1.6)
    lamp = disc(562, 275, 5, fill="sheet", stroke="part", width=1.8)
    sound = path(
        "M589 272q7 13 0 26M597 266q11 19 0 38M535 272q-7 13 0 26M527 266q-11 19 0 38", stroke="part", width=1.8
    )
    return probe + case + grille + lamp + sound


def _one_check_valve(x: float, y: float) -> str:
    left = f"M{x - 13} {y - 20}V{y - 12}L{x - 16} {y - 6}V{y + 6}L{x - 13} {y + 12}V{y + 20}"
    right = f"H{x + 13}V{y + 12}L{x + 16} {y + 6}V{y - 6}L{x + 13} {y - 12}V{y - 20}z"
    body = path(left + right, fill="sheet", stroke="part")
    # The drawing sign of a check valve: an arrowhead against a bar, the way the water may go.
    flap = path(f"M{x - 8} {y + 7}H{x + 8}L{x} {y - 6}zM{x - 9} {y - 8}H{x + 9}", stroke="part", width=2)
    bands = path(f"M{x - 13} {y - 15}H{x + 13}M{x - 13} {y + 15}H{x + 13}", stroke="part", width=1.5)
    return body + flap + bands


def _check_valve(scene: Scene) -> str:
    second = scene.counts.get("check_valve", 0) > 1 and scene.has("standby_pump")
    return _one_check_valve(426, 398) + (_one_check_valve(532, 398) if second else "")


def _discharge_line(scene: Scene) -> str:
    foot = 548 if scene.has("primary_pump") else 480
    run = pipe(f"M426 {foot}V90H140V150L34 165", 9)
    hangers = path("M300 75V83M380 75V83", stroke="ink", width=2)
    splash = path("M4 182L40 176L44 183L6 189z", fill="concrete", stroke="ink", width=1.6)
    mouth = path("M33 156L36 174", stroke="part")
    drops = path("M22 164q-4 6 0 7q4 -1 0 -7M13 169q-4 6 0 7q4 -1 0 -7", fill="water", stroke="water-line", width=1.2)
    return splash + run + hangers + mouth + drops


def _freeze_relief(scene: Scene) -> str:
    body = path("M158 78H194V102H158z", fill="steel", stroke="part")
    slots = path("M164 102v8M170 102v8M176 102v8M182 102v8M188 102v8", stroke="part", width=2)
    grille = path("M163 84H189M163 90H189M163 96H189", stroke="part", width=1.5)
    drops = path(
        "M167 117q-4 6 0 7q4 -1 0 -7M177 122q-4 6 0 7q4 -1 0 -7M187 117q-4 6 0 7q4 -1 0 -7",
        fill="water",
        stroke="water-line",
        width=1.2,
    )
    return body + slots + grille + drops


def _containment_ring(scene: Scene) -> str:
    pipes = path("M316 290V105M340 290V105", stroke="ink", width=5) + path(
        "M316 290V105M340 290V105", stroke="steel", width=2.4
    )
    tank = path("M292 436V300Q292 286 306 286H350Q364 286 364 300V436z", fill="sheet", stroke="ink", width=2)
    legs = path("M300 436V462M356 436V462M292 310H364M292 428H364", stroke="ink", width=1.8)
    burner = box(318, 436, 20, 10, fill="sheet", stroke="ink", width=1.6)
    end = "V498" if scene.has("channel") else "V464"
    drain = path(f"M282 457H266{end}", stroke="part", width=8) + path(f"M282 457H266{end}", stroke="steel", width=4)
    ring = path("M278 446H286V456H370V446H378V463H278z", fill="steel", stroke="part")
    return pipes + tank + legs + burner + drain + ring


SHAPES: dict[str, PartShape] = {
    "channel": PartShape(draw=_channel, layer=3, callout=(246, 626), point=(270, 512)),
    "liner": PartShape(draw=_liner, layer=2, callout=(284, 200), point=(246, 232)),
    "pit": PartShape(draw=_pit, layer=1, callout=(652, 602), point=(571, 594)),
    "primary_pump": PartShape(draw=_primary_pump, layer=7, callout=(338, 574), point=(424, 594)),
    "float_switch": PartShape(draw=_float_switch, layer=9, callout=(494, 642), point=(494, 566)),
    "standby_pump": PartShape(draw=_standby_pump, layer=6, callout=(652, 548), point=(548, 536)),
    "battery": PartShape(draw=_battery, layer=6, callout=(659, 434), point=(659, 390)),
    "charger": PartShape(draw=_charger, layer=5, callout=(659, 216), point=(659, 262)),
    "high_water_alarm": PartShape(draw=_high_water_alarm, layer=8, callout=(562, 216), point=(562, 262)),
    "check_valve": PartShape(draw=_check_valve, layer=8, callout=(390, 240), point=(422, 388)),
    "discharge_line": PartShape(draw=_discharge_line, layer=5, callout=(474, 146), point=(426, 130)),
    "freeze_relief": PartShape(draw=_freeze_relief, layer=6, callout=(112, 48), point=(166, 86)),
    "containment_ring": PartShape(draw=_containment_ring, layer=4, callout=(328, 366), point=(330, 458)),
}
