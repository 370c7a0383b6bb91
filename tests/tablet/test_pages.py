"""The desk's pages about tablets, the pack, the shell, and the file that a tablet saves."""

import base64
import gzip
import io
import json
from collections.abc import Callable
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client, override_settings
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.systems.models import Component
from contractor.tablet.actions.importing import import_export
from contractor.tablet.errors import UnreadableFile
from contractor.tablet.models import Device, Event, PhotoUpload, ServerEpoch, SetAside
from contractor.tablet.pack import pack_for
from contractor.visits.models import Appointment
from tests.checkups.factories import appointment_for, begun, finished
from tests.factories import SystemFactory
from tests.tablet.hands import Tablet, item, registered, sha256, whole_checkup

pytestmark = pytest.mark.django_db
Browse = Callable[[User], Client]


def saved_file(tablet: Tablet, *, whole: bool = True) -> bytes:
    """What a tablet saves when nothing else gets through."""
    lines: list[dict[str, Any]] = [
        {"tablet_export": 1, "device": str(tablet.device), "client": "test", "made": "2026-05-04T18:00:00Z"}
    ]
    lines += [{"event": item(raw)} for raw in tablet.kept.values()]
    lines += [
        {"photo": {"id": photo_id, "sha256": sha256(content), "base64": base64.b64encode(content).decode()}}
        for photo_id, content in tablet.photos.items()
    ]
    lines += [{"end": {"events": len(tablet.kept), "photos": len(tablet.photos)}}] if whole else []
    return "".join(json.dumps(line) + "\n" for line in lines).encode()


def test_a_saved_file_goes_through_the_same_door(
    tablet: Tablet, parts: dict[str, Component], at: datetime, nora: User
) -> None:
    whole_checkup(tablet, parts)
    file = saved_file(tablet)
    first = import_export(file=io.BytesIO(file), by_user=nora, at=at)
    assert (first.new, first.known, first.set_aside, first.photos, first.torn, first.is_whole) == (8, 0, 0, 1, (), True)
    again = import_export(file=io.BytesIO(file), by_user=nora, at=at)
    assert (again.new, again.known, again.photos) == (0, 8, 1)
    assert {row.actor for row in Event.objects.all()} == {tablet.person}
    assert {row.uploaded_by for row in Event.objects.all()} == {nora}
    assert PhotoUpload.objects.get().sha256 == sha256(next(iter(tablet.photos.values())))


def test_a_closed_tablets_work_comes_in_by_its_file(tablet: Tablet, at: datetime, nora: User) -> None:
    tablet.answer("mould", condition="good")
    Device.objects.update(revoked_at=at)
    assert import_export(file=io.BytesIO(saved_file(tablet)), by_user=nora, at=at).new == 1


def test_half_a_file_loses_only_its_torn_line(tablet: Tablet, at: datetime, nora: User) -> None:
    tablet.answer("mould", condition="good")
    tablet.answer("temperature", number="68", unit="degF")
    file = saved_file(tablet, whole=False)[:-30]
    taken = import_export(file=io.BytesIO(file), by_user=nora, at=at)
    assert (taken.new, taken.torn, taken.is_whole) == (1, (3,), False)


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"{}", b"[1]\n", b'{"tablet_export": 2}\n'])
def test_another_file_is_refused_with_a_sentence(nora: User, signed_in_as: Browse, content: bytes) -> None:
    with pytest.raises(UnreadableFile):
        import_export(file=io.BytesIO(content), by_user=nora, at=clock.now())
    file = SimpleUploadedFile("work.ndjson", content)
    page = signed_in_as(nora).post(reverse("tablet:hand_in_file"), {"file": file})
    assert page.status_code == 200
    assert "Nothing was saved yet" in page.content.decode()


def test_the_page_says_what_a_file_brought(tablet: Tablet, nora: User, signed_in_as: Browse) -> None:
    tablet.answer("mould", condition="good")
    file = SimpleUploadedFile("work.ndjson", saved_file(tablet))
    page = signed_in_as(nora).post(reverse("tablet:hand_in_file"), {"file": file}).content.decode()
    assert "1 new, 0 known before, 0 photos." in page


def test_the_pack_holds_the_rounds_of_one_person_and_nobody_elses(
    tablet: Tablet, on: date, theo: User, ana: User, system: Any
) -> None:
    foreign = appointment_for(SystemFactory(property__street="99 Elsewhere Road"), ana, on)
    pack = pack_for(person=theo, on=on, days=2, epoch="e", client="c")
    assert [visit["visit"] for visit in pack.content["visits"]] == [str(tablet.visit.pk)]
    assert "99 Elsewhere Road" not in json.dumps(pack.content)
    assert str(foreign.pk) not in {visit["visit"] for visit in pack.content["visits"]}
    assert pack_for(person=ana, on=on, days=2, epoch="e", client="c").content["visits"][0]["house"]["label"].startswith(
        "99 Elsewhere Road"
    )


def test_the_pack_asks_what_a_page_would_ask(
    tablet: Tablet, on: date, at: datetime, theo: User, parts: dict[str, Component], system: Any
) -> None:
    last_year = begun(system, theo, date(2025, 5, 10), at)
    finished(last_year, at)
    [visit] = pack_for(person=theo, on=on, days=1, epoch="e", client="c").content["visits"]
    lines = {f"answer:{line['item']}:{line['component']}": line for line in visit["lines"]}
    battery = parts["battery"].pk
    assert list(lines)[:2] == ["answer:temperature:0", "answer:mould:0"]
    assert lines[f"answer:rest-volts:{battery}"]["last"] == {
        "text": "12.7 V, good",
        "on": "2025-05-10",
        "number": "12.7",
        "unit": "V",
    }
    assert lines[f"answer:pit-rise:{parts['pit'].pk}"]["data"] == {
        "pit": parts["pit"].pk,
        "pit_diameter_m": 0.4572,
    }
    assert visit["house"]["address"][0] == "12 Millrace Lane"
    assert visit["house"]["owner"]["name"] == "Iris Holloway"


def test_the_drawing_is_put_together_from_its_pieces(tablet: Tablet, on: date, theo: User) -> None:
    content = pack_for(person=theo, on=on, days=1, epoch="e", client="c").content
    svg = "".join(content["pieces"][place] for place in content["visits"][0]["drawing"])
    assert svg.startswith("<svg ")
    assert svg.endswith("</svg>")


def test_the_number_of_queries_of_a_pack_does_not_grow_with_the_stops(
    tablet: Tablet, on: date, theo: User, django_assert_max_num_queries: Any
) -> None:
    for _ in range(5):
        appointment_for(SystemFactory(), theo, on)
    with django_assert_max_num_queries(21):
        assert len(pack_for(person=theo, on=on, days=1, epoch="e", client="c").content["visits"]) == 6


def test_a_pack_goes_through_a_thin_line_packed(
    tablet: Tablet, theo: User, signed_in_as: Browse
) -> None:
    Appointment.objects.update(on=clock.today())
    for _ in range(11):
        appointment_for(SystemFactory(), theo, clock.today())
    browser, asked = signed_in_as(theo), {"device": str(tablet.device)}
    plain = browser.get(reverse("tablet:pack"), asked)
    packed = browser.get(reverse("tablet:pack"), asked, headers={"Accept-Encoding": "gzip"})
    assert packed["Content-Encoding"] == "gzip"
    sent = json.loads(gzip.decompress(packed.content))
    assert [visit["visit"] for visit in sent["visits"]] == [visit["visit"] for visit in plain.json()["visits"]]
    assert len(sent["visits"]) == 12
    assert len(packed.content) < len(plain.content) / 2


def test_a_pack_that_did_not_change_is_not_sent_again(tablet: Tablet, theo: User, signed_in_as: Browse) -> None:
    browser, asked = signed_in_as(theo), {"device": str(tablet.device)}
    first = browser.get(reverse("tablet:pack"), asked)
    again = browser.get(reverse("tablet:pack"), asked, headers={"If-None-Match": first["ETag"]})
    assert (first.status_code, again.status_code) == (200, 304)


def test_the_shell_is_the_same_for_everybody(theo: User, signed_in_as: Browse) -> None:
    stranger, his = Client().get(reverse("tablet:shell")), signed_in_as(theo).get(reverse("tablet:shell"))
    assert stranger.content == his.content
    assert theo.name.encode() not in his.content
    assert not his.cookies


def test_a_broken_worker_can_be_called_back() -> None:
    address = reverse("tablet:worker")
    assert "unregister" not in Client().get(address).content.decode()
    with override_settings(TABLET_WORKER_OFF=True):
        answer = Client().get(address)
    assert "registration.unregister()" in answer.content.decode()
    assert "indexedDB" not in answer.content.decode()
    assert answer["Content-Type"].startswith("text/javascript")


def test_a_photo_comes_in_by_its_address(visit: Appointment, theo: User) -> None:
    tablet = registered(theo, visit, clock.now())
    assert tablet.key is not None
    content, photo_id = b"p" * 300_000, uuid4()
    address = reverse("tablet:photo", args=[photo_id])
    browser = Client(enforce_csrf_checks=True)
    sent = {"Authorization": f"Bearer {tablet.key.key}", "Upload-Length": "300000", "Upload-Sha256": sha256(content)}

    def patch(offset: int, chunk: bytes, **changed: str) -> Any:
        headers = {**sent, "Upload-Offset": str(offset), **changed}
        return browser.patch(address, chunk, content_type="application/octet-stream", headers=headers)

    assert patch(5, content[:10]).json()["offset"] == 0
    assert patch(5, content[:10]).status_code == 409
    assert patch(0, content[:262_144]).json() == {"offset": 262_144, "done": False, "sha256": None}
    assert patch(0, content).status_code == 413
    assert patch(262_144, content[262_144:], **{"Upload-Offset": "-1"}).status_code == 400
    assert patch(0, b"x", **{"Upload-Length": "99999999"}).status_code == 413
    assert patch(0, b"x", **{"Upload-Sha256": "no"}).status_code == 400
    browser.get(address, headers=sent)
    done = {"offset": 300_000, "done": True, "sha256": sha256(content)}
    rest = patch(0, b"x", **{"Upload-Length": "1", "Upload-Sha256": sha256(b"y")})
    assert rest.status_code == 409  # spoiled: it begins anew
    assert patch(0, content[:262_144]).json()["offset"] == 262_144
    assert patch(262_144, content[262_144:]).json() == done
    assert browser.get(address, headers=sent).json() == done
    assert patch(0, content[:10]).json() == done


def test_the_tablet_is_told_who_it_is(theo: User, signed_in_as: Browse) -> None:
    told = signed_in_as(theo).get(reverse("tablet:me")).json()
    assert told["person"] == {"id": theo.pk, "name": "Theo Marsh", "role": "technician"}
    assert told["csrf"]
    assert UUID(told["epoch"])


def test_the_ready_check_stands_on_the_tablets_page(
    visit: Appointment, theo: User, nora: User, signed_in_as: Browse
) -> None:
    device = str(uuid4())
    browser = signed_in_as(theo)
    body = {"device": device, "name": "Blue tablet", "about": {"screen": "820x1180"}}
    assert browser.post(reverse("tablet:devices"), body, content_type="application/json").json()["key"]
    checks = [{"code": "clock", "ok": False, "sentence": "The clock is 7 minutes fast."}, {"code": 7, "ok": "yes"}]
    kept = browser.post(reverse("tablet:ready"), {"device": device, "checks": checks}, content_type="application/json")
    assert kept.json()["kept"]
    page = signed_in_as(nora).get(reverse("tablet:tablets")).content.decode()
    assert "Blue tablet" in page
    assert "The clock is 7 minutes fast." in page


def test_the_desk_sees_the_rounds_come_along(
    visit: Appointment, theo: User, nora: User, parts: dict[str, Component], signed_in_as: Browse
) -> None:
    Appointment.objects.update(on=clock.today())
    tablet = registered(theo, visit, clock.now())
    tablet.answer("mould", condition="good")
    tablet.send(clock.now())
    browser = signed_in_as(nora)
    page = browser.get(reverse("tablet:tablets"), headers={"HX-Request": "true"}).content.decode()
    assert "1 answer, 0 photos" in page
    assert "Under way" in page
    assert "<html" not in page


def test_the_number_of_queries_of_the_desks_page_does_not_grow(
    visit: Appointment, theo: User, nora: User, signed_in_as: Browse, django_assert_max_num_queries: Any
) -> None:
    for _ in range(4):
        stop = appointment_for(SystemFactory(), theo, clock.today())
        tablet = registered(theo, stop, clock.now(), name=f"Tablet {stop.pk}")
        tablet.answer("mould", condition="good")
        tablet.send(clock.now())
    browser = signed_in_as(nora)
    with django_assert_max_num_queries(14):
        assert browser.get(reverse("tablet:tablets")).status_code == 200


def test_two_answers_stand_side_by_side_and_one_is_chosen(
    tablet: Tablet, at: datetime, nora: User, signed_in_as: Browse
) -> None:
    second = registered(tablet.person, tablet.visit, at, name="Tablet 2")
    good, bad = tablet.answer("mould", condition="good"), second.answer("mould", condition="bad")
    tablet.send(at)
    second.send(at)
    browser = signed_in_as(nora)
    address = reverse("tablet:visit", args=[tablet.visit.pk])
    page = browser.get(address).content.decode()
    assert page.count("This one holds") == 2
    assert "Tablet 2" in page
    chosen = {"field": "answer:mould:0", "event": good, "seen": [good, bad]}
    choose = reverse("tablet:choose", args=[tablet.visit.pk])
    assert browser.post(choose, {**chosen, "event": "x"}).status_code == 404
    assert browser.post(choose, chosen, follow=True).content.decode().count("This one holds") == 0
    assert "no longer stand against each other" in browser.post(choose, chosen, follow=True).content.decode()


def test_what_was_set_aside_is_shown_as_it_came(
    tablet: Tablet, at: datetime, nora: User, signed_in_as: Browse
) -> None:
    one = tablet.say("answer", "answer:mould:0", {"text": "<b>bold</b>"}, v=9)
    tablet.send(at)
    aside = SetAside.objects.get()
    browser = signed_in_as(nora)
    assert "newer version" in browser.get(reverse("tablet:set_aside")).content.decode()
    address = reverse("tablet:set_aside_one", args=[aside.pk])
    page = browser.get(address).content.decode()
    assert one in page
    assert "<b>bold</b>" not in page
    assert "newer version" in browser.post(address, {"take": "1", "because": "Try"}).content.decode()
    assert browser.post(address, {"close": "1", "because": ""}).status_code == 200
    assert browser.post(address, {"close": "1", "because": "A test"}).status_code == 302
    aside.refresh_from_db()
    assert aside.state == "closed"


def test_a_tablet_is_closed_and_allowed_again(tablet: Tablet, nora: User, signed_in_as: Browse) -> None:
    browser = signed_in_as(nora)
    address = reverse("tablet:device", args=[tablet.device])
    assert browser.post(address, {"because": ""}).status_code == 200
    assert browser.post(address, {"because": "Lost"}).status_code == 302
    assert "Closed by Nora Vance" in browser.get(address).content.decode()
    browser.post(reverse("tablet:device_allow", args=[tablet.device]))
    assert Device.objects.get().revoked_at is None


def test_the_command_begins_a_new_epoch(db: None) -> None:
    call_command("new_epoch", because="Restored from Tuesday.")
    assert ServerEpoch.objects.get().because == "Restored from Tuesday."
