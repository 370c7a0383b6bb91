"""The manager's pages about the climate of the regions in which the houses stand."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import signed_in, staff_only
from contractor.accounts.models import Company, Role
from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.core.units import display_unit, from_si, shown, to_si
from contractor.estimates import actions
from contractor.estimates.climate_forms import ClimateForm
from contractor.estimates.models import ClimateNormals


@require_safe
@staff_only(Role.MANAGER)
def climate(request: HttpRequest) -> HttpResponse:
    """Every region with what the estimates take from it."""
    system = "US" if _is_us() else "metric"
    length, temperature = display_unit("length", system), display_unit("temperature", system)
    rows = [
        {
            "region": region,
            "rain": _whole(sum(region.rain_mm) / 1000.0, length),
            "coldest": shown(min(region.temperature_c), temperature),
            "warmest": shown(max(region.temperature_c), temperature),
            "frost": _whole(region.frost_depth_m, length),
            "snow": _whole(region.snow_depth_m, length),
        }
        for region in ClimateNormals.objects.all()
    ]
    return render(request, "estimates/climate.html", {"rows": rows})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def climate_add(request: HttpRequest) -> HttpResponse:
    """A region that was not known."""
    return _form_page(request, None)


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def climate_change(request: HttpRequest, climate_id: int) -> HttpResponse:
    """A known region's figures changed."""
    return _form_page(request, get_object_or_404(ClimateNormals, pk=climate_id))


def _form_page(request: HttpRequest, region: ClimateNormals | None) -> HttpResponse:
    form = ClimateForm(request.POST or None, is_us=_is_us(), region=region)
    if request.method == "POST" and form.is_valid():
        try:
            saved = actions.describe_climate(
                normals=form.normals(),
                climate_id=region.pk if region else None,
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"{saved.name} is recorded. The estimates of all houses are renewed with it.")
            return redirect("estimates:climate")
    return render(request, "estimates/climate_form.html", {"form": form, "region": region})


def _whole(metres: float, unit: str) -> str:
    """A depth in whole units: normals are not known more closely."""
    return shown(to_si(round(from_si(metres, unit)), unit), unit)


def _is_us() -> bool:
    return the_company().units == Company.Units.US
