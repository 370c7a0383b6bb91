"""Tells whether two ways of writing an address mean the same house."""

import re
import unicodedata

# Street suffixes and directionals as USPS Publication 28, appendix C1 and section 233, abbreviates them (from memory).
ABBREVIATIONS: dict[str, str] = {
    "alley": "aly",
    "avenue": "ave",
    "av": "ave",
    "boulevard": "blvd",
    "circle": "cir",
    "court": "ct",
    "drive": "dr",
    "highway": "hwy",
    "lane": "ln",
    "parkway": "pkwy",
    "place": "pl",
    "road": "rd",
    "square": "sq",
    "street": "st",
    "str": "st",
    "terrace": "ter",
    "trail": "trl",
    "way": "way",
    "north": "n",
    "south": "s",
    "east": "e",
    "west": "w",
    "northeast": "ne",
    "northwest": "nw",
    "southeast": "se",
    "southwest": "sw",
    "apartment": "apt",
    "unit": "apt",
    "suite": "ste",
    "no": "",
    "number": "",
}


def address_key(street: str, postcode: str) -> str:
    """The same key for the same house, however its street was typed: case, accents, points and abbreviations."""
    folded = unicodedata.normalize("NFKD", street.casefold().replace("ł", "l"))
    plain = "".join(character for character in folded if not unicodedata.combining(character))
    words = re.findall(r"[a-z0-9]+", plain.replace("'", "").replace("’", "").replace("#", " apt "))
    short = [ABBREVIATIONS.get(word, word) for word in words]
    return " ".join(word for word in short if word) + "|" + _place(postcode)


def _place(postcode: str) -> str:
    """The five digits of a ZIP code without its extension; other postcodes without spaces, in capitals."""
    text = postcode.strip().upper()
    zip_code = re.fullmatch(r"(\d{5})(?:-?\d{4})?", text)
    return zip_code.group(1) if zip_code else re.sub(r"\s+", "", text)
