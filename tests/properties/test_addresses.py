"""The address key against USPS Publication 28, "Postal Addressing Standards".

The pairs are from memory of appendix C1 (street suffixes), appendix C2 (secondary units) and section 233
(directionals); the project's own table was compared with an open copy of C1 besides.
"""

from random import Random

import pytest

from contractor.properties.addresses import STREET_ORDER_LENGTH, address_key, folded, split_unit, street_order

# Primary name, standard abbreviation and one further common spelling (Publication 28, appendix C1, from memory).
SUFFIXES = [
    ("Alley", "ALY", "Ally"),
    ("Avenue", "AVE", "Av"),
    ("Boulevard", "BLVD", "Boul"),
    ("Bridge", "BRG", "Brdge"),
    ("Bypass", "BYP", "Bypa"),
    ("Center", "CTR", "Centre"),
    ("Circle", "CIR", "Circ"),
    ("Court", "CT", "Court"),
    ("Cove", "CV", "Cove"),
    ("Creek", "CRK", "Creek"),
    ("Crescent", "CRES", "Crsent"),
    ("Crossing", "XING", "Crssng"),
    ("Drive", "DR", "Drv"),
    ("Expressway", "EXPY", "Expr"),
    ("Extension", "EXT", "Extn"),
    ("Ferry", "FRY", "Frry"),
    ("Garden", "GDN", "Gardn"),
    ("Gateway", "GTWY", "Gatway"),
    ("Grove", "GRV", "Grov"),
    ("Harbor", "HBR", "Harb"),
    ("Heights", "HTS", "Ht"),
    ("Highway", "HWY", "Hiway"),
    ("Hill", "HL", "Hill"),
    ("Hollow", "HOLW", "Hllw"),
    ("Junction", "JCT", "Jction"),
    ("Knoll", "KNL", "Knol"),
    ("Landing", "LNDG", "Lndng"),
    ("Lane", "LN", "Lane"),
    ("Manor", "MNR", "Manor"),
    ("Meadows", "MDWS", "Medows"),
    ("Mount", "MT", "Mnt"),
    ("Mountain", "MTN", "Mntain"),
    ("Orchard", "ORCH", "Orchrd"),
    ("Parkway", "PKWY", "Pky"),
    ("Place", "PL", "Place"),
    ("Plaza", "PLZ", "Plza"),
    ("Point", "PT", "Point"),
    ("Ridge", "RDG", "Rdge"),
    ("River", "RIV", "Rvr"),
    ("Road", "RD", "Road"),
    ("Shore", "SHR", "Shoar"),
    ("Spring", "SPG", "Spng"),
    ("Square", "SQ", "Sqre"),
    ("Station", "STA", "Statn"),
    ("Street", "ST", "Str"),
    ("Terrace", "TER", "Terr"),
    ("Trace", "TRCE", "Traces"),
    ("Trail", "TRL", "Trails"),
    ("Turnpike", "TPKE", "Turnpk"),
    ("Valley", "VLY", "Vally"),
    ("View", "VW", "View"),
    ("Village", "VLG", "Villag"),
    ("Vista", "VIS", "Vst"),
    ("Way", "WAY", "Wy"),
]


@pytest.mark.parametrize(("name", "abbreviation", "spelling"), SUFFIXES, ids=[row[0] for row in SUFFIXES])
def test_a_suffix_means_the_same_in_every_spelling_that_the_post_lists(
    name: str, abbreviation: str, spelling: str
) -> None:
    keys = {address_key(f"12 Tinder {written}", "17099") for written in (name, abbreviation, spelling)}
    assert keys == {f"12 tinder {abbreviation.lower()}|17099"}


def test_no_two_suffixes_are_taken_for_one() -> None:
    keys = {address_key(f"12 Tinder {name}", "17099") for name, *_ in SUFFIXES}
    assert len(keys) == len(SUFFIXES)


DIRECTIONS = [
    ("North", "N"),
    ("South", "S"),
    ("East", "E"),
    ("West", "W"),
    ("Northeast", "NE"),
    ("Northwest", "NW"),
    ("Southeast", "SE"),
    ("Southwest", "SW"),
]


@pytest.mark.parametrize(("word", "letters"), DIRECTIONS)
def test_a_direction_before_or_behind_the_street_may_be_shortened(word: str, letters: str) -> None:
    assert address_key(f"12 {word} Bay Street", "17099") == address_key(f"12 {letters}. Bay St", "17099")
    assert address_key(f"12 Bay Street {word}", "17099") == address_key(f"12 Bay St {letters}", "17099")


@pytest.mark.parametrize(("word", "letters"), DIRECTIONS)
def test_a_direction_that_is_the_whole_name_is_not_shortened(word: str, letters: str) -> None:
    # Section 233.3 spells such a name out, so "N Street" is a street named by a letter.
    assert address_key(f"12 {word} Street", "17099") != address_key(f"12 {letters} Street", "17099")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("12 Mill St.", "12 Mill Street"),
        ("12 MILL ST", "12 mill st"),
        ("12  Mill   St ", "12 Mill St"),
        ("12 Cooper's Alley", "12 Coopers Aly"),
        ("12 Cooper’s Alley", "12 Cooper's Alley"),
        ("12 Łódź Rd", "12 Lodz Road"),
        ("12 Peñasco Ln", "12 Penasco Lane"),
        ("12 Mill-Race Rd", "12 Mill Race Rd"),
        ("12-A Mill St", "12A Mill St"),
        ("12½ Mill St", "12 1/2 Mill St"),
        ("No. 12 Mill St", "12 Mill St"),
        ("7 First Ave", "7 1st Avenue"),
        ("7 Saint John Street", "7 St. John St"),
        ("12 Mill St Apt 3", "12 Mill St #3"),
        ("12 Mill St Apt. 3", "12 Mill Street, Unit 3"),
        ("12 Mill St # 3B", "Apt 3b, 12 Mill St"),
        ("12 Mill St Suite B", "12 Mill St Ste B"),
        ("12 Mill St Lower", "12 Mill St Lowr"),
    ],
)
def test_the_same_house_has_one_key(one: str, other: str) -> None:
    assert address_key(one, "17099") == address_key(other, "17099")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("12 Mill St", "14 Mill St"),
        ("12 Mill St", "12A Mill St"),
        ("12 Mill St", "12 Mill Rd"),
        ("12 N Mill St", "12 S Mill St"),
        ("12 N Mill St", "12 Mill St"),
        ("12 Mill St Apt 3", "12 Mill St Apt 4"),
        ("12 Mill St Apt 3", "12 Mill St"),
        ("12-14 Mill St", "1214 Mill St"),
        ("1 Old Mill St", "1 Mill St"),
        ("2 Suite B Lane", "2 Suite C Lane"),
    ],
)
def test_two_houses_have_two_keys(one: str, other: str) -> None:
    assert address_key(one, "17099") != address_key(other, "17099")


@pytest.mark.parametrize(
    ("one", "other", "is_same"),
    [
        ("17099", "17099-1234", True),
        ("17099", " 170991234", True),
        ("17099", "17098", False),
        ("k1a 0b1", "K1A0B1", True),
    ],
)
def test_the_extension_of_a_zip_code_does_not_count(one: str, other: str, is_same: bool) -> None:
    assert (address_key("12 Mill St", one) == address_key("12 Mill St", other)) is is_same


@pytest.mark.parametrize(
    ("line", "street", "unit"),
    [
        ("12 Mill St Apt 3", "12 Mill St", "Apt 3"),
        ("12 Mill St, Unit B", "12 Mill St", "Unit B"),
        ("12 Mill St #4", "12 Mill St", "#4"),
        ("12 Mill St Apt. #4", "12 Mill St", "Apt. #4"),
        ("12 Mill St", "12 Mill St", ""),
        ("12 Suite Street", "12 Suite Street", ""),
        ("12 Lot", "12 Lot", ""),
    ],
)
def test_a_unit_at_the_end_of_the_line_is_told_from_the_street(line: str, street: str, unit: str) -> None:
    assert split_unit(line) == (street, unit)
    assert address_key(f"{street} {unit}", "17099") == address_key(line, "17099")


def test_folding_takes_off_case_and_accents_and_nothing_else() -> None:
    assert folded("Łukasz PEÑA-Núñez, Ærø & Ðorðe") == "lukasz pena-nunez, aero & dorde"


# In the order in which somebody with a list in hand walks along the streets; common practice, no source.
WALKED = [
    ("", ""),
    ("Chapel Hill", ""),
    ("9 Chapel Hill", ""),
    ("4 Élysée Way", ""),
    ("2 Ferry Road", ""),
    ("2 Ferry Road", "Apt 3"),
    ("2 Ferry Road", "Apt 12"),
    ("11 Ferry Road", ""),
    ("11a Ferry Road", ""),
    ("12-14 Ferry Road", ""),
    ("100 ferry road", ""),
    ("3 Łąkowa Street", ""),
    ("5 Street 2", ""),
    ("1 Street 10", ""),
]


def test_houses_are_sorted_by_street_and_then_number_by_number() -> None:
    mixed = Random(28).sample(WALKED, len(WALKED))
    assert sorted(mixed, key=lambda where: street_order(*where)) == WALKED


def test_no_address_makes_a_key_that_is_too_long_to_keep() -> None:
    assert len(street_order("1 2 " * 30, "3 " * 20)) == STREET_ORDER_LENGTH
