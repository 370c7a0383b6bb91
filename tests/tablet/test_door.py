"""The door takes everything: it stores exact bytes, gives a receipt of what is there, and sets the rest aside whole."""

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.tablet import views
from contractor.tablet.access import MOST_A_MINUTE
from contractor.tablet.actions import door
from contractor.tablet.actions.devices import KEY_LASTS, allow_device_again, heard_from, register_device, revoke_device
from contractor.tablet.actions.epoch import epoch_now, new_epoch
from contractor.tablet.errors import DeviceRevoked, ReasonMissing
from contractor.tablet.models import Device, Event, SetAside, UploadKey
from contractor.visits.actions.appointments import cancel_appointment, move_appointment
from contractor.visits.models import Appointment
from tests.checkups.factories import appointment_for
from tests.factories import SystemFactory
from tests.tablet.hands import Tablet, item, registered, sha256

pytestmark = pytest.mark.django_db
EVENTS = reverse("tablet:events")


def post(tablet: Tablet, items: list[Any], **headers: str) -> Any:
    """Hands items in with the tablet's key, as its page does."""
    assert tablet.key is not None
    body = json.dumps({"items": items, "waiting": 3, "client": "test", "device": str(tablet.device)})
    sent = {"Authorization": f"Bearer {tablet.key.key}", "Sec-Fetch-Site": "same-origin", **headers}
    browser = Client(enforce_csrf_checks=True)
    return browser.post(EVENTS, body, content_type="application/json", headers=sent)


@pytest.fixture
def fresh(visit: Appointment, theo: User) -> Tablet:
    """A tablet whose key is good now: these tests go through the address, which reads the clock."""
    return registered(theo, visit, clock.now())


def test_an_event_is_stored_byte_for_byte_and_the_receipt_is_of_what_is_there(fresh: Tablet) -> None:
    one = fresh.answer("owner-told", text="Ümläut, “quotes”, \\ and 水")
    raw = fresh.kept[one].replace(', "', ' ,\t"')  # spaces are bytes too
    answer = post(fresh, [item(raw)]).json()
    assert answer["receipts"] == [
        {"id": one, "sha256": sha256(raw), "status": "stored", "flags": [], "sentence": ""}
    ]
    row = Event.objects.get()
    assert (row.raw, row.sha256, str(row.pk)) == (raw, sha256(raw), one)
    assert (row.actor, row.uploaded_by) == (fresh.person, fresh.person)
    assert answer["epoch"] == epoch_now(at=clock.now())
    assert answer["visits"][str(fresh.visit.pk)]["heads"] == {"answer:owner-told:0": [one]}


def test_the_same_again_is_a_duplicate_with_the_same_receipt(tablet: Tablet, at: datetime) -> None:
    tablet.answer("mould", condition="good")
    [first] = tablet.send(at)
    [again] = tablet.send(at + timedelta(hours=1))
    assert (first.status, again.status) == ("stored", "duplicate")
    assert (first.id, first.sha256) == (again.id, again.sha256)
    assert Event.objects.count() == 1


def test_the_same_id_with_other_words_is_an_alarm_and_changes_nothing(tablet: Tablet, at: datetime) -> None:
    one = tablet.answer("mould", condition="good")
    tablet.send(at)
    other = tablet.kept[one].replace('"good"', '"bad"')
    [receipt] = door.take_items(items=[item(other)], sender=tablet.sender, at=at)
    assert (receipt.status, receipt.sha256) == ("quarantined", sha256(other))
    aside = SetAside.objects.get()
    assert (aside.is_alarm, aside.reason, bytes(aside.raw).decode()) == (True, "other_content", other)
    assert Event.objects.get().raw == tablet.kept[one]


def test_what_was_set_aside_comes_again_and_stands_there_once(tablet: Tablet, at: datetime) -> None:
    broken = {"id": "x", "raw": "{", "sha256": sha256("{")}
    for _ in range(3):
        [receipt] = door.take_items(items=[broken], sender=tablet.sender, at=at)
        assert receipt.sha256 == sha256("{")
    assert SetAside.objects.count() == 1


@pytest.mark.parametrize(
    "sent",
    [
        None,
        7,
        "text",
        [],
        {},
        {"id": "x"},
        {"id": "x", "raw": 7, "sha256": "y"},
        {"id": ["x"], "raw": "{}", "sha256": None},
        {"id": "x" * 10_000, "raw": "{}", "sha256": sha256("{}")},
        {"id": "x", "raw": "null \x00", "sha256": sha256("null \x00")},
        {"id": "\ud800", "raw": "\ud800\x00", "sha256": ""},
        {"id": "x", "raw": "{", "sha256": "0" * 64},
    ],
    ids=repr,
)
def test_whatever_it_is_it_is_kept_whole_with_a_sentence(tablet: Tablet, at: datetime, sent: Any) -> None:
    good = tablet.answer("mould", condition="good")
    receipts = door.take_items(items=[sent, item(tablet.kept[good])], sender=tablet.sender, at=at)
    assert [receipt.status for receipt in receipts] == ["quarantined", "stored"]
    aside = SetAside.objects.get()
    assert receipts[0].sha256 == aside.sha256 == sha256(bytes(aside.raw))
    assert aside.sentence.endswith(".")
    if isinstance(sent, dict) and isinstance(sent.get("raw"), str):
        assert bytes(aside.raw) == sent["raw"].encode("utf-8", "surrogatepass")


def test_a_text_that_changed_on_its_way_is_set_aside_until_it_comes_whole(tablet: Tablet, at: datetime) -> None:
    one = tablet.answer("mould", condition="good")
    whole = item(tablet.kept[one])
    [receipt] = door.take_items(items=[{**whole, "raw": whole["raw"][:-3] + "x}}"}], sender=tablet.sender, at=at)
    assert receipt.status == "quarantined"
    assert receipt.sha256 != whole["sha256"]  # so the tablet keeps it and sends it again
    damaged = {**whole, "raw": whole["raw"].replace("good", "g00d")}
    door.take_items(items=[damaged], sender=tablet.sender, at=at)
    [receipt] = tablet.send(at)
    assert receipt.status == "stored"
    assert not SetAside.objects.waiting().filter(claimed_id=one).exists()


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"visit": "987654321"}, "no_visit"),
        ({"actor": 987_654_321}, "no_person"),
        ({"device": str(UUID(int=5))}, "unproven"),
        ({"device": str(UUID(int=0))}, "unproven"),
        ({"v": 2}, "newer_version"),
        ({"bases": None}, "wrong_bases"),
    ],
)
def test_what_names_nothing_that_is_known_here_waits_for_the_office(
    tablet: Tablet, at: datetime, changed: dict[str, Any], reason: str
) -> None:
    tablet.say("answer", "answer:mould:0", {"condition": "good"}, **changed)
    [receipt] = tablet.send(at)
    assert (receipt.status, SetAside.objects.get().reason) == ("quarantined", reason)
    assert Event.objects.count() == 0


def test_a_visit_that_was_never_given_to_its_author_is_foreign(
    tablet: Tablet, at: datetime, on: date, ana: User
) -> None:
    stop = appointment_for(SystemFactory(), ana, on)
    tablet.say("answer", "answer:mould:0", {"condition": "good"}, visit=str(stop.pk))
    [receipt] = tablet.send(at)
    assert receipt.status == "quarantined"
    assert SetAside.objects.get().reason == "foreign"


@pytest.mark.parametrize(
    ("change", "flag"), [("cancel", "late:cancelled"), ("give", "late:reassigned"), ("move", "late:moved")]
)
def test_what_comes_late_is_taken_and_flagged(
    tablet: Tablet, at: datetime, on: date, nora: User, ana: User, change: str, flag: str
) -> None:
    tablet.answer("mould", condition="good")
    if change == "cancel":
        cancel_appointment(appointment_id=tablet.visit.pk, because="Away", by=nora.actor, at=at)
    else:
        who, when = (ana, on) if change == "give" else (tablet.person, on + timedelta(days=3))
        move_appointment(appointment_id=tablet.visit.pk, technician_id=who.pk, on=when, by=nora.actor, at=at)
    [receipt] = tablet.send(at)
    assert (receipt.status, receipt.flags) == ("stored", (flag,))


def test_another_person_hands_in_what_somebody_typed_and_reads_nothing_of_it(
    fresh: Tablet, ana: User, signed_in_as: Callable[[User], Client]
) -> None:
    fresh.answer("mould", condition="good")
    register_device(device_id=fresh.device, name="Tablet 1", about={}, person=ana, at=clock.now())
    body = json.dumps({"items": fresh.items(), "device": str(uuid4())})
    answer = signed_in_as(ana).post(EVENTS, body, content_type="application/json").json()
    assert answer["receipts"][0]["status"] == "stored"
    assert answer["visits"][str(fresh.visit.pk)]["events"] == []
    row = Event.objects.get()
    assert (row.actor, row.uploaded_by) == (fresh.person, ana)


def test_the_technician_hears_what_another_device_said(fresh: Tablet) -> None:
    second = registered(fresh.person, fresh.visit, clock.now(), name="Tablet 2")
    second.answer("mould", condition="bad")
    post(second, second.items())
    fresh.answer("temperature", number="68", unit="degF")
    told = post(fresh, fresh.items()).json()["visits"][str(fresh.visit.pk)]
    assert told["events"] == list(second.kept.values())
    assert set(told["heads"]) == {"answer:mould:0", "answer:temperature:0"}


def test_a_partial_batch_keeps_its_good_part(fresh: Tablet) -> None:
    good = [fresh.answer("mould", condition="good"), fresh.answer("temperature", number="68", unit="degF")]
    items = fresh.items()
    answer = post(fresh, [items[0], {"id": "x"}, items[1], None]).json()
    assert [receipt["status"] for receipt in answer["receipts"]] == ["stored", "quarantined", "stored", "quarantined"]
    assert {str(pk) for pk in Event.objects.values_list("pk", flat=True)} == set(good)


def test_a_failure_in_the_middle_keeps_nothing_and_promises_nothing(
    tablet: Tablet, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    tablet.answer("mould", condition="good")
    tablet.answer("temperature", number="68", unit="degF")
    with monkeypatch.context() as broken:
        broken.setattr(door, "note_events", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            tablet.send(at)
    assert Event.objects.count() == 0
    assert [receipt.status for receipt in tablet.send(at)] == ["stored", "stored"]


@pytest.mark.django_db(transaction=True)
def test_a_receipt_is_read_back_after_the_commit(tablet: Tablet, at: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    """It promises what is there: where a row was lost by then, the receipt has no hash and clears nothing."""
    tablet.answer("mould", condition="good")
    read_back = door._receipts

    def after_a_loss(*args: Any) -> Any:
        assert not connection.in_atomic_block
        Event.objects.all().delete()
        return read_back(*args)

    with monkeypatch.context() as unlucky:
        unlucky.setattr(door, "_receipts", after_a_loss)
        [receipt] = tablet.send(at)
    assert receipt.sha256 == ""
    [receipt] = tablet.send(at)
    assert (receipt.status, receipt.sha256) == ("stored", sha256(next(iter(tablet.kept.values()))))


@pytest.mark.parametrize(
    ("items", "status"),
    [
        (51, 413),
        (50, 200),
        (0, 200),
    ],
)
def test_how_many_items_are_taken_at_once(fresh: Tablet, items: int, status: int) -> None:
    answer = post(fresh, [None] * items)
    assert answer.status_code == status
    if status == 413:
        assert (answer.json()["most_items"], answer.json()["most_bytes"]) == (views.MOST_ITEMS, views.MOST_BYTES)


def test_how_many_bytes_are_taken_at_once(fresh: Tablet) -> None:
    long = item(fresh.kept[fresh.answer("owner-told", text="x" * 300_000)])
    assert post(fresh, [long, long]).status_code == 413
    assert post(fresh, [long]).json()["receipts"][0]["status"] == "stored"
    assert post(fresh, [{**long, "raw": "x" * 1_100_000}]).status_code == 413


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"\xff", b'{"items": 7}', b"[" * 200_000])
def test_a_request_that_is_none_gets_a_sentence(fresh: Tablet, body: bytes) -> None:
    assert fresh.key is not None
    key = {"Authorization": f"Bearer {fresh.key.key}"}
    answer = Client().post(EVENTS, body, content_type="application/json", headers=key)
    assert answer.status_code == 400
    assert answer.json()["sentence"]


def test_a_key_lasts_thirty_days_and_is_renewed_while_somebody_is_signed_in(tablet: Tablet, at: datetime) -> None:
    assert tablet.key is not None
    row = UploadKey.objects.get()
    assert row.expires_at == at + KEY_LASTS == at + timedelta(days=30)
    later = at + timedelta(days=9)
    used = {"device_id": tablet.device, "person": tablet.person, "waiting": 0, "client": ""}
    heard_from(at=later, key_id=row.pk, **used)
    row.refresh_from_db()
    assert (row.last_used_at, row.expires_at) == (later, at + KEY_LASTS)  # the key alone renews nothing
    heard_from(at=later, key_id=None, **used)
    row.refresh_from_db()
    assert row.expires_at == later + KEY_LASTS


def test_only_the_hash_of_a_key_is_kept(tablet: Tablet) -> None:
    assert tablet.key is not None
    assert len(tablet.key.key) >= 43  # 256 bits in base64
    row = UploadKey.objects.get()
    assert row.key_sha256 == sha256(tablet.key.key)


def refused(answer: Any) -> bool:
    return answer.status_code == 401 and bool(answer.json()["sentence"])


def test_a_key_that_ended_is_told_so_and_takes_nothing(fresh: Tablet, nora: User) -> None:
    fresh.answer("mould", condition="good")
    assert refused(post(fresh, fresh.items(), Authorization="Bearer nonsense"))
    assert refused(post(fresh, fresh.items(), Authorization="Bearer "))
    UploadKey.objects.update(expires_at=clock.now())
    assert refused(post(fresh, fresh.items()))
    register_device(device_id=fresh.device, name="Tablet 1", about={}, person=fresh.person, at=clock.now())
    assert refused(post(fresh, fresh.items()))  # the older key ended with the newer one
    assert Event.objects.count() == 0


def test_a_closed_tablet_sends_nothing_and_gets_no_key_until_it_is_allowed_again(
    fresh: Tablet, nora: User, at: datetime
) -> None:
    with pytest.raises(ReasonMissing):
        revoke_device(device_id=fresh.device, because=" ", by_user=nora, at=at)
    revoke_device(device_id=fresh.device, because="Lost on the train", by_user=nora, at=at)
    assert refused(post(fresh, fresh.items()))
    again = {"device_id": fresh.device, "name": "x", "about": {}, "person": fresh.person, "at": at}
    with pytest.raises(DeviceRevoked):
        register_device(**again)
    allow_device_again(device_id=fresh.device, by_user=nora, at=at)
    assert refused(post(fresh, fresh.items()))  # whoever found it may know the old key
    assert register_device(**again).key


def test_a_key_is_no_good_on_a_closed_tablet_even_where_it_was_not_ended(fresh: Tablet, at: datetime) -> None:
    """As when it was closed while its key was being made."""
    Device.objects.update(revoked_at=at)
    assert refused(post(fresh, fresh.items()))


def test_somebody_who_left_hands_in_nothing_with_their_key(fresh: Tablet) -> None:
    User.objects.filter(pk=fresh.person.pk).update(is_active=False)
    assert refused(post(fresh, fresh.items()))


def test_another_site_is_refused(fresh: Tablet) -> None:
    assert post(fresh, [], **{"Sec-Fetch-Site": "cross-site"}).status_code == 403
    assert post(fresh, [], **{"Sec-Fetch-Site": "same-origin"}).status_code == 200


def test_with_a_session_the_token_is_asked_for(fresh: Tablet) -> None:
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(fresh.person)
    body = json.dumps({"items": fresh.items(), "device": str(fresh.device)})
    assert browser.post(EVENTS, body, content_type="application/json").status_code == 403
    token = browser.get(reverse("tablet:me")).json()["csrf"]
    answer = browser.post(EVENTS, body, content_type="application/json", headers={"X-CSRFToken": token})
    assert answer.status_code == 200


def test_who_asks_too_often_is_told_when_to_come_again(fresh: Tablet, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("contractor.tablet.access.MOST_A_MINUTE", 2)
    assert MOST_A_MINUTE > 700  # a photo of 0.4 MB is two chunks: sixty of them go through in a minute
    cache.clear()
    answers = [post(fresh, []) for _ in range(5)]
    assert 429 in {answer.status_code for answer in answers}
    assert int(answers[-1]["Retry-After"]) <= 60


def test_what_a_tablet_said_of_itself_is_kept(fresh: Tablet) -> None:
    post(fresh, [])
    device = Device.objects.get()
    assert (device.waiting, device.client, device.last_person) == (3, "test", fresh.person)


def test_a_new_life_of_the_database_has_another_number(at: datetime, db: None) -> None:
    first = epoch_now(at=at)
    assert epoch_now(at=at + timedelta(days=1)) == first
    began = new_epoch(because="Restored from Tuesday's backup.", at=at)
    assert epoch_now(at=at) == str(began.epoch) != first
