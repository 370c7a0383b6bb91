"""What an owner does about an appointment by the link in a message: without an account, and never by merely looking."""

import hashlib
import secrets
from datetime import date, datetime, time, timedelta

from django.db import transaction
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.notices.errors import NobodyToWriteTo
from contractor.notices.models import Notice
from contractor.notices.rules.channels import LETTER, TEXT
from contractor.properties.models import Ownership
from contractor.visits.actions import appointments
from contractor.visits.actions.telling import tell_owner
from contractor.visits.days_offered import DayOffered, days_offered
from contractor.visits.errors import DayGone, NotLive, ReasonMissing, VisitChanged, WishEmpty
from contractor.visits.models import Appointment
from contractor.visits.owner_tables import OwnerWish, VisitLink

# 128 random bits: nobody guesses them, and a text message has no room for more.
TOKEN_BYTES = 16
# A link says what became of a visit for some weeks after it.
LASTS_AFTER = timedelta(days=30)
Shown = tuple[date, time | None, time | None]


@transaction.atomic
def make_visit_link(*, appointment: Appointment, ownership: Ownership, at: datetime) -> str:
    """Makes a secret link to an appointment for its owner and returns its token, which is kept nowhere."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    VisitLink.objects.create(
        appointment=appointment,
        ownership=ownership,
        token_sha256=token_sha256(token),
        told_on=appointment.on,
        told_from=appointment.arrive_from,
        told_until=appointment.arrive_until,
        made_at=at,
        expires_at=max(at, at + (appointment.on - clock.day_of(at))) + LASTS_AFTER,
    )
    return token


def visit_link(*, notice: Notice, key: int | None, at: datetime) -> str | None:
    """A new secret link to the appointment of a message, while its reader owns the house; for ``personal_links``."""
    appointment = None if key is None else Appointment.objects.select_related("request__system").filter(pk=key).first()
    if appointment is None:
        return None
    ownership = (
        Ownership.objects.open_ended()
        .filter(property=appointment.request.system.property_id, person=notice.person_id)
        .first()
    )
    if ownership is None:
        return None
    token = make_visit_link(appointment=appointment, ownership=ownership, at=at)
    return reverse("portal:visit", args=[token])


def token_sha256(token: str) -> str:
    """What the table keeps of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def say_yes(*, link: VisitLink, shown: Shown, at: datetime) -> Appointment:
    """The owner confirms the day and hours that the page showed. Said twice, it is noted once.

    Raises NotLive, or VisitChanged when the office moved the visit while the owner looked at it.
    """
    appointment = _open(link, shown=shown, on=clock.day_of(at))
    if appointment.state == Appointment.State.CONFIRMED:
        return appointment
    by = actor_of(link)
    confirmed = appointments.confirm_appointment(appointment_id=appointment.pk, by=by, at=at)
    try:
        tell_owner(
            confirmed,
            template="appointment_confirmed",
            occasion=f"confirmed:{confirmed.calendar_sequence}",
            by=by,
            at=at,
            # The page has said thank you; only a calendar has something left to learn, and it comes by e-mail.
            never_by=(TEXT, LETTER),
        )
    except NobodyToWriteTo:
        return confirmed
    return confirmed


@transaction.atomic
def choose_day(*, link: VisitLink, day: date, at: datetime) -> Appointment:
    """Moves the visit to one of the days offered, with the owner's yes.

    Raises NotLive, or DayGone when the room on that day was taken meanwhile.
    """
    # All technicians' rows are locked, so that of two owners who choose the same room one chooses after the other and
    # is offered what is left. The office doesn't wait here: it may put more into a day than the planner would.
    list(User.objects.technicians().order_by("pk").select_for_update().values_list("pk"))
    appointment = _open(link, shown=None, on=clock.day_of(at))
    if appointment.on == day and appointment.state == Appointment.State.CONFIRMED:
        return appointment
    chosen = next((offer for offer in days_offered(appointment, on=clock.day_of(at)) if offer.on == day), None)
    if chosen is None:
        raise DayGone(day)
    return _move(appointment, chosen, link, at)


def _move(appointment: Appointment, chosen: DayOffered, link: VisitLink, at: datetime) -> Appointment:
    return appointments.move_appointment(
        appointment_id=appointment.pk,
        technician_id=chosen.technician_id,
        on=chosen.on,
        arrive_from=chosen.arrive_from,
        arrive_until=chosen.arrive_until,
        by=actor_of(link),
        at=at,
        is_owners_choice=True,
    )


@transaction.atomic
def wish(*, link: VisitLink, kind: str, words: str, at: datetime) -> OwnerWish:
    """Keeps what the owner asks of the office: another day than those offered, or a call.

    A second wish of the same kind, while the first waits, adds its words to it. Raises NotLive, or WishEmpty for a
    wish for another day that names none.
    """
    appointment = _open(link, shown=None, on=clock.day_of(at))
    said = words.strip()
    if kind == OwnerWish.Kind.OTHER_DAY and not said:
        raise WishEmpty
    return _note_wish(appointment, link, kind, said, at=at)


@transaction.atomic
def call_off(*, link: VisitLink, because: str, at: datetime) -> Appointment:
    """The owner calls the visit off and says why; it goes back among what waits, in sight of the office.

    Raises NotLive or ReasonMissing.
    """
    appointment = _open(link, shown=None, on=clock.day_of(at))
    if not because.strip():
        raise ReasonMissing
    _note_wish(appointment, link, OwnerWish.Kind.CALLED_OFF, because.strip(), at=at)
    return appointments.cancel_appointment(
        appointment_id=appointment.pk, because=because, by=actor_of(link), at=at, is_owners_choice=True
    )


@transaction.atomic
def settle_wish(*, wish_id: int, by: Actor, at: datetime) -> OwnerWish:
    """Notes that the office has dealt with a wish; once is enough."""
    found = OwnerWish.objects.select_for_update().get(pk=wish_id)
    if found.settled_at is None:
        found.settled_at = at
        found.save()
        _record(found, "owner's wish dealt with", by=by, at=at)
    return found


def _note_wish(appointment: Appointment, link: VisitLink, kind: str, words: str, *, at: datetime) -> OwnerWish:
    waiting = OwnerWish.objects.select_for_update().filter(appointment=appointment, kind=kind, settled_at__isnull=True)
    found = waiting.first()
    if found is None:
        found = OwnerWish(appointment=appointment, ownership=link.ownership, kind=kind)
    elif words in found.words:
        return found
    found.words = f"{found.words}\n{words}".strip()
    found.said_at = at
    found.save()
    _record(found, "owner asked", by=actor_of(link), at=at)
    return found


def _open(link: VisitLink, *, shown: Shown | None, on: date) -> Appointment:
    """The appointment of a link, locked while it is still to come."""
    appointment = (
        Appointment.objects.select_for_update(of=("self",))
        .select_related("request__system__property", "technician")
        .get(pk=link.appointment_id)
    )
    if appointment.state not in appointments.OPEN_STATES:
        raise NotLive(appointment.get_state_display())
    if appointment.on < on:
        raise NotLive("past")
    if shown is not None and shown != (appointment.on, appointment.arrive_from, appointment.arrive_until):
        raise VisitChanged
    return appointment


def actor_of(link: VisitLink) -> Actor:
    """How the owner stands in the audit trail."""
    return Actor(f"owner:{link.ownership.person_id}", link.ownership.person.name)


def _record(subject: OwnerWish, verb: str, *, by: Actor, at: datetime) -> None:
    property_id = subject.ownership.property_id
    audit.record(by=by, at=at, verb=verb, subject=subject, property_id=property_id, after=audit.snapshot(subject))
