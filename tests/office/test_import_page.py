"""The import page: a dry run of the uploaded file, then the good rows step by step, and the bad ones to mend."""

import csv
import io
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.models import AuditEntry
from contractor.office.actions import ROWS_AT_A_TIME, keep_register
from contractor.office.first_setup import load_catalogue
from contractor.office.forms import IMPORT_LISTS, MOST_BYTES, MOST_LINES
from contractor.office.register_columns import SYNONYMS, columns_of
from contractor.office.register_file import read_register
from contractor.office.register_review import Fate
from contractor.office.register_rows import Outcome
from contractor.office.register_template import TEMPLATE
from contractor.office.register_uploads import LASTS
from contractor.office.tasks import forget_uploads
from contractor.properties.models import Property
from contractor.systems.models import CatalogueModel, System
from tests.factories import PropertyFactory, SystemFactory

ON = date(2026, 11, 25)
OLD_REGISTER = (Path(settings.FIXTURES) / "demo" / "old_register.csv").read_bytes()
HEADER = "Customer name,Address,Town,ZIP,Install date,System\r\n"
GOOD = "Iris Holloway,12 Millrace Lane,Larkmere,17099,5/14/2019,Basement\r\n"
SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: ON)


@pytest.fixture
def desk(nora: User, signed_in_as: SignIn) -> Client:
    return signed_in_as(nora)


def send(browser: Client, data: bytes, name: str = "old_register.csv") -> str:
    """Uploads a file and returns the address of its dry run."""
    answer = browser.post(reverse("office:import_register"), {"register": SimpleUploadedFile(name, data)})
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"])


def seen(browser: Client, address: str) -> str:
    """A page's words, with every gap as one space."""
    answer = browser.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def counted(browser: Client, address: str) -> dict[str, int]:
    return {str(fate): count for fate, _, _, count in browser.get(address).context["counts"]}


def take_over(browser: Client, address: str) -> int:
    """Takes over as the page does, step by step until it leads on; returns how many steps it took."""
    for step in range(1, 1000):
        answer = browser.post(f"{address}take-over/", headers={"HX-Request": "true"})
        assert answer.status_code == 200
        if "HX-Redirect" in answer.headers:
            assert answer["HX-Redirect"] == address
            return step
        assert 'hx-trigger="submit, load delay:50ms"' in answer.content.decode()
    raise AssertionError("The taking over never came to its end.")


def files() -> list[Path]:
    return sorted((Path(settings.MEDIA_ROOT) / "imports").rglob("*.*"))


def rows(count: int, *, first: int = 1) -> str:
    """Good rows of as many houses."""
    return "".join(
        f"Owner {number},{number} Weir Road,Larkmere,17099,5/14/2019,Basement\r\n"
        for number in range(first, first + count)
    )


# ---- the file


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "This file is empty."),
        (b" \r\n\r\n", "This file is empty."),
        (b"PK\x03\x04rest of a workbook", "is a spreadsheet workbook (.xlsx or .ods), not a CSV file."),
        (b"%PDF-1.7 rest", "is a PDF, not a CSV file."),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "is not a text file."),
        # UTF-16 without its mark, and a byte that Windows-1252 leaves without a letter.
        ((HEADER + GOOD).encode("utf-16-le"), "is not a text file."),
        ((HEADER + GOOD).encode() + b"\x81", "in an alphabet that can&#x27;t be told"),
        (b"Dear office, please find the list below.\r\n", "No row with column names was found"),
        (b"Customer name,Town,ZIP,Install date\r\nIris,Larkmere,17099,5/14/2019\r\n", "the street and number"),
        (HEADER.encode(), "There are column names but no rows below them."),
        (HEADER.encode() + b"\r\n" * MOST_LINES, "more than 10,000 rows"),
        (b"x" * (MOST_BYTES + 1), "larger than 5 MB"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_beside_its_field_and_not_kept(
    data: bytes, sentence: str, desk: Client
) -> None:
    answer = desk.post(reverse("office:import_register"), {"register": SimpleUploadedFile("a.csv", data)})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert list(answer.context["form"].errors) == ["register"]
    assert sentence in page
    assert "data-error-summary" in page
    assert files() == []


def test_no_file_at_all_is_asked_for(desk: Client) -> None:
    assert "Choose the file that holds the register." in desk.post(reverse("office:import_register")).content.decode()


def test_the_template_names_every_field_that_is_understood_and_by_every_name_that_the_page_gives() -> None:
    found = columns_of([column.header for column in TEMPLATE])
    assert found.missing() == ()
    assert found.unknown == ()
    assert {column.field for column in TEMPLATE} == set(SYNONYMS) - {"owner_first", "owner_last"}
    for column in TEMPLATE:
        for name in (column.header, *column.also):
            assert list(columns_of([name]).by_field) == [column.field], name
    alone = {column.field for column in TEMPLATE if column.is_needed}
    assert columns_of([column.header for column in TEMPLATE if column.field in alone]).missing() == ()
    for field in alone:
        assert columns_of([column.header for column in TEMPLATE if column.field != field]).missing()


def test_the_row_that_the_page_shows_as_an_example_reads_without_a_caution(desk: Client, nora: User) -> None:
    load_catalogue(by=nora, at=clock.now())
    header = desk.get(reverse("office:import_template")).content
    shown = desk.get(reverse("office:import_register")).context["columns"]
    out = io.StringIO()
    csv.writer(out).writerow([example for _, example in shown])
    address = send(desk, header + out.getvalue().encode())
    assert counted(desk, address) == {"good": 1, "cautions": 0, "bad": 0, "skipped": 0, "present": 0}
    take_over(desk, address)
    assert System.objects.get().components.filter(model__isnull=False).count() == 3


def test_the_template_as_it_is_downloaded_opens_in_a_spreadsheet_program_and_holds_no_row(desk: Client) -> None:
    answer = desk.get(reverse("office:import_template"))
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert "attachment" in answer["Content-Disposition"]
    assert answer.content.startswith(b"\xef\xbb\xbf")
    again = desk.post(reverse("office:import_register"), {"register": SimpleUploadedFile("t.csv", answer.content)})
    assert "no rows below them" in again.content.decode()


# ---- the dry run


def test_a_dry_run_counts_reports_every_row_and_writes_nothing(desk: Client, nora: User) -> None:
    load_catalogue(by=nora, at=clock.now())
    written = AuditEntry.objects.count()
    address = send(desk, OLD_REGISTER)
    page = seen(desk, address)
    # The same figures as the command's own dry run of the demo file.
    assert counted(desk, address) == {"good": 175, "cautions": 148, "bad": 62, "skipped": 15, "present": 0}
    assert "323 rows can be taken over: 175 good and 148 with cautions." in page
    assert "nothing is written yet" in page
    assert (AuditEntry.objects.count(), Property.objects.count()) == (written, 0)


def test_the_report_is_filtered_and_paged_and_every_row_stands_on_one_page(desk: Client) -> None:
    address = send(desk, OLD_REGISTER)
    counts = counted(desk, address)
    for show, total in [("", 400), *counts.items()]:
        numbers: list[int] = []
        for page in range(1, 20):
            answer = desk.get(address, {"show": show, "page": page})
            numbers += [row.line_number for row, _, _ in answer.context["shown"]]
            assert len(answer.context["shown"]) <= 50
            if not answer.context["next_url"]:
                break
        assert len(numbers) == len(set(numbers)) == total, show


@pytest.mark.parametrize("asked", ["?show=all", "?page=0", "?page=x", "?page=99999999999999999999", "?show=bad&page=7"])
def test_a_page_that_is_not_there_is_answered_with_one_that_is(asked: str, desk: Client) -> None:
    assert desk.get(send(desk, (HEADER + GOOD).encode()) + asked).status_code == 200


def test_a_bad_row_is_told_with_number_column_value_and_what_to_do(desk: Client) -> None:
    address = send(desk, (HEADER + GOOD + "Ben,9 Weir Road,Larkmere,1709,5/14/2019,\r\n").encode())
    page = seen(desk, f"{address}?show=bad")
    assert '<span class="row-word">Row </span>3' in page
    assert '<strong>ZIP</strong> <span class="cell-text">1709</span>:' in page
    assert "Stays out until it is mended." in page
    assert "Iris Holloway" not in page


def test_the_report_says_what_each_row_does_to_the_register(desk: Client) -> None:
    there = PropertyFactory(street="12 Millrace Lane", city="Larkmere", postcode="17099")
    further = "Iris Holloway,12 Millrace Lane,Larkmere,17099,5/14/2019,Crawl space\r\n"
    second = rows(1) + rows(1).replace("Basement", "Crawl space")
    address = send(desk, (HEADER + GOOD + further + second + "\r\n").encode())
    SystemFactory(property=there, name="Basement")
    effects = {row.line_number: row.effect for row, _, _ in desk.get(address).context["shown"]}
    assert effects == {
        2: "Changes nothing.",
        3: "Adds the system “Crawl space” to a house that is in the register.",
        4: "Registers the house.",
        5: "Adds the system “Crawl space” to the house of row 4.",
        6: "Holds nothing to import.",
    }
    leads = {row.line_number for row, _, _ in desk.get(address).context["shown"] if row.property_id == there.pk}
    assert leads == {2, 3}
    assert reverse("office:house", args=[there.pk]) in seen(desk, address)


def test_what_stands_in_a_file_is_shown_as_text(desk: Client) -> None:
    evil = HEADER + "<script>alert(1)</script>,1 <b>Weir</b> Road,Larkmere,<i>,5/14/2019,\r\n"
    page = seen(desk, send(desk, evil.encode(), name="<img>.csv"))
    assert not any(tag in page for tag in ("<script>alert", "<b>Weir", "<i>", "<img>"))
    assert "&lt;script&gt;alert(1)" in page


@pytest.mark.parametrize("count", [60, 4000])
def test_the_report_asks_the_tables_as_often_for_few_rows_as_for_many(count: int, desk: Client) -> None:
    address = send(desk, (HEADER + rows(count)).encode())
    with CaptureQueriesContext(
        connection,
    ) as asked:
        answer = desk.get(address, {"page": 2})
    assert len(answer.context["shown"]) == min(count - 50, 50)
    # Session, user, company (twice: page and reader), catalogue, and the houses that are registered.
    assert len(asked) == 6


def test_the_lists_of_the_form_are_the_fates_of_rows() -> None:
    assert [code for code, _ in IMPORT_LISTS if code] == [fate.value for fate in Fate]


# ---- taking over


def test_good_rows_are_taken_over_step_by_step_and_the_same_file_again_changes_nothing(
    desk: Client, nora: User
) -> None:
    load_catalogue(by=nora, at=clock.now())
    address = send(desk, OLD_REGISTER)
    assert take_over(desk, address) == -(-323 // ROWS_AT_A_TIME)
    assert System.objects.count() == 323
    page = seen(desk, address)
    assert "323 rows were taken over.</strong> 0 were in the register before. 62 bad rows wait" in page
    assert reverse("office:houses") in page
    assert counted(desk, address) == {"good": 0, "cautions": 0, "bad": 62, "skipped": 15, "present": 323}
    written = AuditEntry.objects.count()
    assert AuditEntry.objects.filter(verb="system installed", actor=nora.actor.ref).count() == 323
    again = send(desk, OLD_REGISTER)
    page = seen(desk, again)
    assert "All 323 good rows of this file are in the register already." in page
    assert "Take over" not in page
    take_over(desk, again)
    assert "No row was taken over.</strong> 323 were in the register before." in seen(desk, again)
    assert AuditEntry.objects.count() == written


def test_without_scripts_each_press_takes_the_next_rows_and_says_how_far_it_is(desk: Client) -> None:
    total = ROWS_AT_A_TIME + 3
    address = send(desk, (HEADER + rows(total)).encode())
    answer = desk.post(f"{address}take-over/")
    assert (answer.status_code, answer["Location"]) == (302, address)
    page = seen(desk, address)
    assert f"{ROWS_AT_A_TIME} of {total} rows are done." in page
    assert f'<progress max="{total}" value="{ROWS_AT_A_TIME}"' in page
    assert "Go on with 3 rows" in page
    assert "load delay" not in page, "Opening the page must not go on by itself."
    desk.post(f"{address}take-over/")
    assert f"{total} rows were taken over." in seen(desk, address)


def test_a_step_that_was_broken_off_before_it_was_noted_is_done_again_without_harm(desk: Client) -> None:
    address = send(desk, (HEADER + rows(ROWS_AT_A_TIME + 3)).encode())
    [state] = [path for path in files() if path.suffix == ".json"]
    desk.post(f"{address}take-over/")
    behind = state.read_text()
    desk.post(f"{address}take-over/")
    written = AuditEntry.objects.count()
    state.write_text(behind)
    desk.post(f"{address}take-over/")
    assert AuditEntry.objects.count() == written
    assert f"{ROWS_AT_A_TIME + 3} rows were taken over.</strong> 0 were" in seen(desk, address)


def test_rows_that_were_there_before_are_told_from_those_taken_over(desk: Client) -> None:
    take_over(desk, send(desk, (HEADER + rows(4)).encode()))
    address = send(desk, (HEADER + rows(6)).encode())
    assert "2 rows can be taken over: 2 good and 0 with cautions. 4 are in the register already." in seen(desk, address)
    take_over(desk, address)
    assert "2 rows were taken over.</strong> 4 were in the register before." in seen(desk, address)


def test_a_row_that_the_register_refuses_stands_among_the_bad_ones_with_the_reason(desk: Client, nora: User) -> None:
    load_catalogue(by=nora, at=clock.now())
    model = CatalogueModel.objects.filter(part_kind="primary_pump").first()
    header = HEADER.replace("System", "System,Pump,Pump serial")
    there = header + f"Iris,1 Weir Road,Larkmere,17099,5/14/2019,Basement,{model},NF1\r\n"
    take_over(desk, send(desk, there.encode()))
    # The same pump at another house, in a later file: only the tables can know.
    other = header + f"Ben,2 Weir Road,Larkmere,17099,5/14/2019,Basement,{model},NF1\r\n" + rows(1, first=3)
    address = send(desk, other.encode(), name="later.csv")
    assert counted(desk, address)["bad"] == 0
    take_over(desk, address)
    page = seen(desk, address)
    assert "1 was refused; it stands among the bad rows." in page
    assert counted(desk, address) == {"good": 0, "cautions": 0, "bad": 1, "skipped": 0, "present": 1}
    mend = desk.get(f"{address}to-mend.csv").content.decode("utf-8-sig")
    assert "2 Weir Road" in mend
    assert "3 Weir Road" not in mend
    assert "Whole row: " in mend
    assert "refused" not in seen(desk, send(desk, other.encode())), "A new upload begins anew."


def test_a_file_without_a_good_row_offers_nothing_to_take_over(desk: Client) -> None:
    address = send(desk, (HEADER + "Ben,9 Weir Road,Larkmere,1709,5/14/2019,\r\n").encode())
    page = seen(desk, address)
    assert "No row of this file reads well." in page
    assert "take-over/" not in page
    take_over(desk, address)
    assert Property.objects.count() == 0


# ---- downloads


def test_report_and_bad_rows_come_as_files_that_are_named_after_the_register(desk: Client) -> None:
    address = send(desk, OLD_REGISTER, name="Kunden 2019 é.csv")
    report = desk.get(f"{address}report.csv")
    assert "attachment" in report["Content-Disposition"]
    assert "Kunden%202019%20%C3%A9-report.csv" in report["Content-Disposition"]
    lines = list(csv.DictReader(io.StringIO(report.content.decode("utf-8-sig"))))
    assert len({line["row"] for line in lines}) == 400
    mend = desk.get(f"{address}to-mend.csv")
    # What was handed back reads again by itself: 62 rows, each as bad as before or bad only beside other rows.
    reading = read_register(mend.content, known_models=[], on=ON, home_state="PA")
    assert len(reading.sources) == counted(desk, address)["bad"]
    assert list(reading.outcomes().values()).count(Outcome.BAD) > 0


# ---- whose file it is


def test_the_upload_of_another_person_answers_like_one_that_is_not_there(
    desk: Client, ruth: User, signed_in_as: SignIn
) -> None:
    address = send(desk, (HEADER + GOOD).encode())
    other = signed_in_as(ruth)
    missing = address.replace(address.split("/")[-2], str(UUID(int=7)))
    for browser, place in ((other, address), (desk, missing)):
        for path in ("", "report.csv", "to-mend.csv"):
            assert browser.get(place + path).status_code == 404
        for path in ("take-over/", "forget/"):
            assert browser.post(place + path).status_code == 404
    assert "still lies here" not in seen(other, reverse("office:import_register"))
    assert Property.objects.count() == 0
    assert desk.get(address).status_code == 200


def test_technicians_are_refused_and_managers_let_in(
    desk: Client, theo: User, ruth: User, signed_in_as: SignIn
) -> None:
    address = send(desk, (HEADER + GOOD).encode())
    technician = signed_in_as(theo)
    for path in (reverse("office:import_register"), reverse("office:import_template"), address):
        assert technician.get(path).status_code == 403
    assert technician.post(f"{address}take-over/").status_code == 403
    assert "office/import/" in seen(signed_in_as(ruth), reverse("office:setup"))
    assert send(signed_in_as(ruth), (HEADER + GOOD).encode())


def test_no_address_serves_the_file_itself(desk: Client) -> None:
    send(desk, (HEADER + GOOD).encode())
    [kept] = [path for path in files() if path.suffix == ".csv"]
    inside = kept.relative_to(settings.MEDIA_ROOT)
    for address in (f"/{inside}", f"/media/{inside}", f"/static/{inside}"):
        assert desk.get(address).status_code == 404
    assert kept.parent.stat().st_mode & 0o077 == 0, "Other accounts of the machine must not look in."


# ---- how long it stays


def test_a_new_upload_takes_the_place_of_the_old_one(desk: Client) -> None:
    first = send(desk, (HEADER + GOOD).encode())
    second = send(desk, (HEADER + rows(2)).encode())
    assert desk.get(first).status_code == 404
    assert desk.get(second).status_code == 200
    assert len(files()) == 2


def test_a_file_can_be_removed_and_is_found_again_until_then(desk: Client) -> None:
    address = send(desk, (HEADER + GOOD).encode(), name="last_year.csv")
    page = seen(desk, reverse("office:import_register"))
    assert "last_year.csv" in page
    assert address in page
    answer = desk.post(f"{address}forget/", follow=True)
    assert "last_year.csv was removed" in answer.content.decode()
    assert desk.get(address).status_code == 404
    assert files() == []


@pytest.mark.parametrize(
    ("age", "is_left"), [(LASTS - timedelta(minutes=1), True), (LASTS + timedelta(minutes=1), False)]
)
def test_an_upload_is_over_after_a_day_for_everybody(
    age: timedelta, is_left: bool, nora: User, ruth: User, signed_in_as: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent_at = clock.now()
    kept = keep_register(data=(HEADER + GOOD).encode(), name="old.csv", by_user=nora, at=sent_at)
    address = reverse("office:import_review", args=[kept.upload_id])
    browser, other = signed_in_as(nora), signed_in_as(ruth)
    later: datetime = sent_at + age
    monkeypatch.setattr(clock, "now", lambda: later)
    assert browser.get(address).status_code == (200 if is_left else 404)
    assert ("still lies here" in seen(browser, reverse("office:import_register"))) == is_left
    send(other, (HEADER + GOOD).encode())
    assert len(files()) == (4 if is_left else 2)


def test_the_nightly_task_removes_what_nobody_came_back_for(nora: User, monkeypatch: pytest.MonkeyPatch) -> None:
    sent_at = clock.now()
    forget_uploads.delay()
    keep_register(data=(HEADER + GOOD).encode(), name="old.csv", by_user=nora, at=sent_at)
    forget_uploads.delay()
    assert len(files()) == 2
    monkeypatch.setattr(clock, "now", lambda: sent_at + LASTS + timedelta(minutes=1))
    forget_uploads.delay()
    forget_uploads.delay()
    assert files() == []
