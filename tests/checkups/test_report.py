"""The report as PDF: what was measured, found and swapped stands in it, and nothing else."""

import hashlib
import io
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

from contractor.checkups import reports
from contractor.checkups.actions.checkup import finish_checkup, sign, swap_component
from contractor.checkups.actions.evidence import add_photo, close_finding, raise_finding
from contractor.checkups.actions.reporting import make_report
from contractor.checkups.models import CheckUp
from contractor.checkups.reports import report_context
from contractor.systems.models import Component
from tests.checkups import factories as made
from tests.warranties.verapdf import judge


def words(checkup: CheckUp, at: datetime) -> tuple[str, int]:
    """The text of a check-up's report, spaces and line ends made one, and its number of pages."""
    report = make_report(checkup_id=checkup.pk, at=at)
    with report.file.open("rb") as file:
        reader = PdfReader(io.BytesIO(file.read()))
    text = " ".join(page.extract_text() for page in reader.pages)
    return " ".join(text.split()), len(reader.pages)


def test_a_good_checkup_says_so_with_its_figures_and_limits(checkup: CheckUp, at: datetime) -> None:
    text, pages = words(made.finished(checkup, at), at)
    assert "Everything that was checked is in order." in text
    assert "12 Millrace Lane" in text
    assert "Theo Marsh" in text
    assert "12.7 V at least 12.4 V" in text
    # 18 in wide, 3 in in a minute: 763.4 cubic inches, 231 to the US gallon (NIST Handbook 44).
    assert "3.3 gal/min" in text
    assert "68 °F" in text
    assert "not a promise" in text
    assert "What we found" not in text
    assert pages <= 3


def test_last_times_figure_stands_beside_this_times(
    checkup: CheckUp, parts: dict[str, Component], at: datetime
) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "12.9", "unit": "V"}})
    later = at + timedelta(days=365)
    again = made.begun(checkup.system, checkup.technician, later.date(), later)
    text, _ = words(made.finished(again, later), later)
    assert "12.7 V at least 12.4 V 12.9 V" in text


def test_a_swap_is_told_with_what_came_out_and_what_went_in(
    checkup: CheckUp, parts: dict[str, Component], at: datetime
) -> None:
    row, _ = made.line(checkup, "rest-volts")
    made.answer(checkup, "rest-volts", at, typed="11.2", unit="V")
    found = raise_finding(
        checkup_id=checkup.pk,
        severity="bad",
        what="The battery holds only 11.2 V at rest.",
        by_user=checkup.technician,
        at=at,
        item_id=row.pk,
        component_id=parts["battery"].pk,
    )
    add_photo(
        checkup_id=checkup.pk,
        content=made.picture("olive"),
        by_user=checkup.technician,
        at=at,
        item_id=row.pk,
        component_id=parts["battery"].pk,
    )
    swap_component(
        checkup_id=checkup.pk,
        component_id=parts["battery"].pk,
        model_id=parts["battery"].model_id,
        serial_number="B-200",
        because="Tested weak",
        failed=True,
        by_user=checkup.technician,
        on=checkup.done_on,
        at=at,
    )
    close_finding(finding_id=found.pk, note="New battery put in.", by=checkup.technician.actor, at=at)
    text, pages = words(made.finished(checkup, at), at)
    assert "what was found was put right on the spot" in text
    assert "The battery holds only 11.2 V at rest." in text
    assert "New battery put in." in text
    assert "B-100" in text
    assert "B-200" in text
    assert "Tested weak" in text
    assert pages <= 3


def test_what_is_open_is_said_first_with_what_to_do(checkup: CheckUp, at: datetime) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    text, _ = words(checkup, at)
    assert "One thing has to be put right." in text
    assert "11.2 V is below the 12.4 V needed" in text
    assert "Replace the battery." in text
    assert "(555) 555-0100" in text


def test_a_reason_for_not_possible_is_told(checkup: CheckUp, at: datetime) -> None:
    locked = {"condition": "not_possible", "because": "The shelf is locked"}
    made.finished(checkup, at, instead={"rest-volts": locked})
    text, _ = words(checkup, at)
    assert "The shelf is locked" in text


def test_nobody_at_home_is_said_instead_of_a_name(checkup: CheckUp, at: datetime) -> None:
    made.answer_all(checkup, at)
    made.signed(checkup, at, kind="nobody_home")
    finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)
    text, _ = words(checkup, at)
    assert "Nobody was at home to sign." in text
    assert "went through this check-up with me" not in text


def test_a_drawn_signature_is_drawn(checkup: CheckUp, at: datetime) -> None:
    strokes = [[[0.1, 0.5], [0.4, 0.2]]]
    sign(checkup_id=checkup.pk, kind="drawn", name="Iris Holloway", strokes=strokes, at=at, by=checkup.technician.actor)
    assert report_context(checkup)["signature_path"] == "M60.0 100.0 L240.0 40.0"


def test_a_report_can_be_read_aloud(checkup: CheckUp, at: datetime) -> None:
    """ISO 32000-1, 14.7 and 14.8: a tagged PDF says so, has a structure tree, a language and a title."""
    report = make_report(checkup_id=made.finished(checkup, at).pk, at=at)
    with report.file.open("rb") as file:
        reader = PdfReader(io.BytesIO(file.read()))
    root = reader.root_object
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert "/StructTreeRoot" in root
    assert str(root["/Lang"]).startswith("en")
    assert reader.metadata is not None
    assert "12 Millrace Lane" in str(reader.metadata.title)


def test_a_report_keeps_every_rule_of_the_standard_for_accessible_documents(
    checkup: CheckUp, parts: dict[str, Component], at: datetime, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ISO 14289-1 (PDF/UA-1), judged by the veraPDF rules, with a photo, a finding and a drawn signature in it.

    The negative control is the same report with its marks left in the tags: 7.3 asks every figure for a text.
    """
    row, _ = made.line(checkup, "rest-volts")
    made.answer_all(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    add_photo(
        checkup_id=checkup.pk,
        content=made.picture("olive"),
        by_user=checkup.technician,
        at=at,
        item_id=row.pk,
        component_id=parts["battery"].pk,
    )
    strokes = [[[0.1, 0.5], [0.4, 0.2]]]
    sign(checkup_id=checkup.pk, kind="drawn", name="Iris Holloway", strokes=strokes, at=at, by=checkup.technician.actor)
    finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)
    good, bad = tmp_path / "good.pdf", tmp_path / "bad.pdf"
    good.write_bytes(reports.report_pdf(checkup))
    monkeypatch.setattr(reports, "hide_repeating_pictures", lambda _document, _pdf: None)
    bad.write_bytes(reports.report_pdf(checkup))
    right, wrong = judge(("PDFUA-1", good), ("PDFUA-1", bad))
    assert right == (True, set())
    assert {(clause, number) for clause, number, _ in wrong[1]} == {("7.3", 1)}


def test_a_report_is_made_once_and_is_the_file_whose_hash_is_kept(checkup: CheckUp, at: datetime) -> None:
    made.finished(checkup, at)
    first = make_report(checkup_id=checkup.pk, at=at)
    with first.file.open("rb") as file:
        content = file.read()
    assert hashlib.sha256(content).hexdigest() == first.sha256
    # What happens later is not written into a report that the owner has already got.
    checkup.system.property.street = "99 Renamed Road"
    checkup.system.property.save()
    second = make_report(checkup_id=checkup.pk, at=at + timedelta(days=30))
    assert (second.pk, second.file.name, second.made_at) == (first.pk, first.file.name, at)
    with second.file.open("rb") as file:
        assert file.read() == content


def test_a_stroke_without_points_is_left_out_of_the_drawing(checkup: CheckUp, at: datetime) -> None:
    strokes = [[], [[0.1, 0.5], [0.4, 0.2]]]
    sign(checkup_id=checkup.pk, kind="drawn", name="Iris", strokes=strokes, at=at, by=checkup.technician.actor)
    assert report_context(checkup)["signature_path"] == "M60.0 100.0 L240.0 40.0"


def test_a_finding_that_is_put_right_after_the_end_stays_in_the_report_as_it_was(
    checkup: CheckUp, at: datetime
) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    before, _ = words(checkup, at)
    close_finding(finding_id=checkup.findings.get().pk, note="New battery.", by=checkup.technician.actor, at=at)
    after, _ = words(checkup, at)
    assert before == after
    assert "New battery." not in after
