"""Pages of the desk about transfers: the list, a new one, and one with everything it still needs."""

from datetime import timedelta
from functools import partial
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.properties.queries import people_like, present_ownership
from contractor.warranties.actions import transfers as transfer_actions
from contractor.warranties.actions.acceptance import accept_on_paper
from contractor.warranties.actions.transfer_links import invite_agent
from contractor.warranties.forms import (
    AcceptForm,
    AgentForm,
    AskTransferForm,
    BecauseForm,
    DeskForm,
    FeeForm,
    LetGoForm,
)
from contractor.warranties.inquiry_tables import TransferInquiry
from contractor.warranties.models import Acceptance, Transfer, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import transfers_list
from contractor.warranties.transfer_file import transfer_file
from contractor.warranties.transfer_people import people_in_sale
from contractor.warranties.transfer_review import transfer_review
from contractor.warranties.views.refusals import put_beside

PER_PAGE = 50
# The tab of the list with what was asked, beside those by state.
INQUIRIES = "inquiries"
CLOSING_OFTEN_IN = timedelta(days=30)


@require_safe
@staff_only(*DESK)
def transfers(request: HttpRequest) -> HttpResponse:
    """Transfers under way, or those that are settled; before them what buyers and agents asked and nobody answered."""
    state = request.GET.get("state", Transfer.State.ASKED)
    if state == INQUIRIES:
        return _inquiries(request)
    if state not in Transfer.State.values:
        state = ""
    page = Paginator(transfers_list(state=state), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "state": state,
        "states": Transfer.State.choices,
        "today": clock.today(),
        "waiting": TransferInquiry.objects.waiting() if state == Transfer.State.ASKED else (),
    }
    return render(request, "warranties/transfers.html", context)


def _inquiries(request: HttpRequest) -> HttpResponse:
    """Everything that buyers and agents have asked, the latest first."""
    page = Paginator(TransferInquiry.objects.with_house(), PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "state": INQUIRIES, "states": Transfer.State.choices}
    return render(request, "warranties/transfers.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def ask_transfer(request: HttpRequest, warranty_id: int) -> HttpResponse:
    """Opens a transfer to a buyer, who is registered with it unless known already."""
    warranty = get_object_or_404(Warranty.objects.select_related("terms", "system__property"), pk=warranty_id)
    initial = {"notified_on": clock.today(), "closing_on": clock.today() + CLOSING_OFTEN_IN}
    form = AskTransferForm(request.POST or None, initial=initial)
    if request.method == "POST" and buyer_is_clear(form):
        try:
            transfer = transfer_actions.ask_transfer_to(
                warranty_id=warranty_id,
                buyer=form.person(),
                known_person_id=form.known_person_id,
                closing_on=form.cleaned_data["closing_on"],
                notified_on=form.cleaned_data["notified_on"],
                agent=form.agent,
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The transfer is open. Below is what it still needs.")
            return redirect("warranties:transfer", transfer_id=transfer.pk)
    form.arrange()
    context = {
        "form": form,
        "warranty": warranty,
        "number": display_warranty_number(warranty.number),
        "owner": present_ownership(property_id=warranty.system.property_id),
        "inquiries": TransferInquiry.objects.waiting().filter(warranty=warranty),
    }
    return render(request, "warranties/ask_transfer.html", context)


@require_safe
@staff_only(*DESK)
def transfer(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Each requirement, met or not, with what to do and by when."""
    return _page(request, transfer_id)


@require_POST
@staff_only(*DESK)
def fee(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Notes the fee."""
    form = FeeForm(request.POST)
    return _collect(request, transfer_id, "fee_form", form, transfer_actions.record_transfer_fee, "The fee is noted.")


@require_POST
@staff_only(*DESK)
def accept(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Keeps the paper that the buyer signed."""
    form = AcceptForm(request.POST, request.FILES)
    keep = partial(accept_on_paper, recorded_by=signed_in(request))
    return _collect(request, transfer_id, "accept_form", form, keep, "The signed paper is kept.")


@require_POST
@staff_only(Role.MANAGER)
def let_go(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Lets a requirement go."""
    _found(transfer_id)
    form = LetGoForm(request.POST)
    if not form.is_valid():
        return _page(request, transfer_id, status=422, let_go_form=form)
    try:
        transfer_actions.waive_requirement(
            transfer_id=transfer_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data
        )
    except Refusal as refusal:
        put_beside(form, refusal)
        return _page(request, transfer_id, status=409, let_go_form=form)
    messages.success(request, "The requirement is let go; the reason stays on record.")
    return redirect("warranties:transfer", transfer_id=transfer_id)


@require_safe
@staff_only(*DESK)
def review_transfer(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Everything that issuing will do, to be read before the button is pressed."""
    found = _found(transfer_id)
    if found.state != Transfer.State.ASKED:
        return redirect("warranties:transfer", transfer_id=transfer_id)
    context = {
        "review": transfer_review(found, on=clock.today(), at=clock.now()),
        "transfer": found,
        "number": display_warranty_number(found.warranty.number),
    }
    return render(request, "warranties/transfer_review.html", context)


@require_POST
@staff_only(*DESK)
def issue_transfer(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Carries the warranty over and issues the certificate."""
    _found(transfer_id)
    certificate = transfer_actions.issue_transfer(
        transfer_id=transfer_id,
        on=clock.today(),
        by=signed_in(request).actor,
        at=clock.now(),
        issued_by=signed_in(request),
    )
    number = display_number(certificate.number)
    messages.success(request, f"Certificate {number} is issued. Seller and buyer are told.")
    return redirect("warranties:transfer", transfer_id=transfer_id)


@require_POST
@staff_only(*DESK)
def add_agent(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Gives the agent a part in the sale, and a link to it."""
    form = AgentForm(request.POST, prefix="agent")
    said = "The agent has a part in the sale; the link is on its way."
    return _collect(request, transfer_id, "agent_form", form, invite_agent, said)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def withdraw_transfer(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Calls off a transfer that is not issued."""
    found = _found(transfer_id)
    form = BecauseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            transfer_actions.withdraw_transfer(
                transfer_id=transfer_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The transfer is withdrawn.")
            return redirect("warranties:transfer", transfer_id=transfer_id)
    context = {"form": form, "transfer": found, "is_revoking": False}
    return render(request, "warranties/end_transfer.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def revoke_transfer(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Revokes a transfer that was issued by mistake."""
    found = _found(transfer_id)
    form = BecauseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            transfer_actions.revoke_transfer(
                transfer_id=transfer_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The transfer is revoked. The check page says so from now on.")
            return redirect("warranties:transfer", transfer_id=transfer_id)
    context = {"form": form, "transfer": found, "is_revoking": True}
    return render(request, "warranties/end_transfer.html", context)


def _found(transfer_id: int) -> Transfer:
    found = Transfer.objects.select_related(
        "warranty__terms", "warranty__system__property", "seller__person", "seller__property", "buyer", "issued_by"
    )
    return get_object_or_404(found, pk=transfer_id)


def _collect(request: HttpRequest, transfer_id: int, name: str, form: DeskForm, verb: Any, said: str) -> HttpResponse:
    _found(transfer_id)
    if form.is_valid():
        try:
            verb(transfer_id=transfer_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, said)
            return redirect("warranties:transfer", transfer_id=transfer_id)
    return _page(request, transfer_id, status=422, **{name: form})


def _page(request: HttpRequest, transfer_id: int, *, status: int = 200, **forms_shown: forms.Form) -> HttpResponse:
    found = _found(transfer_id)
    context = {
        "file": transfer_file(found, on=clock.today()),
        "people": people_in_sale(found, at=clock.now()),
        "acceptance": Acceptance.objects.filter(transfer=found).select_related("recorded_by").first(),
        "agent_form": AgentForm(prefix="agent"),
        "transfer": found,
        "inquiries": found.inquiries.select_related("person").order_by("asked_at", "pk"),
        "number": display_warranty_number(found.warranty.number),
        "is_manager": signed_in(request).role == Role.MANAGER,
        "fee_form": FeeForm(initial={"paid_on": clock.today()}),
        "accept_form": AcceptForm(initial={"name": found.buyer.name, "accepted_on": clock.today()}),
        "let_go_form": None,
        **forms_shown,
    }
    return render(request, "warranties/transfer.html", context, status=status)


def buyer_is_clear(form: AskTransferForm) -> bool:
    """Whether the form is valid and, where somebody alike is registered, the question who it is was answered."""
    typed = form.data
    alike = people_like(name=typed.get("name", ""), email=typed.get("email", ""), phone=typed.get("phone", ""))
    if alike:
        form.offer(alike)
    return form.is_valid()
