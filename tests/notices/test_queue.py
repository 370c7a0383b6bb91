"""Writing a message: once per occasion, by e-mail or as a letter."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.urls import reverse

from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices import queries
from contractor.notices.actions import OWNER_LINK, queue_notice, send_owner_link, withdraw_for_former_owners
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.errors import NoEmail, NoOwner
from contractor.properties.models import Ownership, Person, Property


def queue(person: Person, house: Property | None, office: Actor, at: datetime, **changes: Any) -> Notice:
    words: dict[str, Any] = {"occasion": "link 1", "template": "owner_link", "context": {}}
    return queue_notice(person=person, property=house, by=office, at=at, **{**words, **changes})


def test_a_message_is_written_queued_and_noted_in_the_houses_trail(
    ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime
) -> None:
    notice = queue(iris, house, office, at)
    assert (notice.channel, notice.state, notice.address) == ("email", "queued", "iris@example.com")
    assert notice.subject == "Your house at 12 Millrace Lane: system, reports and warranty"
    assert "Dear Iris Holloway," in notice.text
    assert "Harrow Creek Dry Basements" in notice.html
    entry = AuditEntry.objects.get()
    assert (entry.stream, entry.verb, entry.actor) == (f"property:{house.pk}", "notice queued", office.ref)
    assert "iris@example.com" not in str(entry.body)


def test_one_occasion_is_written_about_once(
    ownership: Ownership, iris: Person, house: Property, buyer: Person, office: Actor, at: datetime
) -> None:
    first = queue(iris, house, office, at)
    again = queue(buyer, house, office, at + timedelta(days=1), template="appointment_set")
    assert again == first
    assert (again.person, again.queued_at) == (iris, at)
    assert Notice.objects.count() == AuditEntry.objects.count() == 1


def test_two_who_write_about_one_occasion_in_the_same_moment_write_one_message(
    ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = queue(iris, house, office, at)
    # The second did not see the first's row when it looked: it looks before the first has committed.
    with monkeypatch.context() as patch:
        patch.setattr(type(Notice.objects.all()), "first", lambda self: None)
        assert queue(iris, house, office, at) == first
    assert AuditEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("email", "wants_email", "asked_for", "channel"),
    [
        ("iris@example.com", True, False, "email"),
        ("iris@example.com", False, False, "letter"),
        ("iris@example.com", False, True, "email"),
        ("", True, False, "letter"),
        ("", True, True, "letter"),
    ],
)
def test_who_has_no_e_mail_or_wants_none_gets_a_letter(
    house: Property,
    iris: Person,
    office: Actor,
    at: datetime,
    email: str,
    wants_email: bool,
    asked_for: bool,
    channel: str,
    django_capture_on_commit_callbacks: Any,
) -> None:
    iris.email, iris.wants_email = email, wants_email
    with django_capture_on_commit_callbacks(execute=True):
        notice = queue(iris, house, office, at, asked_for=asked_for)
    assert (notice.channel, notice.address) == (channel, email if channel == "email" else "")
    assert len(mail.outbox) == (1 if channel == "email" else 0)
    if channel == "letter":
        # A letter holds no marker that nobody would fill in: it names the page on which a link can be asked for.
        assert OWNER_LINK not in notice.text + notice.html
        assert reverse("portal:ask_link") in notice.text
        assert queries.ids_to_send(at=at + timedelta(days=9)) == []


def test_words_from_people_do_no_harm_in_the_html_half(
    house: Property, iris: Person, office: Actor, at: datetime
) -> None:
    iris.name = "<script>Iris</script> & Son"
    notice = queue(iris, house, office, at)
    assert "<script>" not in notice.html
    assert "Dear <script>Iris</script> & Son," in notice.text


def test_a_subject_stays_on_one_line_whatever_the_street_is(
    house: Property, iris: Person, office: Actor, at: datetime
) -> None:
    house.street = "12 Millrace Lane\nBcc: nextdoor@example.com"
    assert "\n" not in queue(iris, house, office, at).subject


def test_a_message_for_later_waits_for_its_hour(
    house: Property, iris: Person, office: Actor, at: datetime, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        notice = queue(iris, house, office, at, not_before=at + timedelta(hours=16))
    assert mail.outbox == []
    assert queries.ids_to_send(at=at + timedelta(hours=15)) == []
    assert queries.ids_to_send(at=at + timedelta(hours=16)) == [notice.pk]


def test_a_link_that_was_asked_for_goes_by_e_mail_also_to_who_wants_letters(
    ownership: Ownership, iris: Person, office: Actor, at: datetime, django_capture_on_commit_callbacks: Any
) -> None:
    iris.wants_email = False
    iris.save()
    with django_capture_on_commit_callbacks(execute=True):
        send_owner_link(ownership_id=ownership.pk, occasion="asked", by=office, at=at)
    assert mail.outbox[0].to == ["iris@example.com"]


def test_a_link_is_sent_to_the_present_owner_with_an_address_only(
    ownership: Ownership, iris: Person, office: Actor, at: datetime
) -> None:
    iris.email = ""
    iris.save()
    with pytest.raises(NoEmail):
        send_owner_link(ownership_id=ownership.pk, occasion="asked", by=office, at=at)
    ownership.until_on = at.date()
    ownership.save()
    with pytest.raises(NoOwner):
        send_owner_link(ownership_id=ownership.pk, occasion="asked", by=office, at=at)
    assert not Notice.objects.exists()


def test_what_waits_for_a_seller_is_withdrawn_once_the_house_is_handed_over(
    ownership: Ownership, iris: Person, house: Property, buyer: Person, office: Actor, at: datetime
) -> None:
    reminder = queue(iris, house, office, at, occasion="due 1", template="owner_link")
    sent = queue(iris, house, office, at, occasion="due 2")
    sent.state, sent.sent_at = Notice.State.SENT, at
    sent.save()
    assert withdraw_for_former_owners(property_id=house.pk, at=at) == 0
    hand_over(property_id=house.pk, person_id=buyer.pk, on=at.date(), by=office, at=at)
    to_the_buyer = queue(buyer, house, office, at, occasion="due 3")
    assert withdraw_for_former_owners(property_id=house.pk, at=at) == 1
    states = dict(Notice.objects.values_list("pk", "state"))
    assert states == {reminder.pk: "withdrawn", sent.pk: "sent", to_the_buyer.pk: "queued"}
    assert AuditEntry.objects.filter(verb="notice withdrawn").count() == 1


def test_a_seller_still_hears_of_their_own_transfer(
    ownership: Ownership, iris: Person, house: Property, buyer: Person, office: Actor, at: datetime
) -> None:
    told = queue(iris, house, office, at)
    Notice.objects.filter(pk=told.pk).update(template="transfer_issued_seller")
    hand_over(property_id=house.pk, person_id=buyer.pk, on=at.date(), by=office, at=at)
    assert withdraw_for_former_owners(property_id=house.pk, at=at) == 0


def test_a_hand_over_withdraws_by_itself(
    ownership: Ownership,
    iris: Person,
    house: Property,
    buyer: Person,
    office: Actor,
    at: datetime,
    django_capture_on_commit_callbacks: Any,
) -> None:
    told = queue(iris, house, office, at, not_before=at + timedelta(days=9000))
    with django_capture_on_commit_callbacks(execute=True):
        hand_over(property_id=house.pk, person_id=buyer.pk, on=at.date(), by=office, at=at)
    told.refresh_from_db()
    assert told.state == "withdrawn"
