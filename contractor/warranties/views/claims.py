"""Pages of the desk about claims: the list, a new one, the record and the decision."""

from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.models import Component
from contractor.warranties.actions import claims as claim_actions
from contractor.warranties.claim_costs import costs_of
from contractor.warranties.claim_record import LossRecord, cause_choices, cause_in_words, loss_record, worked_out
from contractor.warranties.forms import BecauseForm, DecideClaimForm, ReportClaimForm
from contractor.warranties.models import Claim, ClaimPhoto, Warranty
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import claims_list
from contractor.warranties.rules.claims import Decision, Judgement
from contractor.warranties.views.refusals import put_beside

PER_PAGE = 50


@require_safe
@staff_only(*DESK)
def claims(request: HttpRequest) -> HttpResponse:
    """Claims waiting for a decision, or all that were settled."""
    state = request.GET.get("state", Claim.State.REPORTED)
    if state not in Claim.State.values:
        state = ""
    page = Paginator(claims_list(state=state), PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "state": state, "states": Claim.State.choices}
    return render(request, "warranties/claims.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def report_claim(request: HttpRequest, warranty_id: int) -> HttpResponse:
    """Writes down what an owner reports, while they are on the telephone."""
    warranty = get_object_or_404(Warranty.objects.select_related("terms", "system__property"), pk=warranty_id)
    form = ReportClaimForm(
        request.POST or None,
        request.FILES or None,
        initial={"reported_on": clock.today(), "lost_on": clock.today()},
        components=warranty.system.components.select_related("model"),
        causes=cause_choices(warranty),
    )
    if request.method == "POST" and form.is_valid():
        typed = dict(form.cleaned_data)
        component = cast(Component | None, typed.pop("component"))
        try:
            claim = claim_actions.report_claim(
                warranty_id=warranty_id,
                component_id=component.pk if component is not None else None,
                by=signed_in(request).actor,
                at=clock.now(),
                **typed,
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The claim is written down. Below is what the record says.")
            return redirect("warranties:claim", claim_id=claim.pk)
    context = {"form": form, "warranty": warranty, "number": display_warranty_number(warranty.number)}
    return render(request, "warranties/report_claim.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def claim(request: HttpRequest, claim_id: int) -> HttpResponse:
    """A claim with the record on the day of loss. First the arithmetic is shown, then the decision is made."""
    found = _claim(claim_id)
    record = loss_record(found)
    form = _decide_form(request, found, record)
    decision: Decision | None = None
    if request.method == "POST" and form.is_valid():
        judgement = _judgement(request, form)
        try:
            if request.POST.get("step") == "decide":
                _decide(request, found, form, judgement)
                messages.success(request, "The claim is decided, and the owner is told.")
                return redirect("warranties:claim", claim_id=claim_id)
            decision = _preview(found, form, judgement)
        except Refusal as refusal:
            put_beside(form, refusal)
            decision = _preview(found, form, judgement)
    context = {
        "claim": found,
        "record": record,
        "form": form,
        "decision": decision,
        "cause": cause_in_words(found),
        "number": display_warranty_number(found.warranty.number),
        "withdraw_form": BecauseForm(prefix="withdraw"),
        "costs": costs_of(found),
    }
    return render(request, "warranties/claim.html", context)


@require_safe
@staff_only(*DESK)
def claim_photo(request: HttpRequest, claim_id: int, photo_id: UUID) -> FileResponse:
    """A photo sent with a claim, as re-encoded."""
    photo = get_object_or_404(ClaimPhoto, pk=photo_id, claim_id=claim_id)
    return FileResponse(photo.shown.open("rb"), content_type="image/jpeg")


@require_POST
@staff_only(*DESK)
def withdraw_claim(request: HttpRequest, claim_id: int) -> HttpResponse:
    """Takes a claim back."""
    _claim(claim_id)
    because = request.POST.get("withdraw-because", "")
    claim_actions.withdraw_claim(claim_id=claim_id, because=because, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "The claim is withdrawn.")
    return redirect("warranties:claim", claim_id=claim_id)


def _claim(claim_id: int) -> Claim:
    claims_found = Claim.objects.select_related(
        "warranty__terms", "warranty__system__property", "component__model", "decided_by"
    )
    return get_object_or_404(claims_found, pk=claim_id)


def _decide_form(request: HttpRequest, found: Claim, record: LossRecord) -> DecideClaimForm:
    initial: dict[str, Any] = {"cost": found.cost, "component": found.component, "cause": found.cause}
    if found.component is None and len(record.choices) == 1:
        initial["component"] = record.choices[0]
    return DecideClaimForm(
        request.POST or None,
        initial=initial,
        components=Component.objects.filter(pk__in=[part.pk for part in record.choices]).select_related("model"),
        causes=cause_choices(found.warranty),
        has_gap=bool(record.care.gaps),
    )


def _judgement(request: HttpRequest, form: DecideClaimForm) -> Judgement | None:
    typed = form.cleaned_data
    if not typed.get("caused"):
        return None
    return Judgement(
        caused_by_missing_care=typed["caused"] == "yes",
        evidence=typed["evidence"],
        by=signed_in(request).name,
        on=clock.today(),
        because=typed["because"],
    )


def _preview(found: Claim, form: DecideClaimForm, judgement: Judgement | None) -> Decision:
    """The arithmetic with what was typed; the claim itself is not touched."""
    trial = Claim(
        warranty=found.warranty,
        component=form.cleaned_data["component"],
        part_kind=found.part_kind,
        lost_on=found.lost_on,
        reported_on=found.reported_on,
        cause=form.cleaned_data["cause"],
    )
    return worked_out(trial, cost=form.cleaned_data["cost"], judgement=judgement)


def _decide(request: HttpRequest, found: Claim, form: DecideClaimForm, judgement: Judgement | None) -> None:
    component = form.cleaned_data["component"]
    claim_actions.decide_claim(
        claim_id=found.pk,
        cost=form.cleaned_data["cost"],
        by_user=signed_in(request),
        at=clock.now(),
        judgement=judgement,
        component_id=component.pk if component is not None else None,
        cause=form.cleaned_data["cause"],
    )
