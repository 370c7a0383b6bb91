"""Lets an owner act on one appointment by the token in the address, as long as the link holds."""

from collections.abc import Callable
from datetime import date
from functools import wraps

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.cache import never_cache

from contractor.core import clock
from contractor.visits.actions.owner_answers import token_sha256
from contractor.visits.models import Appointment
from contractor.visits.owner_tables import VisitLink


def link_with(token: str) -> VisitLink | None:
    """The usable link of a token, with all that its page shows."""
    known = VisitLink.objects.usable(clock.now()).filter(token_sha256=token_sha256(token))
    return known.select_related(
        "ownership__person", "appointment__request__system__property", "appointment__technician"
    ).first()


def by_visit_link(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Passes the link to the view; without one, says plainly that it no longer opens. Looking writes nothing."""

    @never_cache
    @wraps(view)
    def guarded(request: HttpRequest, token: str) -> HttpResponseBase:
        link = link_with(token)
        answer = render(request, "portal/visit_closed.html", status=410) if link is None else view(request, link, token)
        # The address is a secret. Not "no-referrer": a form would then be posted from the origin "null" and refused.
        answer["Referrer-Policy"] = "same-origin"
        answer["X-Robots-Tag"] = "noindex, nofollow"
        return answer

    return guarded


def state_of(appointment: Appointment, *, on: date) -> str:
    """How an appointment stands for its owner: open, confirmed, past, or how it ended."""
    if appointment.state in {Appointment.State.PLANNED, Appointment.State.CONFIRMED} and appointment.on < on:
        return "past"
    return "open" if appointment.state == Appointment.State.PLANNED else str(appointment.state)
