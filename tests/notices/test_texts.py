"""Texts: handed over in the daytime, another way when they fail, ended by a word, answered by people."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.notices import actions
from contractor.notices.actions import queue_notice, send_notice, take_in_text, text_failed
from contractor.notices.errors import NobodyToWriteTo, NoPostalAddress, OffersNotWanted
from contractor.notices.models import Notice, OptOut, ReceivedText
from contractor.notices.rules.segments import parts_of
from contractor.notices.texting import TextNotSent
from contractor.properties.models import Ownership, Person, Property
from contractor.systems.models import System
from contractor.visits.actions.telling import tell_owner
from contractor.visits.models import Appointment
from tests.visits.factories import AppointmentFactory, RequestFactory

NUMBER = "+15555550142"


class Carrier:
    """Takes messages, or refuses as the test says."""

    taken: list[tuple[str, str, str]] = []
    refuses: TextNotSent | None = None

    def send(self, *, to: str, text: str, reference: str) -> None:
        if Carrier.refuses is not None:
            raise Carrier.refuses
        Carrier.taken.append((to, text, reference))


@pytest.fixture(autouse=True)
def carrier(settings: Any) -> type[Carrier]:
    Carrier.taken, Carrier.refuses = [], None
    settings.TEXT_GATEWAY = f"{__name__}.Carrier"
    settings.TEXT_GATEWAY_WORD = "a word"
    return Carrier


@pytest.fixture
def iris(iris: Person) -> Person:
    iris.wants_texts = True
    iris.save()
    return iris


@pytest.fixture
def notice(system: System, theo: User, iris: Person, office: Actor, at: datetime) -> Notice:
    """The proposal of a visit to Iris, who wants texts."""
    stop: Appointment = AppointmentFactory(request=RequestFactory(system=system), technician=theo)
    told = tell_owner(stop, template="appointment_set", occasion="set", by=office, at=at)
    assert told is not None
    return told


def test_a_text_has_its_sender_its_purpose_a_link_and_the_word_that_ends_it(notice: Notice, at: datetime) -> None:
    assert (notice.channel, notice.address) == ("text", NUMBER)
    assert send_notice(notice_id=notice.pk, at=at)
    ((to, text, reference),) = Carrier.taken
    assert to == NUMBER
    assert text.startswith("Harrow Creek Dry Basements: yearly check-up Tue May 12, 12 Millrace Lane. Yes or another")
    assert "/v/" in text
    assert text.endswith("STOP ends texts")
    assert reference.startswith(f"notice-{notice.pk}-1-")
    notice.refresh_from_db()
    assert (notice.state, notice.parts) == ("sent", parts_of(text).parts)
    # With an address as long as that of a company of its own it takes two parts and no more.
    assert parts_of(text.replace("http://localhost:8000", "https://warranty.harrowcreek.example")).parts == 2
    assert mail.outbox == []


def test_a_text_waits_for_the_morning_where_the_house_stands(
    notice: Notice, house: Property, at: datetime
) -> None:
    evening = datetime(2026, 5, 5, 1, 30, tzinfo=UTC)  # 9:30 PM in Pennsylvania
    assert send_notice(notice_id=notice.pk, at=evening) is False
    notice.refresh_from_db()
    assert (notice.state, notice.attempts) == ("queued", 0)
    assert notice.not_before == datetime(2026, 5, 5, 12, 0, tzinfo=UTC)
    assert send_notice(notice_id=notice.pk, at=notice.not_before)


def test_a_number_that_is_none_is_named_and_the_message_goes_by_mail(notice: Notice, at: datetime) -> None:
    Carrier.refuses = TextNotSent("A landline.", for_good=True)
    assert send_notice(notice_id=notice.pk, at=at) is False
    notice.refresh_from_db()
    assert (notice.channel, notice.state, notice.address) == ("email", "queued", "iris@example.com")
    assert notice.fell_back == "Text message: A landline."
    assert send_notice(notice_id=notice.pk, at=at)
    assert len(mail.outbox) == 1


def test_without_mail_it_becomes_a_letter_without_a_secret_link(notice: Notice, iris: Person, at: datetime) -> None:
    iris.email = ""
    iris.save()
    Carrier.refuses = TextNotSent("Blocked.", for_good=True)
    send_notice(notice_id=notice.pk, at=at)
    notice.refresh_from_db()
    assert (notice.channel, notice.state) == ("letter", "queued")
    assert "personal-link" not in notice.text


def test_a_carrier_that_is_down_is_tried_again_before_another_way_is_taken(notice: Notice, at: datetime) -> None:
    Carrier.refuses = TextNotSent("Busy.", for_good=False)
    moment = at
    for attempt in range(1, 5):
        send_notice(notice_id=notice.pk, at=moment)
        notice.refresh_from_db()
        assert (notice.channel, notice.state, notice.attempts) == ("text", "queued", attempt)
        moment = notice.not_before
    send_notice(notice_id=notice.pk, at=moment)
    notice.refresh_from_db()
    assert (notice.channel, notice.attempts) == ("email", 0)


def test_a_text_that_did_not_arrive_after_all_goes_by_mail_once(notice: Notice, at: datetime) -> None:
    assert text_failed(notice_id=notice.pk, because="Unreachable.", at=at) is False
    send_notice(notice_id=notice.pk, at=at)
    assert text_failed(notice_id=notice.pk, because="Unreachable.", at=at) is True
    assert text_failed(notice_id=notice.pk, because="Unreachable.", at=at) is False
    notice.refresh_from_db()
    assert (notice.channel, notice.sent_at) == ("email", None)
    assert notice.fell_back == "Text message: Unreachable."


def test_stop_holds_at_once_for_the_number_and_is_confirmed_once(
    notice: Notice, iris: Person, at: datetime, django_capture_on_commit_callbacks: Any
) -> None:
    night = datetime(2026, 5, 5, 2, 0, tzinfo=UTC)
    with django_capture_on_commit_callbacks(execute=True):
        for _ in range(2):
            take_in_text(number="(555) 555-0142", text="Stop.", at=night)
    # The confirmation answers at once, by night too, and one is enough (47 CFR 64.1200(a)(12)).
    for told in Notice.objects.filter(template="texts_stopped"):
        send_notice(notice_id=told.pk, at=night)
    assert OptOut.objects.get().address == NUMBER
    assert Notice.objects.filter(template="texts_stopped").count() == 1
    assert [text for _, text, _ in Carrier.taken if "no more texts" in text] != []
    assert not ReceivedText.objects.filter(settled_at=None).exists()


def test_who_stopped_texts_gets_mails_also_when_registered_anew_and_start_brings_texts_back(
    iris: Person, house: Property, ownership: Ownership, office: Actor, at: datetime
) -> None:
    take_in_text(number=NUMBER, text="STOP", at=at)
    again = Person.objects.create(
        name="Iris Reed", email="reed@example.com", phone="555-555-0142", wants_texts=True, created_at=at
    )

    def way(person: Person, occasion: str) -> str:
        words = {"appointment": AppointmentFactory(), "technician": "T", "visit_link": "", "visit": RequestFactory()}
        return queue_notice(
            occasion=occasion, template="visit_reminder", person=person, property=house, context=words, by=office, at=at
        ).channel

    assert way(again, "1") == "email"
    take_in_text(number=NUMBER, text="start", at=at)
    assert way(again, "2") == "text"


def test_words_wait_for_a_person_and_the_desk_settles_them(
    iris: Person, nora: User, at: datetime, signed_in_as: Callable[[User], Client], django_assert_num_queries: Any
) -> None:
    received = take_in_text(number=NUMBER, text="Can you come at 5?", at=at)
    desk = signed_in_as(nora)
    page = desk.get(reverse("notices:answers")).content.decode()
    assert "Can you come at 5?" in page
    assert "Iris Holloway" in page
    assert desk.post(reverse("notices:settle_answer", args=[received.pk])).status_code == 302
    assert "Can you come at 5?" not in desk.get(reverse("notices:answers")).content.decode()
    assert desk.post(reverse("notices:settle_answer", args=[987])).status_code == 404


@pytest.mark.parametrize(
    ("word", "body", "status"),
    [
        ("Bearer a word", {"from": NUMBER, "text": "stop"}, 200),
        ("Bearer another", {"from": NUMBER, "text": "stop"}, 403),
        ("", {"from": NUMBER, "text": "stop"}, 403),
        ("Bearer a word", ["stop"], 400),
        ("Bearer a word", None, 400),
    ],
)
def test_the_carriers_door_opens_to_its_word_alone(
    db: None, company: Company, word: str, body: object, status: int
) -> None:
    content = "no JSON" if body is None else json.dumps(body)
    answer = Client(enforce_csrf_checks=True).post(
        reverse("notices:text_received"), content, content_type="application/json", headers={"Authorization": word}
    )
    assert answer.status_code == status
    assert OptOut.objects.count() == (status == 200)


def test_without_a_word_the_door_is_shut(company: Company, settings: Any) -> None:
    settings.TEXT_GATEWAY_WORD = ""
    answer = Client().post(
        reverse("notices:text_failed"), "{}", content_type="application/json", headers={"Authorization": "Bearer "}
    )
    assert answer.status_code == 403


def test_a_report_of_failure_names_the_message_by_its_reference(notice: Notice, at: datetime) -> None:
    send_notice(notice_id=notice.pk, at=at)
    body = json.dumps({"reference": Carrier.taken[0][2], "reason": "No such number."})
    answer = Client().post(
        reverse("notices:text_failed"), body, content_type="application/json",
        headers={"Authorization": "Bearer a word"},
    )  # fmt: skip
    assert answer.status_code == 200
    notice.refresh_from_db()
    assert notice.fell_back == "Text message: No such number."


def test_in_development_a_text_is_a_file(notice: Notice, at: datetime, settings: Any, tmp_path: Path) -> None:
    settings.TEXT_GATEWAY = "contractor.notices.texting.FileGateway"
    settings.TEXT_FILE_PATH = tmp_path / "texts"
    send_notice(notice_id=notice.pk, at=at)
    (written,) = (tmp_path / "texts").iterdir()
    assert written.read_text().startswith(f"To: {NUMBER}\n\nHarrow Creek Dry Basements: ")


def offer(person: Person, house: Property, office: Actor, at: datetime) -> Notice:
    return queue_notice(
        occasion="offer", template="plan_offer", person=person, property=house, context=OFFER, by=office, at=at
    )


OFFER = {"offer": {"title": "Yearly care", "included_lines": ("A check-up each year",), "price": 12000}}


def test_an_offer_carries_postal_address_and_a_way_out_that_silences_nothing_else(
    ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime
) -> None:
    """15 U.S.C. 7704(a)(3) and (5), RFC 8058."""
    iris.wants_texts = False
    iris.save()
    sold = offer(iris, house, office, at)
    assert send_notice(notice_id=sold.pk, at=at)
    (message,) = mail.outbox
    assert "14 Foundry Row, Larkmere, PA 17099" in message.body
    link = str(message.extra_headers["List-Unsubscribe"]).strip("<>")
    assert link in message.body
    assert message.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    path = "/" + link.partition("//")[2].partition("/")[2]
    browser = Client(enforce_csrf_checks=True)
    assert browser.get(path).status_code == 200
    assert not OptOut.objects.exists()
    assert browser.post(path).status_code == 403
    assert browser.post(path, {"List-Unsubscribe": "One-Click"}).status_code == 200
    assert OptOut.objects.get().what == "offers"
    with pytest.raises(OffersNotWanted):
        queue_notice(
            occasion="next", template="plan_offer", person=iris, property=house, context=OFFER, by=office, at=at
        )
    other = queue_notice(
        occasion="link", template="owner_link", person=iris, property=house, context={}, by=office, at=at
    )
    assert send_notice(notice_id=other.pk, at=at)


def test_an_offer_that_was_stopped_before_it_went_out_stays_here(
    ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime
) -> None:
    sold = offer(iris, house, office, at)
    actions.stop(what="offers", address=iris.email, at=at)
    assert send_notice(notice_id=sold.pk, at=at) is False
    sold.refresh_from_db()
    assert sold.state == "withdrawn"


def test_an_offer_is_sold_by_day_only(
    ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime
) -> None:
    sold = offer(iris, house, office, at)
    assert send_notice(notice_id=sold.pk, at=at + timedelta(hours=14)) is False
    sold.refresh_from_db()
    assert sold.state == "queued"


def test_nothing_is_sold_without_a_postal_address(
    company: Company, ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime
) -> None:
    company.street = ""
    company.save()
    with pytest.raises(NoPostalAddress):
        offer(iris, house, office, at)


def test_who_can_only_be_written_a_letter_is_named_when_a_letter_is_no_use(
    ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime
) -> None:
    iris.email, iris.wants_texts = "", False
    with pytest.raises(NobodyToWriteTo, match="Iris Holloway"):
        queue_notice(
            occasion="x", template="owner_link", person=iris, property=house, context={}, by=office, at=at,
            never_by=("letter",),
        )  # fmt: skip
