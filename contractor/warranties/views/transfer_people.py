"""Buttons of the desk for the people of a sale, the buyer's acceptance and a closing day that has moved."""

from django import forms
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.warranties.acceptance_paper import acceptance_pdf
from contractor.warranties.actions.acceptance import set_aside_acceptance
from contractor.warranties.actions.closing import change_closing
from contractor.warranties.actions.transfer_links import revoke_transfer_links, send_transfer_link
from contractor.warranties.forms import BecauseForm, ClosingForm
from contractor.warranties.models import Acceptance, Transfer, TransferLink
from contractor.warranties.views.refusals import put_beside


class PersonForm(forms.Form):
    """Whose link it is about."""

    role = forms.ChoiceField(choices=TransferLink.Role.choices)
    email = forms.EmailField(required=False)


@require_POST
@staff_only(*DESK)
def send_link(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Sends one person a fresh link."""
    role, email = _person(request, transfer_id)
    send_transfer_link(transfer_id=transfer_id, role=role, email=email, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "A new link is on its way.")
    return redirect("warranties:transfer", transfer_id=transfer_id)


@require_POST
@staff_only(*DESK)
def revoke_links(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Ends one person's links."""
    role, email = _person(request, transfer_id)
    revoke_transfer_links(transfer_id=transfer_id, role=role, email=email, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "Their links no longer open anything.")
    return redirect("warranties:transfer", transfer_id=transfer_id)


@require_safe
@staff_only(*DESK)
def acceptance_paper(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """The document to print and send to a buyer who rather signs on paper."""
    found = Transfer.objects.select_related("warranty__terms", "warranty__system__property", "seller", "buyer")
    transfer = get_object_or_404(found, pk=transfer_id)
    response = HttpResponse(acceptance_pdf(transfer), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="taking-over-{transfer.warranty.number}.pdf"'
    return response


@require_safe
@staff_only(*DESK)
def acceptance(request: HttpRequest, transfer_id: int) -> FileResponse:
    """What the buyer accepted or signed, exactly as it is kept."""
    given = get_object_or_404(Acceptance, transfer_id=transfer_id)
    if not given.shown.storage.exists(given.shown.name or ""):
        raise Http404
    suffix = (given.shown.name or "").rpartition(".")[2]
    return FileResponse(given.shown.open("rb"), filename=f"acceptance-{transfer_id}.{suffix}")


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def set_acceptance_aside(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Puts an acceptance aside: the paper can't be read, or the buyer called to take it back."""
    found = get_object_or_404(Transfer.objects.select_related("seller__person", "buyer"), pk=transfer_id)
    form = BecauseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            set_aside_acceptance(
                transfer_id=transfer_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The acceptance is set aside; the buyer has to accept again.")
            return redirect("warranties:transfer", transfer_id=transfer_id)
    return render(request, "warranties/acceptance_aside.html", {"form": form, "transfer": found})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def move_closing(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """The closing day has moved."""
    found = get_object_or_404(
        Transfer.objects.select_related("seller__person", "seller__property", "buyer"), pk=transfer_id
    )
    if found.state != Transfer.State.ASKED and request.method != "POST":
        return redirect("warranties:transfer", transfer_id=transfer_id)
    form = ClosingForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            moved = change_closing(
                transfer_id=transfer_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            words = "The closing day is moved, and everybody concerned is told."
            if found.accepted_on is not None and moved.accepted_on is None:
                words += " The buyer has to accept again, because something that they accepted would end sooner."
            messages.success(request, words)
            return redirect("warranties:transfer", transfer_id=transfer_id)
    return render(request, "warranties/move_closing.html", {"form": form, "transfer": found})


def _person(request: HttpRequest, transfer_id: int) -> tuple[str, str]:
    """Role and address of the form; a person who has no part in this sale is not found."""
    get_object_or_404(Transfer, pk=transfer_id)
    form = PersonForm(request.POST)
    if not form.is_valid():
        raise Http404
    return form.cleaned_data["role"], form.cleaned_data["email"]
