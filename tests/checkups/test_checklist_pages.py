"""The desk's pages of the checklist: an edition with everything it says, and its way out as a file and back in."""

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.checkups.actions.checklists import add_checklist
from contractor.checkups.editions import LOOK_AGAIN, as_data, walk_of
from contractor.checkups.forms import ChecklistFileForm
from contractor.checkups.lines import ITEM_FIELDS
from contractor.checkups.models import Checklist
from contractor.checkups.rules.items import read_checklist, read_item
from contractor.checkups.rules.verdicts import Reading, verdict
from contractor.core.audit import SYSTEM
from contractor.core.models import AuditEntry
from tests.checkups import factories as made

VOLTS = {**made.VOLTS, **made.BAD_BATTERY, "part_kind": "battery", "step": "standby"}
UPLOAD = "checkups:checklist_upload"


@pytest.fixture
def manager(ruth: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(ruth)


def shipped() -> dict[str, Any]:
    """The checklist that ships with the project."""
    data: dict[str, Any] = json.loads(Path(settings.FIXTURES / "checklists/yearly.json").read_text())
    return data


def by_code(item: dict[str, Any]) -> str:
    return str(item["code"])


def edition(at: datetime, *items: dict[str, Any], number: int = 1) -> Checklist:
    data = {"name": "Yearly check-up", "edition": number, "items": list(items or made.ITEMS)}
    return add_checklist(data=data, by=SYSTEM, at=at)


def bands(at: datetime, units: str = "US", **fields: Any) -> list[tuple[str, str]]:
    """Condition and range of each band of one item."""
    Checklist.objects.all().delete()
    ((_, (sheet,)),) = walk_of(edition(at, made.item("it", 1, **fields)), units)
    return [(band.condition, band.range) for band in sheet.bands]


def post(browser: Client, content: bytes | str | dict[str, Any], name: str = "edition.json") -> Any:
    if isinstance(content, dict):
        content = json.dumps(content)
    file = SimpleUploadedFile(name, content.encode() if isinstance(content, str) else content)
    return browser.post(reverse(UPLOAD), {"file": file})


# The limits are those typed in each line; the words are read off the rule: limits are inclusive, outside good but
# inside watch is watch, outside both is bad.
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ({"good_low": 12.4}, [("good", "12.4 V or more"), ("bad", "below 12.4 V")]),
        (
            {"good_low": 12.45, "watch_low": 12.24},
            [("good", "12.45 V or more"), ("watch", "12.24 V to below 12.45 V"), ("bad", "below 12.24 V")],
        ),
        (
            {"good_high": 14.0, "watch_high": 14.4},
            [("good", "14 V or less"), ("watch", "above 14 V up to 14.4 V"), ("bad", "above 14.4 V")],
        ),
        (
            {"good_low": 13.2, "good_high": 14.0, "watch_low": 12.9, "watch_high": 14.4},
            [
                ("good", "13.2 V to 14 V"),
                ("watch", "12.9 V to below 13.2 V, or above 14 V up to 14.4 V"),
                ("bad", "below 12.9 V, or above 14.4 V"),
            ],
        ),
        (
            {"good_low": 13.2, "good_high": 14.0, "watch_low": 12.9},
            [
                ("good", "13.2 V to 14 V"),
                ("watch", "12.9 V to below 13.2 V"),
                ("bad", "below 12.9 V, or above 14 V"),
            ],
        ),
        ({"good_low": 12.4, "watch_low": 12.4}, [("good", "12.4 V or more"), ("bad", "below 12.4 V")]),
        (
            {"good_low": 12.401, "watch_low": 12.4},
            [("good", "12.401 V or more"), ("watch", "12.4 V to below 12.401 V"), ("bad", "below 12.4 V")],
        ),
        ({}, []),
    ],
)
def test_limits_are_told_in_words(at: datetime, limits: dict[str, float], said: list[tuple[str, str]]) -> None:
    assert bands(at, **VOLTS, **limits) == said


# NIST SP 811, appendix B.8: 1 in = 25.4 mm; t/°C = (t/°F - 32)/1.8; 1 US gal/min = 0.06309020 L/s.
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("units", "quantity", "us", "metric", "high", "said"),
    [
        ("US", "length", "in", "mm", 0.0127, "0.5 in or less"),
        ("metric", "length", "in", "mm", 0.0127, "12.7 mm or less"),
        ("US", "temperature", "degF", "degC", 25.0, "77 °F or less"),
        ("metric", "temperature", "degF", "degC", 25.0, "25 °C or less"),
        ("US", "share", "%", "%", 0.6, "60% or less"),
    ],
)
def test_limits_are_told_in_the_units_of_the_company(
    at: datetime, units: str, quantity: str, us: str, metric: str, high: float, said: str
) -> None:
    measured = {"kind": "measurement", "quantity": quantity, "unit_us": us, "unit_metric": metric}
    assert bands(at, units, **measured, good_high=high)[0] == ("good", said)


@pytest.mark.django_db
@pytest.mark.parametrize(("units", "said"), [("US", "20 gal/min or more"), ("metric", "75.7 L/min or more")])
def test_the_limits_of_a_timed_test_are_those_of_the_flow(at: datetime, units: str, said: str) -> None:
    test = {"kind": "timed_test", "quantity": "length", "unit_us": "in", "unit_metric": "cm"}
    pump = {**test, "part_kind": "primary_pump", "step": "primary_pump", "formula": "pump_down_flow"}
    assert bands(at, units, **pump, **made.BAD_BATTERY, good_low=20 * 0.06309020e-3)[0] == ("good", said)


@pytest.mark.django_db
def test_every_edition_that_ships_can_be_told(at: datetime) -> None:
    draft = add_checklist(data=shipped(), by=SYSTEM, at=at)
    for units in ("US", "metric"):
        sheets = [sheet for _, sheets in walk_of(draft, units) for sheet in sheets]
        assert [sheet.row.code for sheet in sheets] == [item.code for item in read_checklist(shipped())]
        judged = {sheet.row.code for sheet in sheets if sheet.bands or sheet.judged}
        assert judged == {item["code"] for item in shipped()["items"] if item["kind"] not in {"note", "photo"}}


@pytest.mark.django_db
def test_a_check_that_says_nothing_for_watch_says_what_its_verdict_would(at: datetime) -> None:
    row = made.item("it", 1)
    ((_, (sheet,)),) = walk_of(edition(at, row), "US")
    said = verdict(read_item(row), Reading(condition="watch"))
    assert [band.to_do for band in sheet.bands if band.condition == "watch"] == [said.to_do] == [LOOK_AGAIN]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "The house, once."),
        ({"part_kind": "pit"}, "Every pit."),
        (
            {"part_kind": "battery", "applies_to": {"chemistry": ["agm", None]}},
            "Every battery where “Chemistry” is Lead-acid, AGM; or not recorded.",
        ),
        (
            {"part_kind": "high_water_alarm", "applies_to": {"sends_messages": [True]}},
            "Every high-water alarm where “Sends messages” is yes.",
        ),
        (
            {"part_kind": "pit", "applies_to": {"is_sealed": [False], "colour": ["blue"]}},
            "Every pit where “colour” is blue, and “Sealed lid” is no.",
        ),
    ],
)
def test_what_an_item_applies_to_is_told_in_words(at: datetime, fields: dict[str, Any], said: str) -> None:
    ((_, (sheet,)),) = walk_of(edition(at, made.item("it", 1, **fields)), "US")
    assert sheet.asked_for == said


def test_the_page_of_an_edition_says_everything_about_an_item(manager: Client, company: Company, at: datetime) -> None:
    fields = {
        **VOLTS,
        "good_low": 12.45,
        "watch_low": 12.24,
        "prompt": "Measure the battery at rest",
        "how": "Probe on the posts.",
        "caution": "No spark near a battery.",
        "when_watch": "Charge it and measure again.",
        "photo": "when_bad",
        "source": "Handbook of made-up batteries, page 3",
        "required": False,
        "applies_to": {"chemistry": ["flooded"]},
    }
    draft = edition(at, made.item("rest", 1, **fields))
    page = manager.get(reverse("checkups:checklist", args=[draft.pk])).content.decode()
    for words in (
        "Measure the battery at rest",
        "Measurement in volts, may be left out",
        "Probe on the posts.",
        "<strong>Caution.</strong> No spark near a battery.",
        "12.45 V or more",
        "12.24 V to below 12.45 V",
        "Charge it and measure again.",
        "below 12.24 V",
        "Replace the battery.",
        "The standby pump stops in the first hour of a power cut.",
        "When something is wrong.",
        "Every battery where “Chemistry” is Lead-acid, flooded.",
        "Handbook of made-up batteries, page 3",
    ):
        assert words in page


def test_the_page_follows_the_units_of_the_company(manager: Client, company: Company, at: datetime) -> None:
    silt = {"kind": "measurement", "quantity": "length", "unit_us": "in", "unit_metric": "mm", "good_high": 0.0254}
    address = reverse("checkups:checklist", args=[edition(at, made.item("silt", 1, **silt)).pk])
    assert "1 in or less" in manager.get(address).content.decode()
    Company.objects.update(units="metric")
    page = manager.get(address).content.decode()
    assert "25.4 mm or less" in page
    assert "1 in or less" not in page


def test_the_page_reads_little_however_long_the_edition(
    manager: Client, at: datetime, django_assert_max_num_queries: Callable[[int], Any]
) -> None:
    draft = add_checklist(data=shipped(), by=SYSTEM, at=at)
    with django_assert_max_num_queries(8):
        assert manager.get(reverse("checkups:checklist", args=[draft.pk])).status_code == 200


def test_an_item_can_be_opened_in_a_draft_only(manager: Client, at: datetime) -> None:
    draft, published = edition(at, number=2), made.published_checklist(at)
    for checklist, is_open in ((draft, True), (published, False)):
        page = manager.get(reverse("checkups:checklist", args=[checklist.pk])).content.decode()
        links = [reverse("checkups:item", args=[pk]) in page for pk in checklist.items.values_list("pk", flat=True)]
        assert set(links) == {is_open}


def test_a_download_comes_back_as_the_next_edition_with_the_same_items(manager: Client, at: datetime) -> None:
    first = add_checklist(data=shipped(), by=SYSTEM, at=at)
    answer = manager.get(reverse("checkups:checklist_file", args=[first.pk]))
    assert answer["Content-Type"] == "application/json"
    assert answer["Content-Disposition"] == 'attachment; filename="checklist-edition-1.json"'
    data = json.loads(answer.content)
    for item, original in zip(sorted(data["items"], key=by_code), sorted(shipped()["items"], key=by_code), strict=True):
        assert {name: item[name] for name in original} == original
    data["edition"] = 2
    taken = post(manager, data)
    second = Checklist.objects.get(edition=2)
    assert taken["Location"] == reverse("checkups:checklist", args=[second.pk])
    assert list(second.items.order_by("code").values_list(*ITEM_FIELDS)) == list(
        first.items.order_by("code").values_list(*ITEM_FIELDS)
    )
    assert {**as_data(second), "edition": 1} == as_data(first)


def test_what_is_uploaded_is_a_draft_in_the_name_of_who_did_it(manager: Client, ruth: User, at: datetime) -> None:
    post(manager, {"name": "Yearly check-up", "edition": 3, "items": list(made.ITEMS)})
    added = Checklist.objects.get()
    assert (added.edition, added.published_at) == (3, None)
    entry = AuditEntry.objects.get(subject=f"checklist:{added.pk}")
    assert (entry.verb, entry.actor) == ("checklist added", f"staff:{ruth.pk}")


def test_a_file_saved_with_a_byte_order_mark_is_read_all_the_same(manager: Client) -> None:
    data = {"name": "Yearly check-up", "edition": 1, "items": list(made.ITEMS)}
    post(manager, json.dumps(data, ensure_ascii=False).encode("utf-8-sig"))
    assert Checklist.objects.count() == 1


def test_the_page_of_the_upload_says_the_next_number(manager: Client, at: datetime) -> None:
    assert manager.get(reverse(UPLOAD)).context["next_edition"] == 1
    edition(at, number=7)
    assert manager.get(reverse(UPLOAD)).context["next_edition"] == 8
    assert reverse(UPLOAD) in manager.get(reverse("checkups:checklists")).content.decode()


GOOD_ITEM = made.item("look", 1)


def with_item(**fields: Any) -> dict[str, Any]:
    return {"name": "Yearly", "edition": 2, "items": [{**GOOD_ITEM, **fields}]}


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "The submitted file is empty."),
        ("not a checklist", "The reading stopped in line 1, character 1."),
        ('{"name": "Yearly",\n  "edition": 2,,}', "The reading stopped in line 2, character 16."),
        (b"%PDF-1.7 \xff\xfe", "can&#x27;t be read as JSON"),
        ('{"name": "Yearly", "edition": 2, "items": [{"good_low": NaN}]}', "can&#x27;t be read as JSON"),
        ('{"name": "Yearly", "edition": 2, "items": [{"good_low": 1e999}]}', "can&#x27;t be read as JSON"),
        ('{"name": "\\ud800", "edition": 2, "items": []}', "can&#x27;t be read as JSON"),
        ("[" * 100_000, "can&#x27;t be read as JSON"),
        ("[1, 2]", "This file is JSON, but no checklist"),
        ('{"name": "Year\\u0000ly", "edition": 2, "items": []}', "This file is JSON, but no checklist"),
        ({"edition": 2, "items": [GOOD_ITEM]}, "Give the checklist a name"),
        ({"name": " ", "edition": 2, "items": [GOOD_ITEM]}, "Give the checklist a name"),
        ({"name": "x" * 81, "edition": 2, "items": [GOOD_ITEM]}, "up to 80 characters"),
        ({"name": "Yearly", "items": [GOOD_ITEM]}, "Give the edition its number"),
        ({"name": "Yearly", "edition": "2", "items": [GOOD_ITEM]}, "Give the edition its number"),
        ({"name": "Yearly", "edition": True, "items": [GOOD_ITEM]}, "Give the edition its number"),
        ({"name": "Yearly", "edition": 0, "items": [GOOD_ITEM]}, "a whole number from 1 to 9,999"),
        ({"name": "Yearly", "edition": 10_000, "items": [GOOD_ITEM]}, "a whole number from 1 to 9,999"),
        ({"name": "Yearly", "edition": 2}, "The checklist has no items"),
        ({"name": "Yearly", "edition": 2, "items": "none"}, "The checklist has no items"),
        ({"name": "Yearly", "edition": 2, "items": ["look"]}, "Item number 1 is not a set of fields."),
        (with_item(step="attic"), "Item “look”, field “step”: “attic” is none of"),
        (with_item(colour="blue"), "Item “look”, field “colour”: no item has a field of this name"),
        (with_item(source=""), "Item “look”, field “source”: it is empty"),
        (with_item(prompt="x" * 201), "Item “look”, field “prompt”: it has 201 characters; 200 fit."),
        (with_item(position=32_768), "Item “look”, field “position”: at most 32,767."),
        (with_item(unit_us=["V"]), "Item “look”, field “unit_us”: it must be text."),
        (with_item(quantity={}), "Item “look”, field “quantity”: it must be text."),
        (with_item(code=5), "Item “5”, field “code”: it must be text."),
        ({"name": "Yearly", "edition": 2, "items": [GOOD_ITEM, GOOD_ITEM]}, "another item has the same code"),
        ({"name": "Yearly", "edition": 1, "items": [GOOD_ITEM]}, "There is an edition 1 already."),
    ],
)
def test_a_file_that_will_not_do_gets_a_sentence_and_nothing_is_lost(
    manager: Client, at: datetime, content: bytes | str | dict[str, Any], words: str
) -> None:
    frozen = made.published_checklist(at)
    kept, entries = as_data(frozen), AuditEntry.objects.count()
    answer = post(manager, content)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert list(answer.context["form"].errors) == ["file"]
    assert list(Checklist.objects.all()) == [frozen]
    assert as_data(Checklist.objects.get()) == kept
    assert AuditEntry.objects.count() == entries


def test_a_file_larger_than_any_checklist_is_refused(manager: Client) -> None:
    data = {"name": "Yearly", "edition": 1, "items": [GOOD_ITEM]}
    room = ChecklistFileForm.MOST_BYTES - len(json.dumps(data))
    assert "larger than 1 MB" in post(manager, json.dumps(data) + " " * (room + 1)).content.decode()
    assert not Checklist.objects.exists()
    assert post(manager, json.dumps(data) + " " * room).status_code == 302


def test_no_file_at_all_is_said_beside_the_field(manager: Client) -> None:
    answer = manager.post(reverse(UPLOAD), {})
    assert list(answer.context["form"].errors) == ["file"]


def test_files_of_the_checklist_are_the_managers(
    nora: User, theo: User, at: datetime, signed_in_as: Callable[[User], Client]
) -> None:
    draft = edition(at)
    for user in (nora, theo):
        browser = signed_in_as(user)
        assert browser.get(reverse("checkups:checklist_file", args=[draft.pk])).status_code == 403
        assert post(browser, {"name": "Yearly", "edition": 2, "items": [GOOD_ITEM]}).status_code == 403
    assert Checklist.objects.get() == draft


def test_the_file_of_an_edition_that_is_not_there_is_not_found(manager: Client) -> None:
    assert manager.get(reverse("checkups:checklist_file", args=[987_654])).status_code == 404
