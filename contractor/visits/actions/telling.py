"""Telling owners about their appointments, and what their calendars know of them."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.notices import personal_links
from contractor.notices.actions import queue_notice, withdraw_about
from contractor.notices.errors import NobodyToWriteTo
from contractor.notices.made_above import Attachment
from contractor.notices.models import Notice
from contractor.notices.queries import zones_at
from contractor.notices.rules.channels import LETTER
from contractor.visits.arrival import hours_in_words, zone_in_words
from contractor.visits.errors import NobodyOwnsIt, NotLive, NotToday
from contractor.visits.invitations import CANCEL, REQUEST, invitation, minutes_of
from contractor.visits.models import Appointment

CHANGED = "The appointment has changed since."
# "On my way" is worth reading for as long as a drive takes.
ON_THE_WAY_LASTS = timedelta(hours=2)
CALLED_OFF = frozenset({"appointment_cancelled", "appointment_called_off"})
DAYS_BEFORE = 2
# Who was told so shortly before needs no reminder.
TOLD_RECENTLY = timedelta(days=3)
OPEN = (Appointment.State.PLANNED, Appointment.State.CONFIRMED)


def changed_for_calendars(appointment: Appointment, *, at: datetime) -> None:
    """Raises the sequence after a change of time or state (RFC 5546, section 2.1.4). It follows from a change that is
    in the trail, so it has no entry of its own."""
    appointment.calendar_sequence += 1
    appointment.calendar_changed_at = at
    Appointment.objects.filter(pk=appointment.pk).update(
        calendar_sequence=appointment.calendar_sequence, calendar_changed_at=at
    )


def about(appointment: Appointment) -> str:
    """How notices name the appointment that they are about."""
    return f"appointment:{appointment.pk}"


@transaction.atomic
def tell_owner(
    appointment: Appointment,
    *,
    template: str,
    occasion: str,
    by: Actor,
    at: datetime,
    never_by: tuple[str, ...] = (),
    not_after: datetime | None = None,
) -> Notice | None:
    """Writes to whoever owns the house now, each occasion once; a house without a known owner has nobody to tell.

    What still waits about this appointment is overtaken and withdrawn. Raises NobodyToWriteTo.
    """
    house = appointment.request.system.property
    ownership = house.ownerships.open_ended().select_related("person").first()
    if ownership is None:
        return None
    full_occasion = f"appointment:{appointment.pk}:{occasion}"
    told = Notice.objects.filter(occasion=full_occasion).first()
    if told is not None:
        return told
    withdraw_about(about=about(appointment), because=CHANGED, at=at)
    company_zone = ZoneInfo(settings.TIME_ZONE)
    return queue_notice(
        occasion=full_occasion,
        template=template,
        person=ownership.person,
        property=house,
        context={
            "appointment": appointment,
            "visit": appointment.request,
            "minutes": minutes_of(appointment),
            "technician": appointment.technician,
            "hours": hours_in_words(appointment.arrive_from, appointment.arrive_until),
            "zone": zone_in_words(appointment.on, company_zone, zones_at(house)) if appointment.arrive_from else "",
            "visit_link": personal_links.marker("your-visit", appointment.pk),
        },
        by=by,
        at=at,
        about=about(appointment),
        never_by=never_by,
        not_after=not_after,
    )


def remind_of_visits(*, at: datetime) -> int:
    """Reminds owners of visits two days ahead; returns how many. Run again it reminds nobody twice.

    Nobody is reminded by letter, and nobody who was told of this day in the last three.
    """
    day = clock.day_of(at) + timedelta(days=DAYS_BEFORE)
    stops = Appointment.objects.filter(on=day, state__in=OPEN).order_by("pk").values_list("pk", flat=True)
    return sum(_remind(appointment_id, day=day, at=at) for appointment_id in stops)


@transaction.atomic
def _remind(appointment_id: int, *, day: date, at: datetime) -> bool:
    appointment = _locked(appointment_id)
    occasion = f"reminder:{day.isoformat()}"
    if appointment.state not in OPEN or appointment.on != day:
        return False
    earlier = Notice.objects.filter(about=about(appointment)).exclude(state=Notice.State.WITHDRAWN)
    if earlier.filter(queued_at__gt=at - TOLD_RECENTLY).exists():
        return False
    try:
        told = tell_owner(
            appointment,
            template="visit_reminder",
            occasion=occasion,
            by=SYSTEM,
            at=at,
            never_by=(LETTER,),
            not_after=datetime.combine(day, time(), tzinfo=ZoneInfo(settings.TIME_ZONE)),
        )
    except NobodyToWriteTo:
        return False
    return told is not None


@transaction.atomic
def say_on_the_way(*, appointment_id: int, by: Actor, at: datetime) -> Notice:
    """Tells the owner that the technician has set out; pressed again on the same day, nothing more is sent.

    Raises NotLive, NotToday, NobodyOwnsIt, or NobodyToWriteTo when only a letter would go.
    """
    appointment = _locked(appointment_id)
    if appointment.state not in OPEN:
        raise NotLive(appointment.get_state_display())
    if appointment.on != clock.day_of(at):
        raise NotToday(appointment.on)
    told = tell_owner(
        appointment,
        template="visit_on_the_way",
        occasion=f"on the way:{appointment.on.isoformat()}",
        by=by,
        at=at,
        never_by=(LETTER,),
        not_after=at + ON_THE_WAY_LASTS,
    )
    if told is None:
        raise NobodyOwnsIt
    return told


def _locked(appointment_id: int) -> Appointment:
    return (
        Appointment.objects.select_for_update(of=("self",))
        .select_related("request__system__property", "technician")
        .get(pk=appointment_id)
    )


def why_not(*, notice: Notice, at: datetime) -> str:
    """Why a message about an appointment does not hold any more when it is sent; for ``notices.made_above``."""
    appointment = _of(notice)
    if appointment is None:
        return ""
    if notice.template in CALLED_OFF:
        return ""
    if appointment.state not in OPEN:
        return f"The appointment is {appointment.get_state_display().lower()}."
    return "" if appointment.on >= clock.day_of(at) else "The day of the visit is past."


def calendar_for(*, notice: Notice, at: datetime) -> Attachment | None:
    """The calendar file of a message about an appointment; for ``notices.made_above``."""
    appointment = _of(notice)
    if appointment is None:
        return None
    method = CANCEL if notice.template in CALLED_OFF else REQUEST
    content = invitation(appointment, company=the_company(), reader_email=notice.address, method=method, at=at)
    # RFC 6047, section 2.4: the method stands in the MIME header as it does in the file.
    return Attachment(
        name="visit.ics", content=content, kind="text/calendar", parameters={"method": method, "component": "VEVENT"}
    )


def _of(notice: Notice) -> Appointment | None:
    room, _, key = notice.about.partition(":")
    if room != "appointment" or not key.isdecimal():
        return None
    known = Appointment.objects.select_related("request__system__property", "technician")
    return known.filter(pk=int(key)).first()
