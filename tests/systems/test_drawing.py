"""The section drawing: only what is installed, its condition as shape and word and colour, well-formed everywhere."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from contractor.core.templatetags.mark_shapes import CONDITIONS, TONE_COLOURS
from contractor.systems.drawing import DrawnPart, legend, section_drawing
from contractor.systems.drawing_house import HEIGHT, WIDTH
from contractor.systems.drawing_ink import COLOURS
from contractor.systems.drawing_shapes import SHAPES, Scene
from contractor.systems.part_kinds import BY_CODE, PART_KINDS

SVG = "{http://www.w3.org/2000/svg}"
EVERY_KIND = tuple(kind.code for kind in PART_KINDS)

# Attributes that SVG 2 lists as presentation attributes or geometry, and the plain ones of any element.
ALLOWED = {
    "class", "id", "d", "x", "y", "cx", "cy", "r", "rx", "width", "height", "viewBox", "transform", "role", "color",
    "fill", "stroke", "stroke-width", "stroke-dasharray", "stroke-linejoin", "stroke-linecap", "font-family",
    "font-size", "font-weight", "text-anchor", "aria-labelledby", "data-kind", "data-keys", "data-number",
}  # fmt: skip


def part(kind: str, condition: str = "good", label: str = "Northfold C-40", **more: str) -> DrawnPart:
    return DrawnPart(kind=kind, label=label, condition=condition, **more)


def drawn(*parts: DrawnPart, **more: object) -> ElementTree.Element:
    words = {"title": "14 Quarry Lane", "description": "The basement in section."} | more
    return ElementTree.fromstring(section_drawing(parts, **words))  # type: ignore[arg-type]


def kinds_in(drawing: ElementTree.Element) -> set[str]:
    return {group.attrib["data-kind"] for group in drawing.iter(f"{SVG}g") if "data-kind" in group.attrib}


def texts_in(drawing: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in drawing.iter(f"{SVG}text")]


def test_every_kind_of_part_has_a_shape_and_no_shape_is_of_an_unknown_kind() -> None:
    assert set(SHAPES) == set(EVERY_KIND)


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_a_kind_is_drawn_alone_when_it_is_the_only_one_installed(kind: str) -> None:
    assert kinds_in(drawn(part(kind))) == {kind}


@pytest.mark.parametrize("missing", EVERY_KIND)
def test_a_kind_that_is_not_installed_is_neither_drawn_nor_listed(missing: str) -> None:
    drawing = drawn(*(part(kind, label="") for kind in EVERY_KIND if kind != missing))
    assert kinds_in(drawing) == set(EVERY_KIND) - {missing}
    word = BY_CODE[missing].word
    assert not any(word in text.lower() for text in texts_in(drawing))


def test_a_drawing_without_parts_shows_the_house_and_says_that_nothing_is_recorded() -> None:
    drawing = drawn()
    assert kinds_in(drawing) == set()
    assert "No part is recorded yet." in (drawing.findtext(f"{SVG}desc") or "")


@pytest.mark.parametrize("condition", ["good", "watch", "bad", "unknown"])
def test_a_condition_is_told_by_its_shape_its_word_and_its_colour(condition: str) -> None:
    text = section_drawing([part("battery", condition)], title="A house", description="")
    drawing = ElementTree.fromstring(text)
    callout = next(group for group in drawing.iter(f"{SVG}g") if "data-number" in group.attrib)
    outline = CONDITIONS[condition].shape.split(' d="')[1].split('"')[0]
    assert callout.attrib["color"] == TONE_COLOURS[CONDITIONS[condition].tone]
    assert outline in {shape.attrib.get("d") for shape in callout.iter(f"{SVG}path")}
    assert f"Battery — {CONDITIONS[condition].word}" in texts_in(drawing)


def test_no_two_conditions_share_a_shape_or_a_word() -> None:
    assert len({mark.shape for mark in CONDITIONS.values()}) == len(CONDITIONS)
    assert len({mark.word for mark in CONDITIONS.values()}) == len(CONDITIONS)


@pytest.mark.parametrize(
    ("conditions", "shown"),
    [
        (("good", "bad", "watch"), "bad"),
        (("good", "watch", "unknown"), "watch"),
        (("good", "unknown"), "unknown"),
        (("good", "good"), "good"),
    ],
)
def test_several_parts_of_one_kind_share_a_call_out_that_shows_the_worst(
    conditions: tuple[str, ...], shown: str
) -> None:
    pumps = [part("primary_pump", condition, f"Pump {number}") for number, condition in enumerate(conditions, 1)]
    (row,) = legend(pumps)
    assert row.word == f"Primary pump ×{len(conditions)}"
    assert row.condition == shown
    assert row.lines == tuple(f"{pump.label} — {CONDITIONS[pump.condition].word}" for pump in pumps)
    assert texts_in(drawn(*pumps)).count(f"{row.word} — {CONDITIONS[shown].word}") == 1


def test_call_outs_are_numbered_from_one_in_walking_order_and_agree_with_the_legend() -> None:
    parts = [part("battery", "watch"), part("channel"), part("pit", "bad")]
    rows = legend(parts)
    assert [(row.number, row.kind) for row in rows] == [(1, "channel"), (2, "pit"), (3, "battery")]
    drawing = drawn(*parts, compact=True)
    assert texts_in(drawing) == ["1", "2", "3"]
    assert "1 Channel: good. 2 Pit: bad. 3 Battery: watch." in (drawing.findtext(f"{SVG}desc") or "")


def test_a_reader_without_sight_hears_title_description_parts_and_treated_walls() -> None:
    drawing = drawn(part("liner"), walls=("north wall, 34 ft", "east wall, 40 ft"), prefix="house-7")
    assert drawing.attrib["role"] == "img"
    assert drawing.attrib["aria-labelledby"].split() == ["house-7-title", "house-7-description"]
    assert drawing.find(f"{SVG}title").attrib["id"] == "house-7-title"  # type: ignore[union-attr]
    assert drawing.findtext(f"{SVG}title") == "14 Quarry Lane"
    assert drawing.findtext(f"{SVG}desc") == (
        "The basement in section. 1 Liner: good. Treated walls: north wall, 34 ft; east wall, 40 ft."
    )


def test_what_people_typed_is_shown_as_typed_and_never_becomes_markup() -> None:
    evil = '</text><script>alert("x")</script>&'
    drawing = drawn(
        part("pit", label=evil, note=evil, key='"><script>'), title=evil, description=evil, prefix='"><script>'
    )
    assert not [element for element in drawing.iter() if element.tag.endswith("script")]
    assert drawing.findtext(f"{SVG}title") == evil
    assert 'alert("x")' in "".join(texts_in(drawing))


def test_only_plain_attributes_are_used_because_inline_styles_are_forbidden() -> None:
    drawing = drawn(*(part(kind, "watch", key=kind) for kind in EVERY_KIND), walls=("north wall",))
    assert {name for element in drawing.iter() for name in element.attrib} <= ALLOWED
    assert {element.tag.removeprefix(SVG) for element in drawing.iter()} <= {
        "svg", "title", "desc", "g", "path", "rect", "circle", "text",
    }  # fmt: skip


def test_ids_differ_between_two_drawings_with_different_prefixes() -> None:
    ids = [
        {element.attrib["id"] for element in drawn(part("pit"), prefix=prefix).iter() if "id" in element.attrib}
        for prefix in ("before", "after")
    ]
    assert ids[0]
    assert not ids[0] & ids[1]


def test_call_outs_lie_inside_the_frame_and_do_not_cover_one_another() -> None:
    centres = [shape.callout for shape in SHAPES.values()]
    for x, y in centres:
        assert 33 <= x <= WIDTH - 33
        assert 18 <= y <= HEIGHT - 18
    for number, (x, y) in enumerate(centres):
        for other_x, other_y in centres[number + 1 :]:
            assert abs(x - other_x) >= 66 or abs(y - other_y) >= 36


def test_a_long_legend_makes_the_sheet_taller_instead_of_running_off_it() -> None:
    parts = [part(kind, label="A rather long label " * 6, note="and a note as long as that") for kind in EVERY_KIND]
    drawing = drawn(*parts)
    height = float(drawing.attrib["viewBox"].split()[3])
    assert height > HEIGHT
    assert max(float(text.attrib["y"]) for text in drawing.iter(f"{SVG}text")) < height


def test_the_standby_pump_joins_the_riser_above_the_check_valve_only_when_there_is_a_riser() -> None:
    alone = SHAPES["standby_pump"].draw(Scene(counts={"standby_pump": 1}))
    joined = SHAPES["standby_pump"].draw(Scene(counts={"standby_pump": 1, "discharge_line": 1}))
    assert alone != joined


def test_a_second_check_valve_is_drawn_in_the_standby_pumps_riser() -> None:
    one = SHAPES["check_valve"].draw(Scene(counts={"check_valve": 1, "standby_pump": 1}))
    two = SHAPES["check_valve"].draw(Scene(counts={"check_valve": 2, "standby_pump": 1}))
    assert two.startswith(one)
    assert len(two) > len(one)


@pytest.mark.parametrize("fault", [{"kind": "chimney", "condition": "good"}, {"kind": "pit", "condition": "splendid"}])
def test_a_part_that_cannot_be_drawn_is_refused_at_once(fault: dict[str, str]) -> None:
    with pytest.raises(ValueError, match=r"chimney|splendid"):
        DrawnPart(label="", **fault)


def test_the_drawings_own_colours_are_those_of_the_tokens() -> None:
    text = Path("static/css/tokens.css").read_text(encoding="utf-8")
    light = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", text[: text.index('[data-surface="portal"]')]))
    names = {
        "ink": "ink", "soft": "ink-soft", "rule": "rule", "sheet": "sheet", "earth-line": "earth",
        "earth": "earth-wash", "concrete": "concrete", "concrete-line": "concrete-line",
        "water": "water-fill", "water-line": "water", "steel": "steel",
    }  # fmt: skip
    assert {name: light[token] for name, token in names.items()} == COLOURS
    assert {tone: light[tone] for tone in TONE_COLOURS} == TONE_COLOURS


def test_every_colour_class_of_the_drawing_has_a_rule_in_the_style_sheet() -> None:
    rules = Path("static/css/marks.css").read_text(encoding="utf-8")
    drawing = drawn(*(part(kind, "bad") for kind in EVERY_KIND))
    used = {name for element in drawing.iter() for name in element.attrib.get("class", "").split()}
    painted = {name for name in used if name[:2] in {"d-", "s-"}}
    assert painted
    assert not [name for name in painted if f".section-drawing .{name} " not in rules]
