"""What to replace soon and why, how a whole system does, and what would be if something were different."""

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_safe

from contractor.accounts.access import DESK, EVERYBODY, signed_in, staff_only
from contractor.accounts.models import Company, Role
from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.htmx import page_or_fragment
from contractor.estimates import pages, queries
from contractor.estimates.models import LifeEstimate
from contractor.estimates.what_if_form import WhatIfForm
from contractor.notices.printing import render_pdf
from contractor.systems.access import system_for
from contractor.systems.models import System
from contractor.systems.part_kinds import BY_CODE


@require_safe
@staff_only(*DESK)
def to_replace(request: HttpRequest) -> HttpResponse:
    """Batteries and pumps whose date falls within a year, by likelihood × loss."""
    today, kind = clock.today(), request.GET.get("kind", "")
    wanted = pages.to_replace(on=today, kind=kind)
    page = Paginator(wanted, 50).get_page(request.GET.get("page"))
    context: dict[str, Any] = {
        "page": page,
        "today": today,
        "kind": kind,
        "kinds": [BY_CODE[code] for code in pages.KINDS],
        "where": f"{page.start_index()} to {page.end_index()} of {page.paginator.count}",
    }
    if page.has_previous():
        context["previous_url"] = "?" + urlencode({"kind": kind, "page": page.previous_page_number()})
    if page.has_next():
        context["next_url"] = "?" + urlencode({"kind": kind, "page": page.next_page_number()})
    return render(request, "estimates/to_replace.html", context)


@require_safe
@staff_only(*EVERYBODY)
def why(request: HttpRequest, component_id: int) -> HttpResponse:
    """One estimate: the date, the range, the reason, the inputs, the steps, the cautions and the chart of its kind."""
    estimate = get_object_or_404(LifeEstimate.objects.select_related("component__model"), component_id=component_id)
    system = _system(request, estimate.component.system_id)
    today = clock.today()
    context = {
        "estimate": estimate,
        "part": estimate.component,
        "house": system.property,
        "charts": pages.charts_of_part(estimate=estimate, system=system, today=today, units=_units()),
        "today": today,
    }
    return render(request, f"estimates/why{_on_site(request)}.html", context)


@require_safe
@staff_only(*EVERYBODY)
def system(request: HttpRequest, system_id: int) -> HttpResponse:
    """The system as a whole: its parts, standby, reserve, pit, line, frost and season."""
    found = _system(request, system_id)
    today = clock.today()
    context = {
        "system": found,
        "house": found.property,
        "estimates": queries.estimates_of(system=found),
        "topics": pages.topics_of(system=found, today=today, units=_units()),
        "today": today,
        "back": _back(request),
    }
    return render(request, f"estimates/system{_on_site(request)}.html", context)


@require_safe
@staff_only(*DESK)
def what_if(request: HttpRequest, system_id: int) -> HttpResponse:
    """Today beside what would be; changes nothing."""
    found = _system(request, system_id)
    return page_or_fragment(
        request,
        page="estimates/what_if.html",
        fragment="estimates/what_if_answer.html",
        context=_asked(request, found),
    )


@require_safe
@staff_only(*DESK)
def recommendation(request: HttpRequest, system_id: int) -> HttpResponse:
    """One page for the owner about what was asked; back to the question where there is nothing to do in the house."""
    found = _system(request, system_id)
    asked = _asked(request, found)
    if not asked["answer"].question.is_work:
        return redirect("estimates:what_if", system_id=system_id)
    context = {**asked, **pages.letter_of(asked["answer"], system=found), "today": clock.today()}
    pdf = render_pdf("estimates/recommendation.html", context)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="recommendation-{system_id}.pdf"'
    return answer


def _asked(request: HttpRequest, found: System) -> dict[str, Any]:
    today, units = clock.today(), _units()
    facts = pages.facts_now(system=found, today=today)
    form = WhatIfForm(request.GET or None, storm_h=pages.storm_h(facts, today=today))
    answer = pages.ask(facts, form.question(), today=today, units=units)
    return {
        "system": found,
        "house": found.property,
        "form": form,
        "answer": answer,
        "asked": pages.asked_in_words(answer.question),
        "charts": pages.charts_of_answer(answer, units=units),
        "query": request.GET.urlencode(),
    }


def _units() -> str:
    """The company's units as ``core/units.py`` names them."""
    return "US" if the_company().units == Company.Units.US else "metric"


def _system(request: HttpRequest, system_id: int) -> System:
    """The system, if this person may see it: a technician only while they have something to do there."""
    try:
        return system_for(signed_in(request), system_id)
    except System.DoesNotExist as missing:
        raise Http404 from missing


def _on_site(request: HttpRequest) -> str:
    """The technician's page is made for the tablet in the basement."""
    return "_on_site" if signed_in(request).role == Role.TECHNICIAN else ""


def _back(request: HttpRequest) -> str:
    """Where the technician came from when the link says so, else the round."""
    asked = request.GET.get("back", "")
    if url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure()):
        return asked
    return reverse("checkups:my_round")
