"""A day that was upset: somebody ill, a van broken, snow. What came up is noted at once; the rounds become a draft."""

from datetime import date, datetime, time, timedelta

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import clock
from contractor.visits.actions.working_days import grant_leave, set_company_day, set_own_day
from contractor.visits.board.actions.drafts import start_draft
from contractor.visits.board.arrangement import Upset
from contractor.visits.board.errors import AwayBackwards, NothingHappens, StretchPast
from contractor.visits.board.faults import clock_words
from contractor.visits.models import Draft
from contractor.visits.routing.problem import seconds_after_midnight
from contractor.visits.routing.reasons import day_words
from contractor.visits.shifts import shifts_between

# Long enough to find room for a day's visits; with the pages around it well within a minute.
SECONDS = 12
ROOM_AFTER = timedelta(days=11)


@transaction.atomic
def technician_away(
    *,
    technician: User,
    first_on: date,
    last_on: date,
    from_time: time | None,
    because: str,
    by_user: User,
    at: datetime,
) -> Draft:
    """Notes that a technician can't go out from a day (and an hour of it) until another, and drafts what becomes of
    their visits. Raises StretchPast, AwayBackwards, or NothingHappens when they don't work on any of these days."""
    if first_on < clock.day_of(at):
        raise StretchPast
    if last_on < first_on:
        raise AwayBackwards
    working = {shift.day: shift for shift in shifts_between(first_on, last_on, technicians=[technician])}
    if not working:
        raise NothingHappens
    begun = working.get(first_on)
    leaves_on = first_on
    if from_time is not None and begun is not None and seconds_after_midnight(from_time) > begun.start:
        ends = min(seconds_after_midnight(from_time), begun.end)
        hours = (_time(begun.start), _time(ends))
        set_own_day(technician_id=technician.pk, on=first_on, hours=hours, because=because, by=by_user.actor, at=at)
        leaves_on = first_on + timedelta(days=1)
    if leaves_on <= last_on:
        grant_leave(
            technician_id=technician.pk, first_on=leaves_on, last_on=last_on, reason=because, by=by_user.actor, at=at
        )
    hour = f" from {clock_words(seconds_after_midnight(from_time))}" if from_time else ""
    until = f" until {day_words(last_on)}" if last_on != first_on else ""
    return start_draft(
        first_on=first_on,
        last_on=last_on + ROOM_AFTER,
        seconds=SECONDS,
        cause=f"{technician.name} can't go out on {day_words(first_on)}{hour}{until}.",
        upsets=[Upset(day=day, technician=str(technician.pk)) for day in sorted(working)],
        keeps_others=True,
        by_user=by_user,
        at=at,
    )


@transaction.atomic
def day_closed(*, on: date, city: str, because: str, by_user: User, at: datetime) -> Draft:
    """Closes a day for a town, or for the whole company without one, and drafts what becomes of its visits.

    Raises StretchPast, or NothingHappens when nobody works that day anyway.
    """
    if on < clock.day_of(at):
        raise StretchPast
    if not shifts_between(on, on):
        raise NothingHappens
    if not city:
        set_company_day(on=on, is_closed=True, name=because, by=by_user.actor, at=at)
    where = f"{city} can't be reached" if city else "Nobody goes out"
    return start_draft(
        first_on=on,
        last_on=on + ROOM_AFTER,
        seconds=SECONDS,
        cause=f"{where} on {day_words(on)}: {because}.",
        upsets=[Upset(day=on, city=city)],
        keeps_others=True,
        by_user=by_user,
        at=at,
    )


def _time(seconds: int) -> time:
    return time(seconds // 3600, seconds % 3600 // 60, seconds % 60)
