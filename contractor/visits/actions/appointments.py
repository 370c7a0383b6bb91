"""Writes about requests and appointments."""

from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any

from django.db import transaction
from django.db.models import Max

from contractor.accounts.models import Role, User
from contractor.core import audit, clock, renewal
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.systems.models import Component
from contractor.visits.durations import parts_key
from contractor.visits.errors import (
    AlreadyDone,
    AlreadyGiven,
    DayIsPast,
    GoesAlone,
    GoesAlong,
    NotATechnician,
    NotLive,
    NotWantedAnyMore,
    ReasonMissing,
    RoundChanged,
    WindowBackwards,
)
from contractor.visits.models import Appointment, Request
from contractor.visits.skills import in_order
from contractor.visits.trips import Wish, taken_along_by, takes_along

# A system of so many parts that its key is cut has hardly a twin to learn from.
LONGEST_KEY = 400
OPEN_STATES = (Appointment.State.PLANNED, Appointment.State.CONFIRMED)


@transaction.atomic
def ask_for_visit(
    *,
    occasion: str,
    system_id: int,
    kind: str,
    target_on: date,
    earliest_on: date,
    latest_on: date,
    minutes: int,
    reason: str,
    by: Actor,
    at: datetime,
    carry: str = "",
    skills: Sequence[str] = (),
    minutes_because: str = "",
    best_until: date | None = None,
    best_because: str = "",
) -> Request:
    """Asks for somebody at a house. The same occasion gives the same request. Raises WindowBackwards.

    Where one trip serves this and another standing request of the house, they are joined: see ``trips``.
    """
    if not earliest_on <= target_on <= latest_on:
        raise WindowBackwards
    request, is_new = Request.objects.get_or_create(
        occasion=occasion,
        defaults={
            "system_id": system_id,
            "kind": kind,
            "target_on": target_on,
            "earliest_on": earliest_on,
            "latest_on": latest_on,
            "minutes": minutes,
            "reason": reason.strip(),
            "carry": carry.strip(),
            "skills": list(in_order(skills)),
            "minutes_because": minutes_because,
            "best_until": best_until,
            "best_because": best_because if best_until else "",
            "created_at": at,
        },
    )
    if is_new:
        _record(request, by=by, at=at, verb="visit asked for", after=audit.snapshot(request))
        join_trips(request, by=by, at=at)
    return request


@transaction.atomic
def give_own_trip(*, request_id: int, by: Actor, at: datetime) -> Request:
    """Parts a request from the trip it goes along with, so that it is given out by itself. Raises GoesAlone."""
    request = Request.objects.select_for_update().get(pk=request_id)
    if request.goes_with_id is None:
        raise GoesAlone
    _go_with(request, None, by=by, at=at)
    return request


def join_trips(request: Request, *, by: Actor, at: datetime) -> None:
    """Lets a request whose days are new go along with a standing one of its house, or takes standing ones along.

    One that goes along already stays so while the days still meet, and else gets a trip of its own.
    """
    # The house's requests are locked, so that two that are asked for at once see each other.
    here = Request.objects.select_for_update().filter(system__property_id=request.system.property_id).order_by("pk")
    standing = list(here.filter(pk__in=Request.objects.wanting().filter(goes_with__isnull=True).values("pk")))
    live = Appointment.objects.live().filter(request__in=standing)
    given = dict(live.values_list("request_id", "on"))
    wishes = {one.pk: _wish(one, given.get(one.pk)) for one in standing}
    wish = _wish(request, given.get(request.pk))
    if request.goes_with_id in wishes and taken_along_by(wish, [wishes[request.goes_with_id]]) is not None:
        return
    host_id = None if wish.given_on is not None else taken_along_by(wish, wishes.values())
    if host_id != request.goes_with_id:
        _go_with(request, host_id, by=by, at=at)
    if host_id is not None:
        return
    along = Request.objects.filter(goes_with__in=standing, withdrawn_at__isnull=True)
    hosts = set(along.values_list("goes_with", flat=True))
    going = takes_along(wish, wishes.values())
    for one in standing:
        if one.pk in going and one.pk not in hosts:
            _go_with(one, request.pk, by=by, at=at)


def _wish(request: Request, given_on: date | None) -> Wish:
    return Wish(
        request_id=request.pk,
        kind=request.kind,
        earliest_on=request.earliest_on,
        latest_on=request.latest_on,
        given_on=given_on,
    )


def _go_with(request: Request, host_id: int | None, *, by: Actor, at: datetime) -> None:
    before = audit.snapshot(request)
    request.goes_with_id = host_id
    request.save()
    verb = "visit goes along with another" if host_id else "visit gets a trip of its own"
    _record(request, by=by, at=at, verb=verb, before=before, after=audit.snapshot(request))


@transaction.atomic
def withdraw_request(*, request_id: int, because: str, by: Actor, at: datetime) -> Request:
    """Takes a request back and cancels its open appointment. Raises AlreadyDone or ReasonMissing."""
    request = Request.objects.select_for_update().get(pk=request_id)
    if not because.strip():
        raise ReasonMissing
    # The live appointment is locked with it, so that a technician can't finish the visit in the same moment.
    live = request.appointments.live().select_for_update().first()
    if live is not None and live.state == Appointment.State.DONE:
        raise AlreadyDone
    if request.withdrawn_at is None:
        before = audit.snapshot(request)
        request.withdrawn_at, request.withdrawn_because = at, because.strip()
        request.save()
        _record(request, by=by, at=at, verb="visit withdrawn", before=before, after=audit.snapshot(request))
        for one in request.along.select_for_update().filter(withdrawn_at__isnull=True).order_by("pk"):
            _go_with(one, None, by=by, at=at)
        if live is not None:
            # After the request is withdrawn, so that the owner isn't told to wait for another day.
            cancel_appointment(appointment_id=live.pk, because=because, by=by, at=at)
    return request


@transaction.atomic
def give_to_technician(
    *,
    request_id: int,
    technician_id: int,
    on: date,
    by: Actor,
    at: datetime,
    made_by: User | None = None,
    arrive_from: time | None = None,
    arrive_until: time | None = None,
) -> Appointment:
    """Makes an appointment: this technician, this day, the last stop of that day's round so far.

    The owner is told. Raises NotATechnician, DayIsPast, NotWantedAnyMore, GoesAlong, AlreadyDone or
    AlreadyGiven.
    """
    # The request's row is locked, so two people at the desk can't give out the same visit.
    request = Request.objects.select_for_update(of=("self",)).select_related("system__property", "goes_with").get(
        pk=request_id
    )
    technician = _technician(technician_id)
    _not_past(on, at)
    if request.withdrawn_at is not None:
        raise NotWantedAnyMore(request.withdrawn_because)
    if request.goes_with is not None:
        raise GoesAlong(request.goes_with.get_kind_display())
    live = request.appointments.live().select_related("technician").first()
    if live is not None:
        raise AlreadyDone if live.state == Appointment.State.DONE else AlreadyGiven(live.technician.name, live.on)
    appointment = Appointment.objects.create(
        request=request,
        technician=technician,
        on=on,
        stop_number=_next_stop(technician, on),
        arrive_from=arrive_from,
        arrive_until=arrive_until,
        made_by=made_by,
        made_at=at,
    )
    _record(appointment, by=by, at=at, verb="appointment made", after=audit.snapshot(appointment))
    _tell_owner(appointment, template="appointment_set", occasion="set", by=by, at=at)
    return appointment


@transaction.atomic
def move_appointment(
    *,
    appointment_id: int,
    technician_id: int,
    on: date,
    by: Actor,
    at: datetime,
    arrive_from: time | None = None,
    arrive_until: time | None = None,
) -> Appointment:
    """Gives an open appointment another day, hour or technician; the owner is told when day or hour change.

    Nothing is written when nothing changes.
    Raises NotLive, NotATechnician or DayIsPast.
    """
    appointment = _open_appointment(appointment_id)
    technician = _technician(technician_id)
    _not_past(on, at)
    before = audit.snapshot(appointment)
    owner_sees = (on, arrive_from, arrive_until) != (appointment.on, appointment.arrive_from, appointment.arrive_until)
    if not owner_sees and technician.pk == appointment.technician_id:
        return appointment
    if (technician.pk, on) != (appointment.technician_id, appointment.on):
        appointment.stop_number = _next_stop(technician, on)
    appointment.technician, appointment.on = technician, on
    appointment.arrive_from, appointment.arrive_until = arrive_from, arrive_until
    if owner_sees:
        appointment.state = Appointment.State.PLANNED
    appointment.save()
    _record(appointment, by=by, at=at, verb="appointment moved", before=before, after=audit.snapshot(appointment))
    if owner_sees:
        occasion = f"moved:{on.isoformat()}:{arrive_from or ''}:{at.isoformat()}"
        _tell_owner(appointment, template="appointment_moved", occasion=occasion, by=by, at=at)
    return appointment


@transaction.atomic
def cancel_appointment(*, appointment_id: int, because: str, by: Actor, at: datetime) -> Appointment:
    """Calls an appointment off; the request stays and waits for another. Raises NotLive or ReasonMissing."""
    appointment = _end(appointment_id, Appointment.State.CANCELLED, because, verb="appointment cancelled", by=by, at=at)
    _tell_owner(appointment, template="appointment_cancelled", occasion="cancelled", by=by, at=at)
    return appointment


@transaction.atomic
def could_not(*, appointment_id: int, because: str, by: Actor, at: datetime) -> Appointment:
    """Notes that the technician came and could not do it; the request waits for another day.

    Raises NotLive or ReasonMissing.
    """
    return _end(appointment_id, Appointment.State.COULD_NOT, because, verb="visit could not be done", by=by, at=at)


@transaction.atomic
def confirm_appointment(*, appointment_id: int, by: Actor, at: datetime) -> Appointment:
    """Notes that the owner said yes. Raises NotLive."""
    appointment = _open_appointment(appointment_id)
    if appointment.state != Appointment.State.CONFIRMED:
        before = audit.snapshot(appointment)
        appointment.state = Appointment.State.CONFIRMED
        appointment.save()
        _record(
            appointment, by=by, at=at, verb="appointment confirmed", before=before, after=audit.snapshot(appointment)
        )
    return appointment


@transaction.atomic
def note_begun(*, appointment_id: int, by: Actor, at: datetime) -> Appointment:
    """Notes that the work has begun, so that nobody plans the visit elsewhere; the first beginning counts.

    Raises NotLive.
    """
    appointment = _open_appointment(appointment_id)
    if appointment.begun_at is None:
        before = audit.snapshot(appointment)
        appointment.begun_at = at
        appointment.save()
        _record(appointment, by=by, at=at, verb="visit begun", before=before, after=audit.snapshot(appointment))
    return appointment


@transaction.atomic
def mark_done(*, appointment_id: int, by: Actor, at: datetime, begun_at: datetime | None = None) -> Appointment:
    """Notes that the visit was done, from ``begun_at`` until now. Raises NotLive when it was cancelled meanwhile."""
    appointment = Appointment.objects.select_for_update().get(pk=appointment_id)
    if appointment.state == Appointment.State.DONE:
        return appointment
    appointment = _open_appointment(appointment_id)
    before = audit.snapshot(appointment)
    appointment.state = Appointment.State.DONE
    if begun_at is not None:
        parts = Component.objects.in_place(appointment.on).filter(system=appointment.request.system_id)
        appointment.begun_at, appointment.ended_at = begun_at, at
        appointment.parts_key = parts_key(parts.values_list("part_kind", flat=True))[:LONGEST_KEY]
    appointment.save()
    _record(appointment, by=by, at=at, verb="visit done", before=before, after=audit.snapshot(appointment))
    renewal.facts_changed(property_id=appointment.request.system.property_id)
    return appointment


@transaction.atomic
def put_in_order(*, technician_id: int, on: date, appointment_ids: list[int], by: Actor, at: datetime) -> None:
    """Numbers the stops of a round in this order. Raises RoundChanged unless these are exactly its open stops."""
    stops = {
        stop.pk: stop
        for stop in Appointment.objects.select_for_update().filter(
            technician_id=technician_id, on=on, state__in=Appointment.LIVE
        )
    }
    if sorted(stops) != sorted(appointment_ids):
        raise RoundChanged
    for number, pk in enumerate(appointment_ids, start=1):
        stop = stops[pk]
        if stop.stop_number != number:
            before = audit.snapshot(stop)
            stop.stop_number = number
            stop.save()
            _record(stop, by=by, at=at, verb="stop put in order", before=before, after=audit.snapshot(stop))


def _end(
    appointment_id: int, state: Appointment.State, because: str, *, verb: str, by: Actor, at: datetime
) -> Appointment:
    if not because.strip():
        raise ReasonMissing
    appointment = _open_appointment(appointment_id)
    before = audit.snapshot(appointment)
    appointment.state, appointment.state_because = state, because.strip()
    appointment.save()
    _record(appointment, by=by, at=at, verb=verb, before=before, after=audit.snapshot(appointment))
    return appointment


def _open_appointment(appointment_id: int) -> Appointment:
    appointment = (
        Appointment.objects.select_for_update(of=("self",))
        .select_related("request__system__property", "technician")
        .get(pk=appointment_id)
    )
    if appointment.state not in OPEN_STATES:
        raise NotLive(appointment.get_state_display())
    return appointment


def _technician(technician_id: int) -> User:
    technician = User.objects.filter(pk=technician_id, role=Role.TECHNICIAN, is_active=True).first()
    if technician is None:
        raise NotATechnician
    return technician


def _not_past(on: date, at: datetime) -> None:
    if on < clock.day_of(at):
        raise DayIsPast(on)


def _next_stop(technician: User, on: date) -> int:
    last = Appointment.objects.live().filter(technician=technician, on=on).aggregate(last=Max("stop_number"))["last"]
    return (last or 0) + 1


def _record(subject: Request | Appointment, *, by: Actor, at: datetime, verb: str, **values: Any) -> None:
    request = subject if isinstance(subject, Request) else subject.request
    audit.record(by=by, at=at, verb=verb, subject=subject, property_id=request.system.property_id, **values)


def _tell_owner(appointment: Appointment, *, template: str, occasion: str, by: Actor, at: datetime) -> None:
    """Writes to whoever owns the house now; a house without a known owner has nobody to tell."""
    house = appointment.request.system.property
    ownership = house.ownerships.open_ended().select_related("person").first()
    if ownership is None:
        return
    queue_notice(
        occasion=f"appointment:{appointment.pk}:{occasion}",
        template=template,
        person=ownership.person,
        property=house,
        context={"appointment": appointment, "visit": appointment.request, "technician": appointment.technician},
        by=by,
        at=at,
    )


@transaction.atomic
def take_up_again(*, appointment_id: int, because: str, by: Actor, at: datetime) -> Appointment:
    """Lets an appointment hold again that was called off or could not be done, because the work was done after all.

    The owner is not told of a day that is past. Raises ReasonMissing, NotLive for any other state, AlreadyGiven when
    the visit was given out anew meanwhile, or AlreadyDone.
    """
    if not because.strip():
        raise ReasonMissing
    found = Appointment.objects.select_related("request").get(pk=appointment_id)
    request = Request.objects.select_for_update(of=("self",)).select_related("system").get(pk=found.request_id)
    appointment = Appointment.objects.select_for_update(of=("self",)).get(pk=appointment_id)
    if appointment.state not in {Appointment.State.CANCELLED, Appointment.State.COULD_NOT}:
        raise NotLive(appointment.get_state_display())
    live = request.appointments.live().select_related("technician").first()
    if live is not None:
        raise AlreadyDone if live.state == Appointment.State.DONE else AlreadyGiven(live.technician.name, live.on)
    before = audit.snapshot(appointment)
    appointment.state, appointment.state_because = Appointment.State.PLANNED, because.strip()
    appointment.save()
    _record(
        appointment, by=by, at=at, verb="appointment taken up again", before=before, after=audit.snapshot(appointment)
    )
    return appointment
