"""A bad line between two tablets and the door: nothing is lost, nothing stands twice, both sides see the same.

Two hundred seeded histories of two devices, a desk that changes the visit, and a line that drops, doubles, reorders,
cuts, breaks off in the middle and delivers late; then a state machine that looks for what the seeds missed. The model
is a dict: the id and text of everything that a tablet kept.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from contractor.accounts.models import Role, User
from contractor.tablet.actions import door
from contractor.tablet.actions.decisions import choose
from contractor.tablet.actions.epoch import epoch_now, new_epoch
from contractor.tablet.actions.photos import photo_state, take_chunk
from contractor.tablet.errors import NoConflict, PhotoSpoiled, WrongOffset
from contractor.tablet.models import OFFICE_DEVICE, Event, PhotoUpload, SetAside
from contractor.tablet.photo_store import content_of, name_of, write_at
from contractor.tablet.rules.heads import conflicts_of, heads_of
from contractor.tablet.told import read_events, visits_told
from contractor.visits.actions.appointments import cancel_appointment, move_appointment, take_up_again
from contractor.visits.models import Appointment
from tests.checkups.factories import appointment_for
from tests.factories import CompanyFactory, SystemFactory, UserFactory
from tests.tablet.hands import Tablet, item, registered, send_photo, sha256

ON, AT = date(2026, 5, 4), datetime(2026, 5, 4, 14, 0, tzinfo=UTC)
FIELDS = ("answer:mould:0", "answer:room:0", "summary", "answer:pit:7")
FAULTS = ("none", "drop", "lost answer", "double", "reorder", "cut", "broken off", "late double", "damage")


@contextmanager
def undone() -> Iterator[None]:
    """Everything within is taken back in the end, as when the server dies before it is committed."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


class Desk:
    """The visit, who goes there, and what the office does to it."""

    def __init__(self) -> None:
        CompanyFactory()
        self.nora = UserFactory(name="Nora Vance", role=Role.OFFICE)
        self.theo = UserFactory(name="Theo Marsh", role=Role.TECHNICIAN)
        self.ana = UserFactory(name="Ana Delgado", role=Role.TECHNICIAN)
        self.visit: Appointment = appointment_for(SystemFactory(), self.theo, ON)
        # So that the trail says that it was hers as well.
        self.give(self.ana)
        self.give(self.theo)

    def give(self, technician: User) -> None:
        self.visit.refresh_from_db()
        if self.visit.state == "planned":
            move_appointment(
                appointment_id=self.visit.pk, technician_id=technician.pk, on=ON, by=self.nora.actor, at=AT
            )

    def call_off_or_take_up(self) -> None:
        self.visit.refresh_from_db()
        act = cancel_appointment if self.visit.state == "planned" else take_up_again
        act(appointment_id=self.visit.pk, because="The owner phoned", by=self.nora.actor, at=AT)

    def choose_somewhere(self, dice: Random) -> None:
        conflicts = conflicts_of(heads_of(read_events(list(self.visit.events.all()))))
        if conflicts:
            field = dice.choice(sorted(conflicts))
            chosen = dice.choice(conflicts[field])
            seen = [one.id for one in conflicts[field]]
            choose(
                appointment_id=self.visit.pk,
                field=field,
                event_id=chosen.id,
                seen=seen,
                by_user=self.nora,
                at=AT + timedelta(hours=1),
            )


class Line:
    """A tablet's line to the door: it clears an item only on a receipt with its own hash."""

    def __init__(self, tablet: Tablet, dice: Random) -> None:
        self.tablet, self.dice = tablet, dice
        self.waiting: dict[str, str] = {}
        self.delayed: list[list[dict[str, str]]] = []
        self.acknowledged: dict[str, str] = {}

    def type(self, field: str, word: str) -> None:
        kind = "note" if field == "summary" else "answer"
        one = self.tablet.say(kind, field, {"condition": "good", "text": word})
        self.waiting[one] = self.tablet.kept[one]

    def drain(self, fault: str) -> None:
        items = [item(raw) for raw in list(self.waiting.values())[: self.dice.randint(1, 5)]]
        if not items or fault == "drop":
            return
        if fault == "cut":
            items = items[: len(items) // 2] or items
        if fault == "reorder":
            self.dice.shuffle(items)
        if fault == "damage":
            items[0] = {**items[0], "raw": items[0]["raw"].replace("good", "g00d")}
        if fault == "broken off":
            with undone():
                self.deliver(items)
            return
        if fault == "late double":
            self.delayed.append(items)
        receipts = self.deliver(items)
        if fault == "double":
            receipts += self.deliver(items)
        if fault != "lost answer":
            self.clear(receipts)

    def deliver(self, items: list[dict[str, str]]) -> list[door.Receipt]:
        return door.take_items(items=items, sender=self.tablet.sender, at=AT)

    def clear(self, receipts: list[door.Receipt]) -> None:
        for receipt in receipts:
            raw = self.waiting.get(receipt.id)
            if raw is not None and receipt.sha256 == sha256(raw):
                self.acknowledged[receipt.id] = self.waiting.pop(receipt.id)

    def hear(self) -> None:
        """What others said comes down with the next answer; the tablet knows its heads from then on."""
        ids = [str(pk) for pk in Event.objects.values_list("pk", flat=True)]
        told = visits_told(event_ids=ids, person=self.tablet.person, device_id=self.tablet.device)
        for visit in told.values():
            for raw in visit["events"]:
                self.tablet.kept.setdefault(json.loads(raw)["id"], raw)
        self.tablet.heads = heads_of_tablet(self.tablet)

    def offer_everything(self) -> None:
        """After a new epoch: all that it still keeps goes out again."""
        own = [raw for raw in self.tablet.kept.values() if json.loads(raw)["device"] == str(self.tablet.device)]
        self.waiting = {json.loads(raw)["id"]: raw for raw in own}

    def heal(self) -> None:
        while self.delayed:
            self.deliver(self.delayed.pop())
        while self.waiting:
            before = len(self.waiting)
            self.drain("none")
            assert len(self.waiting) < before, "The door takes nothing any more."


def heads_of_tablet(tablet: Tablet) -> dict[str, list[str]]:
    events = [Event(raw=raw) for raw in tablet.kept.values()]
    return {field: sorted(str(one.id) for one in found) for field, found in heads_of(read_events(events)).items()}


def check(desk: Desk, lines: list[Line]) -> None:
    """The invariants that hold once the line has healed."""
    stored = {str(pk): raw for pk, raw in Event.objects.values_list("pk", "raw")}
    for line in lines:
        for one, raw in line.acknowledged.items():
            assert stored.get(one) == raw, "A receipt was given for what is not there."
        assert not line.waiting
    written = {
        one: raw
        for line in lines
        for one, raw in line.tablet.kept.items()
        if json.loads(raw)["device"] != str(OFFICE_DEVICE)
    }
    by_desk = set(Event.objects.filter(actor=desk.nora).values_list("pk", flat=True))
    assert {one: raw for one, raw in stored.items() if one not in {str(pk) for pk in by_desk}} == written
    for line in lines:
        line.tablet.kept |= stored  # what the next answers bring down
        on_server = heads_of(read_events(list(Event.objects.order_by("received_at", "id"))))
        expected = {field: sorted(str(one.id) for one in found) for field, found in on_server.items()}
        assert heads_of_tablet(line.tablet) == expected
    unexplained = SetAside.objects.waiting().exclude(reason="other_content")
    assert not unexplained.exists(), [row.sentence for row in unexplained]


@pytest.mark.django_db
@pytest.mark.parametrize("block", range(10))
def test_two_hundred_bad_days_lose_nothing(block: int) -> None:
    for seed in range(20 * block, 20 * block + 20):
        with undone():
            one_bad_day(Random(seed))


def one_bad_day(dice: Random) -> None:
    desk = Desk()
    lines = [Line(registered(person, desk.visit, AT, name=person.name), dice) for person in (desk.theo, desk.ana)]
    for step in range(25):
        line = dice.choice(lines)
        what = dice.random()
        if what < 0.4:
            line.type(dice.choice(FIELDS), f"word {step}")
        elif what < 0.75:
            line.drain(dice.choice(FAULTS))
        elif what < 0.85:
            line.hear()
        elif what < 0.9:
            desk.give(dice.choice([desk.theo, desk.ana]))
        elif what < 0.94:
            desk.call_off_or_take_up()
        elif what < 0.97:
            desk.choose_somewhere(dice)
        elif line.delayed:
            line.deliver(line.delayed.pop())
        if dice.random() < 0.05:
            new_epoch(because="Restored", at=AT)
            for one in lines:
                one.offer_everything()
    for line in lines:
        line.heal()
    check(desk, lines)


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(5))
def test_after_a_restore_the_tablets_bring_back_what_the_backup_lacked(seed: int) -> None:
    dice = Random(seed)
    desk = Desk()
    line = Line(registered(desk.theo, desk.visit, AT), dice)
    for number in range(12):
        line.type(dice.choice(FIELDS), f"word {number}")
    line.heal()
    before = epoch_now(at=AT)
    lost = list(Event.objects.order_by("id").values_list("pk", flat=True)[: dice.randint(1, 11)])
    Event.objects.filter(pk__in=lost).delete()
    new_epoch(because="Restored from a backup.", at=AT)
    assert epoch_now(at=AT) != before
    line.offer_everything()
    line.heal()
    check(desk, [line])


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(6))
def test_a_photo_over_a_line_that_breaks_comes_whole(seed: int) -> None:
    """Chunks of any size at any offset, the wrong hash now and then: what is done has the hash of its receipt."""
    dice = Random(seed)
    desk = Desk()
    content = dice.randbytes(70_000)
    photo_id = registered(desk.theo, desk.visit, AT).photo(content)
    sent: dict[str, Any] = {"length": len(content), "sha256": sha256(content), "person": desk.theo, "at": AT}
    for _ in range(60):
        offset = photo_state(photo_id=UUID(photo_id)).offset if dice.random() < 0.7 else dice.randint(0, 70_000)
        chunk = content[offset : offset + dice.randint(1, 30_000)]
        if dice.random() < 0.1:
            chunk = bytes(len(chunk))  # the line changed it
        with suppress(WrongOffset, PhotoSpoiled):
            take_chunk(photo_id=UUID(photo_id), offset=offset, content=chunk, **sent)
    state = photo_state(photo_id=UUID(photo_id))
    if not state.is_done:
        take_chunk(photo_id=UUID(photo_id), offset=0, content=content, is_from_the_start=True, **sent)
    row = PhotoUpload.objects.get()
    assert photo_state(photo_id=UUID(photo_id)).sha256 == sha256(content)
    assert content_of(row.file) == content
    send_photo(photo_id, content, desk.theo, AT)  # and once more, late
    assert PhotoUpload.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("offset", [0, 999, 1001, 2000])
def test_a_chunk_that_does_not_follow_the_last_one_changes_nothing_and_hears_where_to_go_on(offset: int) -> None:
    desk, content = Desk(), Random(7).randbytes(3000)
    photo_id = registered(desk.theo, desk.visit, AT).photo(content)
    sent: dict[str, Any] = {"length": 3000, "sha256": sha256(content), "person": desk.theo, "at": AT}
    take_chunk(photo_id=UUID(photo_id), offset=0, content=content[:1000], **sent)
    with pytest.raises(WrongOffset) as refusal:
        take_chunk(photo_id=UUID(photo_id), offset=offset, content=content[offset : offset + 500], **sent)
    assert refusal.value.offset == 1000
    assert photo_state(photo_id=UUID(photo_id)).offset == 1000
    assert content_of(name_of(UUID(photo_id))) == content[:1000]


@pytest.mark.django_db
def test_what_an_unfinished_try_left_behind_a_chunk_is_cut_off() -> None:
    """The server died with more on the disk than it had noted: the hash would be of all of it."""
    desk, content = Desk(), Random(7).randbytes(3000)
    photo_id = registered(desk.theo, desk.visit, AT).photo(content)
    sent: dict[str, Any] = {"length": 3000, "sha256": sha256(content), "person": desk.theo, "at": AT}
    write_at(name_of(UUID(photo_id)), 0, content + b"of another try")
    with pytest.raises(WrongOffset):
        take_chunk(photo_id=UUID(photo_id), offset=3000, content=b"", **sent)
    assert take_chunk(photo_id=UUID(photo_id), offset=0, content=content, **sent).is_done


class DoorMachine(RuleBasedStateMachine):
    """Two devices, the desk and the door. The model is ``kept``: the texts by id."""

    typed = Bundle("typed")

    @initialize()
    def begin(self) -> None:
        self.undone = transaction.atomic()
        self.undone.__enter__()
        self.desk = Desk()
        people = (self.desk.theo, self.desk.ana)
        self.tablets = [registered(person, self.desk.visit, AT, name=person.name) for person in people]
        self.model: dict[str, str] = {}
        self.offered: dict[str, str] = {}

    @rule(target=typed, number=st.integers(0, 1), field=st.sampled_from(FIELDS), word=st.text(max_size=8))
    def type(self, number: int, field: str, word: str) -> tuple[int, str]:
        tablet = self.tablets[number]
        one = tablet.say("note" if field == "summary" else "answer", field, {"text": word})
        self.model[one] = tablet.kept[one]
        return number, one

    @rule(sent=st.lists(typed, min_size=1, max_size=4), sender=st.integers(0, 1))
    def hand_in(self, sent: list[tuple[int, str]], sender: int) -> None:
        items = [item(self.model[one]) for _, one in sent]
        receipts = door.take_items(items=items, sender=self.tablets[sender].sender, at=AT)
        for receipt, (_, one) in zip(receipts, sent, strict=True):
            assert (receipt.id, receipt.sha256) == (one, sha256(self.model[one]))
            assert receipt.status == ("duplicate" if one in self.offered else "stored")
            self.offered[one] = self.model[one]

    @rule(one=typed, cut=st.integers(1, 60))
    def hand_in_cut(self, one: tuple[int, str], cut: int) -> None:
        whole = item(self.model[one[1]])
        [receipt] = door.take_items(
            items=[{**whole, "raw": whole["raw"][:-cut]}], sender=self.tablets[one[0]].sender, at=AT
        )
        assert receipt.status == "quarantined"
        assert receipt.sha256 != whole["sha256"]

    @rule(one=typed)
    def hand_in_under_a_used_id(self, one: tuple[int, str]) -> None:
        if one[1] in self.offered:
            other = self.model[one[1]] + " "
            [receipt] = door.take_items(items=[item(other)], sender=self.tablets[one[0]].sender, at=AT)
            assert receipt.status == "quarantined"

    @rule(sent=st.lists(typed, min_size=1, max_size=3))
    def break_off(self, sent: list[tuple[int, str]]) -> None:
        with undone():
            door.take_items(items=[item(self.model[one]) for _, one in sent], sender=self.tablets[0].sender, at=AT)

    @rule(number=st.integers(0, 1))
    def hear(self, number: int) -> None:
        tablet = self.tablets[number]
        tablet.kept |= {str(pk): raw for pk, raw in Event.objects.values_list("pk", "raw")}
        tablet.heads = heads_of_tablet(tablet)

    @rule(to=st.integers(0, 1))
    def give(self, to: int) -> None:
        self.desk.give(self.tablets[to].person)

    @rule()
    def call_off_or_take_up(self) -> None:
        self.desk.call_off_or_take_up()

    @rule(seed=st.integers(0, 1000))
    def choose(self, seed: int) -> None:
        try:
            self.desk.choose_somewhere(Random(seed))
        except NoConflict:
            pytest.fail("A conflict that is there could not be ended.")

    @invariant()
    def the_server_holds_exactly_what_was_offered(self) -> None:
        if not hasattr(self, "desk"):
            return
        by_tablets = Event.objects.exclude(actor=self.desk.nora).values_list("pk", "raw")
        assert {str(pk): raw for pk, raw in by_tablets} == self.offered

    @invariant()
    def nothing_lies_aside_unexplained(self) -> None:
        if hasattr(self, "desk"):
            reasons = set(SetAside.objects.waiting().values_list("reason", flat=True))
            assert reasons <= {"other_content", "damaged"}

    def teardown(self) -> None:
        if hasattr(self, "undone"):
            transaction.set_rollback(True)
            self.undone.__exit__(None, None, None)


@pytest.mark.django_db
def test_no_history_of_the_door_breaks_its_promise() -> None:
    run_state_machine_as_test(
        DoorMachine, settings=settings(max_examples=25, stateful_step_count=25, deadline=None)
    )
