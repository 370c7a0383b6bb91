"""Writes that keep a request true while what asks for it changes: asked for once, moved, taken back, never doubled."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from contractor.core import audit
from contractor.core.audit import SYSTEM
from contractor.visits.actions.appointments import ask_for_visit, join_trips, mark_done, withdraw_request
from contractor.visits.models import Appointment, Request
from contractor.visits.skills import in_order

# Requests that are taken back here begin their reason with this; one that a person took back with a reason of their
# own is not asked for again.
NOT_NEEDED = "No longer needed:"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A visit as something in the record asks for it."""

    occasion: str
    system_id: int
    kind: str
    earliest_on: date
    target_on: date
    latest_on: date
    minutes: int
    reason: str
    carry: str = ""
    skills: tuple[str, ...] = ()
    minutes_because: str = ""


@transaction.atomic
def keep_asking(*, wanted: Wanted, earlier: Sequence[Request], on: date, at: datetime) -> Request | None:
    """Asks for a visit, or moves the standing request of its occasion to what is wanted now.

    ``earlier`` are the requests of the occasion as ``queries.raised_before`` gives them. One that a person took back is
    left; one that was done earlier than today is asked for anew, because what asks for it still stands.
    """
    standing = _standing(earlier)
    if standing is not None:
        # Every night asks again for what stands: only what differs is locked and written.
        return standing if _says(standing, wanted) else _changed(standing.pk, wanted, at=at)
    if any(one.withdrawn_at and not one.withdrawn_because.startswith(NOT_NEEDED) for one in earlier):
        return None
    if any(_done_on(one) is not None and _done_on(one) >= on for one in earlier):  # type: ignore[operator]
        return None
    return ask_for_visit(
        occasion=f"{wanted.occasion}#{len(earlier) + 1}" if earlier else wanted.occasion,
        system_id=wanted.system_id,
        kind=wanted.kind,
        target_on=wanted.target_on,
        earliest_on=wanted.earliest_on,
        latest_on=wanted.latest_on,
        minutes=wanted.minutes,
        minutes_because=wanted.minutes_because,
        reason=wanted.reason,
        carry=wanted.carry,
        skills=wanted.skills,
        by=SYSTEM,
        at=at,
    )


@transaction.atomic
def stop_asking(*, earlier: Sequence[Request], because: str, on: date, at: datetime) -> None:
    """Takes a standing request back: what asked for it is settled.

    Where somebody is at the house for it today, the visit counts as done instead: that is how it was settled.
    """
    standing = _standing(earlier)
    if standing is None:
        return
    today = standing.appointments.filter(
        on=on, state__in=(Appointment.State.PLANNED, Appointment.State.CONFIRMED)
    ).first()
    if today is not None:
        mark_done(appointment_id=today.pk, by=SYSTEM, at=at)
    else:
        withdraw_request(request_id=standing.pk, because=f"{NOT_NEEDED} {because}", by=SYSTEM, at=at)


def asked_on(earlier: Sequence[Request], *, on: date) -> date:
    """The first day of the standing request, so that its days don't wander from night to night; else this day."""
    standing = _standing(earlier)
    return on if standing is None else min(standing.earliest_on, on)


def is_given(earlier: Sequence[Request]) -> bool:
    """Whether the standing request is given to somebody."""
    standing = _standing(earlier)
    return standing is not None and standing.live_on is not None  # type: ignore[attr-defined]


def _standing(earlier: Sequence[Request]) -> Request | None:
    return next((one for one in earlier if one.withdrawn_at is None and _done_on(one) is None), None)


def _done_on(request: Request) -> date | None:
    done_on: date | None = request.done_on  # type: ignore[attr-defined]
    return done_on


def _says(request: Request, wanted: Wanted) -> bool:
    return (
        request.earliest_on == wanted.earliest_on
        and request.target_on == wanted.target_on
        and request.latest_on == wanted.latest_on
        and request.minutes == wanted.minutes
        and request.reason == wanted.reason
        and request.carry == wanted.carry
        and request.skills == list(in_order(wanted.skills))
    )


def _changed(request_id: int, wanted: Wanted, *, at: datetime) -> Request:
    request = Request.objects.select_for_update(of=("self",)).select_related("system").get(pk=request_id)
    before = audit.snapshot(request)
    request.earliest_on, request.target_on, request.latest_on = (
        wanted.earliest_on,
        wanted.target_on,
        wanted.latest_on,
    )
    request.minutes, request.reason, request.carry = wanted.minutes, wanted.reason, wanted.carry
    request.skills = list(in_order(wanted.skills))
    request.save()
    audit.record(
        by=SYSTEM,
        at=at,
        verb="visit asked for otherwise",
        subject=request,
        property_id=request.system.property_id,
        before=before,
        after=audit.snapshot(request),
    )
    join_trips(request, by=SYSTEM, at=at)
    return request
