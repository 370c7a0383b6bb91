"""The door: everything that a tablet sends is kept first and judged later.

A receipt is built from the row as it is read back after the transaction was committed, so it promises only what is
there. Nothing is refused: what can't be an event is set aside whole, with a sentence, for the office.
"""

import hashlib
import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import DataError, IntegrityError, transaction
from django.db.models import F, Q

from contractor.accounts.models import User
from contractor.celery import start_after_commit
from contractor.tablet.errors import Unreadable
from contractor.tablet.known import Known
from contractor.tablet.models import Event, SetAside, TabletVisit
from contractor.tablet.rules.events import TabletEvent, claimed_id, read_event

STORED, DUPLICATE, QUARANTINED = "stored", "duplicate", "quarantined"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sender:
    """Who hands in: the person signed in or whose key it is, and the device when it is known. ``is_office`` is a file
    that the office hands in."""

    person: User
    device_id: UUID | None = None
    is_office: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What became of one item; ``sha256`` is that of the bytes that are stored."""

    id: str
    sha256: str
    status: str
    flags: tuple[str, ...] = ()
    sentence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One item as it came: the id it says it has, its text, the hash it says it has."""

    id: str
    raw: str
    announced_sha256: str
    problem: Unreadable | None = None

    @property
    def content(self) -> bytes:
        """The bytes of the text; half a character, which UTF-8 does not know, is kept as it came."""
        return self.raw.encode("utf-8", "surrogatepass")

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.content).hexdigest()


def item_of(sent: Any) -> Item:
    """An item of a request, whatever it is."""
    if not isinstance(sent, dict) or not isinstance(sent.get("raw"), str):
        raw = json.dumps(sent, ensure_ascii=True, default=str)
        named = sent.get("id") if isinstance(sent, dict) else None
        problem = Unreadable("no_item", "It is no item: an id, a text and the text's hash belong together.")
        return Item(id=named if isinstance(named, str) else "", raw=raw, announced_sha256="", problem=problem)
    named, hashed = sent.get("id"), sent.get("sha256")
    return Item(
        id=named if isinstance(named, str) else "",
        raw=sent["raw"],
        announced_sha256=hashed if isinstance(hashed, str) else "",
    )


def take_items(*, items: Sequence[Any], sender: Sender, at: datetime, is_vouched: bool = False) -> list[Receipt]:
    """Keeps every item and gives a receipt for each in the order in which they came.

    What the database won't take is set aside by itself: the others don't suffer from it. ``is_vouched`` says that the
    office has looked: an event is then taken although its author was never sent to that visit, or never signed in on
    that tablet.
    """
    came = [item_of(sent) for sent in items]
    with transaction.atomic():
        kept = _Keeping(came, sender=sender, at=at, is_vouched=is_vouched).keep()
    return _receipts(came, kept)


class _Keeping:
    """One request's items on their way into the tables."""

    def __init__(self, came: Sequence[Item], *, sender: Sender, at: datetime, is_vouched: bool) -> None:
        self.came, self.sender, self.at, self.is_vouched = came, sender, at, is_vouched
        self.reasons: dict[int, Unreadable] = {}
        self.rows: dict[int, Event] = {}

    def keep(self) -> list[str]:
        """Writes everything; what became of each item."""
        self._read()
        _hold({row.appointment_id for row in self.rows.values()}, self.at)
        before = set(Event.objects.filter(pk__in=[row.pk for row in self.rows.values()]).values_list("pk", flat=True))
        self._insert(before)
        written = {
            pk: (sha256, received_at, uploaded_by)
            for pk, sha256, received_at, uploaded_by in Event.objects.filter(
                pk__in=[row.pk for row in self.rows.values()]
            ).values_list("pk", "sha256", "received_at", "uploaded_by_id")
        }
        for place, row in self.rows.items():
            if place not in self.reasons and written[row.pk][0] != row.sha256:
                self.reasons[place] = Unreadable(
                    "other_content", "An event with this id is here already, and it says something else."
                )
        mark = (self.at, self.sender.person.pk)
        ours = {pk for pk, found in written.items() if pk not in before and found[1:] == mark}
        statuses = self._statuses(ours)
        self._set_aside()
        here = [place for place in self.rows if place not in self.reasons]
        _close_worse_copies([(self.came[place].id, self.came[place].sha256) for place in here], self.at)
        touched = {self.rows[place].appointment_id for place in here if self.rows[place].pk in ours}
        for appointment_id in sorted(touched):
            note_events(appointment_id, self.at)
        return statuses

    def _read(self) -> None:
        events: dict[int, TabletEvent] = {}
        for place, item in enumerate(self.came):
            try:
                events[place] = _event_of(item)
            except Unreadable as reason:
                self.reasons[place] = reason
        known = Known(events.values())
        for place, event in events.items():
            try:
                flags = known.judge(event, is_vouched=self.is_vouched)
            except Unreadable as reason:
                self.reasons[place] = reason
            else:
                self.rows[place] = _row(self.came[place], event, flags, sender=self.sender, at=self.at)

    def _insert(self, before: set[UUID]) -> None:
        """All at once; where the database refuses that, each by itself, so that one can't spoil the others."""
        # By id, so that two requests with the same items wait for each other instead of blocking each other.
        new = {row.pk: place for place, row in sorted(self.rows.items(), reverse=True) if row.pk not in before}
        ordered = [new[pk] for pk in sorted(new)]
        try:
            with transaction.atomic():
                Event.objects.bulk_create([self.rows[place] for place in ordered], ignore_conflicts=True)
        except (DataError, IntegrityError):
            for place in ordered:
                self._insert_one(place)

    def _insert_one(self, place: int) -> None:
        try:
            with transaction.atomic():
                Event.objects.bulk_create([self.rows[place]], ignore_conflicts=True)
        except (DataError, IntegrityError) as problem:
            self.reasons[place] = Unreadable(
                "not_stored", f"The database did not take it: {type(problem).__name__}."
            )

    def _statuses(self, ours: set[UUID]) -> list[str]:
        seen: set[UUID] = set()
        statuses = []
        for place in range(len(self.came)):
            if place in self.reasons:
                statuses.append(QUARANTINED)
                continue
            pk = self.rows[place].pk
            statuses.append(STORED if pk in ours and pk not in seen else DUPLICATE)
            seen.add(pk)
        return statuses

    def _set_aside(self) -> None:
        if not self.reasons:
            return
        rows = [
            SetAside(
                claimed_id=_plain(self.came[place].id) or claimed_id(self.came[place].raw),
                raw=self.came[place].content,
                sha256=self.came[place].sha256,
                reason=reason.code,
                sentence=reason.sentence,
                is_alarm=reason.code == "other_content",
                device_id=self.sender.device_id,
                uploaded_by=self.sender.person,
                received_at=self.at,
            )
            for place, reason in self.reasons.items()
        ]
        SetAside.objects.bulk_create(sorted(rows, key=lambda row: row.sha256), ignore_conflicts=True)
        damaged = [self.came[place] for place, reason in self.reasons.items() if reason.code == "damaged"]
        _close_worse_copies([(item.id, item.announced_sha256) for item in damaged if _is_here_whole(item)], self.at)


def _event_of(item: Item) -> TabletEvent:
    """The event that an item holds. Raises Unreadable."""
    if item.problem is not None:
        raise item.problem
    if item.announced_sha256 != item.sha256:
        raise Unreadable("damaged", "It changed on its way: its text is not the one that its hash is of.")
    event = read_event(item.raw)
    if item.id != str(event.id):
        raise Unreadable("wrong_id", "The id beside it is not the one inside it.")
    return event


def _row(item: Item, event: TabletEvent, flags: Iterable[str], *, sender: Sender, at: datetime) -> Event:
    return Event(
        id=event.id,
        raw=item.raw,
        sha256=item.sha256,
        version=event.version,
        appointment_id=event.visit,
        device_id=event.device,
        actor_id=event.actor,
        uploaded_by=sender.person,
        kind=event.kind,
        field=event.field,
        flags=sorted(flags),
        received_at=at,
    )


def _close_worse_copies(whole: Iterable[tuple[str, str]], at: datetime) -> None:
    """A damaged copy of what is here whole, and one that could not be read before, need nobody's eye any more.

    ``whole`` pairs the ids of what is here with the hashes of its text.
    """
    ids, hashes = zip(*whole, strict=True) if (whole := list(whole)) else ((), ())
    if ids:
        damaged = Q(claimed_id__in=ids, reason="damaged")
        SetAside.objects.waiting().filter(damaged | Q(sha256__in=hashes)).update(
            state=SetAside.State.TAKEN, decided_at=at, decided_because="It came again and was taken."
        )


def _is_here_whole(item: Item) -> bool:
    try:
        return Event.objects.filter(pk=UUID(item.id), sha256=item.announced_sha256).exists()
    except ValueError:
        return False


def _plain(text: str) -> str:
    return "".join(sign for sign in text[:64] if sign.isprintable() and not 0xD800 <= ord(sign) <= 0xDFFF)


def _hold(appointment_ids: Collection[int], at: datetime) -> None:
    """Locks the visits' rows, in the order of their numbers, before an event is written.

    Whoever makes a check-up holds this row while it locks the appointment, and an event that is written keeps hold of
    its appointment until the end: the other way round the two would wait for each other.
    """
    ordered = sorted(appointment_ids)
    TabletVisit.objects.bulk_create(
        [TabletVisit(appointment_id=pk, last_event_at=at) for pk in ordered], ignore_conflicts=True
    )
    list(TabletVisit.objects.select_for_update().filter(appointment__in=ordered).order_by("appointment_id"))


def note_events(appointment_id: int, at: datetime) -> None:
    """Says that a visit has new events or its last photo, and wakes who makes a check-up of them once that is
    committed."""
    TabletVisit.objects.filter(appointment_id=appointment_id).update(revision=F("revision") + 1, last_event_at=at)
    start_after_commit("contractor.tablet.tasks.apply_visit", appointment_id=appointment_id)


def _receipts(came: Sequence[Item], statuses: Sequence[str]) -> list[Receipt]:
    """Receipts of the rows that are there now; what can't be found again gets an empty hash, which clears nothing."""
    aside = {
        row.sha256: row
        for row in SetAside.objects.filter(
            sha256__in=[item.sha256 for item, status in zip(came, statuses, strict=True) if status == QUARANTINED]
        )
    }
    wanted = [item.id for item, status in zip(came, statuses, strict=True) if status != QUARANTINED]
    rows = {str(row.pk): row for row in Event.objects.filter(pk__in=wanted)}
    receipts = []
    for item, status in zip(came, statuses, strict=True):
        left, row = aside.get(item.sha256), rows.get(item.id)
        if status == QUARANTINED:
            stored = hashlib.sha256(bytes(left.raw)).hexdigest() if left else ""
            sentence = left.sentence if left else "It could not be kept. Send it again."
            receipts.append(Receipt(id=item.id, sha256=stored, status=status, sentence=sentence))
        else:
            stored = hashlib.sha256(row.raw.encode()).hexdigest() if row else ""
            receipts.append(Receipt(id=item.id, sha256=stored, status=status, flags=tuple(row.flags) if row else ()))
    return receipts
