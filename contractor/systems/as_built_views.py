"""The page on which a line and a pit are measured: for the desk, and for the technician who is at the house."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from contractor.accounts.access import EVERYBODY, signed_in, staff_only
from contractor.accounts.models import Company, Role
from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems import actions
from contractor.systems.access import system_for
from contractor.systems.as_built_forms import AsBuiltForm
from contractor.systems.models import System


@require_http_methods(["GET", "POST"])
@staff_only(*EVERYBODY)
def as_built(request: HttpRequest, system_id: int) -> HttpResponse:
    """Records what was measured; whatever is left empty was not measured, and is assumed where it is needed."""
    user = signed_in(request)
    try:
        system = system_for(user, system_id)
    except System.DoesNotExist as missing:
        raise Http404 from missing
    built = getattr(system, "as_built", None)
    is_us = the_company().units == Company.Units.US
    form = AsBuiltForm(request.POST or None, is_us=is_us, built=built, initial={"measured_on": clock.today()})
    back = _back(request, system)
    if request.method == "POST" and form.is_valid():
        try:
            actions.measure_as_built(
                system_id=system_id,
                values=form.values(),
                on=form.cleaned_data["measured_on"],
                by_user=user,
                by=user.actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, "The line and the pit are recorded as measured.")
            return redirect(back)
    context: dict[str, Any] = {"form": form, "system": system, "house": system.property, "built": built, "back": back}
    template = "as_built_tablet" if user.role == Role.TECHNICIAN else "as_built"
    return render(request, f"systems/{template}.html", context)


def _back(request: HttpRequest, system: System) -> str:
    """Where the reader came from when the link says so, else the house file or the technician's round."""
    asked = request.GET.get("back", "")
    if url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure()):
        return asked
    if signed_in(request).role == Role.TECHNICIAN:
        return reverse("checkups:my_round")
    return reverse("office:house", args=[system.property_id])
