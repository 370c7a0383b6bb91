"""A whole register: the demo file against its prepared truth, and files of every odd make."""

import csv
import io
import json
import zipfile
from collections import Counter, defaultdict
from datetime import date
from pathlib import Path

import pytest

from contractor.core.errors import Refusal
from contractor.office.errors import (
    QuoteNeverClosed,
    RegisterEmpty,
    RegisterLacksColumns,
    RegisterNotReadable,
    RegisterWithoutHeader,
    RegisterWithoutRows,
)
from contractor.office.register_file import read_register
from contractor.office.register_report import bad_rows_csv, report_csv, report_rows
from contractor.office.register_rows import KnownModel, Outcome, RegisterReading

ROOT = Path(__file__).resolve().parents[2]
ON = date(2026, 11, 25)
MODELS = [
    KnownModel(key=str(number), part_kind=model["part_kind"], maker=model["maker"], name=model["name"])
    for number, model in enumerate(json.loads((ROOT / "fixtures/catalogue/models.json").read_text())["models"])
]
HEADER = "Customer name,Address,Town,ZIP,Phone,Install date,System,Pump model,Pump S/N,Notes"
GOOD = "Ana Carrow,101 Weir St,Larkmere,17099,555-555-0101,5/14/2019,Basement,Castwell 33,NF1,"


def read(data: bytes | str) -> RegisterReading:
    return read_register(data.encode() if isinstance(data, str) else data, known_models=MODELS, on=ON, home_state="PA")


def rows(*lines: str) -> RegisterReading:
    return read("\n".join([HEADER, *lines]))


def found(reading: RegisterReading) -> dict[int, list[str]]:
    by_line: defaultdict[int, list[str]] = defaultdict(list)
    for problem in reading.problems:
        by_line[problem.line_number].append(problem.code)
    return dict(by_line)


# The demo register ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo() -> RegisterReading:
    return read((ROOT / "fixtures/demo/old_register.csv").read_bytes())


def expected_rows() -> list[dict[str, str]]:
    with (ROOT / "tests/office/old_register_expected.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def test_every_row_of_the_demo_register_is_read_as_its_maker_meant_it(demo: RegisterReading) -> None:
    # The truth was written down while the rows were made, from what was done to each, not by reading them.
    outcomes = demo.outcomes()
    got = []
    for line in outcomes:
        pairs = sorted((p.code, p.column) for p in demo.problems if p.line_number == line)
        pairs += [(row.code, "") for row in demo.skipped if row.line_number == line]
        got.append(
            {
                "line": str(line),
                "outcome": outcomes[line].value,
                "codes": ";".join(code for code, _ in pairs),
                "columns": ";".join(column for _, column in pairs if column),
            }
        )
    assert got == expected_rows()


def test_the_demo_register_is_mostly_fit_for_import(demo: RegisterReading) -> None:
    count = Counter(row["outcome"] for row in expected_rows())
    assert count == {"good": 175, "good with cautions": 148, "bad": 62, "skipped": 15}
    assert len(demo.rows) == 175 + 148
    assert {row.line_number for row in demo.rows} == {
        int(row["line"]) for row in expected_rows() if row["outcome"].startswith("good")
    }


def test_the_demo_register_is_told_apart_as_a_file(demo: RegisterReading) -> None:
    assert (demo.encoding, demo.delimiter, demo.header_line) == ("utf-8", ",", 3)
    assert demo.unknown_columns == ("Crew",)
    assert [doubt.code for doubt in demo.cautions] == ["unknown_columns", "dates_mixed"]


def test_second_systems_of_the_demo_register_join_their_houses(demo: RegisterReading) -> None:
    by_line = {row.line_number: row for row in demo.rows}
    joined = [row for row in demo.rows if row.joins_line is not None]
    assert len(joined) == 5
    for row in joined:
        first = by_line[row.joins_line or 0]
        assert first.address_key == row.address_key
        assert first.system_name != row.system_name
    mill = [row for row in demo.rows if row.address_key == "12 ml st|17099"]
    assert [(row.street, row.system_name) for row in mill] == [
        ("12 Mill St.", "Basement"),
        ("12 Mill Street", "Crawl space"),
    ]


def test_every_sentence_about_the_demo_register_says_what_to_do(demo: RegisterReading) -> None:
    assert demo.problems
    for problem in demo.problems:
        assert problem.sentence.endswith("."), problem
        assert problem.sentence.count(".") >= 1
        assert len(problem.sentence.split()) >= 6, problem


# One row ----------------------------------------------------------------------------------------------------------


def test_a_good_row_comes_back_whole() -> None:
    header = (
        "Owner,Address,Town,ST,ZIP,Phone,E-mail,Installed on,System,Pump,Pump S/N,Backup,Backup S/N,Batt,Batt SN,"
        "Batt date,Pit (in),Disch line,Walls,Liner ft,Warr #,Last svc,Truck,Notes"
    )
    row = (
        'Ana Peña,"101 Weir St, Apt 2",Larkmere,PA,17099,5555550101,Ana@example.com,2019-05-14,Basement,Castwell 33,'
        'NF1,Gale 18,K2,Stillmat 75,M3,6/1/2024,18,"1½"" PVC","N 24\', E",120,HC-7,5/2/2026,Blue,"Dog\nKey under pot"'
    )
    reading = read(f"{header}\n{row}\n")
    assert reading.problems == ()
    (got,) = reading.rows
    assert (got.owner, got.phone, got.email) == ("Ana Peña", "(555) 555-0101", "ana@example.com")
    assert (got.street, got.unit, got.town, got.state, got.postcode) == (
        "101 Weir St",
        "Apt 2",
        "Larkmere",
        "PA",
        "17099",
    )
    assert (got.installed_on, got.last_service_on) == (date(2019, 5, 14), date(2026, 5, 2))
    assert (got.system_name, got.warranty_number, got.notes) == ("Basement", "HC-7", "Dog\nKey under pot")
    assert got.other_columns == (("Truck", "Blue"),)
    assert [(wall.name, wall.length_m) for wall in got.walls] == [
        ("North wall", pytest.approx(7.3152)),
        ("East wall", None),
    ]
    assert [(part.part_kind, str(part.model or ""), part.serial, part.in_on) for part in got.parts] == [
        ("primary_pump", "Northfold Castwell 33", "NF1", date(2019, 5, 14)),
        ("standby_pump", "Kestrel Ridge Gale 18", "K2", date(2019, 5, 14)),
        ("battery", "Merrowick Stillmat 75", "M3", date(2024, 6, 1)),
        ("pit", "", "", date(2019, 5, 14)),
        ("discharge_line", "", "", date(2019, 5, 14)),
        ("liner", "", "", date(2019, 5, 14)),
    ]
    sizes = {part.part_kind: part.size_m for part in got.parts if part.size_m}
    assert sizes == pytest.approx({"pit": 0.4572, "discharge_line": 0.0381, "liner": 36.576})
    assert [part.written for part in got.parts if part.part_kind == "discharge_line"] == ['1½" PVC']


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (("Ana Carrow", ""), "owner_missing"),
        (("101 Weir St", ""), "street_missing"),
        (("101 Weir St", "PO Box 9"), "street_po_box"),
        (("Larkmere", "?"), "town_missing"),
        (("17099", ""), "postcode_missing"),
        (("5/14/2019", ""), "installed_missing"),
        (("5/14/2019", "5/14/2027"), "date_future"),
        (("Ana Carrow", "A" * 161), "too_long"),
        (("NF1", "9" * 61), "too_long"),
        (("NF1,", "NF1,,extra"), "too_many_cells"),
    ],
)
def test_what_no_row_may_lack_or_hold_is_an_error(change: tuple[str, str], code: str) -> None:
    reading = rows(GOOD.replace(*change))
    assert found(reading) == {2: [code]}
    assert reading.rows == ()


@pytest.mark.parametrize(
    ("pump", "serial", "expected"),
    [
        ("Castwell 33", "NF1", ("Castwell 33", "NF1", [])),
        ("Castwell 33", "", ("Castwell 33", "", ["serial_missing"])),
        ("", "NF1", ("", "NF1", ["model_not_given"])),
        ("yes", "NF1", ("", "NF1", ["model_not_given"])),
        ("none", "", None),
        ("", "", None),
    ],
)
def test_a_pump_is_taken_from_what_is_known_of_it(
    pump: str, serial: str, expected: tuple[str, str, list[str]] | None
) -> None:
    reading = rows(GOOD.replace("Castwell 33,NF1", f"{pump},{serial}"))
    (row,) = reading.rows
    assert [(part.written, part.serial) for part in row.parts] == ([expected[:2]] if expected else [])
    assert found(reading).get(2, []) == (expected[2] if expected else [])


@pytest.mark.parametrize(
    ("cells", "in_on", "capacity", "expected"),
    [
        ("Stillmat 75,6/1/2024", date(2024, 6, 1), None, []),
        ("Stillmat 75,", date(2019, 5, 14), None, ["battery_date_missing"]),
        ("75 Ah,6/1/2024", date(2024, 6, 1), 75.0, ["model_not_given"]),
        (",6/1/2024", date(2024, 6, 1), None, ["model_not_given"]),
        ("Stillmat 75,6/1/2018", None, None, ["battery_before_system"]),
        ("Stillmat 75,2023", None, None, ["date_unreadable"]),
    ],
)
def test_a_batterys_age_is_its_own(cells: str, in_on: date | None, capacity: float | None, expected: list[str]) -> None:
    header = "Owner,Address,Town,ZIP,Install date,Batt,Batt date"
    reading = read(f"{header}\nAna Carrow,101 Weir St,Larkmere,17099,5/14/2019,{cells}\n")
    assert found(reading).get(2, []) == expected
    got = [(part.in_on, part.capacity_ah) for row in reading.rows for part in row.parts]
    assert got == ([(in_on, capacity)] if in_on else [])


@pytest.mark.parametrize(
    ("header", "cell", "metres", "expected"),
    [
        ("Pit (in)", "18", 0.4572, []),
        ("Pit (cm)", "46", 0.46, []),
        ("Pit", "18", 0.4572, ["unit_assumed"]),
        ("Pit", "18 in", 0.4572, []),
        ("Pit (in)", "46 cm", 0.46, []),
        ("Pit (in)", "18x24", 0.4572, []),
        ("Pit (in)", "46 x 60 cm", 0.46, []),
        ("Pit (in)", "18 in. sealed lid", 0.4572, []),
        ("Pit (in)", "18-24", None, ["length_unreadable"]),
        ("Pit (in)", "yes", None, []),
        ("Liner ft", "120", 36.576, []),
        ("Liner ft", "12000", None, ["length_unlikely"]),
        ("Disch line", '"2"" to daylight"', 0.0508, []),
        ("Disch line", "120 ft", None, []),
        ("Disch line", "PVC to dry well", None, []),
        ("Disch line", "2", 0.0508, ["unit_assumed"]),
    ],
)
def test_sizes_take_the_unit_of_the_cell_before_that_of_the_column(
    header: str, cell: str, metres: float | None, expected: list[str]
) -> None:
    reading = read(f"Owner,Address,Town,ZIP,Install date,{header}\nAna,1 Weir St,Larkmere,17099,5/14/2019,{cell}\n")
    assert found(reading).get(2, []) == expected
    sizes = [part.size_m for row in reading.rows for part in row.parts]
    bad = {"length_unreadable", "length_unlikely"} & set(expected)
    assert sizes == ([] if bad else [metres and pytest.approx(metres)])


def test_what_a_cell_says_beside_its_value_ends_in_the_notes() -> None:
    (row,) = rows(GOOD.replace("555-555-0101", "555-555-0101 / 555-555-0102")).rows
    assert row.phone == "(555) 555-0101"
    assert "555-555-0102" in row.notes


# Rows against rows ------------------------------------------------------------------------------------------------


def test_the_same_row_twice_is_there_once() -> None:
    reading = rows(GOOD, GOOD.replace("101 Weir St", "101 WEIR STREET").replace("555-555-0101", "5555550101"))
    assert [row.line_number for row in reading.rows] == [2]
    assert [(row.line_number, row.code) for row in reading.skipped] == [(3, "already_there")]
    assert "Row 2" in reading.skipped[0].sentence


def test_another_system_joins_the_house() -> None:
    other = GOOD.replace("Basement", "Garage").replace("101 Weir St", "101 Weir Street").replace("NF1", "NF2")
    reading = rows(GOOD, other, other.replace("Garage", "Addition").replace("NF2", "NF3"))
    assert [(row.system_name, row.joins_line) for row in reading.rows] == [
        ("Basement", None),
        ("Garage", 2),
        ("Addition", 2),
    ]
    assert reading.problems == ()


@pytest.mark.parametrize(
    ("change", "column"),
    [
        (("5/14/2019", "5/14/2020"), "Install date"),
        (("Ana Carrow", "Ben Carrow"), "Customer name"),
        (("NF1", "NF2"), "Pump S/N"),
        (("Castwell 33", "Castwell 50"), "Pump model"),
        (("NF1,", "NF1,Moved the pit"), "Notes"),
        (("555-555-0101", ""), "Phone"),
    ],
)
def test_a_row_that_contradicts_names_the_other_row_and_the_column(change: tuple[str, str], column: str) -> None:
    reading = rows(GOOD, "", GOOD.replace(*change))
    assert [row.line_number for row in reading.rows] == [2]
    (problem,) = reading.problems
    assert (problem.line_number, problem.code, problem.column) == (4, "house_conflict", column)
    assert "Row 2" in problem.sentence
    assert column in problem.sentence


def test_another_owner_of_another_system_at_the_same_house_is_asked_about() -> None:
    reading = rows(GOOD, GOOD.replace("Ana Carrow", "Ben Carrow").replace("Basement", "Garage").replace("NF1", "NF2"))
    assert found(reading) == {3: ["house_conflict"]}


def test_another_telephone_at_a_second_system_is_kept_in_the_notes() -> None:
    reading = rows(
        GOOD, GOOD.replace("555-555-0101", "555-555-0102").replace("Basement", "Garage").replace("NF1", "NF2")
    )
    assert found(reading) == {3: ["house_differs"]}
    assert "(555) 555-0102" in reading.rows[1].notes


def test_the_same_apartment_house_is_not_the_same_home() -> None:
    reading = rows(*(GOOD.replace("St,", f"St Apt {n},").replace("NF1", f"NF{n}") for n in (1, 2)))
    assert len(reading.rows) == 2
    assert reading.problems == ()


@pytest.mark.parametrize(
    ("pump", "serial", "expected"),
    [
        ("Castwell 33", "nf-1", {2: ["serial_shared"], 3: ["serial_elsewhere"]}),
        ("Castwell 33", "NF2", {}),
        ("Bigbeck 75", "NF1", {}),  # another maker's number
        ("yes", "NF1", {2: ["serial_shared"], 3: ["model_not_given", "serial_elsewhere"]}),
    ],
)
def test_a_serial_number_at_two_houses_is_asked_about(pump: str, serial: str, expected: dict[int, list[str]]) -> None:
    other = GOOD.replace("101 Weir", "103 Weir").replace("Castwell 33,NF1", f"{pump},{serial}")
    reading = rows(GOOD, other)
    assert found(reading) == expected
    assert len(reading.rows) == (1 if expected else 2)


def test_a_serial_number_at_two_houses_names_both_rows_to_each_other() -> None:
    reading = rows(GOOD, GOOD.replace("101 Weir", "103 Weir"))
    sentences = {problem.line_number: problem.sentence for problem in reading.problems}
    assert "Row 3 (103 Weir St, Larkmere)" in sentences[2]
    assert "Row 2 (101 Weir St, Larkmere)" in sentences[3]


@pytest.mark.parametrize(("others", "expected"), [(5, ["postcode_of_other_town"]), (4, [])])
def test_a_postcode_of_another_town_is_told_by_enough_other_rows(others: int, expected: list[str]) -> None:
    def house(number: int, town: str, postcode: str) -> str:
        return f"Ana,{number} Weir St,{town},{postcode},,5/14/2019,,,,"

    reading = rows(
        *(house(n, "Larkmere", "17099") for n in range(1, others + 1)),
        *(house(n, "Pinchbeck", "17097") for n in range(11, others + 11)),
        house(90, "Larkmere", "17097"),
    )
    assert found(reading).get(2 * others + 2, []) == expected
    assert len(reading.rows) == 2 * others + 1


# The file ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("encoding", "is_assumed"),
    [("utf-8", False), ("utf-8-sig", False), ("utf-16", False), ("utf-16-le", None), ("cp1252", True)],
)
def test_accents_survive_the_usual_encodings(encoding: str, is_assumed: bool | None) -> None:
    data = f"{HEADER}\n{GOOD}\n".replace("Ana Carrow", "Zoë Muñoz").encode(encoding)
    if is_assumed is None:  # UTF-16 without its mark is not told from a binary file
        with pytest.raises(RegisterNotReadable):
            read(data)
        return
    reading = read(data)
    assert reading.rows[0].owner == "Zoë Muñoz"
    assert [doubt.code for doubt in reading.cautions] == (["encoding_assumed"] if is_assumed else [])


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_separator_and_line_ends_are_found(delimiter: str, line_end: str) -> None:
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator=line_end)
    writer.writerow(HEADER.split(","))
    writer.writerow([*GOOD.split(",")[:-1], 'He said: "after 5", then; left\tearly'])
    reading = read(out.getvalue())
    assert reading.delimiter == delimiter
    assert reading.rows[0].notes == 'He said: "after 5", then; left\tearly'


@pytest.mark.parametrize(
    "header",
    [
        "Cust Name,Addr,City,Zip Code,Install Dt",
        "OWNER,STREET ADDRESS,TOWN,ZIP,DATE INSTALLED",
        "homeowner,site address,Town/City,Postal code,installed",
        " Client Name ,Property Address,Municipality,ZIP/Postcode,Inst. Date",
        "Name,Address,Town,Zip,Installation date",
    ],
)
def test_columns_are_known_by_many_names(header: str) -> None:
    reading = read(f"{header}\nAna Carrow,101 Weir St,Larkmere,17099,5/14/2019\n")
    assert len(reading.rows) == 1
    assert reading.unknown_columns == ()


def test_first_and_last_name_in_two_columns_are_one_owner() -> None:
    reading = read("Last Name,First Name,Addr,Town,ZIP,Installed\nCarrow,Ana,101 Weir St,Larkmere,17099,5/14/2019\n")
    assert reading.rows[0].owner == "Ana Carrow"


def test_a_second_column_of_the_same_name_is_kept_and_reported() -> None:
    reading = read(f"{HEADER},Notes,Truck\n{GOOD}first,second,Blue\n")
    assert reading.unknown_columns == ("Notes", "Truck")
    assert reading.rows[0].notes == "first"
    assert reading.rows[0].other_columns == (("Notes", "second"), ("Truck", "Blue"))
    assert [doubt.code for doubt in reading.cautions] == ["unknown_columns"]


def test_the_header_is_found_below_titles_and_rows_keep_their_spreadsheet_numbers() -> None:
    reading = read(
        f'All customers,,\n\n{HEADER}\n{GOOD[:-1]},"two\nlines"\n\n{GOOD.replace("101", "103").replace("NF1", "NF2")}\n'
    )
    assert reading.header_line == 3
    assert [row.line_number for row in reading.rows] == [4, 6]


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (",,,,,,,,,", "blank_row"),
        ("  ,, ,,,,,,,", "blank_row"),
        ("Total,,,,,,,,,14", "total_row"),
        ("GRAND TOTAL:,,,,,,,,,", "total_row"),
        (",,,,,,,,Subtotal 12,", "total_row"),
        (HEADER, "repeated_header"),
        (HEADER.upper(), "repeated_header"),
    ],
)
def test_rows_that_hold_nothing_are_skipped(line: str, code: str) -> None:
    reading = rows(GOOD, line)
    assert [(row.line_number, row.code) for row in reading.skipped] == [(3, code)]
    assert reading.outcomes()[3] is Outcome.SKIPPED


def test_an_owner_called_total_is_no_total() -> None:
    reading = rows(GOOD.replace("Ana Carrow", "Total"))
    assert [row.owner for row in reading.rows] == ["Total"]


def workbook() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "refusal", "words"),
    [
        (b"", RegisterEmpty, "empty"),
        (b" \r\n\n", RegisterEmpty, "empty"),
        (workbook(), RegisterNotReadable, ".xlsx"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(64), RegisterNotReadable, ".xls"),
        (b"%PDF-1.7\n", RegisterNotReadable, "PDF"),
        (b"<!DOCTYPE html><table><tr><td>Name</td></tr></table>", RegisterNotReadable, "web page"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", RegisterNotReadable, "not a text file"),
        (b"Owner,Address\n\x81\x8d", RegisterNotReadable, "not a text file"),
        (b"just some words\nand more of them\n", RegisterWithoutHeader, "column names"),
        (HEADER.encode(), RegisterWithoutRows, "no rows"),
        (f"{HEADER}\n,,,,\n".encode(), RegisterWithoutRows, "no rows"),
        (b"Owner,Phone,E-mail,Town\nAna,,,Larkmere\n", RegisterLacksColumns, "the street and number"),
        (f'{HEADER}\n{GOOD}"never closed\n{(GOOD + chr(10)) * 60}'.encode(), QuoteNeverClosed, "row 2"),
    ],
)
def test_a_file_that_is_no_register_is_refused_with_a_sentence(data: bytes, refusal: type[Refusal], words: str) -> None:
    with pytest.raises(refusal) as caught:
        read(data)
    assert words in caught.value.sentence
    assert caught.value.sentence.endswith(".")


def test_missing_columns_are_all_named() -> None:
    with pytest.raises(RegisterLacksColumns) as caught:
        read("Owner,Phone,E-mail,Town\nAna,,,Larkmere\n")
    for words in ("the street and number", "the ZIP code", "the day of installation"):
        assert words in caught.value.sentence
    assert "the town" not in caught.value.sentence


# What goes back to the office -------------------------------------------------------------------------------------


def test_the_bad_rows_come_back_in_their_own_columns_with_what_to_mend(demo: RegisterReading) -> None:
    table = list(csv.reader(io.StringIO(bad_rows_csv(demo))))
    assert table[0] == [*demo.header, "line", "what to mend"]
    bad = [line for line, outcome in demo.outcomes().items() if outcome is Outcome.BAD]
    assert [int(row[-2]) for row in table[1:]] == bad
    sources = {source.line_number: source.cells for source in demo.sources}
    for row in table[1:]:
        width = len(demo.header)
        unguarded = [cell[1:] if cell[:2] in {"'+", "'-", "'=", "'@"} else cell for cell in row[:width]]
        assert unguarded == list(sources[int(row[-2])][:width])
        assert row[-1].endswith(".")


def test_the_mended_file_can_be_fed_again() -> None:
    reading = rows(
        GOOD.replace("5/14/2019", "spring 2019"),
        GOOD.replace("101 Weir", "103 Weir").replace("17099", "1709").replace("555-555-0101", "+1 555 555 0102"),
        GOOD.replace("101 Weir", "105 Weir").replace("NF1", "NF9"),
    )
    back = bad_rows_csv(reading)
    again = read(back)
    assert again.unknown_columns == ()
    assert sorted(code for codes in found(again).values() for code in codes) == ["date_unreadable", "postcode_bad"]
    mended = read(back.replace("spring 2019", "5/14/2019").replace(",1709,", ",17099,").replace("NF1", "NF7", 1))
    assert [(row.street, row.phone) for row in mended.rows] == [
        ("101 Weir St", "(555) 555-0101"),
        ("103 Weir St", "(555) 555-0102"),
    ]
    assert mended.problems == ()
    still_bad = bad_rows_csv(again)
    assert still_bad.splitlines()[0].count("what to mend") == 1
    assert [row[-2] for row in csv.reader(io.StringIO(still_bad))] == ["line", "2", "3"]


@pytest.mark.parametrize("start", ["=1+1", "+1 555", "-", "@SUM(A1)"])
def test_cells_that_a_spreadsheet_would_compute_are_guarded_and_read_back(start: str) -> None:
    # OWASP ASVS 5.0, 1.2.10 (from memory): a single quote before =, +, -, @, tab at the start of an exported cell.
    reading = rows(f"{start},101 Weir St,Larkmere,,,5/14/2019,,,,{start}")
    back = bad_rows_csv(reading)
    table = list(csv.reader(io.StringIO(back)))
    assert (table[1][0], table[1][9]) == (f"'{start}", f"'{start}")
    assert read(back).sources[0].cells[0] == start
    assert all(not row[3].startswith(("=", "+", "-", "@")) for row in csv.reader(io.StringIO(report_csv(reading))))


def test_the_bad_rows_keep_the_separator_of_their_file() -> None:
    text = f"{HEADER}\n{GOOD.replace('17099', '')}\n".replace(",", ";")
    assert bad_rows_csv(read(text)).splitlines()[0] == HEADER.replace(",", ";") + ";line;what to mend"


def test_the_report_has_a_line_for_every_finding_and_every_row() -> None:
    reading = rows(GOOD, "", GOOD.replace("101", "103").replace("17099", "").replace("NF1", ""))
    assert [(line.line_number, line.outcome.value, line.column, line.code) for line in report_rows(reading)] == [
        (2, "good", "", ""),
        (3, "skipped", "", "blank_row"),
        (4, "bad", "ZIP", "postcode_missing"),
        (4, "bad", "Pump S/N", "serial_missing"),
    ]
    table = list(csv.reader(io.StringIO(report_csv(reading))))
    assert table[0] == ["row", "outcome", "column", "value", "reason"]
    assert len(table) == 5


def test_every_row_of_the_demo_register_stands_in_the_report(demo: RegisterReading) -> None:
    lines = report_rows(demo)
    assert [*dict.fromkeys(line.line_number for line in lines)] == list(range(4, 404))
    assert len([line for line in lines if line.outcome is Outcome.BAD and line.reason]) >= 62
