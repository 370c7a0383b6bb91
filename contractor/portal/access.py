"""Lets an owner in by the link that was opened in this browser, for as long as link and ownership hold."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import redirect

from contractor.core import clock
from contractor.properties.models import OwnerLink, Ownership

SESSION_KEY = "owner_link_id"


def remember(request: HttpRequest, link: OwnerLink) -> None:
    """Binds the opened link to this browser; the session's key changes, as at every sign-in."""
    request.session.cycle_key()
    request.session[SESSION_KEY] = link.pk


def forget(request: HttpRequest) -> None:
    """Closes the house in this browser."""
    request.session.pop(SESSION_KEY, None)


def remembered(request: HttpRequest) -> Ownership | None:
    """The ownership whose link was opened here; None when it has expired, was revoked, or the house was sold."""
    link_id = request.session.get(SESSION_KEY)
    if link_id is None:
        return None
    link = (
        OwnerLink.objects.usable(clock.now())
        .filter(pk=link_id)
        .select_related("ownership__property", "ownership__person")
        .first()
    )
    return link.ownership if link else None


def owner_only(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Passes the ownership to the view; without one, leads to the page that asks for a new link."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        ownership = remembered(request)
        if ownership is None:
            return redirect("portal:ask_link")
        return view(request, ownership, *args, **kwargs)

    guarded.owner_only = True  # type: ignore[attr-defined]  # read by the test that walks every address
    return guarded
