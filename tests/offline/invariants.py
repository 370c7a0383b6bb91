"""What must hold after every run, whatever went wrong in it."""

import base64
import hashlib
import json
from typing import Any

from tests.offline.site import Site
from tests.offline.tablet import Tablet


def nothing_saved_is_lost(tablet: Tablet, site: Site) -> None:
    """I1: what the page reported as saved is on the tablet, byte for byte, or at the office."""
    kept = tablet.kept()
    here = {event["id"]: event["raw"] for event in kept["events"]}
    there = {number: raw for number, (raw, _) in site.events(tablet.device).items()}
    lost = {number for number, raw in tablet.saved.events.items() if raw not in (here.get(number), there.get(number))}
    assert lost == set(), f"{len(lost)} of {len(tablet.saved.events)} events are gone"
    photos = {photo["id"]: photo["sha256"] for photo in kept["photos"]}
    for number, sha256 in tablet.saved.photos.items():
        assert photos.get(number) == sha256 or site.photo(number) == (True, sha256), f"photo {number} is gone"


def everything_arrived_once(tablet: Tablet, site: Site) -> None:
    """I2, I3, I4, I6, I7: after healing and draining, the office holds exactly what the tablet made."""
    there = site.events(tablet.device)
    here = {event["id"]: event["raw"] for event in tablet.kept()["events"]}
    wanted = {**here, **tablet.saved.events}
    assert sorted(wanted) == sorted(there), f"{len(wanted)} here, {len(there)} there; {site.set_aside(tablet.device)}"
    assert {number: raw for number, raw in wanted.items() if there[number][0] != raw} == {}
    for number, (raw, sha256) in there.items():
        assert hashlib.sha256(raw.encode()).hexdigest() == sha256, number
        assert json.loads(raw)["id"] == number
    for number, sha256 in tablet.saved.photos.items():
        assert site.photo(number) == (True, sha256), number
        assert stored_photo(site, number) == sha256, number
        # No bytes were ever put in the wrong place: the whole never had to come again.
        assert site.ask("SELECT spoiled FROM tablet_photoupload WHERE id = ?", [number.replace("-", "")]) == [(0,)]
    assert site.set_aside(tablet.device) == []


def both_sides_agree(tablet: Tablet, site: Site, visit: str) -> None:
    """I5: the same answers stand on the tablet and at the office."""
    rows = site.ask("SELECT raw FROM tablet_event WHERE appointment_id = ?", [int(visit)])
    events = [json.loads(raw) for (raw,) in rows]
    replaced = {(event["field"], base) for event in events for base in event["bases"]}
    heads: dict[str, list[str]] = {}
    for event in sorted(events, key=lambda event: str(event["id"])):
        if (event["field"], event["id"]) not in replaced:
            heads.setdefault(event["field"], []).append(event["id"])
    assert tablet.heads(visit) == heads


def stored_photo(site: Site, number: str) -> str:
    """The hash of the bytes on the office's disk."""
    [(name,)] = site.ask("SELECT file FROM tablet_photoupload WHERE id = ?", [number.replace("-", "")])
    return hashlib.sha256((site.folder / "media" / name).read_bytes()).hexdigest()


def export_is_whole(lines: list[dict[str, Any]], photos: dict[str, str]) -> None:
    """Each photo in an export hashes to what the tablet said of it, by another language's library."""
    held = {one["photo"]["id"]: base64.b64decode(one["photo"]["base64"]) for one in lines if "photo" in one}
    assert {number: hashlib.sha256(content).hexdigest() for number, content in held.items()} == photos
