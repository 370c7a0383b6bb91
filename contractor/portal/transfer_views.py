"""Pages of a sale for seller, buyer and agent: each opens their own part by a secret link."""

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.portal import actions
from contractor.portal.access import owner_only
from contractor.portal.forms import PortalForm
from contractor.portal.queries import own_acceptances, own_warranties
from contractor.portal.transfer_access import Part, closed, part_only, remember_part
from contractor.portal.transfer_forms import AcceptForm, ClosingForm, SignedPaperForm, StartSaleForm, WithdrawForm
from contractor.portal.transfer_part import buyer_part, sale_part
from contractor.properties.actions import token_sha256
from contractor.properties.models import Ownership
from contractor.warranties.acceptance_paper import acceptance_pdf, consent_lines, document_sha256
from contractor.warranties.actions import acceptance as acceptance_actions
from contractor.warranties.actions.closing import change_closing
from contractor.warranties.actions.transfer_links import open_transfer_link
from contractor.warranties.actions.transfers import withdraw_transfer
from contractor.warranties.models import Acceptance, TransferLink

SELLER, BUYER, AGENT = TransferLink.Role.SELLER, TransferLink.Role.BUYER, TransferLink.Role.AGENT
# In the session: the hash of the document that was last shown in this browser, by transfer.
SHOWN_KEY = "sale_documents_shown"


def _secret(response: HttpResponse) -> HttpResponse:
    """A page of a secret link: no other site learns its address, and no search engine lists it."""
    response["Referrer-Policy"] = "same-origin"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


@never_cache
@require_http_methods(["GET", "POST"])
def transfer_link(request: HttpRequest, token: str) -> HttpResponseBase:
    """Opens a part of a sale on a press of the button: scanners that follow links in mails press none."""
    if request.method != "POST":
        return _secret(render(request, "portal/transfer_link.html"))
    opened = open_transfer_link(token=token, at=clock.now())
    if opened is None:
        ended = TransferLink.objects.filter(token_sha256=token_sha256(token)).select_related("transfer").first()
        return closed(request, ended)
    remember_part(request, opened)
    return redirect(f"portal:transfer_{opened.role}", transfer_id=opened.transfer_id)


@require_http_methods(["GET", "POST"])
@owner_only
def start_sale(request: HttpRequest, ownership: Ownership, warranty_id: int) -> HttpResponse:
    """The owner starts the transfer of a warranty to the buyer of the house."""
    warranty = get_object_or_404(own_warranties(ownership).select_related("terms", "system"), pk=warranty_id)
    form = StartSaleForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            transfer = actions.start_sale(
                ownership=ownership,
                warranty_id=warranty.pk,
                buyer_name=given["name"],
                buyer_email=given["email"],
                closing_on=given["closing_on"],
                agent=form.agent,
                on=clock.today(),
                at=clock.now(),
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, "The transfer is started. The buyer gets a link of their own by e-mail.")
            return redirect("portal:transfer_seller", transfer_id=transfer.pk)
    context = {"form": form, "warranty": warranty, "house": ownership.property}
    return _secret(render(request, "portal/transfer_start.html", context))


@require_safe
@part_only(SELLER)
def seller(request: HttpRequest, part: Part) -> HttpResponse:
    """What is still missing, until when, and what to do."""
    context = {"part": sale_part("seller", part.transfer, on=clock.today()), "transfer": part.transfer}
    return _secret(render(request, "portal/transfer_seller.html", context))


@require_http_methods(["GET", "POST"])
@part_only(SELLER)
def seller_moves_closing(request: HttpRequest, part: Part) -> HttpResponse:
    """The closing day has moved."""
    form = ClosingForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            change_closing(transfer_id=part.transfer.pk, by=part.actor, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, "The closing day is moved. Everybody in the sale hears of it from us.")
            return redirect("portal:transfer_seller", transfer_id=part.transfer.pk)
    return _secret(render(request, "portal/transfer_closing.html", {"form": form, "transfer": part.transfer}))


@require_http_methods(["GET", "POST"])
@part_only(SELLER)
def seller_withdraws(request: HttpRequest, part: Part) -> HttpResponseBase:
    """The seller calls the transfer off."""
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        withdraw_transfer(
            transfer_id=part.transfer.pk, because=form.cleaned_data["because"], by=part.actor, at=clock.now()
        )
        if part.link is not None:
            part.link.transfer.refresh_from_db()
            return closed(request, part.link)
        messages.success(request, "The transfer is called off. Your warranty stays as it is.")
        return redirect("portal:house")
    return _secret(render(request, "portal/transfer_withdraw.html", {"form": form, "transfer": part.transfer}))


@require_safe
@part_only(AGENT)
def agent(request: HttpRequest, part: Part) -> HttpResponse:
    """How far it is and what is missing; no names and no prices beyond the fee."""
    context = {"part": sale_part("agent", part.transfer, on=clock.today()), "transfer": part.transfer}
    return _secret(render(request, "portal/transfer_agent.html", context))


@require_safe
@part_only(BUYER)
def buyer(request: HttpRequest, part: Part) -> HttpResponse:
    """What the buyer takes over, and what they have to do."""
    context = {"part": buyer_part(part.transfer, on=clock.today()), "transfer": part.transfer}
    return _secret(render(request, "portal/transfer_buyer.html", context))


@require_safe
@part_only(BUYER)
def buyer_document(request: HttpRequest, part: Part) -> HttpResponseBase:
    """The document to read, or what was accepted. Which bytes were shown is kept with this browser."""
    given = Acceptance.objects.filter(transfer=part.transfer).first()
    if given is not None:
        return _kept_file(given)
    document = acceptance_pdf(part.transfer)
    shown = {**request.session.get(SHOWN_KEY, {}), str(part.transfer.pk): document_sha256(document)}
    request.session[SHOWN_KEY] = shown
    response = HttpResponse(document, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="taking-over-the-warranty.pdf"'
    return response


@require_http_methods(["GET", "POST"])
@part_only(BUYER)
def buyer_accepts(request: HttpRequest, part: Part) -> HttpResponse:
    """The buyer reads, agrees to do it electronically, and accepts."""
    if part.transfer.accepted_on is not None:
        return redirect("portal:transfer_buyer", transfer_id=part.transfer.pk)
    shown = request.session.get(SHOWN_KEY, {}).get(str(part.transfer.pk), "")
    form = AcceptForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and part.link is not None:
        given = form.cleaned_data
        try:
            acceptance_actions.accept_electronically(
                transfer_id=part.transfer.pk,
                name=given["name"],
                has_consented=given["consent"],
                has_intent=given["intent"],
                shown_sha256=shown,
                link=part.link,
                by=part.actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, "You have accepted. Your copy is below, and a link to it is in your mail.")
            return redirect("portal:transfer_buyer", transfer_id=part.transfer.pk)
    context = {
        "form": form,
        "transfer": part.transfer,
        "consent": consent_lines(the_company()),
        "is_shown": bool(shown),
    }
    return _secret(render(request, "portal/transfer_accept.html", context))


@require_http_methods(["GET", "POST"])
@part_only(BUYER)
def buyer_signs_paper(request: HttpRequest, part: Part) -> HttpResponse:
    """The buyer sends in the signed paper."""
    if part.transfer.accepted_on is not None:
        return redirect("portal:transfer_buyer", transfer_id=part.transfer.pk)
    form = SignedPaperForm(request.POST or None, request.FILES or None, initial={"accepted_on": clock.today()})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            acceptance_actions.accept_on_paper(
                transfer_id=part.transfer.pk,
                name=given["name"],
                accepted_on=given["accepted_on"],
                document=given["document"],
                link=part.link,
                by=part.actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, "Thank you. We have your signed paper and look at it before we issue.")
            return redirect("portal:transfer_buyer", transfer_id=part.transfer.pk)
    return _secret(render(request, "portal/transfer_paper.html", {"form": form, "transfer": part.transfer}))


@require_POST
@part_only(BUYER)
def buyer_takes_back(request: HttpRequest, part: Part) -> HttpResponse:
    """The buyer takes the acceptance back, as long as nothing is issued."""
    acceptance_actions.set_aside_acceptance(
        transfer_id=part.transfer.pk, because="The buyer took it back.", by=part.actor, at=clock.now()
    )
    messages.success(request, "Your acceptance is taken back. You can accept again here, or on paper.")
    return redirect("portal:transfer_buyer", transfer_id=part.transfer.pk)


@require_safe
@owner_only
def own_acceptance(request: HttpRequest, ownership: Ownership, warranty_id: int) -> HttpResponseBase:
    """What an owner accepted when they took the warranty over."""
    return _kept_file(get_object_or_404(own_acceptances(ownership), transfer__warranty_id=warranty_id))


def _kept_file(given: Acceptance) -> FileResponse:
    if not given.shown.storage.exists(given.shown.name or ""):
        raise Http404
    suffix = (given.shown.name or "").rpartition(".")[2]
    return FileResponse(given.shown.open("rb"), filename=f"acceptance-{given.accepted_at:%Y-%m-%d}.{suffix}")


def _put_beside(form: PortalForm, refusal: Refusal) -> None:
    """The sentence beside its field; above the form when it names none that is here."""
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
