"""Pages of the desk about agreements and their money."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.plans import queries
from contractor.plans.actions import agreements as agreement_actions
from contractor.plans.actions import invoices as invoice_actions
from contractor.plans.actions.agreements import Consent
from contractor.plans.documents import invoice_pdf
from contractor.plans.forms import (
    LISTS,
    AgreeForm,
    BecauseForm,
    CancelForm,
    ListForm,
    PaymentForm,
    PlanForm,
    YesForm,
    put_beside,
)
from contractor.plans.models import Agreement, Invoice, Payment
from contractor.plans.queries import PlanYear
from contractor.plans.rules.amounts import with_tax
from contractor.properties.models import Property
from contractor.properties.queries import present_ownership

OFFICE = Agreement.Way.OFFICE


@require_safe
@staff_only(*DESK)
def agreements(request: HttpRequest) -> HttpResponse:
    """Agreements by state, the earliest end first."""
    asked = ListForm(request.GET).asked()
    page = queries.agreements_page(
        show=asked["show"] or "", on=clock.today(), after=asked["after"], before=asked["before"]
    )
    kept = {"show": asked["show"] or ""}
    context = {
        "page": page,
        "show": kept["show"],
        "lists": LISTS,
        "today": clock.today(),
        "previous_url": f"?{urlencode({**kept, 'before': page.before})}" if page.before else "",
        "next_url": f"?{urlencode({**kept, 'after': page.after})}" if page.after else "",
    }
    return render(request, "plans/agreements.html", context)


@require_safe
@staff_only(*DESK)
def agreement(request: HttpRequest, agreement_id: int) -> HttpResponse:
    """One agreement: what is in it, how it stands, its invoice, and every payment."""
    year = _year(agreement_id)
    found = year.agreement
    owner = present_ownership(property_id=found.property_id)
    context = {
        "year": year,
        "agreement": found,
        "notice": getattr(found, "renewal_notice", None),
        "visits": queries.visits_made(found, on=clock.today()),
        "is_owner": owner is not None and owner.person_id == found.person_id,
        "is_over": year.code in {"lapsed", "renewed", "cancelled"},
        "today": clock.today(),
    }
    return render(request, "plans/agreement.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def agree(request: HttpRequest, property_id: int) -> HttpResponse:
    """Writes down a plan that the owner agrees to, on the telephone or at the counter."""
    house = get_object_or_404(Property, pk=property_id)
    form = AgreeForm(request.POST or None, initial={"from_on": clock.today()})
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            made = agreement_actions.agree(
                property_id=property_id,
                offer_id=typed["offer"].pk,
                from_on=typed["from_on"],
                until_on=typed["until_on"],
                renews=typed["renews"],
                consent=Consent(way=OFFICE, to_plan=typed["consent"], to_renewal=typed["consent_renewal"]),
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            _beside(form, refusal)
        else:
            messages.success(request, "The plan is agreed and its invoice is written.")
            return redirect("plans:agreement", agreement_id=made.pk)
    context = {
        "house": house,
        "form": form,
        "offers": list(queries.open_offers()),
        "owner": present_ownership(property_id=property_id),
        "old": queries.to_take_over(property_id=property_id, on=clock.today()),
    }
    return render(request, "plans/agree.html", context)


def _beside(form: PlanForm, refusal: Refusal) -> None:
    # The desk types the last day that counts, the rule knows the day after it.
    if refusal.field == "until_on":
        form.add_error("through_on", refusal.sentence)
    else:
        put_beside(form, refusal)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def take_over(request: HttpRequest, property_id: int) -> HttpResponse:
    """The buyer takes over what is left of the seller's plan, by their own yes."""
    house = get_object_or_404(Property, pk=property_id)
    form = YesForm(request.POST or None)
    form.fields["consent"].label = "The owner has been told what it includes, costs and how to cancel, and said yes."
    if request.method == "POST" and form.is_valid():
        try:
            made = agreement_actions.take_over(
                property_id=property_id,
                consent=Consent(way=OFFICE, to_plan=form.cleaned_data["consent"]),
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The rest of the plan is taken over and its invoice is written.")
            return redirect("plans:agreement", agreement_id=made.pk)
    old = queries.to_take_over(property_id=property_id, on=clock.today())
    context = {"house": house, "form": form, "old": old, "owner": present_ownership(property_id=property_id)}
    return render(request, "plans/take_over.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def cancel(request: HttpRequest, agreement_id: int) -> HttpResponse:
    """Cancels today with the refund that the page names, or stops the renewal."""
    year = _year(agreement_id)
    form = CancelForm(request.POST or None, can_stop=year.can_stop)
    if request.method == "POST" and form.is_valid():
        try:
            agreement_actions.end_or_stop(
                agreement_id=agreement_id, way=OFFICE, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "Done. What is left to do with the money stands below.")
            return redirect("plans:agreement", agreement_id=agreement_id)
    refund = queries.would_refund(year, on=clock.today())
    context = {"year": year, "agreement": year.agreement, "form": form, "refund": refund}
    return render(request, "plans/cancel.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def renew(request: HttpRequest, agreement_id: int) -> HttpResponse:
    """Writes down that the owner said yes to the renewal notice."""
    year = _year(agreement_id)
    notice = getattr(year.agreement, "renewal_notice", None)
    is_automatic = year.agreement.renews == Agreement.Renews.AUTOMATIC
    form = YesForm(request.POST or None, asks_renewal=is_automatic)
    form.fields["consent"].label = "The owner has read or heard the notice and said yes to the next year and its price."
    if request.method == "POST" and form.is_valid():
        try:
            made = agreement_actions.renew(
                agreement_id=agreement_id,
                consent=Consent(
                    way=OFFICE,
                    to_plan=form.cleaned_data["consent"],
                    to_renewal=form.cleaned_data.get("consent_renewal", False),
                ),
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The next year is agreed and its invoice is written.")
            return redirect("plans:agreement", agreement_id=made.pk)
    amount = with_tax(notice.offer.price, notice.offer.tax_percent) if notice is not None else None
    context = {"year": year, "agreement": year.agreement, "form": form, "notice": notice, "amount": amount}
    return render(request, "plans/renew.html", context)


@require_safe
@staff_only(*DESK)
def invoice(request: HttpRequest, invoice_id: int) -> HttpResponse:
    """An invoice or credit note as PDF."""
    found = get_object_or_404(_invoices(), pk=invoice_id)
    response = HttpResponse(invoice_pdf(found), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{found.file_name}"'
    return response


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def pay(request: HttpRequest, invoice_id: int) -> HttpResponse:
    """Records money that came, or that was given back when more was paid than is owed."""
    found = get_object_or_404(_invoices().filter(credits__isnull=True), pk=invoice_id)
    balance = queries.balance_of(found)
    form = PaymentForm(
        request.POST or None, initial={"amount": PaymentForm.what_stands(balance), "on": clock.today()}
    )
    if request.method == "POST" and form.is_valid():
        record = invoice_actions.record_refund if balance.to_refund else invoice_actions.record_payment
        try:
            record(invoice_id=invoice_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "It is recorded.")
            return redirect("plans:agreement", agreement_id=found.agreement_id)
    return render(request, "plans/pay.html", {"invoice": found, "balance": balance, "form": form})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def correct_payment(request: HttpRequest, payment_id: int) -> HttpResponse:
    """Takes a wrong entry back by its counter-entry."""
    payment = get_object_or_404(Payment.objects.select_related("invoice__agreement__property"), pk=payment_id)
    form = BecauseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            invoice_actions.correct_payment(
                payment_id=payment_id,
                because=form.cleaned_data["because"],
                by_user=signed_in(request),
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The entry is taken back by its counter-entry. Both stay on record.")
            return redirect("plans:agreement", agreement_id=payment.invoice.agreement_id)
    return render(request, "plans/correct_payment.html", {"payment": payment, "form": form})


def _invoices() -> Any:
    return Invoice.objects.select_related("agreement__property", "agreement__person", "agreement__offer", "credits")


def _year(agreement_id: int) -> PlanYear:
    year = queries.plan_year(agreement_id, on=clock.today())
    if year is None:
        raise Http404
    return year
