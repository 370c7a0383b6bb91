"""Rounds as they are driven: the load list of a day, the sheet to print, a technician's own week."""

from datetime import date, timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_safe

from contractor.accounts.access import DESK, EVERYBODY, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.visits import queries
from contractor.visits.board.loads import printed_rounds, week_from
from contractor.visits.board.papers import round_sheet

WEEK = timedelta(days=7)
FIRST_YEAR, LAST_YEAR = 1950, 2200


@require_safe
@staff_only(*DESK)
def load_list(request: HttpRequest) -> HttpResponse:
    """What every van must carry on a day, today when none is asked for."""
    day = _day(request.GET.get("day")) or clock.today()
    context = {
        "day": day,
        "rounds": printed_rounds(day, day),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
    }
    return render(request, "visits/load_list.html", context)


@require_safe
@staff_only(*EVERYBODY)
def sheet(request: HttpRequest, technician_id: int, day: date) -> HttpResponse:
    """The round sheet of one technician's day as a PDF; a technician gets only their own."""
    user = signed_in(request)
    if user.role == Role.TECHNICIAN and user.pk != technician_id:
        raise Http404
    technician = get_object_or_404(queries.people_with_rounds(), pk=technician_id)
    found = printed_rounds(day, day, technician=technician)
    if not found:
        raise Http404
    response = HttpResponse(round_sheet(found[0]), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="round-{day.isoformat()}.pdf"'
    return response


@require_safe
@staff_only(Role.TECHNICIAN)
def my_week(request: HttpRequest) -> HttpResponse:
    """The week of the technician who asks: each day's load and stops."""
    first_on, last_on = week_from(_day(request.GET.get("week")) or clock.today())
    rounds = printed_rounds(first_on, last_on, technician=signed_in(request))
    context = {
        "technician": signed_in(request),
        "first_on": first_on,
        "last_on": last_on,
        "before": first_on - WEEK,
        "after": first_on + WEEK,
        "rounds": rounds,
        "today": clock.today(),
    }
    return render(request, "visits/my_week.html", context)


def _day(text: str | None) -> date | None:
    try:
        day = parse_date(text or "")
    except ValueError:
        return None
    return day if day and FIRST_YEAR <= day.year <= LAST_YEAR else None
