"""How many parts a text message is sent in: each part is paid for, and long ones arrive torn on old phones.

3GPP TS 23.038 (GSM 03.38), from memory: the default alphabet of seven bits with its extension table, 160 characters in
one part and 153 in each of several (six bytes go to the header that joins them, TS 23.040); everything else is UCS-2
with 70 and 67. A character of the extension table takes two places, and neither it nor a surrogate pair is cut in two.
"""

from dataclasses import dataclass

GSM = (
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
GSM_EXTENSION = "\f^{}\\[~]|€"
ONE_PART = {"gsm": 160, "ucs2": 70}
EACH_PART = {"gsm": 153, "ucs2": 67}
# What typesetting adds and a telephone can do without.
_PLAIN = str.maketrans(
    {"’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "…": "...", "\u00a0": " ", "‑": "-"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The alphabet (gsm or ucs2), the places the text takes in it, and the number of parts."""

    alphabet: str
    places: int
    parts: int


def plain(text: str) -> str:
    """The text without curly quotes, long dashes and double spaces, so that more of it fits into a part."""
    return " ".join(text.translate(_PLAIN).split())


def parts_of(text: str) -> Parts:
    """How a text is sent."""
    if all(character in GSM or character in GSM_EXTENSION for character in text):
        alphabet, widths = "gsm", [2 if character in GSM_EXTENSION else 1 for character in text]
    else:
        alphabet, widths = "ucs2", [2 if ord(character) > 0xFFFF else 1 for character in text]
    places = sum(widths)
    if places <= ONE_PART[alphabet]:
        return Parts(alphabet=alphabet, places=places, parts=1)
    parts, room = 1, EACH_PART[alphabet]
    for width in widths:
        if width > room:
            parts, room = parts + 1, EACH_PART[alphabet]
        room -= width
    return Parts(alphabet=alphabet, places=places, parts=parts)
