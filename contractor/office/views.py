"""Pages of the desk: today, search, the houses, the house file, what is due, and the set-up."""

from typing import Any
from urllib.parse import urlencode
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.audit import breaks
from contractor.core.htmx import page_or_fragment
from contractor.notices.actions import send_owner_link
from contractor.office import queries
from contractor.office.forms import DUE_LISTS, STANDINGS, DueForm, HousesForm, PageForm
from contractor.office.house_file import house_file
from contractor.office.search import SEARCHED, find_houses
from contractor.office.trail import PAGE, house_trail
from contractor.plans.queries import house_plans
from contractor.properties.errors import NoOwner
from contractor.properties.models import Property
from contractor.properties.queries import present_ownership
from contractor.visits.models import VisitKind


@require_safe
@staff_only(*DESK)
def today(request: HttpRequest) -> HttpResponse:
    """What waits for the desk today."""
    on = clock.today()
    return render(request, "office/today.html", {"desk": queries.todays_desk(on=on), "today": on})


@require_safe
@staff_only(*DESK)
def search(request: HttpRequest) -> HttpResponse:
    """Houses that match what is typed: a list under the field as one types, or a page."""
    findings = find_houses(typed=request.GET.get("q", ""), on=clock.today())
    context = {"findings": findings, "search_words": findings.words, "searched": SEARCHED}
    return page_or_fragment(request, page="office/search.html", fragment="office/search_results.html", context=context)


@require_safe
@staff_only(*DESK)
def houses(request: HttpRequest) -> HttpResponse:
    """The register of houses, by street."""
    asked = HousesForm(request.GET).asked()
    page = queries.houses_page(
        town=asked["town"] or "", standing=asked["standing"] or "", after=asked["after"], before=asked["before"]
    )
    context = {"page": page, "asked": asked, "towns": queries.towns(), "standings": STANDINGS}
    return render(request, "office/houses.html", {**context, **_pages(page, asked)})


@require_safe
@staff_only(*DESK)
def due(request: HttpRequest) -> HttpResponse:
    """Visits that are wanted, the earliest last day first."""
    asked = DueForm(request.GET).asked()
    on = clock.today()
    page = queries.due_page(
        on=on,
        show=asked["show"],
        town=asked["town"] or "",
        kind=asked["kind"] or "",
        only_without_appointment=bool(asked["waiting"]),
        after=asked["after"],
        before=asked["before"],
    )
    counts = queries.due_counts(on=on)
    context = {
        "page": page,
        "asked": asked,
        "lists": [{"code": code, "label": label, "count": counts[code]} for code, label in DUE_LISTS],
        "towns": queries.towns(),
        "kinds": VisitKind.choices,
        "today": on,
    }
    return render(request, "office/due.html", {**context, **_pages(page, asked)})


@require_safe
@staff_only(*DESK)
def house(request: HttpRequest, property_id: int) -> HttpResponse:
    """The house file: one page that answers a call."""
    file = house_file(house=get_object_or_404(Property, pk=property_id), on=clock.today(), at=clock.now())
    # The number makes a second click on the same button the same occasion, so the link goes out once.
    context = {"file": file, "today": clock.today(), "once": uuid4()}
    return render(request, "office/house.html", {**context, "plans": house_plans(property_id, on=clock.today())})


@require_safe
@staff_only(*DESK)
def audit(request: HttpRequest, property_id: int) -> HttpResponse:
    """Who did what at a house, when, and what stood there before and after."""
    house = get_object_or_404(Property, pk=property_id)
    before = PageForm(request.GET).asked()["before"]
    lines = house_trail(property_id=property_id, most=PAGE + 1, before_number=before)
    context = {
        "house": house,
        "lines": lines[:PAGE],
        "older": lines[PAGE - 1].number if len(lines) > PAGE else None,
        "is_latest": before is None,
        "broken": breaks(f"property:{property_id}"),
    }
    return render(request, "office/audit.html", context)


@require_POST
@staff_only(*DESK)
def send_link(request: HttpRequest, property_id: int) -> HttpResponse:
    """Sends the present owner a fresh link to their house."""
    house = get_object_or_404(Property, pk=property_id)
    ownership = present_ownership(property_id=property_id)
    if ownership is None:
        raise NoOwner
    send_owner_link(
        ownership_id=ownership.pk,
        occasion=f"owner link:{ownership.pk}:{_once(request)}",
        by=signed_in(request).actor,
        at=clock.now(),
    )
    messages.success(request, f"A link to {house.street_line} is on its way to {ownership.person.email}.")
    return redirect("office:house", property_id=property_id)


@require_safe
@staff_only(Role.MANAGER)
def setup(request: HttpRequest) -> HttpResponse:
    """Where company, staff, catalogue, checklists and terms are set."""
    return render(request, "office/setup.html")


def _once(request: HttpRequest) -> UUID:
    try:
        return UUID(request.POST.get("once", ""))
    except ValueError:
        return uuid4()


def _pages(page: queries.Page, asked: dict[str, Any]) -> dict[str, str]:
    """Addresses of the pages before and after, keeping what the list is narrowed by."""
    kept = {name: value for name, value in asked.items() if value and name not in {"after", "before"}}
    return {
        "previous_url": f"?{urlencode({**kept, 'before': page.before})}" if page.before else "",
        "next_url": f"?{urlencode({**kept, 'after': page.after})}" if page.after else "",
        "kept": urlencode(kept),
    }
