"""The manager's pages about plans: editions, renewal rules, revenue."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.plans import documents, queries
from contractor.plans.actions import offers as offer_actions
from contractor.plans.forms import NoticeDaysForm, OfferForm, PeriodForm, put_beside
from contractor.plans.models import PlanOffer
from contractor.plans.rules.terms import lacking

# How "every other state" stands in an address.
OTHERS = "others"


@require_safe
@staff_only(Role.MANAGER)
def offers(request: HttpRequest) -> HttpResponse:
    """Every edition."""
    return render(request, "plans/offers.html", {"offers": queries.offers_list()})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def draft_offer(request: HttpRequest) -> HttpResponse:
    """Drafts an edition, beginning from the newest one."""
    form = OfferForm(request.POST or None, initial=_begin_with(PlanOffer.objects.first()))
    if request.method == "POST" and form.is_valid():
        try:
            made = offer_actions.draft_offer(values=form.cleaned_data, by=signed_in(request).actor, at=clock.now())
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            return redirect("plans:offer", offer_id=made.pk)
    return render(request, "plans/offer_form.html", {"form": form, "offer": None})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def change_offer(request: HttpRequest, offer_id: int) -> HttpResponse:
    """Corrects a draft."""
    found = get_object_or_404(PlanOffer, pk=offer_id)
    form = OfferForm(request.POST or None, initial={name: getattr(found, name) for name in OfferForm.base_fields})
    if request.method == "POST" and form.is_valid():
        try:
            offer_actions.change_offer(
                offer_id=offer_id, values=form.cleaned_data, by=signed_in(request).actor, at=clock.now()
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            return redirect("plans:offer", offer_id=offer_id)
    return render(request, "plans/offer_form.html", {"form": form, "offer": found})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def offer(request: HttpRequest, offer_id: int) -> HttpResponse:
    """An edition, what it lacks, and the button that publishes or withdraws it."""
    found = get_object_or_404(PlanOffer.objects.select_related("published_by"), pk=offer_id)
    refusal = None
    if request.method == "POST":
        act = offer_actions.withdraw_offer if found.published_at else offer_actions.publish_offer
        try:
            act(offer_id=offer_id, by_user=signed_in(request), at=clock.now())
        except Refusal as no:
            refusal = no
        else:
            messages.success(request, "Done.")
            return redirect("plans:offer", offer_id=offer_id)
    missing = lacking(
        included=found.included_lines,
        cancellation=found.cancellation,
        disclosures=found.disclosures,
        full_refund_days=found.full_refund_days,
    )
    return render(request, "plans/offer.html", {"offer": found, "missing": missing, "refusal": refusal})


@require_safe
@staff_only(Role.MANAGER)
def renewal_rules(request: HttpRequest) -> HttpResponse:
    """When the renewal notice goes out, by state."""
    return render(request, "plans/renewal_rules.html", {"rules": queries.all_rules(), "others": OTHERS})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def renewal_rule(request: HttpRequest, state: str) -> HttpResponse:
    """Changes the days of one state."""
    code = "" if state == OTHERS else state
    rule = next((one for one in queries.all_rules() if one.state == code), None)
    if rule is None:
        raise Http404
    form = NoticeDaysForm(
        request.POST or None,
        initial={"first_days": rule.first_days, "last_days": rule.last_days, "source": rule.source},
    )
    if request.method == "POST" and form.is_valid():
        try:
            offer_actions.change_notice_days(
                state=code, **form.cleaned_data, by_user=signed_in(request), at=clock.now()
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The days are changed. Notices from now on keep to them.")
            return redirect("plans:renewal_rules")
    return render(request, "plans/renewal_rule.html", {"form": form, "rule": rule})


@require_safe
@staff_only(Role.MANAGER)
def revenue(request: HttpRequest) -> HttpResponse:
    """Deferred and recognised revenue of a period, and the rows behind it."""
    form, table = _asked(request)
    context: dict[str, Any] = {"form": form, "table": table}
    if table is not None:
        context["query"] = f"from_on={table.from_on}&until_on={table.until_on}"
    return render(request, "plans/revenue.html", context)


@require_safe
@staff_only(Role.MANAGER)
def revenue_table(request: HttpRequest) -> HttpResponse:
    """The rows as CSV."""
    _, table = _asked(request)
    if table is None:
        return redirect("plans:revenue")
    response = HttpResponse(documents.revenue_csv(table), content_type="text/csv; charset=utf-8")
    name = f"plan-revenue-{table.from_on}-{table.until_on}.csv"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _asked(request: HttpRequest) -> tuple[PeriodForm, documents.Revenue | None]:
    today = clock.today()
    usual = {"from_on": date(today.year, 1, 1).isoformat(), "until_on": today.isoformat()}
    form = PeriodForm({**usual, **request.GET.dict()})
    if not form.is_valid():
        return form, None
    try:
        return form, documents.revenue(**form.cleaned_data)
    except Refusal as refusal:
        form.add_error(refusal.field, refusal.sentence)
        return form, None


def _begin_with(newest: PlanOffer | None) -> dict[str, Any]:
    if newest is None:
        return {"tax_percent": Decimal(0), "minor_parts_up_to": Decimal(0), "full_refund_days": 30, "visits_a_year": 1}
    kept = {name: getattr(newest, name) for name in OfferForm.base_fields}
    return {**kept, "edition": ""}
