"""Pages of the desk about what follows a claim's report: a question, a visit, the letter, the appeal."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.warranties.actions import claim_appeals, claim_questions
from contractor.warranties.actions.claim_letters import letter_file
from contractor.warranties.actions.claim_visits import ask_for_claim_visit
from contractor.warranties.claim_file import desk_claim
from contractor.warranties.claim_forms import (
    AskOwnerForm,
    ClaimVisitForm,
    DecideAppealForm,
    RecordAppealForm,
    WriteAnswerForm,
)
from contractor.warranties.claim_tables import ClaimLetter, ClaimQuestion
from contractor.warranties.forms import DecideClaimForm, DeskForm
from contractor.warranties.models import Claim
from contractor.warranties.rules.claims import Decision
from contractor.warranties.views.claims import (
    claim_page,
    claim_to_show,
    decide_form_options,
    judgement_typed,
    preview,
    weighed,
)
from contractor.warranties.views.refusals import put_beside

# A visit of a claim is wished for soon: in three days, within two weeks, an hour and a half for one part (common
# practice, no source).
SOON, AT_MOST, MINUTES = timedelta(days=3), timedelta(days=14), 90


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def ask_owner(request: HttpRequest, claim_id: int) -> HttpResponse:
    """Asks the owner something; the form stands on the claim's page, and what is refused comes back there."""
    found = claim_to_show(claim_id)
    form = AskOwnerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            claim_questions.ask_owner(
                claim_id=claim_id, words=form.cleaned_data["words"], by_user=signed_in(request), at=clock.now()
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The question is on its way to the owner. The answer will stand here.")
            return redirect("warranties:claim", claim_id=claim_id)
    desk = desk_claim(found, on=clock.today())
    decide = DecideClaimForm(**decide_form_options(found, desk.record))
    return claim_page(request, desk, form=decide, decision=None, ask_form=form)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def write_answer(request: HttpRequest, claim_id: int, question_id: int) -> HttpResponse:
    """Writes down what the owner answered by telephone."""
    question = get_object_or_404(ClaimQuestion, pk=question_id, claim_id=claim_id)
    form = WriteAnswerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            claim_questions.answer_question(
                question_id=question_id,
                answer=form.cleaned_data["answer"],
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The answer is kept.")
            return redirect("warranties:claim", claim_id=claim_id)
    return _step(
        request,
        claim_to_show(claim_id),
        form,
        title="Write down the answer",
        sentence=question.words,
        button="Keep this answer",
    )


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def claim_visit(request: HttpRequest, claim_id: int) -> HttpResponse:
    """Asks for somebody at the house: to look while the claim waits, to repair once it is covered."""
    found = claim_to_show(claim_id)
    is_repair = found.state == Claim.State.DECIDED
    form = ClaimVisitForm(request.POST or None, initial=_visit_as_usual(found, is_repair=is_repair))
    if request.method == "POST" and form.is_valid():
        try:
            ask_for_claim_visit(claim_id=claim_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The visit is asked for. Give it out below.")
            return redirect("warranties:claim", claim_id=claim_id)
    return _step(
        request,
        found,
        form,
        title="Ask for the repair" if is_repair else "Have somebody look",
        sentence="A claim call for the round of whoever can do it." if is_repair else "Before it is decided.",
        button="Ask for this visit",
    )


@require_safe
@staff_only(*DESK)
def claim_letter(request: HttpRequest, claim_id: int, letter_id: int) -> FileResponse:
    """The letter of a decision."""
    letter = get_object_or_404(ClaimLetter, pk=letter_id, claim_id=claim_id)
    file = letter_file(letter_id=letter.pk)
    return FileResponse(file.open("rb"), filename=f"claim-{claim_id}-letter.pdf", content_type="application/pdf")


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def record_appeal(request: HttpRequest, claim_id: int) -> HttpResponse:
    """Writes down an appeal that came by letter or telephone."""
    found = claim_to_show(claim_id)
    form = RecordAppealForm(request.POST or None, request.FILES or None, initial={"received_on": clock.today()})
    if request.method == "POST" and form.is_valid():
        try:
            claim_appeals.appeal_claim(
                claim_id=claim_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The appeal is kept. Somebody who did not decide the claim decides it now.")
            return redirect("warranties:claim", claim_id=claim_id)
    return _step(
        request,
        found,
        form,
        title="Write down an appeal",
        sentence="From whoever owned the house when the claim was reported, also when they have sold it since.",
        button="Keep this appeal",
    )


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def decide_appeal(request: HttpRequest, claim_id: int) -> HttpResponse:
    """Decides an appeal on the claim's page: the arithmetic first, then the decision."""
    found = claim_to_show(claim_id)
    desk = desk_claim(found, on=clock.today())
    if desk.file.appeal is None or desk.file.appeal.decided_at is not None:
        return redirect("warranties:claim", claim_id=claim_id)
    form = DecideAppealForm(request.POST or None, **decide_form_options(found, desk.record))
    decision: Decision | None = None
    if request.method == "POST" and form.is_valid():
        judgement = judgement_typed(request, form)
        try:
            if request.POST.get("step") == "decide":
                claim_appeals.decide_appeal(
                    claim_id=claim_id,
                    because=form.cleaned_data["found"],
                    by_user=signed_in(request),
                    at=clock.now(),
                    **weighed(form, judgement),
                )
                messages.success(request, "The appeal is decided. The second letter is made, and the owner is told.")
                return redirect("warranties:claim", claim_id=claim_id)
        except Refusal as refusal:
            put_beside(form, refusal)
        decision = preview(found, form, judgement)
    return claim_page(request, desk, form=form, decision=decision, is_appeal=True)


def _visit_as_usual(found: Claim, *, is_repair: bool) -> dict[str, Any]:
    today, part = clock.today(), found.get_part_kind_display()
    return {
        "reason": f"Repair under the warranty: the {part}." if is_repair else f"To look at the {part} for your claim.",
        "target_on": today + SOON,
        "earliest_on": today,
        "latest_on": today + AT_MOST,
        "minutes": MINUTES if is_repair else MINUTES // 2,
        "carry": f"{found.component.model}" if is_repair and found.component and found.component.model else "",
    }


def _step(
    request: HttpRequest, found: Claim, form: DeskForm, *, title: str, sentence: str, button: str
) -> HttpResponse:
    context = {"claim": found, "form": form, "title": title, "sentence": sentence, "button": button}
    return render(request, "warranties/claim_step.html", context)
