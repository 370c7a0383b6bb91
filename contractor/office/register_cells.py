"""Reads the cells of an old register that are no dates and no models: postcode, phone, lengths, walls and such."""

import re
from typing import Final

from contractor.core import units
from contractor.office.register_rows import Doubt, Read, RegisterWall, caution, error, listed
from contractor.properties.addresses import folded

_BLANKS: Final = """
-|--|---|–|—|.|?|??|???|n/a|n.a.|na|none|nil|null|unknown|unk|tbd|never|not known|not legible|illegible|can't read
worn off|#n/a|(blank)
"""
BLANKS: Final = frozenset(["", *re.split(r"[|\n]", _BLANKS.strip())])
# USPS two-letter codes (Publication 28, appendix B, from memory).
_STATES: Final = """
AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK OR
PA PR RI SC SD TN TX UT VT VA VI WA WV WI WY
"""
STATES: Final = frozenset(_STATES.split())
# States whose ZIP codes begin with 0, which a spreadsheet drops (USPS L002, prefixes 005 to 098; from memory).
STATES_WITH_LEADING_ZERO: Final = frozenset(["CT", "MA", "ME", "NH", "NJ", "PR", "RI", "VI", "VT"])
_PHONE: Final = re.compile(
    r"(?P<before>[^\d(+]*)(?:\+?1[-. ]*)?(?P<digits>[-. ()\d]+?)\s*(?:(?:x|ext\.?)\s*(?P<extension>\d+))?"
    r"(?P<behind>\s*\(?[^\d]*)",
    re.IGNORECASE,
)
_PHONE_WORDS: Final = frozenset(["phone", "tel", "home", "cell", "mobile", "work", "office", "h", "c", "m", "w", "o"])
_EMAIL: Final = re.compile(r"[^@\s,;<>()\"]+@[a-z0-9][a-z0-9-]*(?:\.[a-z0-9-]+)*\.[a-z]{2,}")
_WALLS: Final = {
    short: name
    for name in ("North", "South", "East", "West", "Front", "Back", "Left", "Right")
    for short in (name.casefold(), name[0].casefold())
} | {"rear": "Back", "garage": "Garage"}
_ALL_WALLS: Final = frozenset(
    ["all", "all 4", "all four", "whole", "full", "perimeter", "full perimeter", "whole perimeter"]
)
_LENGTH_AT_END: Final = re.compile(
    r"(?P<name>.*?\D)[\s:=-]*\(?(?P<length>\d[\d./½¼¾ ]*\s*(?:'|ft\.?|feet|foot|m|cm|in\.?|\"))\)?"
)
_LENGTH_AT_START: Final = re.compile(
    r"(?P<length>\d[\d.]*(?:[ -]\d+/\d+|/\d+|\s?[½¼¾])?"
    r"\s*(?:inches|inch|in\b\.?|\"|''|feet|foot|ft\b\.?|'|mm\b|cm\b|m\b)?)"
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
    """A ZIP code, with or without its extension; a zero that a spreadsheet dropped is put back with a caution."""
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
    has_letter = re.search(r"[A-Za-z]", cell) is not None
    why = "has a letter in it" if has_letter else f"has {digits} digit{'' if digits == 1 else 's'}"
    sentence = f"“{cell}” {why}; a ZIP code is five digits, or nine with a hyphen after the fifth. Look it up."
    return Read(None, (error("postcode_bad", sentence),))


def read_degrees(text: str, *, most: float) -> Read[float]:
    """Degrees of latitude (``most`` 90) or longitude (180) as a decimal number; a doubt for anything else."""
    line = given(text)
    if not line:
        return Read(value=None)
    try:
        degrees = float(line.replace("−", "-").rstrip("°"))
    except ValueError:
        degrees = most + 1
    if not -most <= degrees <= most:
        sentence = f"“{line}” are no degrees from -{most:g} to {most:g}. The house is taken over without a position."
        return Read(value=None, doubts=(caution("position_unread", sentence),))
    return Read(value=degrees)


def read_phone(text: str) -> Read[str]:
    """A telephone number of the North American plan; a second one, or what can't be read, is kept aside."""
    cell = given(text)
    if not cell:
        return Read("")
    pieces = [piece for piece in re.split(r"[;/|,&]|\bor\b", cell) if re.search(r"\d{3}", piece)]
    match = _PHONE.fullmatch(pieces[0].strip()) if pieces else None
    digits = re.sub(r"\D", "", match["digits"]) if match else ""
    doubts: list[Doubt] = []
    if match and re.fullmatch(r"[2-9]\d{2}[2-9]\d{6}", digits):
        number = f"({digits[:3]}) {digits[3:6]}-{digits[6:]}"
    elif match and re.fullmatch(r"[2-9]\d{6}", digits):
        number = f"{digits[:3]}-{digits[3:]}"
        doubts.append(caution("phone_no_area", f"“{cell}” has no area code. Texts can't be sent to it; add the code."))
    else:
        sentence = f"“{cell}” is no telephone number and was put in the notes. Write ten digits: (555) 555-0123."
        return Read("", (caution("phone_unreadable", sentence),), aside=f"Phone: {cell}")
    number += f" x{match['extension']}" if match["extension"] else ""
    if len(pieces) > 1:
        doubts.append(caution("more_phones", f"Only {number} was taken; “{cell}” was put in the notes."))
    words = {*re.findall(r"[a-z]+", match["before"].casefold()), *re.findall(r"[a-z]+", match["behind"].casefold())}
    says_more = len(pieces) > 1 or words - _PHONE_WORDS
    return Read(number, tuple(doubts), aside=f"Phone: {cell}" if says_more else "")


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
    plain = re.sub(r"\b(?:lf|lin\.? ?ft)\b", "ft", plain, flags=re.IGNORECASE)  # linear feet
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
        return Read(
            (), (caution("walls_missing", "No wall is named. Add the treated walls, which the warranty covers."),)
        )
    bare = re.sub(r"\s*\b(?:walls?|sides?)\b", "", cell, flags=re.IGNORECASE).strip(" .")
    if folded(bare) in _ALL_WALLS:
        return Read((RegisterWall(name="All walls"),))
    are_letters = re.fullmatch(r"(?:[NSEW]\s+)+[NSEW]", bare, re.IGNORECASE)
    pieces = bare.split() if are_letters else re.split(r"[,;/&+]|\band\b", bare, flags=re.IGNORECASE)
    found = [_wall(piece.strip()) for piece in pieces if piece.strip()]
    walls = tuple(wall for wall, _ in found)
    unclear = [f"“{wall.name}”" for wall, is_known in found if not is_known]
    if not unclear:
        return Read(walls)
    sentence = f"{listed(unclear, 'and')} was not understood as a wall and kept as written."
    return Read(walls, (caution("walls_unclear", f"{sentence} Name walls such as North, East, Front."),))


def _wall(piece: str) -> tuple[RegisterWall, bool]:
    """One wall, and whether its name was understood; else it keeps the words of the cell."""
    match = _LENGTH_AT_END.fullmatch(piece)
    length_m = _wall_length(match["length"]) if match else None
    name = (match["name"] if match and length_m is not None else piece).strip(" .:=-(")
    whole = _WALLS.get(folded(name))
    return RegisterWall(name=f"{whole} wall" if whole else name, length_m=length_m), whole is not None


def _wall_length(text: str) -> float | None:
    try:
        metres = units.parse(text, "ft").si
    except units.UnreadableMeasurement:
        return None
    return metres if metres > 0 else None
