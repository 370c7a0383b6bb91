"""An owner's care plan: agree, renew, cancel, and the invoices. Cancelling takes no more steps than agreeing."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.core.errors import Refusal
from contractor.plans import queries
from contractor.plans.actions import agreements
from contractor.plans.actions.agreements import Consent
from contractor.plans.documents import invoice_pdf
from contractor.plans.forms import CancelForm, ConsentForm, YesForm, put_beside
from contractor.plans.models import Agreement
from contractor.plans.queries import PlanYear
from contractor.plans.rules.amounts import with_tax
from contractor.portal.access import owner_only
from contractor.properties.models import Ownership

PAGE = Agreement.Way.PAGE


def _owner(ownership: Ownership) -> Actor:
    return Actor(f"owner:{ownership.person_id}", ownership.person.name)


def _own(ownership: Ownership, agreement_id: int) -> PlanYear:
    get_object_or_404(queries.own_agreements(ownership), pk=agreement_id)
    year = queries.plan_year(agreement_id, on=clock.today())
    if year is None:
        raise Http404
    return year


@require_http_methods(["GET", "POST"])
@owner_only
def plan_agree(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """The plans on offer, or what is left of the former owner's; everything is said before the yes."""
    old = queries.to_take_over(property_id=ownership.property_id, on=clock.today())
    is_taking_over = request.POST.get("what") == "take_over"
    take = YesForm(request.POST if is_taking_over else None, prefix="rest")
    form = ConsentForm(request.POST if request.method == "POST" and not is_taking_over else None)
    used = take if is_taking_over else form
    if request.method == "POST" and used.is_valid():
        try:
            if is_taking_over:
                consent = Consent(way=PAGE, to_plan=take.cleaned_data["consent"])
                agreements.take_over(
                    property_id=ownership.property_id, consent=consent, by=_owner(ownership), at=clock.now()
                )
            else:
                typed = form.cleaned_data
                agreements.agree(
                    property_id=ownership.property_id,
                    offer_id=typed["offer"].pk,
                    from_on=clock.today(),
                    renews=typed["renews"],
                    consent=Consent(way=PAGE, to_plan=typed["consent"], to_renewal=typed["consent_renewal"]),
                    by=_owner(ownership),
                    at=clock.now(),
                )
        except Refusal as refusal:
            put_beside(used, refusal)
        else:
            messages.success(request, "Thank you. Your care plan and its invoice stand on this page.")
            return redirect("portal:house")
    context = {"form": form, "take": take, "old": old, "offers": list(queries.open_offers()), "today": clock.today()}
    return render(request, "portal/plan_agree.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def plan_cancel(request: HttpRequest, ownership: Ownership, agreement_id: int) -> HttpResponse:
    """Cancels today or at the end, with the refund to the cent before the button is pressed."""
    year = _own(ownership, agreement_id)
    form = CancelForm(request.POST or None, can_stop=year.can_stop)
    if request.method == "POST" and form.is_valid():
        try:
            agreements.end_or_stop(
                agreement_id=agreement_id, way=PAGE, by=_owner(ownership), at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "Done. We write to you, and what you get back stands on this page.")
            return redirect("portal:house")
    refund = queries.would_refund(year, on=clock.today())
    context = {"year": year, "agreement": year.agreement, "form": form, "refund": refund}
    return render(request, "portal/plan_cancel.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def plan_renew(request: HttpRequest, ownership: Ownership, agreement_id: int) -> HttpResponse:
    """The owner's yes to the next year."""
    year = _own(ownership, agreement_id)
    notice = getattr(year.agreement, "renewal_notice", None)
    is_automatic = year.agreement.renews == Agreement.Renews.AUTOMATIC
    form = YesForm(request.POST or None, asks_renewal=is_automatic)
    if request.method == "POST" and form.is_valid():
        try:
            consent = Consent(
                way=PAGE,
                to_plan=form.cleaned_data["consent"],
                to_renewal=form.cleaned_data.get("consent_renewal", False),
            )
            agreements.renew(agreement_id=agreement_id, consent=consent, by=_owner(ownership), at=clock.now())
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "Thank you. The next year is agreed; its invoice stands on this page.")
            return redirect("portal:house")
    amount = with_tax(notice.offer.price, notice.offer.tax_percent) if notice is not None else None
    context = {"year": year, "agreement": year.agreement, "form": form, "notice": notice, "amount": amount}
    return render(request, "portal/plan_renew.html", context)


@require_safe
@owner_only
def plan_invoice(request: HttpRequest, ownership: Ownership, invoice_id: int) -> HttpResponse:
    """An invoice or credit note of this owner."""
    found = get_object_or_404(queries.own_invoices(ownership), pk=invoice_id)
    response = HttpResponse(invoice_pdf(found), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{found.file_name}"'
    return response
