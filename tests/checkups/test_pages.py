"""The technician's pages: whose they are, what they show, that a card answers at once, with and without htmx."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from urllib.parse import unquote
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import swap_component
from contractor.checkups.actions.evidence import add_photo
from contractor.checkups.models import Answer, ChecklistItem, CheckUp, Finding, Signature
from contractor.core import clock
from contractor.properties.models import Ownership
from contractor.systems.models import Component, System
from contractor.visits.models import Appointment
from tests.checkups import factories as made
from tests.factories import PropertyFactory, SystemFactory

HTMX = {"HX-Request": "true"}
SignIn = Callable[[User], Client]


@pytest.fixture(autouse=True)
def today(monkeypatch: pytest.MonkeyPatch, on: date, at: datetime) -> None:
    """The clock stands still on the day of the tests."""
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


def key(checkup: CheckUp, code: str) -> str:
    row, part = made.line(checkup, code)
    return f"{row.pk}-{part.pk if part else 0}"


def page(client: Client, checkup: CheckUp) -> str:
    return client.get(reverse("checkups:checkup", args=[checkup.pk])).content.decode()


def test_a_round_without_stops_says_so(theo: User, signed_in_as: SignIn) -> None:
    assert "No stops on this day" in signed_in_as(theo).get(reverse("checkups:my_round")).content.decode()


def test_the_round_shows_what_to_know_before_the_door_opens(
    system: System, theo: User, on: date, signed_in_as: SignIn
) -> None:
    house = system.property
    house.access_notes, house.latitude, house.longitude = "Key with the neighbour.", 40.9, -77.3
    house.save()
    made.appointment_for(system, theo, on, carry="battery (Northfold Deep 75)")
    shown = signed_in_as(theo).get(reverse("checkups:my_round")).content.decode()
    for words in ("12 Millrace Lane", "Iris Holloway", "Key with the neighbour.", "Deep 75", "Start"):
        assert words in shown
    assert 'href="geo:40.9,-77.3' in shown
    assert 'href="tel:' in shown


def test_a_round_holds_only_ones_own_stops_in_order(
    system: System, theo: User, ana: User, on: date, signed_in_as: SignIn
) -> None:
    for number, (street, technician) in enumerate([("1 Last Lane", theo), ("2 First Lane", theo), ("3 Hers", ana)]):
        stop = made.appointment_for(SystemFactory(property=PropertyFactory(street=street)), technician, on)
        stop.stop_number = 9 - number
        stop.save()
    shown = signed_in_as(theo).get(reverse("checkups:my_round")).content.decode()
    assert shown.index("2 First Lane") < shown.index("1 Last Lane")
    assert "3 Hers" not in shown
    other = reverse("checkups:round_day", args=[ana.pk, on])
    assert signed_in_as(theo).get(other).status_code == 404


def test_the_desk_may_look_at_a_round_and_not_begin_it(
    system: System, theo: User, nora: User, on: date, signed_in_as: SignIn
) -> None:
    stop = made.appointment_for(system, theo, on)
    desk = signed_in_as(nora)
    shown = desk.get(reverse("checkups:round_day", args=[theo.pk, on])).content.decode()
    assert "12 Millrace Lane" in shown
    assert reverse("checkups:begin", args=[stop.pk]) not in shown
    assert desk.post(reverse("checkups:begin", args=[stop.pk])).status_code == 403


def test_starting_leads_to_the_checkup(
    system: System, parts: dict[str, Component], theo: User, on: date, at: datetime, signed_in_as: SignIn
) -> None:
    made.published_checklist(at)
    stop = made.appointment_for(system, theo, on)
    response = signed_in_as(theo).post(reverse("checkups:begin", args=[stop.pk]))
    assert response["Location"] == reverse("checkups:checkup", args=[CheckUp.objects.get().pk])


def test_another_technicians_checkup_answers_like_a_missing_one(
    checkup: CheckUp, ana: User, nora: User, signed_in_as: SignIn
) -> None:
    made.answer(checkup, "mould", datetime(2026, 5, 4, tzinfo=UTC), condition="good")
    hers = signed_in_as(ana)
    one = key(checkup, "mould")
    reads = [reverse("checkups:checkup", args=[checkup.pk]), reverse("checkups:report", args=[checkup.pk])]
    writes = [
        reverse("checkups:answer", args=[checkup.pk, one]),
        reverse("checkups:photo_add", args=[checkup.pk, one]),
        reverse("checkups:finding_add", args=[checkup.pk, one]),
        reverse("checkups:sign", args=[checkup.pk]),
        reverse("checkups:finish", args=[checkup.pk]),
        reverse("checkups:begin", args=[checkup.appointment_id]),
        reverse("checkups:could_not", args=[checkup.appointment_id]),
    ]
    assert [hers.get(address).status_code for address in reads] == [404, 404]
    assert {hers.post(address, {"condition": "bad"}).status_code for address in writes} == {404}
    missing = hers.get(reverse("checkups:checkup", args=[checkup.pk + 1000]))
    assert hers.get(reads[0]).content == missing.content
    assert Answer.objects.get().condition == "good"
    assert {signed_in_as(nora).post(address).status_code for address in writes} == {403}


def test_the_desk_reads_a_checkup_without_a_way_to_write(checkup: CheckUp, nora: User, signed_in_as: SignIn) -> None:
    shown = page(signed_in_as(nora), checkup)
    assert "Look at mould" in shown
    assert f'action="{reverse("checkups:finish", args=[checkup.pk])}"' not in shown
    assert "data-answer" not in shown


def test_a_card_comes_back_with_its_verdict_and_the_progress(
    checkup: CheckUp, theo: User, signed_in_as: SignIn
) -> None:
    client = signed_in_as(theo)
    address = reverse("checkups:answer", args=[checkup.pk, key(checkup, "rest-volts")])
    shown = client.post(address, {"typed": "11.2", "unit": "V"}, headers=HTMX).content.decode()
    assert "11.2 V" in shown
    assert "at least 12.4 V" in shown
    assert "mark is-bad" in shown
    assert "1 of 8" in shown
    assert "Replace the battery." in shown
    assert "<html" not in shown


def test_without_htmx_an_answer_leads_back_to_its_card(checkup: CheckUp, theo: User, signed_in_as: SignIn) -> None:
    one = key(checkup, "mould")
    response = signed_in_as(theo).post(reverse("checkups:answer", args=[checkup.pk, one]), {"condition": "good"})
    assert response["Location"] == reverse("checkups:checkup", args=[checkup.pk]) + f"#line-{one}"
    assert Answer.objects.get().verdict == "good"


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["whole page", "card"])
def test_what_cannot_be_read_comes_back_with_how_to_type_it(
    headers: dict[str, str], checkup: CheckUp, theo: User, signed_in_as: SignIn
) -> None:
    address = reverse("checkups:answer", args=[checkup.pk, key(checkup, "rest-volts")])
    shown = signed_in_as(theo).post(address, {"typed": "twelve", "unit": "V"}, headers=headers).content.decode()
    assert "type a number in volts" in shown
    assert not Answer.objects.exists()


def test_a_photo_is_taken_at_its_card_and_a_wrong_file_is_refused(
    checkup: CheckUp, theo: User, signed_in_as: SignIn
) -> None:
    client = signed_in_as(theo)
    address = reverse("checkups:photo_add", args=[checkup.pk, key(checkup, "room-photo")])
    wrong = SimpleUploadedFile("x.svg", b"<svg/>", content_type="image/svg+xml")
    assert "not a photo" in client.post(address, {"photo": wrong}, headers=HTMX).content.decode()
    right = SimpleUploadedFile("x.jpg", made.picture(), content_type="image/jpeg")
    shown = client.post(address, {"photo": right}, headers=HTMX).content.decode()
    assert reverse("checkups:photo", args=[checkup.photos.get().pk]) in shown


def test_a_finding_can_be_put_right_in_the_same_breath(checkup: CheckUp, theo: User, signed_in_as: SignIn) -> None:
    address = reverse("checkups:finding_add", args=[checkup.pk, key(checkup, "mould")])
    given = {"severity": "bad", "what": "Mould behind the liner", "what_to_do": "", "repaired": "Wiped and dried."}
    shown = signed_in_as(theo).post(address, given, headers=HTMX).content.decode()
    finding = Finding.objects.get()
    assert (finding.done_note, finding.done_by) == ("Wiped and dried.", theo)
    assert "Wiped and dried." in shown


def test_a_caution_stands_at_its_step(checkup: CheckUp, theo: User, signed_in_as: SignIn) -> None:
    shown = page(signed_in_as(theo), checkup)
    at_the_test = shown.index(f'id="line-{key(checkup, "load-test")}"')
    assert shown.index("no spark near a battery", at_the_test) > at_the_test


def test_last_times_figure_is_in_sight(checkup: CheckUp, theo: User, at: datetime, signed_in_as: SignIn) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "12.9", "unit": "V"}})
    next_year = date(2027, 5, 4)
    again = made.begun(checkup.system, theo, next_year, datetime(2027, 5, 4, 14, tzinfo=UTC))
    shown = page(signed_in_as(theo), again)
    assert "Last time: 12.9 V" in shown
    # A timed test remembers its flow: 18 in wide, 3 in in a minute, 231 cubic inches to the gallon.
    assert "Last time: 3.3 gal/min" in shown


def test_a_counter_that_reads_less_than_last_time_says_so_on_its_card(
    checkup: CheckUp, theo: User, at: datetime, signed_in_as: SignIn
) -> None:
    ChecklistItem.objects.filter(code="rest-volts").update(feeds="pump.run_hours")
    made.finished(checkup, at, instead={"rest-volts": {"typed": "12.9", "unit": "V"}})
    later = datetime(2027, 5, 4, 14, tzinfo=UTC)
    again = made.begun(checkup.system, theo, date(2027, 5, 4), later)
    for typed, is_less in (("12.8", True), ("12.95", False)):
        made.answer(again, "rest-volts", later, typed=typed, unit="V")
        assert ("Less than last time: read it again" in page(signed_in_as(theo), again)) is is_less


def test_the_system_is_drawn_at_the_top_with_what_was_found_last(
    checkup: CheckUp, theo: User, at: datetime, signed_in_as: SignIn
) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    again = made.begun(checkup.system, theo, date(2027, 5, 4), datetime(2027, 5, 4, 14, tzinfo=UTC))
    shown = page(signed_in_as(theo), again)
    drawn = shown[shown.index('<svg xmlns="http://www.w3.org/2000/svg" class="section-drawing"') :]
    assert 'data-kind="primary_pump"' in drawn
    assert 'class="part is-bad" data-kind="battery"' in drawn


def test_the_owners_name_stands_ready_for_the_signature(
    checkup: CheckUp, ownership: Ownership, theo: User, signed_in_as: SignIn
) -> None:
    shown = page(signed_in_as(theo), checkup)
    assert 'name="name" maxlength="160" autocomplete="off" value="Iris Holloway"' in shown


def test_a_gauge_in_the_other_unit_is_read_in_its_own(checkup: CheckUp, theo: User, signed_in_as: SignIn) -> None:
    client = signed_in_as(theo)
    address = reverse("checkups:answer", args=[checkup.pk, key(checkup, "temperature")])
    client.post(address, {"typed": "20", "unit": "degC"})
    kept = checkup.answers.get()
    assert kept.number_si == pytest.approx(20.0)
    shown = page(client, checkup)
    field = shown[shown.index(f'id="unit-{key(checkup, "temperature")}"') :]
    assert field.index('value="degC" selected') < field.index("</select>")
    assert "68 °F" in shown


def test_finishing_too_early_lists_what_is_missing(checkup: CheckUp, theo: User, signed_in_as: SignIn) -> None:
    response = signed_in_as(theo).post(reverse("checkups:finish", args=[checkup.pk]))
    shown = response.content.decode()
    assert response.status_code == 422
    assert "7 things are still to do" in shown
    assert "Answer “Look at mould”." in shown


def test_a_whole_checkup_is_signed_finished_and_read_only(
    checkup: CheckUp, theo: User, at: datetime, signed_in_as: SignIn
) -> None:
    client = signed_in_as(theo)
    made.answer_all(checkup, at)
    client.post(reverse("checkups:sign", args=[checkup.pk]), {"kind": "typed", "name": "Iris Holloway"})
    client.post(reverse("checkups:finish", args=[checkup.pk]))
    checkup.refresh_from_db()
    assert checkup.finished_at == at
    shown = page(client, checkup)
    assert "Iris Holloway" in shown
    assert "data-answer" not in shown
    report = client.get(reverse("checkups:report", args=[checkup.pk]))
    assert b"".join(report.streaming_content).startswith(b"%PDF")  # type: ignore[attr-defined]


@pytest.mark.parametrize("strokes", ["nonsense", "[1]", '[[["a", "b"]]]', "[]"])
def test_a_drawing_that_is_none_is_refused(strokes: str, checkup: CheckUp, theo: User, signed_in_as: SignIn) -> None:
    given = {"kind": "drawn", "name": "Iris Holloway", "strokes": strokes}
    assert signed_in_as(theo).post(reverse("checkups:sign", args=[checkup.pk]), given).status_code == 422
    assert not hasattr(CheckUp.objects.get(pk=checkup.pk), "signature")


def test_a_part_is_swapped_from_its_page(
    checkup: CheckUp, parts: dict[str, Component], theo: User, signed_in_as: SignIn
) -> None:
    client, old = signed_in_as(theo), parts["battery"]
    address = reverse("checkups:swap", args=[checkup.pk, old.pk])
    given = {"model": old.model_id, "serial_number": "B-200", "because": "Tested weak", "failed": "on"}
    assert "Choose" in client.post(address, {**given, "model": ""}).content.decode()
    client.post(address, given)
    new = Component.objects.get(replaces=old)
    shown = page(client, checkup)
    assert "B-200" in shown
    assert f'id="line-{made.line(checkup, "rest-volts")[0].pk}-{new.pk}"' in shown
    assert client.get(address).status_code == 404


def test_could_not_be_done_says_why_and_frees_the_visit(
    system: System, theo: User, on: date, signed_in_as: SignIn
) -> None:
    stop = made.appointment_for(system, theo, on)
    client, address = signed_in_as(theo), reverse("checkups:could_not", args=[stop.pk])
    client.post(address, {"because": ""})
    assert Appointment.objects.get().state == "planned"
    client.post(address, {"because": "Nobody answered the door."})
    assert (Appointment.objects.get().state, Appointment.objects.get().state_because) == (
        "could_not",
        "Nobody answered the door.",
    )


def test_the_page_costs_the_same_however_much_was_entered(
    checkup: CheckUp, theo: User, at: datetime, signed_in_as: SignIn
) -> None:
    client = signed_in_as(theo)
    with CaptureQueriesContext(
        connection,
    ) as empty:
        page(client, checkup)
    made.answer_all(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    row, _ = made.line(checkup, "mould")
    for colour in ("red", "green", "blue"):
        add_photo(checkup_id=checkup.pk, content=made.picture(colour), by_user=theo, at=at, item_id=row.pk)
    with CaptureQueriesContext(connection) as full:
        page(client, checkup)
    assert len(full) == len(empty)
    assert len(full) == 18


def test_the_round_costs_the_same_however_many_stops(
    system: System, theo: User, on: date, signed_in_as: SignIn
) -> None:
    client, address = signed_in_as(theo), reverse("checkups:my_round")
    made.appointment_for(system, theo, on)
    with CaptureQueriesContext(connection) as one:
        client.get(address)
    for number in range(5):
        made.appointment_for(SystemFactory(property=PropertyFactory(street=f"{number} Long Road")), theo, on)
    with CaptureQueriesContext(connection) as six:
        client.get(address)
    assert len(six) == len(one)


def test_the_manager_makes_a_new_edition_and_publishes_it(
    ruth: User, nora: User, at: datetime, signed_in_as: SignIn
) -> None:
    first = made.published_checklist(at)
    manager = signed_in_as(ruth)
    assert (
        reverse("checkups:checklist", args=[first.pk]) in manager.get(reverse("checkups:checklists")).content.decode()
    )
    manager.post(reverse("checkups:checklist_copy", args=[first.pk]))
    second = reverse("checkups:checklist", args=[first.pk + 1])
    shown = manager.get(second).content.decode()
    assert "A draft" in shown
    row = ChecklistItem.objects.get(checklist_id=first.pk + 1, code="rest-volts")
    address = reverse("checkups:item", args=[row.pk])
    assert address in shown
    given = {"prompt": "Measure at rest", "how": "At the posts.", "source": "x", "severity": "bad", "required": "on"}
    words = {"consequence": row.consequence, "what_to_do": row.what_to_do}
    manager.post(address, {**given, **words, "good_low": "12.5"})
    row.refresh_from_db()
    assert (row.prompt, row.good_low) == ("Measure at rest", 12.5)
    assert ChecklistItem.objects.get(checklist=first, code="rest-volts").good_low == 12.4
    manager.post(reverse("checkups:checklist_publish", args=[first.pk + 1]))
    assert "it stays as it is" in manager.get(second).content.decode()
    assert manager.post(reverse("checkups:checklist_publish", args=[first.pk + 1])).status_code == 409
    assert signed_in_as(nora).get(reverse("checkups:checklists")).status_code == 403


def test_the_page_of_a_signed_checkup_says_when_something_was_changed_after(
    checkup: CheckUp, theo: User, at: datetime, signed_in_as: SignIn
) -> None:
    client, words = signed_in_as(theo), "Something was changed after this signature"
    made.answer_all(checkup, at)
    assert words not in page(client, checkup)
    made.signed(checkup, at)
    assert words not in page(client, checkup)
    made.answer(checkup, "rest-volts", at, typed="11.2", unit="V")
    assert words in page(client, checkup)
    made.signed(checkup, at)
    assert words not in page(client, checkup)
    client.post(reverse("checkups:finish", args=[checkup.pk]))
    # Finishing writes the finding down that the verdict asks for; that is no change of what was signed.
    assert Finding.objects.count() == 1
    assert words not in page(client, checkup)


def test_a_finding_about_a_part_that_came_out_stays_in_sight_and_can_be_put_right(
    checkup: CheckUp, parts: dict[str, Component], theo: User, on: date, at: datetime, signed_in_as: SignIn
) -> None:
    client, old = signed_in_as(theo), parts["battery"]
    made.answer(checkup, "rest-volts", at, typed="11.2", unit="V")
    add = reverse("checkups:finding_add", args=[checkup.pk, key(checkup, "rest-volts")])
    client.post(add, {"severity": "bad", "what": "Weak battery"})
    assert "Found on parts that came out" not in page(client, checkup)
    swap_component(
        checkup_id=checkup.pk,
        component_id=old.pk,
        model_id=old.model_id,
        serial_number="B-200",
        because="Weak",
        failed=False,
        by_user=theo,
        on=on,
        at=at,
    )
    shown = page(client, checkup)
    close = reverse("checkups:finding_close", args=[Finding.objects.get().pk])
    assert "Found on parts that came out" in shown
    assert "Weak battery" in shown
    assert 'value="The part was replaced."' in shown
    assert shown.count(f'action="{close}"') == 1
    client.post(close, {"note": "The part was replaced."})
    assert made.finished(checkup, at).summary.startswith("Passed")
    assert "Weak battery" in page(client, checkup)


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["whole page", "card"])
def test_an_answer_for_a_part_that_came_out_is_not_kept_and_not_lost_without_a_word(
    headers: dict[str, str],
    checkup: CheckUp,
    parts: dict[str, Component],
    theo: User,
    on: date,
    at: datetime,
    signed_in_as: SignIn,
) -> None:
    old = key(checkup, "rest-volts")
    swap_component(
        checkup_id=checkup.pk,
        component_id=parts["battery"].pk,
        model_id=None,
        serial_number="",
        because="Weak",
        failed=False,
        by_user=theo,
        on=on,
        at=at,
    )
    address = reverse("checkups:answer", args=[checkup.pk, old])
    response = signed_in_as(theo).post(address, {"typed": "12.6", "unit": "V"}, headers=headers)
    assert not Answer.objects.exists()
    if headers:
        assert response.status_code == 404  # the page's script says beside the card that it was not saved
    else:
        assert response.status_code == 422
        assert "does not belong to this check-up" in response.content.decode()


def test_a_finding_is_put_right_by_its_technician_or_later_by_the_desk(
    checkup: CheckUp, theo: User, ana: User, nora: User, at: datetime, signed_in_as: SignIn
) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    found = Finding.objects.get()
    address = reverse("checkups:finding_close", args=[found.pk])
    missing = reverse("checkups:finding_close", args=[uuid4()])
    hers = signed_in_as(ana)
    foreign = hers.post(address, {"note": "Not mine."})
    assert (foreign.status_code, foreign.content) == (404, hers.post(missing, {"note": "x"}).content)
    desk = signed_in_as(nora)
    assert desk.post(address, {"note": " "}).status_code == 409
    found.refresh_from_db()
    assert found.done_at is None
    response = desk.post(address, {"note": "New battery, May 20."})
    assert response["Location"] == reverse("office:house", args=[checkup.system.property_id])
    found.refresh_from_db()
    assert (found.done_note, found.done_by) == ("New battery, May 20.", nora)
    assert "put right already" in desk.post(address, {"note": "Again."}).content.decode()


@pytest.mark.parametrize(
    "strokes",
    ["[[[NaN, 0.5], [0.1, 0.2]]]", "[[[1" + "0" * 400 + ", 0.5], [0.1, 0.2]]]", "[" * 50_000],
    ids=["no number", "too large", "too deep"],
)
def test_a_drawing_made_to_break_something_is_refused_like_any_other(
    strokes: str, checkup: CheckUp, theo: User, signed_in_as: SignIn
) -> None:
    given = {"kind": "drawn", "name": "Iris Holloway", "strokes": strokes}
    response = signed_in_as(theo).post(reverse("checkups:sign", args=[checkup.pk]), given)
    assert response.status_code == 422
    assert "sign once more" in response.content.decode()


def test_points_outside_the_field_are_moved_to_its_edge(checkup: CheckUp, theo: User, signed_in_as: SignIn) -> None:
    given = {"kind": "drawn", "name": "Iris", "strokes": "[[[-3, 0.5], [Infinity, 0.123456]]]"}
    assert signed_in_as(theo).post(reverse("checkups:sign", args=[checkup.pk]), given).status_code == 302
    assert Signature.objects.get().strokes == [[[0.0, 0.5], [1.0, 0.1235]]]


ROLES = ("theo", "nora", "ruth")
READ_BY_ALL = (200, 200, 200)


@pytest.mark.parametrize(
    ("name", "allowed"),
    [
        ("my_round", (200, 403, 403)),
        ("round_day", READ_BY_ALL),
        ("checkup", READ_BY_ALL),
        ("report", READ_BY_ALL),
        ("swap", (200, 403, 403)),
        ("could_not", (200, 403, 403)),
        ("outside_records", (403, 200, 200)),
        ("checklists", (403, 403, 200)),
        ("checklist", (403, 403, 200)),
        ("item", (403, 403, 200)),
    ],
)
def test_each_page_is_for_those_whose_work_it_is(
    name: str,
    allowed: tuple[int, ...],
    checkup: CheckUp,
    parts: dict[str, Component],
    theo: User,
    nora: User,
    ruth: User,
    on: date,
    at: datetime,
    signed_in_as: SignIn,
) -> None:
    numbers: dict[str, list[object]] = {
        "my_round": [],
        "checklists": [],
        "round_day": [theo.pk, on],
        "swap": [checkup.pk, parts["battery"].pk],
        "could_not": [checkup.appointment_id],
        "outside_records": [checkup.system_id],
        "checklist": [checkup.checklist_id],
        "item": [made.line(checkup, "mould")[0].pk],
    }
    if name == "report":
        made.finished(checkup, at)
    address = reverse(f"checkups:{name}", args=numbers.get(name, [checkup.pk]))
    people = {"theo": theo, "nora": nora, "ruth": ruth}
    assert tuple(signed_in_as(people[role]).get(address).status_code for role in ROLES) == allowed
    stranger = Client().get(address)
    assert stranger.status_code == 302
    assert address in unquote(stranger["Location"])


def test_a_report_before_the_end_is_not_there(checkup: CheckUp, theo: User, nora: User, signed_in_as: SignIn) -> None:
    for reader in (theo, nora):
        assert signed_in_as(reader).get(reverse("checkups:report", args=[checkup.pk])).status_code == 404


def test_each_address_of_another_technicians_checkup_is_byte_for_byte_a_missing_one(
    checkup: CheckUp, parts: dict[str, Component], ana: User, at: datetime, signed_in_as: SignIn
) -> None:
    hers, one = signed_in_as(ana), key(checkup, "mould")
    made.finished(checkup, at)

    def answers(checkup_id: int, appointment_id: int) -> list[bytes]:
        reads = [("checkup", [checkup_id]), ("report", [checkup_id]), ("swap", [checkup_id, parts["battery"].pk])]
        writes = [
            ("answer", [checkup_id, one]),
            ("photo_add", [checkup_id, one]),
            ("finding_add", [checkup_id, one]),
            ("sign", [checkup_id]),
            ("finish", [checkup_id]),
            ("begin", [appointment_id]),
            ("could_not", [appointment_id]),
        ]
        responses = [hers.get(reverse(f"checkups:{name}", args=numbers)) for name, numbers in reads]
        responses += [hers.post(reverse(f"checkups:{name}", args=numbers)) for name, numbers in writes]
        assert {response.status_code for response in responses} == {404}
        return [response.content for response in responses]

    assert answers(checkup.pk, checkup.appointment_id) == answers(checkup.pk + 1000, checkup.appointment_id + 1000)


def test_what_another_technician_found_last_year_can_be_put_right_this_year(
    checkup: CheckUp, theo: User, ana: User, at: datetime, signed_in_as: SignIn
) -> None:
    made.finished(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    again = made.begun(checkup.system, ana, date(2027, 5, 4), datetime(2027, 5, 4, 14, tzinfo=UTC))
    hers = signed_in_as(ana)
    shown = page(hers, again)
    assert "Still open from before" in shown
    found = Finding.objects.get()
    response = hers.post(reverse("checkups:finding_close", args=[found.pk]), {"note": "New battery."})
    assert response["Location"] == reverse("checkups:checkup", args=[again.pk])
    found.refresh_from_db()
    assert (found.done_by, found.done_note) == (ana, "New battery.")
    assert "Still open from before" not in page(hers, again)


def test_no_part_is_swapped_at_a_finished_checkup(
    checkup: CheckUp, parts: dict[str, Component], theo: User, at: datetime, signed_in_as: SignIn
) -> None:
    made.finished(checkup, at)
    client = signed_in_as(theo)
    response = client.get(reverse("checkups:swap", args=[checkup.pk, parts["battery"].pk]), follow=True)
    assert response.redirect_chain == [(reverse("checkups:checkup", args=[checkup.pk]), 302)]
    assert "stays as it was signed" in response.content.decode()
