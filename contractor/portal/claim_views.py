"""An owner's claims: report one from the phone, and follow it."""

from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.core.errors import Refusal
from contractor.portal.access import owner_only
from contractor.portal.claim_forms import OwnClaimForm
from contractor.portal.queries import own_claims, own_warranties
from contractor.properties.models import Ownership
from contractor.warranties.actions.claims import report_claim
from contractor.warranties.claim_costs import goodwill_told
from contractor.warranties.models import ClaimPhoto


@require_http_methods(["GET", "POST"])
@owner_only
def report(request: HttpRequest, ownership: Ownership, warranty_id: int) -> HttpResponse:
    """The owner says what failed; cost and cause are found out later."""
    warranty = get_object_or_404(own_warranties(ownership).select_related("system__property"), pk=warranty_id)
    form = OwnClaimForm(request.POST or None, request.FILES or None, parts=warranty.system.components.all())
    if request.method == "POST" and form.is_valid():
        try:
            claim = report_claim(
                warranty_id=warranty.pk,
                reported_on=clock.today(),
                cause="not_known",
                by=Actor(f"owner:{ownership.person_id}", ownership.person.name),
                at=clock.now(),
                **form.cleaned_data,
            )
        except Refusal as refusal:
            # The day of the report is today's, so whatever is wrong is the day that was typed.
            form.add_error("lost_on", refusal.sentence)
        else:
            messages.success(request, "Thank you, your report is with the office.")
            return redirect("portal:claim", claim_id=claim.pk)
    return _secret(render(request, "portal/report_claim.html", {"form": form, "warranty": warranty}))


@require_safe
@owner_only
def claim(request: HttpRequest, ownership: Ownership, claim_id: int) -> HttpResponse:
    """How a claim stands, and what happens next."""
    found = get_object_or_404(own_claims(ownership).select_related("warranty"), pk=claim_id)
    return _secret(render(request, "portal/claim.html", {"claim": found, "goodwill": goodwill_told(found)}))


@require_safe
@owner_only
def photo(request: HttpRequest, ownership: Ownership, claim_id: int, photo_id: UUID) -> FileResponse:
    """A photo that was sent with a claim, as re-encoded."""
    found = get_object_or_404(ClaimPhoto, pk=photo_id, claim__in=own_claims(ownership).filter(pk=claim_id))
    return FileResponse(found.shown.open("rb"), content_type="image/jpeg")


def _secret(response: HttpResponse) -> HttpResponse:
    response["Referrer-Policy"] = "same-origin"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
