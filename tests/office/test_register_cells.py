"""The cells of an old register: dates, postcodes, telephone numbers, lengths, walls and models, as tables of cases."""

import calendar
from datetime import date, timedelta

import pytest
from dateutil import parser

from contractor.office.register_catalogue import read_model
from contractor.office.register_cells import (
    given,
    read_capacity_ah,
    read_email,
    read_length,
    read_phone,
    read_postcode,
    read_state,
    read_walls,
)
from contractor.office.register_dates import DateOrder, order_of_dates, read_date
from contractor.office.register_rows import KnownModel, Read

ON = date(2026, 11, 25)
MONTH_FIRST = DateOrder()


def codes(read: Read[object]) -> list[str]:
    return [doubt.code for doubt in read.doubts]


# Dates ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("day", [date(2019, 5, 14), date(2004, 2, 29), date(2013, 12, 31), date(1998, 10, 20)])
@pytest.mark.parametrize(
    "style",
    [
        "%Y-%m-%d",
        "%m/%d/%Y",
        "%m-%d-%Y",
        "%m/%d/%y",
        "%d %B %Y",
        "%d %b %Y",
        "%B %d, %Y",
        "%b. %d, %Y",
        "%d-%b-%y",
        "%Y%m%d",
        "%A, %B %d, %Y",
        "%Y-%m-%d 00:00:00",
        "%m/%d/%Y 12:00 AM",
        "%Y/%m/%d",
    ],
)
def test_a_date_that_says_one_day_is_read_as_dateutil_reads_it(day: date, style: str) -> None:
    cell = day.strftime(style)
    assert read_date(cell, on=ON, order=MONTH_FIRST) == Read(parser.parse(cell, dayfirst=False).date())
    assert parser.parse(cell, dayfirst=False).date() == day


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("5/14/19", date(2019, 5, 14)),
        ("May 14th, 2019", date(2019, 5, 14)),
        ("14 of May 2019", date(2019, 5, 14)),
        ("Sept. 4, 2011", date(2011, 9, 4)),
        ("5.14.2019", date(2019, 5, 14)),
        ("  5/14/2019\u00a0", date(2019, 5, 14)),
        ("05/05/05", date(2005, 5, 5)),
        ("5/6/2019", date(2019, 5, 6)),
        ("11/25/2026", ON),
        ("10/20/98", date(1998, 10, 20)),
        ("", None),
        ("n/a", None),
        ("never", None),
        ("?", None),
    ],
)
def test_a_plain_date_is_read_without_a_word(cell: str, day: date | None) -> None:
    assert read_date(cell, on=ON, order=MONTH_FIRST) == Read(day)


@pytest.mark.parametrize(
    "cell", ["May 2019", "may 2019", "5/2019", "05-2019", "2019-05", "May '19", "May, 2019", "2019 May"]
)
def test_a_month_without_a_day_is_its_first_day_with_a_caution(cell: str) -> None:
    read = read_date(cell, on=ON, order=MONTH_FIRST)
    assert read.value == date(2019, 5, 1)
    assert codes(read) == ["day_unknown"]
    assert "May 1, 2019" in read.doubts[0].sentence


# Day numbers of the 1900 date system, ECMA-376 part 1, 18.17.4.1; 39448 for January 1, 2008 and 40909 for
# January 1, 2012 stand in spreadsheet handbooks (from memory).
@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("39448", date(2008, 1, 1)),
        ("40909", date(2012, 1, 1)),
        ("43599", date(2019, 5, 14)),
        ("43599.0", date(2019, 5, 14)),
        ("43599.75", date(2019, 5, 14)),
    ],
)
def test_a_spreadsheet_day_number_is_read_with_a_caution(cell: str, day: date) -> None:
    read = read_date(cell, on=ON, order=MONTH_FIRST)
    assert read.value == day
    assert codes(read) == ["day_number"]


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("spring 2018", "date_unreadable"),
        ("fall of 2009", "date_unreadable"),
        ("2018", "date_unreadable"),
        ("before the flood", "date_unreadable"),
        ("May 2018 or 2019", "date_unreadable"),
        ("Mayor 2019", "date_unreadable"),
        ("2/30/2019", "date_unreadable"),
        ("2/29/2019", "date_unreadable"),
        ("31 April 2019", "date_unreadable"),
        ("13/13/2019", "date_unreadable"),
        ("0/5/2019", "date_unreadable"),
        ("2019-13-01", "date_unreadable"),
        ("13/2019", "date_unreadable"),
        ("99999", "date_unreadable"),
        ("5/14", "date_unreadable"),
        ("03/04/05", "date_ambiguous"),
        ("10-11-12", "date_ambiguous"),
        ("05/05/06", "date_ambiguous"),
        ("May-19", "date_ambiguous"),
        ("May 14", "date_ambiguous"),
        ("11/26/2026", "date_future"),
        ("2062-03-01", "date_future"),
        ("December 2026", "date_future"),
        ("7/19/1917", "date_too_old"),
        ("5/14/49", "date_too_old"),
    ],
)
def test_what_says_no_one_day_is_an_error_and_never_a_guess(cell: str, code: str) -> None:
    read = read_date(cell, on=ON, order=MONTH_FIRST)
    assert read.value is None
    assert [(doubt.code, doubt.severity) for doubt in read.doubts] == [(code, "error")]


@pytest.mark.parametrize(
    ("others", "cell", "day", "found"),
    [
        ([], "5/6/2019", date(2019, 5, 6), []),
        (["5/14/2019"], "5/6/2019", date(2019, 5, 6), []),
        (["14/5/2019"], "5/6/2019", date(2019, 6, 5), []),
        (["14/5/2019"], "14/6/2019", date(2019, 6, 14), []),
        (["14/5/2019", "15/5/2019"], "5/14/2019", date(2019, 5, 14), ["date_order"]),
        (["5/14/2019", "5/15/2019"], "14/5/2019", date(2019, 5, 14), ["date_order"]),
        (["5/14/2019", "14/5/2019"], "5/6/2019", None, ["date_ambiguous"]),
        (["5/14/2019", "14/5/2019"], "5/5/2019", date(2019, 5, 5), []),
        (["5/14/2019", "14/5/2019"], "14/6/2019", date(2019, 6, 14), []),
        (["5/14/2019"] * 3 + ["14/5/2019"], "5/6/2019", date(2019, 5, 6), ["date_order"]),
        (["5/14/2019"] * 30 + ["14/5/2019"], "5/6/2019", date(2019, 5, 6), []),
        (["14/5/2019"] * 30 + ["5/14/2019"], "5/6/2019", date(2019, 6, 5), []),
        (["5/14/2019", "14/5/2019"], "2019-05-06", date(2019, 5, 6), []),
    ],
)
def test_a_date_that_can_be_read_both_ways_follows_the_other_dates_of_its_file(
    others: list[str], cell: str, day: date | None, found: list[str]
) -> None:
    read = read_date(cell, on=ON, order=order_of_dates(others))
    assert (read.value, codes(read)) == (day, found)


def test_every_day_of_a_leap_year_comes_back_in_every_plain_style() -> None:
    for number in range(366):
        day = date(2024, 1, 1) + timedelta(days=number)
        name = calendar.month_name[day.month]
        for cell in (day.isoformat(), f"{day.month}/{day.day}/{day.year}", f"{name} {day.day}, {day.year}"):
            assert read_date(cell, on=ON, order=MONTH_FIRST) == Read(day), cell


# Addresses, telephone and e-mail ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "state", "postcode", "found"),
    [
        ("17099", "PA", "17099", []),
        (" 17099 ", "PA", "17099", []),
        ("17099-1234", "PA", "17099-1234", []),
        ("170991234", "PA", "17099-1234", []),
        ("17099.0", "PA", "17099", []),
        ("8799", "NJ", "08799", ["postcode_zero_added"]),
        ("8799-1102", "NJ", "08799-1102", ["postcode_zero_added"]),
        ("87991102", "NJ", "08799-1102", ["postcode_zero_added"]),
        ("08799", "NJ", "08799", []),
        ("8799", "PA", None, ["postcode_bad"]),
        ("17O99", "PA", None, ["postcode_bad"]),
        ("l7098", "PA", None, ["postcode_bad"]),
        ("170999", "PA", None, ["postcode_bad"]),
        ("799", "NJ", None, ["postcode_bad"]),
        ("Larkmere", "PA", None, ["postcode_bad"]),
        ("", "PA", None, ["postcode_missing"]),
        ("?", "PA", None, ["postcode_missing"]),
    ],
)
def test_a_postcode_is_read_or_refused(cell: str, state: str, postcode: str | None, found: list[str]) -> None:
    read = read_postcode(cell, state=state)
    assert (read.value, codes(read)) == (postcode, found)


@pytest.mark.parametrize(
    ("cell", "state", "found"),
    [("PA", "PA", []), ("Pa.", "PA", []), ("n.j.", "NJ", []), ("", "PA", []), ("Tamarack Co", None, ["state_unknown"])],
)
def test_a_state_is_two_letters_or_the_companys_own(cell: str, state: str | None, found: list[str]) -> None:
    read = read_state(cell, home_state="PA")
    assert (read.value, codes(read)) == (state, found)


# Ten digits of the North American Numbering Plan, the first and fourth from 2 to 9.
@pytest.mark.parametrize(
    ("cell", "number", "found", "is_kept_aside"),
    [
        ("(555) 555-0123", "(555) 555-0123", [], False),
        ("555-555-0123", "(555) 555-0123", [], False),
        ("555.555.0123", "(555) 555-0123", [], False),
        ("5555550123", "(555) 555-0123", [], False),
        ("+1 555 555 0123", "(555) 555-0123", [], False),
        ("1-555-555-0123", "(555) 555-0123", [], False),
        ("cell: (555)555-0123", "(555) 555-0123", [], False),
        ("555-555-0123 ext. 12", "(555) 555-0123 x12", [], False),
        ("555-555-0123 Ana", "(555) 555-0123", [], True),
        ("555-0123", "555-0123", ["phone_no_area"], False),
        ("555-555-0123 / 555-555-0145", "(555) 555-0123", ["more_phones"], True),
        ("555-555-0123 or 555-0145", "(555) 555-0123", ["more_phones"], True),
        ("5.55555E+09", "", ["phone_unreadable"], True),
        ("055-555-0123", "", ["phone_unreadable"], True),
        ("555-155-0123", "", ["phone_unreadable"], True),
        ("call the office", "", ["phone_unreadable"], True),
        ("", "", [], False),
        ("n/a", "", [], False),
    ],
)
def test_a_telephone_number_is_read_and_nothing_of_the_cell_is_lost(
    cell: str, number: str, found: list[str], is_kept_aside: bool
) -> None:
    read = read_phone(cell)
    assert (read.value, codes(read), read.aside) == (number, found, f"Phone: {cell}" if is_kept_aside else "")


@pytest.mark.parametrize(
    ("cell", "address", "found"),
    [
        ("Ana@Example.com", "ana@example.com", []),
        ("mailto:ana@example.com", "ana@example.com", []),
        ("ana@example.com; luis@example.com", "ana@example.com", ["more_emails"]),
        ("ana at example.com", "", ["email_unreadable"]),
        ("ana@", "", ["email_unreadable"]),
        ("ana@example", "", ["email_unreadable"]),
        ("ana@example,com", "", ["email_unreadable"]),
        ("", "", []),
    ],
)
def test_an_email_address_is_read_or_put_in_the_notes(cell: str, address: str, found: list[str]) -> None:
    read = read_email(cell)
    assert (read.value, codes(read)) == (address, found)
    assert read.aside == (f"E-mail: {cell}" if found else "")


@pytest.mark.parametrize("cell", ["", " ", "-", "N/A", "unknown", "?", "#N/A", "worn off", "not legible"])
def test_a_cell_that_only_says_that_nothing_is_known_says_nothing(cell: str) -> None:
    assert given(cell) == ""


# Measures ---------------------------------------------------------------------------------------------------------


# One inch is 25.4 mm and one foot 304.8 mm exactly (NIST SP 811, appendix B).
@pytest.mark.parametrize(
    ("cell", "unit", "metres"),
    [
        ("18", "in", 0.4572),
        ("18 in", "in", 0.4572),
        ("18in.", "in", 0.4572),
        ('18"', "in", 0.4572),
        ("18”", "in", 0.4572),
        ("18''", "in", 0.4572),
        ("46 cm", "in", 0.46),
        ("1.5 ft", "in", 0.4572),
        ("460 mm", "in", 0.46),
        ("120'", "ft", 36.576),
        ("120’", "ft", 36.576),
        ("120 ft", "ft", 36.576),
        ("120", "ft", 36.576),
        ("120 lf", "ft", 36.576),
        ("~120", "ft", 36.576),
        ("about 120 ft", "ft", 36.576),
        ("36 m", "ft", 36.0),
        ("24' 6\"", "ft", 7.4676),
        ("1 1/2", "in", 0.0381),
        ("1-1/2 in", "in", 0.0381),
        ('1½"', "in", 0.0381),
    ],
)
def test_a_length_is_read_in_its_own_unit_or_the_columns(cell: str, unit: str, metres: float) -> None:
    read = read_length(cell, unit=unit, is_unit_given=True, least_m=0.01, most_m=100.0)
    assert read.value == pytest.approx(metres, rel=1e-12)
    assert read.doubts == ()


@pytest.mark.parametrize(
    ("cell", "found"), [("18", ["unit_assumed"]), ("18 in", []), ('18"', []), ("46 cm", []), ("", [])]
)
def test_a_bare_number_under_a_column_without_a_unit_gets_a_caution(cell: str, found: list[str]) -> None:
    assert codes(read_length(cell, unit="in", is_unit_given=False, least_m=0.2, most_m=1.2)) == found


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("std", "length_unreadable"),
        ("18-24", "length_unreadable"),
        ("180", "length_unlikely"),
        ("2", "length_unlikely"),
    ],
)
def test_a_length_that_cant_be_is_an_error(cell: str, code: str) -> None:
    read = read_length(cell, unit="in", is_unit_given=True, least_m=0.2032, most_m=1.2192)
    assert (read.value, codes(read)) == (None, [code])


@pytest.mark.parametrize(
    ("cell", "capacity"),
    [
        ("75 Ah", 75.0),
        ("75AH", 75.0),
        ("12V 105 amp-hours", 105.0),
        ("Longlight 100Ah", 100.0),
        ("75", None),
        ("", None),
    ],
)
def test_ampere_hours_are_found_in_a_battery_cell(cell: str, capacity: float | None) -> None:
    assert read_capacity_ah(cell) == capacity


@pytest.mark.parametrize(
    ("cell", "walls", "found"),
    [
        ("N, E", [("North wall", None), ("East wall", None)], []),
        ("N/E/S", [("North wall", None), ("East wall", None), ("South wall", None)], []),
        ("n e", [("North wall", None), ("East wall", None)], []),
        ("north & east walls", [("North wall", None), ("East wall", None)], []),
        ("Front and left", [("Front wall", None), ("Left wall", None)], []),
        ("rear", [("Back wall", None)], []),
        ("All 4", [("All walls", None)], []),
        ("full perimeter", [("All walls", None)], []),
        ("N 24', E (30')", [("North wall", 7.3152), ("East wall", 9.144)], []),
        ("South wall 8 m", [("South wall", 8.0)], []),
        ("see sketch", [("see sketch", None)], ["walls_unclear"]),
        ("N, by the Stairs", [("North wall", None), ("by the Stairs", None)], ["walls_unclear"]),
        ("NE", [("NE", None)], ["walls_unclear"]),
        ("", [], ["walls_missing"]),
    ],
)
def test_treated_walls_are_read_by_name_and_length(
    cell: str, walls: list[tuple[str, float | None]], found: list[str]
) -> None:
    read = read_walls(cell)
    assert [(wall.name, wall.length_m and round(wall.length_m, 6)) for wall in read.value or ()] == walls
    assert codes(read) == found


# Models -----------------------------------------------------------------------------------------------------------


def known(part_kind: str, *names: str) -> list[KnownModel]:
    makers = ("Northfold", "Brandt & Lowe", "Kestrel Ridge")
    return [
        KnownModel(key=name, part_kind=part_kind, maker=maker, name=name.removeprefix(maker).strip())
        for name in names
        for maker in makers
        if name.startswith(maker)
    ]


MODELS = [
    *known("primary_pump", "Northfold Castwell 33", "Northfold Castwell 50", "Brandt & Lowe Lowline 25"),
    *known("primary_pump", "Kestrel Ridge Bigbeck 75", "Kestrel Ridge Lowland 25"),
    *known("standby_pump", "Kestrel Ridge Gale 18", "Northfold Night Watch 12"),
]


@pytest.mark.parametrize(
    ("cell", "name", "found"),
    [
        ("Northfold Castwell 33", "Northfold Castwell 33", []),
        ("castwell 33", "Northfold Castwell 33", []),
        ("CASTWELL-33", "Northfold Castwell 33", []),
        ("Castwell33", "Northfold Castwell 33", []),
        ("  Northfold   Castwell 33 ", "Northfold Castwell 33", []),
        ("Brandt and Lowe Lowline 25", "Brandt & Lowe Lowline 25", []),
        ("Brandt&Lowe Lowline25", "Brandt & Lowe Lowline 25", []),
        ("B&L Lowline 25", "Brandt & Lowe Lowline 25", ["model_abbreviated"]),
        ("B & L 25", "Brandt & Lowe Lowline 25", ["model_abbreviated"]),
        ("NF Castwell 50", "Northfold Castwell 50", ["model_abbreviated"]),
        ("N. Castwell 50", "Northfold Castwell 50", ["model_abbreviated"]),
        ("Cstwl 50", "Northfold Castwell 50", ["model_abbreviated"]),
        ("Bigbeck", "Kestrel Ridge Bigbeck 75", ["model_abbreviated"]),
        ("KR 75 pump", "Kestrel Ridge Bigbeck 75", ["model_abbreviated"]),
        ("Castwell", None, ["model_ambiguous"]),
        ("Low 25", None, ["model_ambiguous"]),
        ("Lowl. 25", None, ["model_ambiguous"]),
        ("Castwell 75", None, ["model_unknown"]),
        ("Kestrel Ridge Castwell 33", None, ["model_unknown"]),
        ("Northfold", None, ["model_unknown"]),
        ("33", None, ["model_unknown"]),
        ("1/3 HP", None, ["model_unknown"]),
        ("Kastwell 33", None, ["model_unknown"]),
        ("Gale 18", None, ["model_wrong_kind"]),
    ],
)
def test_a_models_name_is_matched_and_never_guessed_between_two(cell: str, name: str | None, found: list[str]) -> None:
    read = read_model(cell, part_kind="primary_pump", known_models=MODELS)
    assert (str(read.value) if read.value else None, codes(read)) == (name, found)


def test_a_name_that_fits_several_models_lists_them() -> None:
    sentence = read_model("Castwell", part_kind="primary_pump", known_models=MODELS).doubts[0].sentence
    assert "Northfold Castwell 33 or Northfold Castwell 50" in sentence


def test_the_same_name_by_two_makers_needs_the_maker() -> None:
    twins = [KnownModel(key=m, part_kind="battery", maker=m, name="Cell 75") for m in ("Tarn & Hobb", "Merrowick")]
    assert codes(read_model("Cell 75", part_kind="battery", known_models=twins)) == ["model_ambiguous"]
    assert read_model("merrowick cell 75", part_kind="battery", known_models=twins).value == twins[1]
