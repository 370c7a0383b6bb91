"""Tells whether two ways of writing an address mean the same house."""

import re
import unicodedata
from typing import Final

# Street suffixes as USPS Publication 28, appendix C1, abbreviates them: the abbreviation, then the ways of writing
# it that the appendix lists (from memory, compared with an open copy of the list).
_SUFFIXES: Final = """
aly allee alley ally|anx anex annex annx|arc arcade|ave av aven avenu avenue avn avnue|byu bayoo bayou|bch beach
bnd bend|blf bluf bluff|blfs bluffs|btm bot bottm bottom|blvd boul boulevard boulv|br brnch branch|brg brdge bridge
brk brook|brks brooks|bg burg|byp bypa bypas bypass byps|cp camp cmp|cyn canyn canyon cnyn|cpe cape
cswy causeway causwa|ctr cen cent center centr centre cnter cntr|ctrs centers|cir circ circl circle crcl crcle
cirs circles|clf cliff|clfs cliffs|clb club|cmn common|cmns commons|cor corner|cors corners|crse course|ct court
cts courts|cv cove|cvs coves|crk creek|cres crescent crsent crsnt|crst crest|xing crossing crssng|xrd crossroad
xrds crossroads|curv curve|dl dale|dm dam|dv div divide dvd|dr driv drive drv|drs drives|est estate|ests estates
expy exp expr express expressway expw|ext extension extn extnsn|exts extensions|fls falls|fry ferry frry|fld field
flds fields|flt flat|flts flats|frd ford|frds fords|frst forest forests|frg forg forge|frgs forges|frk fork
frks forks|ft fort frt|fwy freeway freewy frway frwy|gdn garden gardn grden grdn|gdns gardens grdns
gtwy gateway gatewy gatway gtway|gln glen|glns glens|grn green|grns greens|grv grov grove|grvs groves
hbr harb harbor harbr hrbor|hbrs harbors|hvn haven|hts ht heights|hwy highway highwy hiway hiwy hway|hl hill
hls hills|holw hllw hollow hollows holws|inlt inlet|is island islnd|iss islands islnds|isle isles
jct jction jctn junction junctn juncton|jcts jctns junctions|ky key|kys keys|knl knol knoll|knls knolls|lk lake
lks lakes|lndg landing lndng|ln lane|lgt light|lgts lights|lf loaf|lck lock|lcks locks|ldg ldge lodg lodge
loop loops|mnr manor|mnrs manors|mdw meadow|mdws meadows medows|ml mill|mls mills|msn missn mission mssn
mtwy motorway|mt mnt mount|mtn mntain mntn mountain mountin mtin|mtns mntns mountains|nck neck|orch orchard orchrd
oval ovl|opas overpass|park prk parks|pkwy parkway parkwy pkway pky parkways pkwys|psge passage|path paths
pike pikes|pne pine|pnes pines|pl place|pln plain|plns plains|plz plaza plza|pt point|pts points|prt port
prts ports|pr prairie prr|radl rad radial radiel|rnch ranch ranches rnchs|rpd rapid|rpds rapids|rst rest
rdg rdge ridge|rdgs ridges|riv river rvr rivr|rd road|rds roads|rte route|shl shoal|shls shoals|shr shoar shore
shrs shoars shores|skwy skyway|spg spng spring sprng|spgs spngs springs sprngs|spur spurs|sq sqr sqre squ square
sqs sqrs squares|sta station statn stn|stra strav straven stravenue stravn strvn strvnue|strm stream streme
st street strt str|sts streets|smt sumit sumitt summit|ter terr terrace|trwy throughway|trce trace traces
trak track tracks trk trks|trfy trafficway|trl trail trails trls|trlr trailer trlrs
tunl tunel tunls tunnel tunnels tunnl|tpke trnpk turnpike turnpk|upas underpass|un union|uns unions
vly valley vally vlly|vlys valleys|via vdct viadct viaduct|vw view|vws views|vlg vill villag village villg villiage
vlgs villages|vl ville|vis vist vista vst vsta|walk walks|way wy|wl well|wls wells
"""
SUFFIXES: Final[dict[str, str]] = {
    spelling: line.split()[0] for line in re.split(r"[|\n]", _SUFFIXES) for spelling in line.split()
}

# Publication 28, section 233 (from memory); "so" and "no" for south and north are common practice, no source.
DIRECTIONS: Final[dict[str, str]] = {
    "north": "n",
    "no": "n",
    "south": "s",
    "so": "s",
    "east": "e",
    "west": "w",
    "northeast": "ne",
    "northwest": "nw",
    "southeast": "se",
    "southwest": "sw",
}
_POINTS: Final = frozenset([*DIRECTIONS, *DIRECTIONS.values()])

# Appendix C2 (from memory). "#" stands for whichever of them is meant, so all mean one thing here: the unit.
_UNIT_WORDS: Final = """
apt apartment bldg building dept department hngr hangar lot rm room slip spc space ste suite stop trlr trailer unit
"""
UNIT_WORDS: Final = frozenset(_UNIT_WORDS.split())
# Designators of appendix C2 that need no number behind them: they name a part of the house by themselves.
PLACES_WITHIN: Final[dict[str, str]] = {
    "basement": "bsmt",
    "floor": "fl",
    "front": "frnt",
    "lobby": "lbby",
    "lower": "lowr",
    "office": "ofc",
    "penthouse": "ph",
    "upper": "uppr",
}

# No house number and no unit has more digits.
_DIGITS: Final = 7
STREET_ORDER_LENGTH: Final = 250

_ORDINALS: Final[dict[str, str]] = {
    "first": "1st",
    "second": "2nd",
    "third": "3rd",
    "fourth": "4th",
    "fifth": "5th",
    "sixth": "6th",
    "seventh": "7th",
    "eighth": "8th",
    "ninth": "9th",
    "tenth": "10th",
}
_UNIT_AT_END: Final = re.compile(
    rf"(?P<street>.*?[^\W\d].*?)[\s,;]+(?P<unit>(?:\b(?:{'|'.join(sorted(UNIT_WORDS))})\b\.?[\s#]*|#\s*)(?P<number>[\w-]+))",
    re.IGNORECASE,
)
# Letters that Unicode does not take apart into a base letter and a mark.
_WHOLE_LETTERS: Final = str.maketrans(
    {"ł": "l", "ø": "o", "đ": "d", "ð": "d", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"}
)


def folded(text: str) -> str:
    """Text without case and accents, for comparing names: "Łukasz PEÑA" becomes "lukasz pena"."""
    if text.isascii():
        return text.casefold()
    apart = unicodedata.normalize("NFKD", text.casefold().translate(_WHOLE_LETTERS))
    return "".join(character for character in apart if not unicodedata.combining(character))


def address_key(street: str, postcode: str) -> str:
    """The same key for the same house, however its street and unit were typed.

    Case, accents, points, suffixes and directions do not count; unit words ("Apt", "Unit", "#") all mean the
    same. A direction that is the street's whole name stays as it is written (Publication 28, 233.3): North
    Street and N Street are two streets.
    """
    words, unit = _without_unit(_words(street))
    return " ".join([*_short(words), *unit]) + "|" + _place(postcode)


def street_order(street: str, unit: str = "") -> str:
    """A key that sorts houses as people look for them: by the street's name, then by the numbers as numbers.

    "2 Ferry Road" is "ferry road 0000002" and stands before "11 Ferry Road".
    """
    words = _words(street)
    number = words[:1] if words and words[0][0].isdigit() else []
    key = " ".join([*words[len(number) :], *number, *_words(unit)])
    return re.sub(r"\d+", lambda digits: digits[0].zfill(_DIGITS), key)[:STREET_ORDER_LENGTH]


def split_unit(street: str) -> tuple[str, str]:
    """A street line as typed, in two: the street, and the unit when one stands at the end behind a unit word."""
    line = " ".join(street.split())
    match = _UNIT_AT_END.fullmatch(line)
    return (match["street"], match["unit"]) if match and _is_unit(match["number"]) else (line, "")


def _words(street: str) -> list[str]:
    """Words, numbers and fractions; "12-A" is one word ("12a"), "12-14" stays a range."""
    text = folded(street.replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4")).replace("⁄", "/")
    text = re.sub(r"['’‘.]", "", text.replace("#", " unit "))
    text = re.sub(r"\b(\d+)-([a-z])\b", r"\1\2", text)
    found = re.findall(r"\d+[-/]\d+|[a-z0-9]+", text)
    return found[1:] if found[:1] in (["no"], ["nr"], ["number"]) and found[1:2] and found[1][0].isdigit() else found


def _is_unit(word: str) -> bool:
    return len(word) == 1 or any(character.isdigit() for character in word)


def _without_unit(words: list[str]) -> tuple[list[str], list[str]]:
    """The words of the street, and those of the unit in one form: "apt 3", "unit 3" and "# 3" are "unit 3"."""
    for place, word in enumerate(words):
        behind = words[place + 1 :]
        number = next((w for w in behind if w != "unit"), "")
        is_street = place > 0 and behind[-1:] and behind[-1] in SUFFIXES and len(behind) > 1
        if word in UNIT_WORDS and number and _is_unit(number) and not is_street:
            end = words.index(number, place + 1) + 1
            return words[:place] + words[end:], ["unit", number]
    return words, []


def _short(words: list[str]) -> list[str]:
    """Each word in the shortest form that the post knows."""
    return [_short_word(words, place) for place in range(len(words))]


def _short_word(words: list[str], place: int) -> str:
    word = words[place]
    if word in DIRECTIONS and _name(words) != [word]:
        return DIRECTIONS[word]
    if word == "saint":
        return "st"
    if word in PLACES_WITHIN and place >= len(words) - 2:
        return PLACES_WITHIN[word]
    return SUFFIXES.get(word) or _ORDINALS.get(word) or word


def _name(words: list[str]) -> list[str]:
    """What is left of a street without its number, the direction at its end and its suffix."""
    name = words[1:] if words[0][0].isdigit() else words
    if len(name) > 2 and name[-1] in _POINTS:
        name = name[:-1]
    return name[:-1] if len(name) > 1 and name[-1] in SUFFIXES else name


def _place(postcode: str) -> str:
    """The five digits of a ZIP code without its extension; other postcodes without spaces, in capitals."""
    text = "".join(postcode.split()).upper()
    zip_code = re.fullmatch(r"(\d{5})(?:-?\d{4})?", text)
    return zip_code[1] if zip_code else text
