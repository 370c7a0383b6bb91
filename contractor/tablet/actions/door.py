"""The door: everything that a tablet sends is kept first and judged later.

A receipt is built from the row as it is read back after the transaction was committed, so it promises only what is
there. Nothing is refused: what can't be an event is set aside whole, with a sentence, for the office.
"""

import hashlib
import json
from collections.abc import Iterable, Sequence
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
    """Keeps every item, each in its own savepoint, and gives a receipt for each in the order in which they came.

    ``is_vouched`` says that the office has looked: an event is then taken although its author was never sent to that
    visit, or never signed in on that tablet.
    """
    came = [item_of(sent) for sent in items]
    kept: dict[int, tuple[str, str]] = {}
    with transaction.atomic():
        known = Known([item.raw for item in came])
        touched: set[int] = set()
        # By id, so that two requests with the same items wait for each other instead of blocking each other.
        for place in sorted(range(len(came)), key=lambda number: (came[number].id, number)):
            kept[place] = _take(came[place], known, touched, sender=sender, at=at, is_vouched=is_vouched)
        for appointment_id in sorted(touched):
            note_events(appointment_id, at)
    return [_receipt(came[place], *kept[place]) for place in range(len(came))]


def _take(
    item: Item, known: Known, touched: set[int], *, sender: Sender, at: datetime, is_vouched: bool
) -> tuple[str, str]:
    """Keeps one item; its status, and the key under which it is found again."""
    try:
        if item.problem is not None:
            raise item.problem
        if item.announced_sha256 != item.sha256:
            raise Unreadable("damaged", "It changed on its way: its text is not the one that its hash is of.")
        event = read_event(item.raw)
        if item.id != str(event.id):
            raise Unreadable("wrong_id", "The id beside it is not the one inside it.")
        flags = known.judge(event, is_vouched=is_vouched)
        with transaction.atomic():
            return _keep(item, event, flags, touched, sender=sender, at=at)
    except Unreadable as reason:
        return _set_aside(item, reason, sender=sender, at=at)
    except (DataError, IntegrityError) as problem:
        why = Unreadable("not_stored", f"The database did not take it: {type(problem).__name__}.")
        return _set_aside(item, why, sender=sender, at=at)


def _keep(
    item: Item, event: TabletEvent, flags: Iterable[str], touched: set[int], *, sender: Sender, at: datetime
) -> tuple[str, str]:
    row = Event(
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
    known = Event.objects.filter(pk=event.id).values_list("sha256", flat=True).first()
    if known is None:
        Event.objects.bulk_create([row], ignore_conflicts=True)
        written = Event.objects.filter(pk=event.id).values_list("sha256", "received_at", "uploaded_by_id").get()
        known = written[0]
        is_ours = written == (item.sha256, at, sender.person.pk)
    else:
        is_ours = False
    if known != item.sha256:
        raise Unreadable("other_content", "An event with this id is here already, and it says something else.")
    if is_ours:
        touched.add(event.visit)
    _close_worse_copies(str(event.id), item.sha256, at)
    return (STORED if is_ours else DUPLICATE), str(event.id)


def _close_worse_copies(event_id: str, sha256: str, at: datetime) -> None:
    """A damaged copy of what has now come whole, and one that could not be read before, need nobody's eye any more."""
    damaged = Q(claimed_id=event_id, reason="damaged")
    SetAside.objects.waiting().filter(damaged | Q(sha256=sha256)).update(
        state=SetAside.State.TAKEN, decided_at=at, decided_because="It came again and was taken."
    )


def _set_aside(item: Item, reason: Unreadable, *, sender: Sender, at: datetime) -> tuple[str, str]:
    row = SetAside(
        claimed_id=_plain(item.id) or claimed_id(item.raw),
        raw=item.content,
        sha256=item.sha256,
        reason=reason.code,
        sentence=reason.sentence,
        is_alarm=reason.code == "other_content",
        device_id=sender.device_id,
        uploaded_by=sender.person,
        received_at=at,
    )
    SetAside.objects.bulk_create([row], ignore_conflicts=True)
    if reason.code == "damaged" and _is_here_whole(item):
        _close_worse_copies(item.id, item.announced_sha256, at)
    return QUARANTINED, item.sha256


def _is_here_whole(item: Item) -> bool:
    try:
        return Event.objects.filter(pk=UUID(item.id), sha256=item.announced_sha256).exists()
    except ValueError:
        return False


def _plain(text: str) -> str:
    return "".join(sign for sign in text[:64] if sign.isprintable() and not 0xD800 <= ord(sign) <= 0xDFFF)


def note_events(appointment_id: int, at: datetime) -> None:
    """Says that a visit has new events, and wakes who makes a check-up of them once they are committed."""
    TabletVisit.objects.bulk_create(
        [TabletVisit(appointment_id=appointment_id, last_event_at=at)], ignore_conflicts=True
    )
    TabletVisit.objects.filter(appointment_id=appointment_id).update(revision=F("revision") + 1, last_event_at=at)
    start_after_commit("contractor.tablet.tasks.apply_visit", appointment_id=appointment_id)


def _receipt(item: Item, status: str, key: str) -> Receipt:
    """The receipt of the row that is there now; what can't be found again gets an empty hash, which clears nothing."""
    if status == QUARANTINED:
        aside = SetAside.objects.filter(sha256=key).first()
        stored = hashlib.sha256(bytes(aside.raw)).hexdigest() if aside else ""
        sentence = aside.sentence if aside else "It could not be kept. Send it again."
        return Receipt(id=item.id, sha256=stored, status=status, sentence=sentence)
    row = Event.objects.filter(pk=key).first()
    stored = hashlib.sha256(row.raw.encode()).hexdigest() if row else ""
    return Receipt(id=item.id, sha256=stored, status=status, flags=tuple(row.flags) if row else ())
