"""A check-up by another company, sent in by the owner from the phone."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.actions.records import decide_outside_record
from contractor.checkups.models import OutsideRecord
from contractor.checkups.queries import care_record
from contractor.core import clock
from contractor.properties.models import Ownership
from contractor.systems.models import System

PDF = b"%PDF-1.7\n%an invoice\n"


@pytest.fixture
def address(system: System) -> str:
    return reverse("portal:outside_record", args=[system.pk])


def given(**changes: Any) -> dict[str, Any]:
    """What an owner fills in; the document's name is whatever the phone calls it."""
    return {
        "provider": "Basin Pump Service",
        "done_on": "2026-04-20",
        "what": "Pumps run, battery tested.",
        "document": SimpleUploadedFile("IMG_0042.PDF", PDF, content_type="application/pdf"),
        **changes,
    }


def test_a_record_is_kept_as_it_came_and_waits_for_the_office(
    ownership: Ownership, system: System, address: str, hers: Client
) -> None:
    response = hers.post(address, given())
    assert response["Location"] == reverse("portal:house")
    record = OutsideRecord.objects.get()
    assert (record.system, record.done_on, record.accepted) == (system, date(2026, 4, 20), None)
    assert (record.sent_by, record.by_us) == (f"owner:{ownership.person_id}", False)
    with record.document.open("rb") as file:
        assert file.read() == PDF
    assert "IMG_0042" not in Path(record.document.name).name
    assert care_record(system.pk) == []
    shown = hers.get(reverse("portal:house")).content.decode()
    assert "its answer stands on this page" in shown
    assert "The office is looking at it" in shown


@pytest.mark.parametrize(
    ("accepted", "words"), [(True, "counts like our own check-up"), (False, "The invoice names no pump.")]
)
def test_the_offices_answer_stands_on_the_owners_page(
    accepted: bool, words: str, address: str, hers: Client, nora: User
) -> None:
    hers.post(address, given())
    decide_outside_record(
        record_id=OutsideRecord.objects.get().pk,
        accepted=accepted,
        because="The invoice names no pump.",
        by_user=nora,
        at=clock.now(),
    )
    assert words in hers.get(reverse("portal:house")).content.decode().split("Records you sent in")[1]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"done_on": "2026-05-05"}, "is still to come"),
        ({"done_on": "2020-05-13"}, "The system was installed on May 14, 2020"),
        ({"document": SimpleUploadedFile("a.pdf", b"<script>alert(1)</script>")}, "Send a PDF or a photo"),
        ({"document": SimpleUploadedFile("a.pdf", PDF + b"0" * 10 * 1024 * 1024)}, "up to 10 MB"),
        ({"document": ""}, "required"),
        ({"provider": " "}, "required"),
        ({"what": ""}, "required"),
        ({"done_on": "soon"}, "valid date"),
    ],
    ids=["day ahead", "before installation", "script", "too large", "no document", "nobody", "nothing", "no day"],
)
def test_what_cannot_be_taken_comes_back_with_what_to_do(
    changes: dict[str, Any], sentence: str, address: str, hers: Client
) -> None:
    document = changes.get("document")
    if document:
        document.seek(0)
    shown = hers.post(address, given(**changes)).content.decode()
    assert sentence in shown
    assert "Basin Pump Service" in shown or "provider" in changes
    assert not OutsideRecord.objects.exists()


def test_the_page_of_the_form_is_neither_kept_nor_listed(address: str, hers: Client) -> None:
    response = hers.get(address)
    assert "Invoice or report" in response.content.decode()
    assert "no-store" in response["Cache-Control"]
    assert response["X-Robots-Tag"] == "noindex, nofollow"
