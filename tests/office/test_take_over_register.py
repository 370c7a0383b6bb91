"""Taking over an old register: good rows in, bad rows to a file, the same file twice changes nothing."""

from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from contractor.accounts.models import User
from contractor.checkups.models import OutsideRecord
from contractor.core import clock
from contractor.core.models import AuditEntry
from contractor.office.first_setup import load_catalogue
from contractor.properties.models import Ownership, Property
from contractor.systems.models import AsBuilt, Component, System

FILE = Path(settings.FIXTURES) / "demo" / "old_register.csv"
pytestmark = pytest.mark.django_db


def run(*options: str) -> str:
    out = StringIO()
    call_command("import_register", *options, stdout=out)
    return out.getvalue()


@pytest.fixture
def catalogue(nora: User, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: date(2026, 11, 25))
    load_catalogue(by=nora, at=clock.now())


def test_a_dry_run_reports_every_row_and_writes_nothing(catalogue: None) -> None:
    written = AuditEntry.objects.count()
    report = run(str(FILE))
    assert "175 good, 148 good with cautions, 62 bad, 15 skipped." in report
    assert "dry run" in report
    assert "line 398: bad: ZIP:" in report
    assert AuditEntry.objects.count() == written
    assert Property.objects.count() == 0


def test_good_rows_are_taken_over_once_and_bad_ones_go_to_a_file(catalogue: None, nora: User, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    assert "323 taken over" in run(str(FILE), "--take-over", nora.email, "--bad-rows", str(bad))
    assert System.objects.count() == 323
    assert Property.objects.count() <= 323
    assert Ownership.objects.open_ended().count() == Property.objects.count()
    assert Component.objects.filter(part_kind="primary_pump", model__isnull=False).exists()
    assert OutsideRecord.objects.accepted().filter(by_us=True).exists()
    before = AuditEntry.objects.count()
    again = run(str(FILE), "--take-over", nora.email)
    assert "0 taken over" in again
    assert "323 already there" in again
    assert AuditEntry.objects.count() == before
    # The file of bad rows can be fed again: what was wrong with a row itself still is. Ten rows were bad only beside
    # another line of the whole file; alone they read well, and the tables decide about them.
    assert "52 bad, 0 skipped." in run(str(bad))


def test_sizes_that_the_register_gives_are_kept_as_built(catalogue: None, nora: User) -> None:
    """1 in = 25.4 mm exactly: international yard and pound agreement of 1959 (NIST SP 811, B.8)."""
    rows = [
        "Name,Street,Town,State,ZIP,Installed,Pump,Batt,Pit (in),Disch line",
        "Ada Quill,3 Weir Street,Larkmere,PA,17099,05/14/2020,yes,75 Ah,18,2 in PVC",
        "Bo Quill,5 Weir Street,Larkmere,PA,17099,05/14/2020,yes,,yes,",
    ]
    file = Path(settings.MEDIA_ROOT) / "register.csv"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text("\n".join(rows))
    assert "2 taken over" in run(str(file), "--take-over", nora.email)
    first = System.objects.get(property__street="3 Weir Street")
    assert (first.as_built.pit_diameter_m, first.as_built.bore_m) == (pytest.approx(0.4572), pytest.approx(0.0508))
    assert (first.as_built.pit_depth_m, first.as_built.measured_by) == (None, None)
    assert "Battery in the old register: 75 Ah." in first.notes
    assert not AsBuilt.objects.filter(system__property__street="5 Weir Street").exists()


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (("nowhere.csv",), "can't be read"),
        ((str(FILE), "--take-over", "stranger@example.com"), "Nobody on the staff"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(catalogue: None, options: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(CommandError, match=sentence):
        run(*options)
