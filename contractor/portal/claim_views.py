"""An owner's claims: report one from the phone, follow it, answer what is asked, appeal what was decided."""

from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.core.errors import Refusal
from contractor.portal.access import owner_only
from contractor.portal.claim_forms import AnswerForm, AppealForm, OwnClaimForm
from contractor.portal.queries import own_claims, own_warranties
from contractor.properties.models import Ownership
from contractor.warranties.actions.claim_appeals import appeal_claim
from contractor.warranties.actions.claim_letters import letter_file
from contractor.warranties.actions.claim_questions import answer_question
from contractor.warranties.actions.claims import report_claim
from contractor.warranties.claim_costs import goodwill_told
from contractor.warranties.claim_file import claim_file
from contractor.warranties.claim_tables import ClaimAppeal, ClaimLetter, ClaimQuestion
from contractor.warranties.models import Claim, ClaimPhoto


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
                by=_owner(ownership),
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
    """How a claim stands, what happens next, and what there is to do."""
    file = claim_file(_own_claim(ownership, claim_id), on=clock.today())
    context = {"claim": file.claim, "file": file, "goodwill": goodwill_told(file.claim)}
    return _secret(render(request, "portal/claim.html", context))


@require_http_methods(["GET", "POST"])
@owner_only
def answer(request: HttpRequest, ownership: Ownership, claim_id: int, question_id: int) -> HttpResponse:
    """Answers a question of the office, with photos."""
    found = _own_claim(ownership, claim_id)
    question = get_object_or_404(ClaimQuestion, pk=question_id, claim=found)
    form = AnswerForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            answer_question(question_id=question.pk, by=_owner(ownership), at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, "Thank you, your answer is with the office.")
            return redirect("portal:claim", claim_id=claim_id)
    context = {"form": form, "claim": found, "question": question}
    return _secret(render(request, "portal/claim_answer.html", context))


@require_http_methods(["GET", "POST"])
@owner_only
def appeal(request: HttpRequest, ownership: Ownership, claim_id: int) -> HttpResponse:
    """The owner sees the decision otherwise, in words and photos."""
    file = claim_file(_own_claim(ownership, claim_id), on=clock.today())
    form = AppealForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            appeal_claim(
                claim_id=claim_id,
                way=ClaimAppeal.Way.PAGE,
                received_on=clock.today(),
                by=_owner(ownership),
                at=clock.now(),
                **form.cleaned_data,
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, "Thank you, your appeal is with the office. Somebody else decides it.")
            return redirect("portal:claim", claim_id=claim_id)
    return _secret(render(request, "portal/claim_appeal.html", {"form": form, "claim": file.claim, "file": file}))


@require_safe
@owner_only
def letter(request: HttpRequest, ownership: Ownership, claim_id: int, letter_id: int) -> FileResponse:
    """The letter of a decision."""
    found = get_object_or_404(ClaimLetter, pk=letter_id, claim__in=own_claims(ownership).filter(pk=claim_id))
    file = letter_file(letter_id=found.pk)
    return FileResponse(file.open("rb"), filename=f"claim-{claim_id}-letter.pdf", content_type="application/pdf")


@require_safe
@owner_only
def photo(request: HttpRequest, ownership: Ownership, claim_id: int, photo_id: UUID) -> FileResponse:
    """A photo that was sent with a claim, as re-encoded."""
    found = get_object_or_404(ClaimPhoto, pk=photo_id, claim__in=own_claims(ownership).filter(pk=claim_id))
    return FileResponse(found.shown.open("rb"), content_type="image/jpeg")


def _own_claim(ownership: Ownership, claim_id: int) -> Claim:
    """A claim of this owner with what its page names, or 404."""
    named = ("warranty__terms", "warranty__system__property", "component__model", "decided_by")
    return get_object_or_404(own_claims(ownership).select_related(*named), pk=claim_id)


def _owner(ownership: Ownership) -> Actor:
    return Actor(f"owner:{ownership.person_id}", ownership.person.name)


def _secret(response: HttpResponse) -> HttpResponse:
    response["Referrer-Policy"] = "same-origin"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
