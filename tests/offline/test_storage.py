"""What the page called saved is still there: after a reload without signal, a killed browser, the loss of a store."""

import json
import shutil
from collections.abc import Callable
from random import Random
from typing import Any

import pytest

from tests.offline import invariants
from tests.offline.conftest import TakeTablet
from tests.offline.proxy import Proxy
from tests.offline.site import Site
from tests.offline.tablet import ADD_PHOTO, Tablet

pytestmark = pytest.mark.browser

KILLS = 20
# Types without pause and takes a photo now and then, telling the test of each one that was reported as saved.
TYPE_ON = """(visit) => { (async () => {
  for (let number = 0; ; number += 1) {
    const words = {visit, kind: 'answer', field: 'answer:rest-volts:0', value: {number: String(number), unit: 'V'}};
    const {event} = await store.record(words);
    heard({id: event.id, raw: JSON.stringify(event)});
    if (number % 3 === 2) {
      const bytes = crypto.getRandomValues(new Uint8Array(60_000));
      const value = {type: 'image/jpeg', width: 8, height: 8, item: '', caption: ''};
      const taken = await store.addPhoto({visit, file: bytes.buffer, value});
      heard({id: taken.event.id, raw: JSON.stringify(taken.event), photo: taken.id, sha256: taken.event.value.sha256});
    }
  }
})(); }"""
NO_FILES = "Object.defineProperty(navigator.storage, 'getDirectory', {value: undefined});"
NO_DATABASE = """
  IDBFactory.prototype.open = () => { throw new DOMException('Denied.', 'SecurityError'); };
"""


def listen(tablet: Tablet) -> None:
    def heard(told: dict[str, Any]) -> None:
        tablet.saved.events[told["id"]] = told["raw"]
        if "photo" in told:
            tablet.saved.photos[told["photo"]] = told["sha256"]

    tablet.page.expose_function("heard", heard)


def test_a_reload_without_signal_shows_everything_that_was_saved(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][0]
    tablet.controlled()
    line.is_cut = True
    tablet.record(visit, 5)
    tablet.page.evaluate("(visit) => store.draft(visit, 'summary', 'half a sen')", visit)
    tablet.reload()
    standing = "(id) => store.visit(id).heads.get('answer:rest-volts:0').map((one) => [one.value.number, one.receipt])"
    assert tablet.page.evaluate(standing, visit) == [["5", "waiting"]]
    assert tablet.page.evaluate("(id) => store.drafts(id).get('summary')", visit) == "half a sen"
    invariants.nothing_saved_is_lost(tablet, site)


def test_a_browser_killed_at_any_moment_keeps_what_it_called_saved(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    """Twenty flat batteries on one tablet, none of them with signal."""
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][1]
    tablet.controlled()
    line.is_cut = True
    random = Random(20)
    for _ in range(KILLS):
        listen(tablet)
        tablet.page.evaluate(TYPE_ON, visit)
        tablet.page.wait_for_timeout(random.uniform(5, 400))
        tablet.kill()
        tablet.start()
        invariants.nothing_saved_is_lost(tablet, site)
    assert len(tablet.saved.events) > KILLS
    line.heal()
    tablet.drain()
    invariants.everything_arrived_once(tablet, site)
    invariants.both_sides_agree(tablet, site, visit)


def lose_database(tablet: Tablet) -> None:
    for folder in (tablet.folder / "Default" / "IndexedDB").iterdir():
        shutil.rmtree(folder)


def lose_files(tablet: Tablet) -> None:
    shutil.rmtree(tablet.folder / "Default" / "File System")


def tear_the_journal(tablet: Tablet) -> None:
    """The end of each file is cut off, as by a disk that lost its last blocks; the database is gone too."""
    for path in (tablet.folder / "Default" / "File System").rglob("*"):
        if path.is_file() and b'"raw"' in path.read_bytes()[:200]:
            path.write_bytes(path.read_bytes()[:-30])
    lose_database(tablet)


@pytest.mark.parametrize("lose", [lose_database, lose_files], ids=["database", "file system"])
def test_one_lost_store_is_given_back_by_the_other(
    take_tablet: TakeTablet, line: Proxy, site: Site, lose: Callable[[Tablet], None]
) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][2]
    tablet.controlled()
    line.is_cut = True
    device = tablet.device
    for number in range(4):
        tablet.record(visit, number)
    tablet.add_photo(visit, seed=4)
    tablet.stop()
    lose(tablet)
    tablet.start()
    # Who this tablet is and its rounds came back too.
    assert tablet.device == device
    assert tablet.heads(visit)
    invariants.nothing_saved_is_lost(tablet, site)
    # Given back for good: the other store may now be the next to go.
    tablet.stop()
    (lose_files if lose is lose_database else lose_database)(tablet)
    tablet.start()
    assert tablet.device == device
    invariants.nothing_saved_is_lost(tablet, site)
    line.heal()
    tablet.drain()
    invariants.everything_arrived_once(tablet, site)


def test_a_torn_journal_gives_back_every_whole_line_and_says_what_is_damaged(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][3]
    tablet.controlled()
    line.is_cut = True
    told = [tablet.record(visit, number)["id"] for number in range(4)]
    tablet.stop()
    tear_the_journal(tablet)
    tablet.start()
    assert {event["id"] for event in tablet.kept()["events"]} == set(told[:-1])
    assert "1 entries of an earlier journal can't be read" in tablet.status()["message"]


@pytest.mark.parametrize(
    ("script", "storage", "says"),
    [
        (NO_FILES, "one copy", "one copy of your work"),
        (NO_DATABASE, "one copy", "one copy of your work"),
        (NO_FILES + NO_DATABASE, "not safe", "can't keep anything"),
    ],
    ids=["no file system", "no database", "neither"],
)
def test_what_the_browser_denies_is_said_before_anything_is_typed(
    take_tablet: TakeTablet, line: Proxy, site: Site, script: str, storage: str, says: str
) -> None:
    tablet = take_tablet(person=None, script=script)
    status = tablet.status()
    assert status["storage"] == storage
    assert says in status["message"]
    tablet.sign_in("theo")
    visit = site.people["theo"]["visits"][4]
    if storage == "not safe":
        # Rounds that nothing can keep are no reason to go down the stairs.
        refused = tablet.page.evaluate(
            "() => store.registerDevice('Van 1').then(() => store.refreshPack()).catch((error) => error.message)"
        )
        assert "kept" in refused
        refused = tablet.page.evaluate(
            "(words) => store.record(words).catch((error) => ({name: error.name, copies: error.copies}))",
            {"visit": visit, "kind": "note", "field": "summary", "value": {"text": "a"}},
        )
        assert refused == {"name": "NotSaved", "copies": {"database": False, "journal": False}}
        return
    assert tablet.fetch_rounds() == "new"
    tablet.controlled()
    line.is_cut = True
    copies = tablet.record(visit, 1)["copies"]
    assert copies == {"database": script == NO_FILES, "journal": script == NO_DATABASE}
    tablet.add_photo(visit, seed=2)
    tablet.reload()
    invariants.nothing_saved_is_lost(tablet, site)
    line.heal()
    tablet.drain()
    invariants.everything_arrived_once(tablet, site)


def test_a_full_tablet_refuses_to_pretend(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][5]
    tablet.controlled()
    line.is_cut = True
    tablet.record(visit, 1)
    assert tablet.context is not None
    tools = tablet.context.new_cdp_session(tablet.page)
    tools.send("Storage.overrideQuotaForOrigin", {"origin": line.address, "quotaSize": 1000})
    photo = {"visit": visit, "seed": 8, "size": 3_000_000}
    told = "({name, copies, message}) => ({name, copies, message})"
    refusal = f"(words) => ({ADD_PHOTO})(words).then(() => null, {told})"
    refused = tablet.page.evaluate(refusal, photo)
    assert refused["name"] == "NotSaved"
    assert not all(refused["copies"].values())
    assert "Not saved safely" in refused["message"]
    assert tablet.status()["storage"] != "safe"
    # With room again, what is taken next is saved in both.
    tools.send("Storage.overrideQuotaForOrigin", {"origin": line.address})
    assert tablet.add_photo(visit, seed=8, size=3_000_000)["copies"] == {"database": True, "journal": True}
    assert tablet.status()["storage"] == "safe"
    tablet.reload()
    invariants.nothing_saved_is_lost(tablet, site)


def test_the_export_holds_everything_and_shows_where_it_ends(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][6]
    line.is_cut = True
    tablet.record(visit, 1)
    tablet.add_photo(visit, seed=11, size=50_000)
    text = tablet.page.evaluate("async () => await (await store.exportFile()).text()")
    lines = [json.loads(one) for one in text.splitlines()]
    assert lines[0]["tablet_export"] == 1
    assert lines[0]["device"] == tablet.device
    assert {one["event"]["id"]: one["event"]["raw"] for one in lines if "event" in one} == tablet.saved.events
    assert lines[-1] == {"end": {"events": 2, "photos": 1}}
    invariants.export_is_whole(lines, tablet.saved.photos)


def test_the_ready_check_says_what_holds_and_the_office_keeps_it(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    tablet.controlled()
    checks = {check["code"]: check for check in tablet.page.evaluate("() => store.ready()")}
    for code in ("worker", "database", "journal", "clock", "key", "rounds", "version"):
        assert checks[code]["ok"], checks[code]
    # Nobody promised anything to a page that is not installed, and no camera is in this machine.
    for code in ("persistent", "camera"):
        assert not checks[code]["ok"]
        assert checks[code]["sentence"]
    kept = "SELECT checks FROM tablet_device WHERE id = ?"
    number = tablet.device.replace("-", "")
    tablet.until(lambda: bool(json.loads(site.ask(kept, [number])[0][0])))
    assert {check["code"] for check in json.loads(site.ask(kept, [number])[0][0])} == set(checks)
