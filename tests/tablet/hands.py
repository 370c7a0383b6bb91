"""A tablet as the server sees it: it writes events about a visit, keeps them, and hands them in."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from contractor.accounts.models import User
from contractor.systems.models import Component
from contractor.tablet.actions.devices import NewKey, register_device
from contractor.tablet.actions.door import Receipt, Sender, take_items
from contractor.tablet.actions.photos import CHUNK_BYTES, take_chunk
from contractor.tablet.rules.finish import heads_hash
from contractor.visits.models import Appointment
from tests.checkups.factories import picture

SIGNED_KINDS = {"answer", "photo", "finding", "swap", "note", "could_not"}


def sha256(text: str | bytes) -> str:
    return hashlib.sha256(text.encode() if isinstance(text, str) else text).hexdigest()


def item(raw: str) -> dict[str, str]:
    """A text as a tablet hands it in."""
    return {"id": json.loads(raw)["id"], "raw": raw, "sha256": sha256(raw)}


@dataclass
class Tablet:
    """One device in one person's hands at one visit. ``kept`` is everything it wrote, by id; ``heads`` what stands."""

    person: User
    visit: Appointment
    clock: datetime
    device: UUID = field(default_factory=uuid4)
    key: NewKey | None = None
    kept: dict[str, str] = field(default_factory=dict)
    heads: dict[str, list[str]] = field(default_factory=dict)
    photos: dict[str, bytes] = field(default_factory=dict)

    def say(self, kind: str, about: str, value: Mapping[str, Any] | None, **changed: Any) -> str:
        """Writes an event that takes the place of what this tablet knows of the field; its id."""
        self.clock += timedelta(seconds=20)
        event = {
            "v": 1,
            "id": str(uuid4()),
            "visit": str(self.visit.pk),
            "device": str(self.device),
            "actor": self.person.pk,
            "kind": kind,
            "field": about,
            "value": value,
            "bases": self.heads.get(about, []),
            "at": self.clock.isoformat(),
            "zone": "America/New_York",
            "mono": 12_345,
            "clock_off": 0,
            **changed,
        }
        self.kept[event["id"]] = json.dumps(event)
        self.heads[about] = [event["id"]]
        return str(event["id"])

    def answer(self, code: str, part: Component | str | None = None, **value: Any) -> str:
        return self.say("answer", f"answer:{code}:{_name(part)}", value)

    def photo(self, content: bytes | None = None, *, item: str = "", part: Component | str | None = None) -> str:
        """Takes a photo; its number. Its bytes go in by ``send_photos``."""
        content = picture("navy") if content is None else content
        photo_id = str(uuid4())
        self.photos[photo_id] = content
        told = {"sha256": sha256(content), "bytes": len(content), "type": "image/jpeg", "width": 64, "height": 48}
        where = {"item": item, "component": _name(part), "finding": "", "caption": "", "taken": self.clock.isoformat()}
        self.say("photo", f"photo:{photo_id}", {**told, **where})
        return photo_id

    def said(self) -> list[str]:
        """The ids of what stands and is signed, as a tablet lists them."""
        return sorted(
            one for ids in self.heads.values() for one in ids if json.loads(self.kept[one])["kind"] in SIGNED_KINDS
        )

    def sign(self, kind: str = "typed", name: str = "Iris Holloway", strokes: Sequence[Any] = ()) -> str:
        said = self.said()
        value = {"kind": kind, "name": name, "strokes": strokes, "signed": said, "signed_sha256": heads_hash(said)}
        return self.say("signature", "signature", value)

    def finish(self, left_open: Sequence[Mapping[str, str]] = ()) -> str:
        heads = sorted(one for about, ids in self.heads.items() if about != "finish" for one in ids)
        photos = [
            {"id": photo_id, "sha256": sha256(content)}
            for photo_id, content in self.photos.items()
            if json.loads(self.kept[self.heads[f"photo:{photo_id}"][0]])["value"] is not None
        ]
        return self.say("finish", "finish", {"heads": heads, "photos": photos, "left_open": list(left_open)})

    def items(self) -> list[dict[str, str]]:
        return [item(raw) for raw in self.kept.values()]

    @property
    def sender(self) -> Sender:
        return Sender(person=self.person, device_id=self.device)

    def send(self, at: datetime, *ids: str) -> list[Receipt]:
        """Hands in everything that it keeps, or these."""
        chosen = [item(self.kept[one]) for one in ids] if ids else self.items()
        return take_items(items=chosen, sender=self.sender, at=at)

    def send_photos(self, at: datetime, *ids: str) -> None:
        for photo_id in ids or self.photos:
            send_photo(photo_id, self.photos[photo_id], self.person, at)


def send_photo(photo_id: str, content: bytes, person: User, at: datetime) -> None:
    """Sends a photo chunk by chunk."""
    for offset in range(0, len(content), CHUNK_BYTES):
        take_chunk(
            photo_id=UUID(photo_id),
            offset=offset,
            length=len(content),
            sha256=sha256(content),
            content=content[offset : offset + CHUNK_BYTES],
            person=person,
            at=at,
        )


def registered(person: User, visit: Appointment, at: datetime, name: str = "Tablet 1") -> Tablet:
    """A tablet on which this person has signed in."""
    tablet = Tablet(person=person, visit=visit, clock=at - timedelta(hours=2))
    tablet.key = register_device(device_id=tablet.device, name=name, about={}, person=person, at=at)
    return tablet


def whole_checkup(tablet: Tablet, parts: Mapping[str, Component]) -> None:
    """Everything that the small checklist asks for, but for the signature and the finishing."""
    tablet.say("begun", "begun", {"checklist": "1"})
    tablet.answer("temperature", number="68", unit="degF")
    tablet.answer("mould", condition="good")
    tablet.photo(item="room-photo")
    tablet.answer("pit-rise", parts["pit"], number="3", unit="in", seconds="60.0")
    tablet.answer("rest-volts", parts["battery"], number="12.7", unit="V")
    tablet.answer("load-test", parts["battery"], number="10.1", unit="V")
    tablet.answer("owner-told", text="Showed the alarm's test button.")


def _name(part: Component | str | None) -> str:
    if part is None:
        return "0"
    return part if isinstance(part, str) else str(part.pk)
