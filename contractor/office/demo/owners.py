"""What owners of the demo do about the visits that they were told of: a text here, a letter there, a yes, a wish."""

from datetime import date, datetime
from typing import Any

from contractor.core.audit import SYSTEM
from contractor.properties.actions import change_person
from contractor.properties.models import Person
from contractor.properties.queries import present_ownership
from contractor.visits.actions import owner_answers
from contractor.visits.models import Appointment, Request
from contractor.visits.owner_tables import VisitLink


def wish_for_ways(waiting: list[Request], *, at: datetime) -> None:
    """The owner of the second visit that waits wants texts, that of the fourth letters."""
    for number, wishes in ((1, {"wants_texts": True}), (3, {"wants_email": False})):
        if number < len(waiting):
            property_id = waiting[number].system.property_id
            ownership = present_ownership(property_id=property_id)
            if ownership is not None:
                _wishes(ownership.person, property_id, wishes, at=at)


def _wishes(person: Person, property_id: int, wishes: dict[str, Any], *, at: datetime) -> None:
    change_person(
        person_id=person.pk,
        property_id=property_id,
        name=person.name,
        email=person.email,
        phone=person.phone,
        mail_address=person.mail_address,
        by=SYSTEM,
        at=at,
        **wishes,
    )


def answer(*, on: date, at: datetime) -> None:
    """Of the visits after today the first is confirmed; one owner wants a call and one another day."""
    coming = Appointment.objects.filter(on__gt=on, state=Appointment.State.PLANNED).order_by("on", "stop_number", "pk")
    links = [link for appointment in coming[:3] if (link := _link(appointment, at=at)) is not None]
    if links:
        first = links[0].appointment
        shown = (first.on, first.arrive_from, first.arrive_until)
        owner_answers.say_yes(link=links[0], shown=shown, at=at)
    for link, kind, words in zip(
        links[1:], ("telephone", "other_day"), ("After 5 PM, please.", "Any Friday would be better."), strict=False
    ):
        owner_answers.wish(link=link, kind=kind, words=words, at=at)


def _link(appointment: Appointment, *, at: datetime) -> VisitLink | None:
    ownership = present_ownership(property_id=appointment.request.system.property_id)
    if ownership is None:
        return None
    token = owner_answers.make_visit_link(appointment=appointment, ownership=ownership, at=at)
    known = VisitLink.objects.select_related("appointment", "ownership__person")
    return known.get(token_sha256=owner_answers.token_sha256(token))
