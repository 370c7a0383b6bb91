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
from contractor.warranties.claim_file import DeskClaim, desk_claim
from contractor.warranties.claim_forms import AskOwnerForm
from contractor.warranties.claim_record import LossRecord, cause_choices, cause_in_words, worked_out
from contractor.warranties.forms import BecauseForm, DecideClaimForm, ReportClaimForm
from contractor.warranties.models import Claim, ClaimPhoto, Warranty
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import APPEALED, claims_list
from contractor.warranties.rules.claim_clauses import LAW_ON_MISSING_CARE
from contractor.warranties.rules.claims import Decision, Judgement
from contractor.warranties.views.refusals import put_beside

PER_PAGE = 50
CLAIM_LISTS = (
    (Claim.State.REPORTED.value, "Waiting"),
    (APPEALED, "Appeals"),
    (Claim.State.DECIDED.value, "Decided"),
    (Claim.State.WITHDRAWN.value, "Withdrawn"),
)


@require_safe
@staff_only(*DESK)
def claims(request: HttpRequest) -> HttpResponse:
    """Claims waiting for a decision, those with an appeal that waits, or all that were settled."""
    state = request.GET.get("state", Claim.State.REPORTED)
    if state not in {*Claim.State.values, APPEALED}:
        state = ""
    page = Paginator(claims_list(state=state), PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "state": state, "states": CLAIM_LISTS}
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
    found = claim_to_show(claim_id)
    desk = desk_claim(found, on=clock.today())
    form = DecideClaimForm(request.POST or None, **decide_form_options(found, desk.record))
    decision: Decision | None = None
    if request.method == "POST" and form.is_valid():
        judgement = judgement_typed(request, form)
        try:
            if request.POST.get("step") == "decide":
                claim_actions.decide_claim(
                    claim_id=claim_id, by_user=signed_in(request), at=clock.now(), **weighed(form, judgement)
                )
                messages.success(request, "The claim is decided. The letter is made, and the owner is told.")
                return redirect("warranties:claim", claim_id=claim_id)
        except Refusal as refusal:
            put_beside(form, refusal)
        decision = preview(found, form, judgement)
    return claim_page(request, desk, form=form, decision=decision)


def claim_page(
    request: HttpRequest,
    desk: DeskClaim,
    *,
    form: DecideClaimForm,
    decision: Decision | None,
    ask_form: AskOwnerForm | None = None,
    is_appeal: bool = False,
) -> HttpResponse:
    """The page of a claim around the form that is being filled in."""
    found = desk.file.claim
    context = {
        "claim": found,
        "file": desk.file,
        "record": desk.record,
        "form": form,
        "decision": decision,
        "is_appeal": is_appeal,
        "law": LAW_ON_MISSING_CARE,
        "decided_first_by_reader": found.decided_by_id == signed_in(request).pk,
        "cause": cause_in_words(found),
        "number": display_warranty_number(found.warranty.number),
        "ask_form": ask_form or AskOwnerForm(),
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
    claim_to_show(claim_id)
    because = request.POST.get("withdraw-because", "")
    claim_actions.withdraw_claim(claim_id=claim_id, because=because, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "The claim is withdrawn.")
    return redirect("warranties:claim", claim_id=claim_id)


def claim_to_show(claim_id: int) -> Claim:
    """A claim with what its page names, or 404."""
    claims_found = Claim.objects.select_related(
        "warranty__terms", "warranty__system__property", "component__model", "decided_by"
    )
    return get_object_or_404(claims_found, pk=claim_id)


def decide_form_options(found: Claim, record: LossRecord) -> dict[str, Any]:
    """What a form for a decision starts from."""
    initial: dict[str, Any] = {"cost": found.cost, "component": found.component, "cause": found.cause}
    if found.component is None and len(record.choices) == 1:
        initial["component"] = record.choices[0]
    if found.judgement is not None:
        initial["caused"] = "yes" if found.judgement["caused_by_missing_care"] else "no"
        initial |= {name: found.judgement[name] for name in ("evidence", "because")}
    return {
        "initial": initial,
        "components": Component.objects.filter(pk__in=[part.pk for part in record.choices]).select_related("model"),
        "causes": cause_choices(found.warranty),
        "has_gap": bool(record.care.gaps),
    }


def judgement_typed(request: HttpRequest, form: DecideClaimForm) -> Judgement | None:
    """The answer to whether missing care caused the loss, when one was given."""
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


def preview(found: Claim, form: DecideClaimForm, judgement: Judgement | None) -> Decision:
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


def weighed(form: DecideClaimForm, judgement: Judgement | None) -> dict[str, Any]:
    """What was typed, as the actions that decide take it."""
    component = form.cleaned_data["component"]
    return {
        "cost": form.cleaned_data["cost"],
        "judgement": judgement,
        "component_id": component.pk if component is not None else None,
        "cause": form.cleaned_data["cause"],
    }
