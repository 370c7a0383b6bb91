"""Calendar addresses of the staff, and the feeds behind them."""

import hashlib
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_cache_control
from django.utils.http import http_date
from django.views.decorators.http import condition, require_http_methods, require_POST, require_safe

from contractor.accounts.access import EVERYBODY, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.visits import queries
from contractor.visits.actions import feeds
from contractor.visits.forms import FeedForm
from contractor.visits.invitations import LOOK_AGAIN, feed
from contractor.visits.owner_tables import CalendarFeed


@require_http_methods(["GET", "POST"])
@staff_only(*EVERYBODY)
def my_calendar(request: HttpRequest) -> HttpResponse:
    """Somebody's own calendar addresses; a new one is shown this once."""
    user = signed_in(request)
    form = FeedForm(request.POST if request.method == "POST" else None)
    context: dict[str, Any] = {"form": form}
    if request.method == "POST" and form.is_valid():
        try:
            token = feeds.make_feed(user=user, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
        else:
            context["made"] = request.build_absolute_uri(f"/visits/calendar/{token}.ics")
            context["form"] = FeedForm()
    context["feeds"] = user.calendar_feeds.filter(revoked_at__isnull=True)
    return render(request, "visits/my_calendar.html", context)


@require_POST
@staff_only(*EVERYBODY)
def revoke_feed(request: HttpRequest, feed_id: int) -> HttpResponse:
    """Shuts one of somebody's own addresses."""
    try:
        feeds.revoke_feed(feed_id=feed_id, user=signed_in(request), at=clock.now())
    except CalendarFeed.DoesNotExist:
        raise Http404 from None
    return redirect("visits:my_calendar")


@require_safe
def calendar(request: HttpRequest, token: str) -> HttpResponse:
    """The visits behind an address: a technician's own, all of them for the desk. Unknown, shut and left answer alike.

    A calendar that asks with the ETag it has is answered with 304 as long as nothing has changed.
    """
    user = queries.reader_of_feed(token)
    if user is None:
        return HttpResponse("This calendar address is unknown, or it was shut.", status=404, content_type="text/plain")
    stops = queries.stops_for_feed(user, on=clock.today())
    content = feed(stops, name=f"Visits of {user.name}", with_technician=not queries.sees_own_only(user))
    tag = f'"{hashlib.sha256(content.encode()).hexdigest()[:32]}"'
    changed = max((stop.calendar_changed_at or stop.made_at for stop in stops), default=None)

    @condition(etag_func=lambda request: tag)
    def answer(request: HttpRequest) -> HttpResponse:
        return HttpResponse(content, content_type="text/calendar; charset=utf-8")

    response = answer(request)
    patch_cache_control(response, private=True, max_age=int(LOOK_AGAIN.total_seconds()))
    if changed is not None:
        response["Last-Modified"] = http_date(changed.timestamp())
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
