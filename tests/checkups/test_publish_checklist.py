"""Checklists: an edition is a draft until it is published, and frozen from then on."""

from datetime import datetime

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.checklists import add_checklist, change_item, copy_checklist, publish_checklist
from contractor.checkups.errors import ChecklistFrozen, EditionTaken
from contractor.checkups.forms import ItemForm
from contractor.checkups.lines import published_checklist
from contractor.checkups.models import Checklist
from contractor.checkups.rules.items import UnreadableChecklist
from tests.checkups import factories as made

BAD = {"severity": "bad", "consequence": "x", "what_to_do": "x"}
DATA = {"name": "Yearly check-up", "edition": 1, "items": list(made.ITEMS)}


def test_a_draft_keeps_what_the_data_say(ruth: User, at: datetime) -> None:
    draft = add_checklist(data=DATA, by=ruth.actor, at=at)
    row = draft.items.get(code="rest-volts")
    assert (row.good_low, row.quantity, row.unit_us, row.severity) == (12.4, "voltage", "V", "bad")
    assert draft.items.count() == len(made.ITEMS)
    assert draft.published_at is None
    assert not Checklist.objects.published().exists()


def test_an_edition_number_is_given_once(ruth: User, at: datetime) -> None:
    add_checklist(data=DATA, by=ruth.actor, at=at)
    with pytest.raises(EditionTaken):
        add_checklist(data=DATA, by=ruth.actor, at=at)


def test_a_draft_can_be_changed_and_what_does_not_go_together_is_refused(ruth: User, at: datetime) -> None:
    draft = add_checklist(data=DATA, by=ruth.actor, at=at)
    row = draft.items.get(code="rest-volts")
    assert change_item(item_id=row.pk, values={"good_low": 12.5}, by=ruth.actor, at=at).good_low == 12.5
    with pytest.raises(UnreadableChecklist):
        change_item(item_id=row.pk, values={"watch_low": 13.0}, by=ruth.actor, at=at)
    row.refresh_from_db()
    assert (row.good_low, row.watch_low) == (12.5, None)


def test_publishing_freezes(ruth: User, at: datetime) -> None:
    draft = add_checklist(data=DATA, by=ruth.actor, at=at)
    published = publish_checklist(checklist_id=draft.pk, by=ruth.actor, at=at, published_by=ruth)
    assert (published.published_at, published.published_by) == (at, ruth)
    row = draft.items.get(code="rest-volts")
    with pytest.raises(ChecklistFrozen):
        change_item(item_id=row.pk, values={"good_low": 1.0}, by=ruth.actor, at=at)
    with pytest.raises(ChecklistFrozen):
        publish_checklist(checklist_id=draft.pk, by=ruth.actor, at=at)
    row.refresh_from_db()
    assert row.good_low == 12.4


def test_a_change_is_a_new_edition_and_the_old_one_stays(ruth: User, at: datetime) -> None:
    first = made.published_checklist(at)
    second = copy_checklist(checklist_id=first.pk, by=ruth.actor, at=at)
    assert (second.edition, second.published_at) == (2, None)
    assert list(second.items.values_list("code", "good_low")) == list(first.items.values_list("code", "good_low"))
    change_item(item_id=second.items.get(code="rest-volts").pk, values={"good_low": 12.6}, by=ruth.actor, at=at)
    assert first.items.get(code="rest-volts").good_low == 12.4


def test_code_part_and_kind_of_an_item_stay_what_they_are(ruth: User, at: datetime) -> None:
    """Last year's figures and the estimates are found by them."""
    draft = add_checklist(data=DATA, by=ruth.actor, at=at)
    row = draft.items.get(code="rest-volts")
    values = {"code": "other", "part_kind": "pit", "kind": "check", "checklist_id": 99, "prompt": "Measure it"}
    changed = change_item(item_id=row.pk, values=values, by=ruth.actor, at=at)
    changed.refresh_from_db()
    assert (changed.code, changed.part_kind, changed.kind) == ("rest-volts", "battery", "measurement")
    assert (changed.checklist, changed.prompt) == (draft, "Measure it")


def test_a_copy_of_an_older_edition_gets_the_number_after_the_newest(ruth: User, at: datetime) -> None:
    first = made.published_checklist(at, edition=1)
    made.published_checklist(at, edition=4)
    assert copy_checklist(checklist_id=first.pk, by=ruth.actor, at=at).edition == 5


def test_a_draft_is_not_what_new_checkups_are_made_from(ruth: User, at: datetime) -> None:
    first = made.published_checklist(at)
    second = copy_checklist(checklist_id=first.pk, by=ruth.actor, at=at)
    assert published_checklist() == first
    publish_checklist(checklist_id=second.pk, by=ruth.actor, at=at, published_by=ruth)
    assert published_checklist() == second


def test_limits_are_typed_in_the_unit_of_the_gauge_and_kept_in_the_base_unit(ruth: User, at: datetime) -> None:
    data = {**DATA, "items": [{**made.ITEMS[0], **BAD, "good_low": 10.0, "good_high": 25.0}]}
    row = add_checklist(data=data, by=ruth.actor, at=at).items.get()
    shown = ItemForm(item=row)
    # NIST SP 811, appendix B: 10 degC are 50 degF, 25 degC are 77 degF, 40 degF are 4.444 degC.
    assert (shown.fields["good_low"].initial, shown.fields["good_high"].initial) == (50.0, 77.0)
    typed = {
        "prompt": row.prompt,
        "how": row.how,
        "source": "x",
        "consequence": "x",
        "what_to_do": "x",
        "severity": "bad",
        "required": "on",
        "good_low": "40",
        "good_high": "77",
    }
    form = ItemForm(typed, item=row)
    assert form.is_valid(), form.errors
    assert form.values()["good_low"] == pytest.approx((40 - 32) / 1.8)
    assert "good_high" not in form.values()
    changed = change_item(item_id=row.pk, values=form.values(), by=ruth.actor, at=at)
    assert (changed.good_low, changed.good_high) == (pytest.approx(4.4444444), 25.0)


def test_a_limit_can_be_taken_away(ruth: User, at: datetime) -> None:
    row = add_checklist(data=DATA, by=ruth.actor, at=at).items.get(code="rest-volts")
    typed = {
        "prompt": row.prompt,
        "how": row.how,
        "source": "x",
        "consequence": row.consequence,
        "what_to_do": row.what_to_do,
        "severity": "bad",
        "good_low": "",
    }
    form = ItemForm(typed, item=row)
    assert form.is_valid(), form.errors
    changed = change_item(item_id=row.pk, values=form.values(), by=ruth.actor, at=at)
    assert (changed.good_low, changed.required) == (None, False)
