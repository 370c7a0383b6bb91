"""Pages about the money of claims: book a cost, undo one, goodwill, and the entries of a period."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.warranties.actions import claim_costs as actions
from contractor.warranties.claim_costs import booked_between, costs_of, sums_of
from contractor.warranties.claim_money import ClaimCost, Goodwill
from contractor.warranties.cost_forms import BookCostForm, CostPeriodForm, GoodwillForm, TakeBackForm, UndoCostForm
from contractor.warranties.cost_table import costs_csv
from contractor.warranties.models import Claim
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.rules.claim_costs import GOODWILL_WORDS
from contractor.warranties.views.refusals import put_beside

PER_PAGE = 50


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def book_cost(request: HttpRequest, claim_id: int) -> HttpResponse:
    """Books what was spent on a claim."""
    claim = _claim(claim_id)
    costs = costs_of(claim)
    form = BookCostForm(request.POST or None, initial={"on": clock.today()}, costs=costs)
    if request.method == "POST" and form.is_valid():
        try:
            actions.book_cost(claim_id=claim_id, by_user=signed_in(request), at=clock.now(), **form.typed)
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The cost is booked.")
            return _back(claim_id)
    return _page(request, "warranties/book_cost.html", claim, form, costs=costs)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def undo_cost(request: HttpRequest, claim_id: int, cost_id: int) -> HttpResponse:
    """Books the counter-entry of a cost."""
    claim = _claim(claim_id)
    cost = get_object_or_404(ClaimCost.objects.select_related("booked_by"), pk=cost_id, claim_id=claim_id)
    form = UndoCostForm(request.POST or None, initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        try:
            actions.undo_cost(cost_id=cost_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The counter-entry is booked. Both entries stay in sight.")
            return _back(claim_id)
    return _page(request, "warranties/undo_cost.html", claim, form, cost=cost)


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def give_goodwill(request: HttpRequest, claim_id: int) -> HttpResponse:
    """Gives an owner something beyond the terms."""
    claim = _claim(claim_id)
    form = GoodwillForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            actions.give_goodwill(
                claim_id=claim_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The goodwill is given; the owner gets a letter.")
            return _back(claim_id)
    return _page(request, "warranties/goodwill.html", claim, form, words=GOODWILL_WORDS)


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def take_goodwill_back(request: HttpRequest, claim_id: int, goodwill_id: int) -> HttpResponse:
    """Takes goodwill back that was given by mistake."""
    claim = _claim(claim_id)
    given = get_object_or_404(Goodwill.objects.select_related("given_by"), pk=goodwill_id, claim_id=claim_id)
    form = TakeBackForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            actions.take_goodwill_back(
                goodwill_id=goodwill_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The goodwill is taken back; the owner is told.")
            return _back(claim_id)
    return _page(request, "warranties/take_goodwill_back.html", claim, form, given=given)


@require_safe
@staff_only(*DESK)
def costs(request: HttpRequest) -> HttpResponse:
    """The entries of a period with their sums."""
    form = CostPeriodForm(request.GET.dict(), today=clock.today())
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        entries = booked_between(**form.period)
        context |= {
            "page": Paginator(entries, PER_PAGE).get_page(request.GET.get("page")),
            "sums": sums_of(entries),
            "query": form.query,
        }
    return render(request, "warranties/costs.html", context)


@require_safe
@staff_only(*DESK)
def costs_table(request: HttpRequest) -> HttpResponse:
    """The entries of a period as CSV."""
    form = CostPeriodForm(request.GET.dict(), today=clock.today())
    if not form.is_valid():
        return redirect("warranties:costs")
    response = HttpResponse(costs_csv(booked_between(**form.period)), content_type="text/csv; charset=utf-8")
    name = "claim-costs-{from_on}-{until_on}.csv".format(**form.period)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _claim(claim_id: int) -> Claim:
    return get_object_or_404(Claim.objects.select_related("warranty__terms", "warranty__system__property"), pk=claim_id)


def _back(claim_id: int) -> HttpResponse:
    return redirect("warranties:claim", claim_id=claim_id)


def _page(request: HttpRequest, template: str, claim: Claim, form: Form, **more: Any) -> HttpResponse:
    number = display_warranty_number(claim.warranty.number)
    return render(request, template, {"claim": claim, "form": form, "number": number, **more})
