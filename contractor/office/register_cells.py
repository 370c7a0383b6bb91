"""Reads the cells of an old register that are no dates and no models: postcode, phone, lengths, walls and such."""

import re
from typing import Final

from contractor.core import units
from contractor.office.register_rows import Doubt, Read, RegisterWall, caution, error, listed
from contractor.properties.addresses import folded

BLANKS: Final = frozenset(
    ["", "-", "--", "---", "–", "—", ".", "?", "??", "???", "n/a", "n.a.", "na", "none", "nil", "null", "unknown"]
    + ["unk", "tbd", "never", "not known", "not legible", "illegible", "can't read", "worn off", "#n/a", "(blank)"]
)
# USPS two-letter codes (Publication 28, appendix B, from memory).
STATES: Final = frozenset(
    """AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK OR
    PA PR RI SC SD TN TX UT VT VA VI WA WV WI WY""".split()
)
# States whose ZIP codes begin with 0, which a spreadsheet drops (USPS L002, prefixes 005 to 098; from memory).
STATES_WITH_LEADING_ZERO: Final = frozenset(["CT", "MA", "ME", "NH", "NJ", "PR", "RI", "VI", "VT"])
_EMAIL: Final = re.compile(r"[^@\s,;<>()\"]+@[a-z0-9][a-z0-9-]*(?:\.[a-z0-9-]+)*\.[a-z]{2,}")
_DIRECTIONS: Final = {"n": "North", "s": "South", "e": "East", "w": "West", "f": "Front", "b": "Back", "l": "Left",
                      "r": "Right", "rear": "Back"}  # fmt: skip
_WALLS: Final = frozenset(["north", "south", "east", "west", "front", "back", "left", "right", "garage"])
_ALL_WALLS: Final = frozenset(["all", "all 4", "all four", "whole", "full", "perimeter", "full perimeter", "whole perimeter"])
_LENGTH_AT_END: Final = re.compile(r"(?P<name>.*?\D)[\s:=-]*\(?(?P<length>\d[\d./½¼¾ ]*\s*(?:'|ft\.?|feet|foot|m|cm|in\.?|\"))\)?")
_LENGTH_AT_START: Final = re.compile(
    r"(?P<length>\d[\d.]*(?:[ -]\d+/\d+|/\d+|\s?[½¼¾])?\s*(?:inches|inch|in\b\.?|\"|''|feet|foot|ft\b\.?|'|mm\b|cm\b|m\b)?)"
    r"[\s,]*(?P<rest>.*)",
    re.IGNORECASE | re.DOTALL,
)


def one_line(text: str) -> str:
    """Text on one line with single spaces, typographic quotes made plain."""
    for sign, plain in {"“": '"', "”": '"', "″": '"', "’": "'", "‘": "'", "′": "'"}.items():
        text = text.replace(sign, plain)
    return " ".join(text.split())


def given(text: str) -> str:
    """A cell's text on one line; nothing when it only says that nothing is known."""
    line = one_line(text)
    return "" if line.casefold() in BLANKS else line


def read_state(text: str, *, home_state: str) -> Read[str]:
    """A state's two letters; the company's own where the cell is empty."""
    cell = given(text)
    code = re.sub(r"[^A-Za-z]", "", cell).upper()
    if not cell:
        return Read(home_state)
    if code in STATES:
        return Read(code)
    return Read(None, (error("state_unknown", f"“{cell}” is no state. Write its two letters, such as {home_state}."),))


def read_postcode(text: str, *, state: str) -> Read[str]:
    """A ZIP code, with or without its extension; a leading zero that a spreadsheet dropped is put back with a caution."""
    cell = re.sub(r"\.0+$", "", given(text))
    if not cell:
        return Read(None, (error("postcode_missing", "The ZIP code is missing. Look it up for this street."),))
    match = re.fullmatch(r"(\d{5})(?:[- ]?(\d{4}))?", cell)
    if match:
        return Read(f"{match[1]}-{match[2]}" if match[2] else match[1])
    match = re.fullmatch(r"(\d{4})(?:-?(\d{4}))?", cell)
    if match and state in STATES_WITH_LEADING_ZERO:
        mended = f"0{match[1]}-{match[2]}" if match[2] else f"0{match[1]}"
        sentence = f"“{cell}” has lost the zero in front, as spreadsheets do; {mended} was taken. Compare it once."
        return Read(mended, (caution("postcode_zero_added", sentence),))
    digits = len(re.sub(r"\D", "", cell))
    if re.search(r"[A-Za-z]", cell):
        why = "has a letter in it"
    else:
        why = f"has {digits} digit{'' if digits == 1 else 's'}"
    return Read(None, (error("postcode_bad", f"“{cell}” {why}; a ZIP code has five digits. Look it up."),))


def read_phone(text: str) -> Read[str]:
    """A telephone number of the North American plan; a second one, or what can't be read, is kept aside."""
    cell = given(text)
    if not cell:
        return Read("")
    pieces = [piece for piece in re.split(r"[;/|\n]|,|\bor\b|&", cell) if re.search(r"\d{3}", piece)]
    first = re.fullmatch(r"\D*?(?:\+?1[-. ]*)?([-. ()\d]+?)\s*(?:(?:x|ext\.?)\s*(\d+))?(?:\s*\(?[A-Za-z.' ]+\)?)?",
                         pieces[0].strip()) if pieces else None  # fmt: skip
    digits = re.sub(r"\D", "", first[1]) if first else ""
    doubts: list[Doubt] = []
    if re.fullmatch(r"[2-9]\d{2}[2-9]\d{6}", digits):
        number = f"({digits[:3]}) {digits[3:6]}-{digits[6:]}"
    elif re.fullmatch(r"[2-9]\d{6}", digits):
        number = f"{digits[:3]}-{digits[3:]}"
        doubts.append(caution("phone_no_area", f"“{cell}” has no area code. Texts can't be sent to it; add the code."))
    else:
        sentence = f"“{cell}” is no telephone number; it was put in the notes. Write ten digits, such as (555) 555-0123."
        return Read("", (caution("phone_unreadable", sentence),), aside=f"Phone: {cell}")
    if first and first[2]:
        number += f" x{first[2]}"
    if len(pieces) > 1:
        doubts.append(caution("more_phones", f"Only {number} was taken; “{cell}” was put in the notes."))
    return Read(number, tuple(doubts), aside=f"Phone: {cell}" if len(pieces) > 1 else "")


def read_email(text: str) -> Read[str]:
    """An e-mail address; a second one, or what can't be read, is kept aside."""
    cell = given(text).removeprefix("mailto:")
    if not cell:
        return Read("")
    pieces = [piece for piece in re.split(r"[\s;,]+|/", cell.casefold()) if piece]
    if not pieces or not all(_EMAIL.fullmatch(piece) for piece in pieces):
        sentence = f"“{cell}” is no e-mail address; it was put in the notes. Correct it, or messages go out as letters."
        return Read("", (caution("email_unreadable", sentence),), aside=f"E-mail: {cell}")
    if len(pieces) == 1:
        return Read(pieces[0])
    sentence = f"Only {pieces[0]} was taken; “{cell}” was put in the notes."
    return Read(pieces[0], (caution("more_emails", sentence),), aside=f"E-mail: {cell}")


def read_length(text: str, *, unit: str, is_unit_given: bool, least_m: float, most_m: float) -> Read[float]:
    """A length in metres. ``unit`` counts where the cell has none; a caution says so unless the column names it.

    An error when it can't be read, or lies outside what such a part can measure.
    """
    cell = given(text)
    if not cell:
        return Read(None)
    plain = re.sub(r"^(?:~|about|abt\.?|approx\.?|ca\.?)\s*", "", cell, flags=re.IGNORECASE)
    try:
        typed = units.parse(plain, unit)
    except units.UnreadableMeasurement as refusal:
        return Read(None, (error("length_unreadable", refusal.sentence),))
    if not least_m <= typed.si <= most_m:
        least, most = units.shown(least_m, unit), units.shown(most_m, unit)
        sentence = f"“{cell}” is not likely: between {least} and {most} is usual. Correct it, or write its unit."
        return Read(None, (error("length_unlikely", sentence),))
    has_own_unit = re.search(r"[A-Za-z'\"]", plain) is not None
    if has_own_unit or is_unit_given:
        return Read(typed.si)
    sentence = f"“{cell}” has no unit and was read in {units.UNITS[unit].word}. Compare it once."
    return Read(typed.si, (caution("unit_assumed", sentence),))


def leading_length(text: str) -> tuple[str, str]:
    """A cell in two: the length it begins with, as written, and the words behind it."""
    cell = given(text)
    match = _LENGTH_AT_START.fullmatch(cell)
    return (match["length"].strip(), match["rest"].strip()) if match else ("", cell)


def read_capacity_ah(text: str) -> float | None:
    """The ampere-hours that a cell names, such as "75 Ah"; None when it names none."""
    match = re.search(r"(\d+(?:\.\d+)?)\s*(?:ah|amp[- ]?h(?:ou)?rs?)\b", one_line(text), re.IGNORECASE)
    return float(match[1]) if match else None


def read_walls(text: str) -> Read[tuple[RegisterWall, ...]]:
    """The walls that a cell names: "N, E", "north 24' + east 30'", "all"; words that name none get a caution."""
    cell = given(text)
    if not cell:
        return Read((), (caution("walls_missing", "No wall is named. Add the treated walls, which the warranty covers."),))
    bare = re.sub(r"\s*\b(?:walls?|sides?)\b", "", folded(cell)).strip(" .")
    if bare in _ALL_WALLS:
        return Read((RegisterWall(name="All walls"),))
    pieces = [piece.strip() for piece in re.split(r"[,;/&+\n]|\band\b", bare) if piece.strip()]
    if re.fullmatch(r"(?:[nsew]\s+)+[nsew]", bare):
        pieces = bare.split()
    walls, unclear = [], []
    for piece in pieces:
        match = _LENGTH_AT_END.fullmatch(piece)
        length = _wall_length(match["length"]) if match else None
        name = (match["name"] if match and length is not None else piece).strip(" .:=-(")
        walls.append(RegisterWall(name=_DIRECTIONS.get(name, name.capitalize()), length_m=length))
        if name not in _WALLS and name not in _DIRECTIONS:
            unclear.append(name)
    if not unclear:
        return Read(tuple(walls))
    sentence = f"{listed([f'“{name}”' for name in unclear], 'and')} was not understood as a wall and kept as written."
    return Read(tuple(walls), (caution("walls_unclear", f"{sentence} Name walls such as North, East, Front."),))


def _wall_length(text: str) -> float | None:
    try:
        metres = units.parse(text, "ft").si
    except units.UnreadableMeasurement:
        return None
    return metres if metres > 0 else None
