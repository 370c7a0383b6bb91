"""Visits as calendar files (RFC 5545) and as messages between calendars (RFC 5546, iTIP).

The files are written by the package ``icalendar``, which knows how lines are folded and text is escaped. Nobody's name
or telephone number stands in them: a calendar is read by more people and servers than its owner knows.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from icalendar import Calendar, Event, vCalAddress, vDuration, vText

from contractor.accounts.models import Company
from contractor.visits.arrival import span_of
from contractor.visits.models import Appointment

PRODUCT = "-//Written promises//Visits//EN"
REQUEST, CANCEL, PUBLISH = "REQUEST", "CANCEL", "PUBLISH"
# How often a subscriber looks again (RFC 7986, section 5.7).
LOOK_AGAIN = timedelta(hours=1)
_STATUS = {
    Appointment.State.PLANNED: "TENTATIVE",
    Appointment.State.CONFIRMED: "CONFIRMED",
    Appointment.State.DONE: "CONFIRMED",
    Appointment.State.COULD_NOT: "CANCELLED",
    Appointment.State.CANCELLED: "CANCELLED",
}


def invitation(appointment: Appointment, *, company: Company, reader_email: str, method: str, at: datetime) -> str:
    """The visit for its owner's calendar: a request that makes or changes it, a cancellation that takes it out, or a
    file to open by hand (PUBLISH, which names no attendee: RFC 5546, section 3.2.1)."""
    calendar = _calendar()
    calendar.add("method", method)
    event = _event(appointment, stamped_at=at)
    event.add("summary", f"{company.name}: {appointment.request.get_kind_display().lower()}")
    event.add("description", _for_the_owner(appointment, company))
    organizer = vCalAddress(f"mailto:{company.email}")
    organizer.params["CN"] = vText(company.name)
    event.add("organizer", organizer)
    if method != PUBLISH:
        attendee = vCalAddress(f"mailto:{reader_email}")
        has_said_yes = appointment.state == Appointment.State.CONFIRMED
        attendee.params["PARTSTAT"] = vText("ACCEPTED" if has_said_yes else "NEEDS-ACTION")
        attendee.params["ROLE"] = vText("REQ-PARTICIPANT")
        # The answer comes by the link in the message; a calendar that answers by mail would reach nobody.
        attendee.params["RSVP"] = vText("FALSE")
        event.add("attendee", attendee)
    calendar.add_component(event)
    return str(calendar.to_ical().decode())


def feed(appointments: Iterable[Appointment], *, name: str, with_technician: bool) -> str:
    """Visits for the calendar of one of the staff. The same visits give the same file, so that it can be compared.

    It has no METHOD: then DTSTAMP is when an event was last changed (RFC 5545, section 3.8.7.2).
    """
    calendar = _calendar()
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", vDuration(LOOK_AGAIN), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(LOOK_AGAIN))
    for appointment in appointments:
        event = _event(appointment, stamped_at=appointment.calendar_changed_at or appointment.made_at)
        who = f" ({appointment.technician.name})" if with_technician else ""
        house = appointment.request.system.property
        event.add("summary", f"{appointment.request.get_kind_display()}: {house.street_line}{who}")
        event.add("description", _for_the_staff(appointment))
        calendar.add_component(event)
    return str(calendar.to_ical().decode())


def _calendar() -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    return calendar


def _event(appointment: Appointment, *, stamped_at: datetime) -> Event:
    """What every file says of a visit. One with hours is in UTC, so that no zone has to be described in the file; one
    for which any time is right takes the whole day and keeps nobody busy."""
    event = Event()
    event.add("uid", str(appointment.calendar_uid))
    event.add("dtstamp", stamped_at.astimezone(UTC))
    event.add("sequence", appointment.calendar_sequence)
    event.add("status", _STATUS[Appointment.State(appointment.state)])
    span = span_of(
        appointment.on,
        appointment.arrive_from,
        appointment.arrive_until,
        minutes_of(appointment),
        ZoneInfo(settings.TIME_ZONE),
    )
    if span is None:
        day: date = appointment.on
        event.add("dtstart", day)
        event.add("dtend", day + timedelta(days=1))
        event.add("transp", "TRANSPARENT")
    else:
        event.add("dtstart", span.begins)
        event.add("dtend", span.ends)
    house = appointment.request.system.property
    event.add("location", house.address_line)
    if house.latitude is not None and house.longitude is not None:
        event.add("geo", (house.latitude, house.longitude))
    event.add("class", "PRIVATE")
    return event


def minutes_of(appointment: Appointment) -> int:
    """Minutes at the house: the visit and what goes along with it."""
    request = appointment.request
    along = getattr(request, "going_along", None)
    others = request.along.filter(withdrawn_at__isnull=True) if along is None else along
    return request.minutes + sum(other.minutes for other in others)


def _for_the_owner(appointment: Appointment, company: Company) -> str:
    lines = [
        "Our technician arrives within the first hours of this entry; the work is done by its end at the latest."
        if appointment.arrive_from
        else "Our technician comes in the course of this day.",
        f"About {minutes_of(appointment)} minutes at the house.",
        "Please keep the way to the pit, the battery and the water heater clear.",
    ]
    if company.phone:
        lines.append(f"Questions, or another day: {company.phone}")
    return "\n".join(lines)


def _for_the_staff(appointment: Appointment) -> str:
    request = appointment.request
    carry = [one.carry for one in (request, *getattr(request, "going_along", ())) if one.carry]
    return "\n".join([f"{minutes_of(appointment)} minutes.", *(f"Carry: {parts}" for parts in carry)])
