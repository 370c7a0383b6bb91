"""Pages of the desk about what buyers and agents ask: begin the transfer from it, add it to one, decline it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.properties.models import Person
from contractor.properties.queries import present_ownership
from contractor.warranties.actions import inquiries
from contractor.warranties.forms import AskTransferForm, DeclineInquiryForm
from contractor.warranties.inquiry_tables import TransferInquiry
from contractor.warranties.models import Transfer
from contractor.warranties.numbers import display_number
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.views.refusals import put_beside
from contractor.warranties.views.transfers import buyer_is_clear


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def inquiry(request: HttpRequest, inquiry_id: int) -> HttpResponse:
    """Who asks and what they know of the sale, with the form of a new transfer filled in from it."""
    found = _found(inquiry_id)
    form = AskTransferForm(request.POST or None, initial=_known(found))
    asker = found.person if request.method == "POST" and _is_asker(form, found.person) else None
    if request.method == "POST" and (form.is_valid() if asker is not None else buyer_is_clear(form)):
        try:
            transfer = inquiries.begin_from_inquiry(
                inquiry_id=inquiry_id,
                buyer=form.person(),
                known_person_id=asker.pk if asker is not None else form.known_person_id,
                closing_on=form.cleaned_data["closing_on"],
                notified_on=form.cleaned_data["notified_on"],
                agent=form.agent,
                by_user=signed_in(request),
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The transfer is open. Below is what it still needs.")
            return redirect("warranties:transfer", transfer_id=transfer.pk)
    return _page(request, found, form)


@require_POST
@staff_only(*DESK)
def add_to_sale(request: HttpRequest, inquiry_id: int) -> HttpResponse:
    """Gives whoever asked their part in the transfer that is under way."""
    found = _found(inquiry_id)
    try:
        transfer = inquiries.add_to_sale(inquiry_id=inquiry_id, by_user=signed_in(request), at=clock.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
        return _page(request, found, AskTransferForm(initial=_known(found)), status=409)
    messages.success(request, f"{found.person.name} has a part in this sale; the link is on its way.")
    return redirect("warranties:transfer", transfer_id=transfer.pk)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def decline(request: HttpRequest, inquiry_id: int) -> HttpResponse:
    """Says no, with the reason that the asker reads."""
    found = _found(inquiry_id)
    form = DeclineInquiryForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            inquiries.decline_inquiry(
                inquiry_id=inquiry_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            said = "Declined; the answer is on its way by e-mail."
            if not found.person.email:
                said = f"Declined. Call {found.person.phone}: there is no e-mail address to write to."
            messages.success(request, said)
            return redirect("warranties:inquiry", inquiry_id=inquiry_id)
    return render(request, "warranties/decline_inquiry.html", {"form": form, "inquiry": found})


def _found(inquiry_id: int) -> TransferInquiry:
    wanted = TransferInquiry.objects.with_house().select_related("certificate", "answered_by")
    return get_object_or_404(wanted, pk=inquiry_id)


def _known(found: TransferInquiry) -> dict[str, Any]:
    """What the inquiry says for the form of a new transfer; the company was told on the day of asking."""
    known: dict[str, Any] = {"notified_on": clock.day_of(found.asked_at), "closing_on": found.closing_on}
    person = found.person
    if found.is_of_buyer:
        return known | {"name": person.name, "email": person.email, "phone": person.phone}
    return known | ({"agent_name": person.name, "agent_email": person.email} if person.email else {})


def _is_asker(form: AskTransferForm, person: Person) -> bool:
    """Whether the buyer as typed is whoever asked, who is on record already."""
    typed = (form.data.get("name", "").strip().lower(), form.data.get("email", "").strip().lower())
    return typed == (person.name.lower(), person.email)


def _page(request: HttpRequest, found: TransferInquiry, form: AskTransferForm, *, status: int = 200) -> HttpResponse:
    form.arrange()
    under_way = found.warranty.transfers.filter(state=Transfer.State.ASKED).select_related("buyer").first()
    context = {
        "form": form,
        "inquiry": found,
        "certificate_number": display_number(found.certificate.number),
        "number": display_warranty_number(found.warranty.number),
        "owner": present_ownership(property_id=found.warranty.system.property_id),
        "under_way": under_way if found.state == TransferInquiry.State.OPEN else None,
    }
    return render(request, "warranties/inquiry.html", context, status=status)
