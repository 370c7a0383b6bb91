"""Pages of owners (by secret link) and of the public (is this certificate real?)."""

from typing import Any

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.checkups.actions.records import send_outside_record
from contractor.checkups.actions.reporting import make_report
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.core.errors import Refusal
from contractor.plans.queries import plan_of_house
from contractor.portal import actions, queries
from contractor.portal.access import forget, owner_only, remember, remembered
from contractor.portal.forms import TOO_LARGE, AskLinkForm, CheckFileForm, CheckForm, OutsideRecordForm, SaleForm
from contractor.portal.held_certificate import number_proven, proof_of
from contractor.portal.transfer_access import forget_parts
from contractor.portal.tries import count_wrong_try, seconds_to_wait
from contractor.properties.actions import open_owner_link
from contractor.properties.models import Ownership
from contractor.systems.models import System
from contractor.warranties.actions import inquiries
from contractor.warranties.actions.certifying import certificate_file
from contractor.warranties.check_upload import LARGEST_BYTES, FileCheck, check_file
from contractor.warranties.queries import (
    CertificateCheck,
    certificate_held,
    certificate_numbered,
    check_by_number,
    check_by_token,
)

# What a form adds to its file: the other fields and the lines between them.
FORM_BYTES = 64 * 1024


def _secret(response: HttpResponse) -> HttpResponse:
    """A page whose address is a secret: no other site learns it, and no search engine lists it.

    Not "no-referrer": with that a browser posts the page's form from the origin "null", which the check against
    forged requests refuses.
    """
    response["Referrer-Policy"] = "same-origin"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


@never_cache
@require_http_methods(["GET", "POST"])
def link(request: HttpRequest, token: str) -> HttpResponse:
    """Opens the house on a press of the button: scanners that follow links in mails press none."""
    if request.method != "POST":
        return _secret(render(request, "portal/link.html"))
    opened = open_owner_link(token=token, at=clock.now())
    if opened is None:
        return _secret(render(request, "portal/link_closed.html", {"form": AskLinkForm()}, status=410))
    remember(request, opened)
    return redirect("portal:house")


@require_POST
def leave(request: HttpRequest) -> HttpResponse:
    """Closes the house, and every sale, in this browser."""
    forget(request)
    forget_parts(request)
    return redirect("portal:ask_link")


@require_http_methods(["GET", "POST"])
def ask_link(request: HttpRequest) -> HttpResponse:
    """Sends a new link; the answer is the same for addresses that are known and those that are not."""
    form = AskLinkForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        actions.ask_for_link(email=form.cleaned_data["email"], at=clock.now())
        return render(request, "portal/link_sent.html")
    return render(request, "portal/ask_link.html", {"form": form, "is_open": remembered(request) is not None})


@require_safe
@owner_only
def house(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """The owner's page: is all well, when is the next visit, and the papers."""
    context = {
        "house": queries.owned_house(ownership=ownership, on=clock.today()),
        "plan": plan_of_house(ownership, on=clock.today()),
        "today": clock.today(),
    }
    return _secret(render(request, "portal/house.html", context))


@require_safe
@owner_only
def report(request: HttpRequest, ownership: Ownership, checkup_id: int) -> FileResponse:
    """The report of one check-up."""
    checkup = get_object_or_404(queries.own_checkups(ownership), pk=checkup_id)
    made = make_report(checkup_id=checkup.pk, at=clock.now())
    return FileResponse(
        made.file.open("rb"), filename=f"check-up-{checkup.done_on}.pdf", content_type="application/pdf"
    )


@require_safe
@owner_only
def warranty_document(request: HttpRequest, ownership: Ownership, warranty_id: int) -> HttpResponse:
    """The written warranty."""
    from contractor.warranties.documents import warranty_pdf

    warranty = get_object_or_404(queries.own_warranties(ownership), pk=warranty_id)
    response = HttpResponse(warranty_pdf(warranty), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="warranty-{warranty.number}.pdf"'
    return response


@require_safe
@owner_only
def certificate(request: HttpRequest, ownership: Ownership, certificate_id: int) -> FileResponse:
    """The certificate issued to this owner."""
    found = get_object_or_404(queries.own_certificates(ownership), pk=certificate_id)
    file = certificate_file(certificate_id=found.pk)
    return FileResponse(file.open("rb"), filename=f"certificate-{found.number}.pdf", content_type="application/pdf")


@require_http_methods(["GET", "POST"])
@owner_only
def outside_record(request: HttpRequest, ownership: Ownership, system_id: int) -> HttpResponse:
    """Sends in the record of a check-up that another qualified provider did."""
    system = System.objects.filter(pk=system_id, property_id=ownership.property_id).first()
    if system is None:
        raise Http404
    form = OutsideRecordForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            send_outside_record(
                system_id=system.pk,
                provider=given["provider"],
                done_on=given["done_on"],
                what=given["what"],
                document=given["document"],
                sent_by=Actor(f"owner:{ownership.person_id}", ownership.person.name),
                at=clock.now(),
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "Thank you. The office looks at your record; its answer stands on this page.")
            return redirect("portal:house")
    return _secret(render(request, "portal/outside_record.html", {"form": form, "system": system}))


@never_cache
@require_http_methods(["GET", "POST"])
def check(request: HttpRequest) -> HttpResponse:
    """Tells anybody with number and code whether a certificate is real and how things stand today.

    The code is posted, so that it stands in no address, history or log.
    """
    form = CheckForm(request.POST or None)
    answer = None
    if request.method == "POST" and form.is_valid():
        if seconds := seconds_to_wait(request, at=clock.now()):
            return _wait(request, seconds)
        answer = check_by_number(**form.cleaned_data, on=clock.today())
    return _told(request, answer=answer, form=form)


@never_cache
@require_safe
def check_token(request: HttpRequest, token: str) -> HttpResponse:
    """The same from the QR code."""
    if seconds := seconds_to_wait(request, at=clock.now()):
        return _wait(request, seconds)
    # PostgreSQL takes no zero byte, and no token has one.
    return _told(request, answer=check_by_token(token.replace("\0", ""), on=clock.today()))


@never_cache
@csrf_exempt
@require_POST
def check_upload(request: HttpRequest) -> HttpResponse:
    """The same from the PDF itself. What is too large is refused by its announced length, before a byte is read.

    The check against forged requests reads the body, so it comes after that, in ``_check_upload``.
    """
    if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_BYTES + FORM_BYTES:
        return _told(request, refused=TOO_LARGE, status=413)
    return _check_upload(request)


@csrf_protect
def _check_upload(request: HttpRequest) -> HttpResponse:
    form = CheckFileForm(request.POST, request.FILES)
    if not form.is_valid():
        return _told(request, file_form=form)
    if seconds := seconds_to_wait(request, at=clock.now()):
        return _wait(request, seconds)
    file = check_file(form.cleaned_data["file"].read(), on=clock.today())
    return _told(request, answer=file.check, file=file)


@never_cache
@require_http_methods(["GET", "POST"])
def ask_about_sale(request: HttpRequest) -> HttpResponse:
    """A buyer or an agent who holds the certificate asks for the transfer: proven by number and code, as the check is.

    Coming from the check's answer, its form brings the proof and "begin", and nothing has been typed yet.
    """
    proof = request.POST.get("held", "")
    number = number_proven(proof, at=clock.now())
    has_typed = request.method == "POST" and "begin" not in request.POST
    form = SaleForm(request.POST if has_typed else None, initial={"held": proof}, is_proven=bool(number))
    if not has_typed or not form.is_valid():
        return _sale_form(request, form, number)
    given = form.cleaned_data
    if not number and (seconds := seconds_to_wait(request, at=clock.now())):
        return _wait(request, seconds)
    certificate = certificate_numbered(number) if number else certificate_held(**form.key)
    if certificate is None:
        count_wrong_try(request, at=clock.now())
        return _sale_form(request, form, number, is_unknown=True)
    try:
        asked = inquiries.ask_about_sale(certificate_id=certificate.pk, at=clock.now(), **form.words)
    except Refusal as refusal:
        form.add_error(refusal.field, refusal.sentence)
        return _sale_form(request, form, number)
    return _secret(render(request, "portal/sale_asked.html", {"email": given["email"], "asked": asked}))


def _sale_form(request: HttpRequest, form: SaleForm, number: str, *, is_unknown: bool = False) -> HttpResponse:
    context = {"form": form, "number": number, "is_unknown": is_unknown}
    return _secret(render(request, "portal/ask_about_sale.html", context))


def _told(
    request: HttpRequest,
    *,
    answer: CertificateCheck | None = None,
    file: FileCheck | None = None,
    status: int = 200,
    **context: Any,
) -> HttpResponse:
    """The check page with its answer; one that isn't a certificate of ours counts as a wrong try."""
    if (answer is not None and answer.verdict == "unknown") or (file is not None and not file.is_known):
        count_wrong_try(request, at=clock.now())
    given = {"form": CheckForm(), "file_form": CheckFileForm(), "answer": answer, "file": file, **context}
    if answer is not None and answer.verdict in {"genuine", "superseded"}:
        given["proof"] = proof_of(answer.number, at=clock.now())
    return _secret(render(request, "portal/check.html", given, status=status))


def _wait(request: HttpRequest, seconds: int) -> HttpResponse:
    """Too many wrong tries: when to come back, and whom to call."""
    response = render(request, "portal/check_wait.html", {"minutes": -(-seconds // 60)}, status=429)
    response["Retry-After"] = str(seconds)
    return _secret(response)
