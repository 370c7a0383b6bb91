"""When a visit is whole: what its finishing names and the server lacks, and what was said after the owner signed."""

import hashlib
from collections.abc import Collection, Mapping
from typing import Any, Final
from uuid import UUID

from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.heads import Heads, head_ids

MOST_NAMED: Final = 5000


def wanted_by(finish: TabletEvent, events: Collection[UUID], photos: Mapping[str, str]) -> tuple[str, ...]:
    """The ids that a finishing names and that are not here yet: events, then photos.

    ``photos`` gives the hash of every photo that has come in whole. A photo whose stored bytes have another hash than
    the one named is still wanted.
    """
    here = {str(event) for event in events}
    wanted = [named for named in named_heads(finish) if named not in here]
    wanted += [name for name, sha256 in named_photos(finish) if photos.get(name) != sha256]
    return tuple(wanted)


def named_heads(finish: TabletEvent) -> tuple[str, ...]:
    """The events that a finishing means."""
    return tuple(one for one in _list(finish.value, "heads") if isinstance(one, str))


def named_photos(finish: TabletEvent) -> tuple[tuple[str, str], ...]:
    """The photos that a finishing means: id and hash."""
    found = []
    for one in _list(finish.value, "photos"):
        if isinstance(one, dict) and isinstance(one.get("id"), str) and isinstance(one.get("sha256"), str):
            found.append((one["id"], one["sha256"]))
    return tuple(found)


def left_open(finish: TabletEvent) -> dict[str, str]:
    """The lines that were left open on purpose, with the reason."""
    found = {}
    for one in _list(finish.value, "left_open"):
        if isinstance(one, dict) and isinstance(one.get("field"), str) and isinstance(one.get("because"), str):
            found[one["field"]] = one["because"]
    return found


def heads_hash(ids: Collection[str]) -> str:
    """What a signature signs: the hash of the ids that were on the screen, in order, a line each."""
    return hashlib.sha256("\n".join(sorted(ids)).encode()).hexdigest()


def changed_after_signature(
    heads: Heads, signature: TabletEvent, events: Mapping[UUID, TabletEvent]
) -> frozenset[UUID]:
    """What holds now and was not on the screen when the owner signed.

    Where somebody chose between two answers afterwards, and the chosen one says what was signed, nothing changed.
    All of it when the signature's own hash is not that of the list that it carries.
    """
    now = head_ids(heads)
    named = [one for one in _list(signature.value, "signed") if isinstance(one, str)]
    if (signature.value or {}).get("signed_sha256") != heads_hash(named):
        return now
    signed = set(named)
    return frozenset(
        one
        for one in now
        if str(one) not in signed
        and not any(
            str(base) in signed and base in events and events[base].value == events[one].value
            for base in events[one].bases
        )
    )


def _list(value: Mapping[str, Any] | None, name: str) -> list[Any]:
    found = (value or {}).get(name)
    return found[:MOST_NAMED] if isinstance(found, list) else []
