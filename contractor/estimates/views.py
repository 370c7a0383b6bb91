"""What to replace soon, and why."""

from datetime import timedelta

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from contractor.accounts.access import DESK, staff_only
from contractor.core import clock
from contractor.estimates import queries
from contractor.estimates.models import LifeEstimate


@require_safe
@staff_only(*DESK)
def to_replace(request: HttpRequest) -> HttpResponse:
    """Batteries and pumps whose date falls within a year, the most pressing first."""
    today = clock.today()
    page = Paginator(queries.to_replace(by=today + timedelta(days=365)), 50).get_page(request.GET.get("page"))
    return render(request, "estimates/to_replace.html", {"page": page, "today": today})


@require_safe
@staff_only(*DESK)
def why(request: HttpRequest, component_id: int) -> HttpResponse:
    """One estimate: the date, the range, the reason, the inputs and the cautions."""
    estimate = get_object_or_404(
        LifeEstimate.objects.select_related("component__model", "component__system__property"),
        component_id=component_id,
    )
    return render(request, "estimates/why.html", {"estimate": estimate, "today": clock.today()})
