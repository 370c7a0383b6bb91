"""What was saved reaches the office, once, whatever happens on the way."""

import json
import os
from typing import Any

import pytest

from tests.offline import invariants
from tests.offline.conftest import TakeTablet
from tests.offline.proxy import FAULTS, Proxy
from tests.offline.runs import play
from tests.offline.site import Site

pytestmark = pytest.mark.browser

# Ten in every run of the suite; OFFLINE_SEEDS=200 is the long version.
SEEDS = range(int(os.environ.get("OFFLINE_SEEDS", "10")))


def all_holds(tablet: Any, site: Site, visit: str) -> None:
    invariants.nothing_saved_is_lost(tablet, site)
    invariants.everything_arrived_once(tablet, site)
    invariants.both_sides_agree(tablet, site, visit)


def test_what_was_typed_without_signal_arrives_once(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][0]
    line.is_cut = True
    for number in range(5):
        tablet.record(visit, number)
    tablet.add_photo(visit, seed=1, size=700_000)
    status = tablet.status()
    assert (status["unsent"], status["unsentPhotos"], status["storage"]) == (6, 1, "safe")
    line.heal()
    tablet.drain()
    all_holds(tablet, site, visit)
    assert tablet.status()["lastSentAt"] is not None


@pytest.mark.parametrize("seed", SEEDS)
def test_a_day_of_faults_loses_and_doubles_nothing(take_tablet: TakeTablet, line: Proxy, site: Site, seed: int) -> None:
    tablet = take_tablet()
    tablet.controlled()
    play(tablet, site, line, seed=seed)


def test_every_fault_by_itself_is_survived(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][1]
    for number, fault in enumerate(FAULTS):
        line.again(seed=number, share=0.7)
        line.only = (fault,)
        tablet.record(visit, number)
        tablet.add_photo(visit, seed=number + 1, size=300_000)
        tablet.send()
        tablet.send()
        line.heal()
        tablet.drain()
        assert line.done, fault
        all_holds(tablet, site, visit)
    line.only = ()


def test_an_expired_sign_in_stops_neither_typing_nor_sending(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][2]
    ended = site.end_session("theo")
    tablet.record(visit, 1)
    tablet.drain()
    all_holds(tablet, site, visit)
    assert tablet.fetch_rounds() == "signed out"
    assert tablet.status()["needsSignIn"]
    site.begin_session(ended)


def test_a_key_that_ended_keeps_everything_until_somebody_signs_in(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][3]
    ended = site.end_session("theo")
    site.end_keys(tablet.device)
    tablet.record(visit, 1)
    tablet.send()
    status = tablet.status()
    assert (status["unsent"], status["needsSignIn"]) == (1, True)
    assert "Sign in" in status["message"]
    site.begin_session(ended)
    tablet.sign_in("theo")
    assert tablet.fetch_rounds() == "new"
    tablet.drain()
    assert not tablet.status()["needsSignIn"]
    all_holds(tablet, site, visit)


def test_somebody_else_signed_in_hands_in_but_does_not_read(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][4]
    line.is_cut = True
    tablet.record(visit, 7)
    # All while the line is cut: healed before, the tablet may send by itself while Theo is still signed in.
    site.end_keys(tablet.device)
    tablet.sign_in("ana")
    line.heal()
    # Her rounds take the place of his, and his answers are in no view of hers.
    assert tablet.fetch_rounds() == "new"
    assert tablet.page.evaluate("() => store.pack().person.name") == "Ana Delgado"
    assert tablet.page.evaluate("(id) => store.visit(id)", visit) is None
    tablet.drain()
    invariants.everything_arrived_once(tablet, site)
    [(actor, by)] = site.ask(
        "SELECT actor_id, uploaded_by_id FROM tablet_event WHERE device_id = ?", [tablet.device.replace("-", "")]
    )
    assert (actor, by) == (site.people["theo"]["id"], site.people["ana"]["id"])


def test_signing_out_with_unsent_work_warns_and_keeps_it(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][5]
    ended = site.session_row("theo")
    line.is_cut = True
    tablet.record(visit, 3)
    assert tablet.page.evaluate("() => store.signOut()") == {"done": False, "unsent": 1}
    line.heal()
    line.broken = b"/tablet/api/events"
    assert tablet.page.evaluate("() => store.signOut({force: true})") == {"done": True, "unsent": 1}
    site.begin_session(ended)
    assert tablet.page.evaluate("() => store.pack()") is None
    invariants.nothing_saved_is_lost(tablet, site)
    line.heal()
    tablet.drain()
    invariants.everything_arrived_once(tablet, site)


# Everything that either store holds of the rounds, as text.
ROUNDS_KEPT = """
async () => {
  const found = [];
  const asked = indexedDB.open('tablet');
  const db = await new Promise((done) => { asked.onsuccess = () => done(asked.result); });
  const all = db.transaction('meta').objectStore('meta').getAll();
  await new Promise((done) => { all.onsuccess = done; });
  db.close();
  found.push(JSON.stringify(all.result));
  const read = async (folder) => {
    for await (const one of folder.values()) {
      if (one.kind === 'directory') await read(one);
      else if (!one.name.endsWith('.ndjson')) found.push(await (await one.getFile()).text());
    }
  };
  await read(await navigator.storage.getDirectory());
  return found.filter((text) => text.includes('"checklists"')).length;
}
"""


def test_signing_out_takes_the_rounds_off_the_tablet_and_needs_the_office(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    ended = site.session_row("theo")
    assert tablet.page.evaluate(ROUNDS_KEPT) == 2
    line.is_cut = True
    # Nobody can end a sign-in but the office: without it everything stays as it is.
    refused = "() => store.signOut().then(() => 'done', (problem) => problem.name)"
    assert tablet.page.evaluate(refused) == "NoAnswer"
    assert tablet.page.evaluate("() => store.pack().person.name") == "Theo Marsh"
    assert tablet.page.evaluate(ROUNDS_KEPT) == 2
    line.heal()
    assert tablet.page.evaluate("() => store.signOut()") == {"done": True, "unsent": 0}
    site.begin_session(ended)
    assert tablet.page.evaluate(ROUNDS_KEPT) == 0
    assert tablet.page.evaluate("() => store.pack()") is None


def test_a_restored_database_gets_back_all_that_the_tablet_keeps(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][6]
    tablet.record(visit, 1)
    tablet.drain()
    copy = site.backup()
    tablet.record(visit, 2)
    tablet.add_photo(visit, seed=5)
    tablet.drain()
    site.restore(copy)
    assert len(site.events(tablet.device)) == 1
    tablet.record(visit, 3)
    tablet.drain()
    tablet.drain()
    all_holds(tablet, site, visit)
    assert len(site.events(tablet.device)) == 4


def test_an_office_restored_to_before_it_knew_the_tablet_gets_to_know_it_again(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    copy = site.backup()
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][6]
    tablet.record(visit, 1)
    tablet.drain()
    site.restore(copy)
    assert site.name_of(tablet.device) is None
    assert tablet.page.evaluate("() => store.refreshPack()") == "new"
    assert site.name_of(tablet.device) == "Tablet of the tests"
    tablet.drain()
    all_holds(tablet, site, visit)


def test_a_tablet_without_a_name_is_told_to_get_ready_and_gets_no_rounds(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet(person=None)
    tablet.sign_in("theo")
    said = tablet.page.evaluate("() => store.refreshPack().catch((error) => error.message)")
    assert said.startswith("The office does not know this tablet yet. Open “Sign in”")
    assert tablet.page.evaluate(ROUNDS_KEPT) == 0
    assert tablet.fetch_rounds() == "new"


def test_two_tabs_save_and_send_at_once(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][7]
    assert tablet.context is not None
    other = tablet.context.new_page()
    tablet.open(other)
    line.again(seed=3, share=0.3)
    for number in range(8):
        for page in (tablet.page, other):
            tablet.record(visit, number, page=page)
            page.evaluate("() => { store.sendNow(); }")
    line.heal()
    tablet.drain()
    all_holds(tablet, site, visit)
    tablet.until(lambda: tablet.status(other)["unsent"] == 0)


def test_an_item_that_cannot_be_taken_holds_up_no_other(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][0]
    line.is_cut = True
    strokes = "x" * 1_100_000
    value = {"kind": "typed", "name": strokes, "strokes": [], "signed": [], "signed_sha256": ""}
    big = tablet.page.evaluate(
        "async (words) => (await store.record(words)).event.id",
        {"visit": visit, "kind": "signature", "field": "signature", "value": value},
    )
    told = tablet.record(visit, 1)
    line.heal()
    tablet.send()
    tablet.until(lambda: tablet.status()["unsent"] == 1)
    assert told["id"] in site.events(tablet.device)
    assert big in {event["id"] for event in tablet.kept()["events"]}
    assert tablet.status()["message"] != ""


def test_received_work_is_forgotten_a_fortnight_after_its_visit_was_closed(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    closed, open_visit = site.people["theo"]["visits"][1], site.people["theo"]["visits"][2]
    tablet.record(closed, 1)
    tablet.add_photo(closed, seed=9)
    tablet.record(open_visit, 2)
    tablet.drain()
    set_closed = """async ([visit, days]) => {
      const db = await new Promise((resolve, reject) => {
        const asked = indexedDB.open('tablet');
        asked.onsuccess = () => resolve(asked.result);
        asked.onerror = () => reject(asked.error);
      });
      const closed = new Date(Date.now() - days * 864e5).toISOString();
      await new Promise((resolve) => {
        const writing = db.transaction('visits', 'readwrite');
        writing.objectStore('visits').put({visit, state: 'finished', events: [], missing: [], closed});
        writing.oncomplete = resolve;
      });
      db.close();
    }"""
    for days, kept in ((13.9, True), (14.1, False)):
        tablet.page.evaluate(set_closed, [closed, days])
        tablet.reload()
        tablet.record(open_visit, 3)
        tablet.drain()
        events = [json.loads(event["raw"])["visit"] for event in tablet.kept()["events"]]
        assert (closed in events) is kept, days
        assert open_visit in events
    assert tablet.kept()["photos"] == []
    assert all(number in site.events(tablet.device) for number in tablet.saved.events)
