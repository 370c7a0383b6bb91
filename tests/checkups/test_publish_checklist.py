"""Checklists: an edition is a draft until it is published, and frozen from then on."""

from datetime import datetime

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.checklists import add_checklist, change_item, copy_checklist, publish_checklist
from contractor.checkups.errors import ChecklistFrozen, EditionTaken
from contractor.checkups.models import Checklist
from contractor.checkups.rules.items import UnreadableChecklist
from tests.checkups import factories as made

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
