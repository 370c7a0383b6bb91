"""Pages of the desk about a warranty: issue it, see how it stands, hand out its papers, void it, waive care."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.models import System
from contractor.warranties.actions import certifying, issuing
from contractor.warranties.documents import warranty_pdf
from contractor.warranties.forms import DeskForm, IssueForm, VoidForm, WaiveForm
from contractor.warranties.models import Certificate, TermsEdition, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.pre_sale import pre_sale_proofs
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.views.refusals import put_beside
from contractor.warranties.warranty_file import warranty_file


def _warranty(warranty_id: int) -> Warranty:
    warranties = Warranty.objects.select_related("terms", "system__property", "issued_to__person", "voided_by")
    return get_object_or_404(warranties, pk=warranty_id)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def issue(request: HttpRequest, system_id: int) -> HttpResponse:
    """Issues the first warranty to a system."""
    system = get_object_or_404(System.objects.select_related("property"), pk=system_id)
    editions = TermsEdition.objects.published()
    initial = {"issued_on": system.installed_on, "terms": editions.first()}
    form = IssueForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            warranty = issuing.issue_warranty(
                system_id=system.pk,
                terms_id=form.cleaned_data["terms"].pk,
                issued_on=form.cleaned_data["issued_on"],
                signed_on=form.cleaned_data["signed_on"],
                by=signed_in(request).actor,
                at=clock.now(),
                issued_by=signed_in(request),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, f"Warranty {display_warranty_number(warranty.number)} is issued.")
            return redirect("warranties:warranty", warranty_id=warranty.pk)
    signed_by_on = (form.is_bound and form.cleaned_data.get("signed_on")) or system.installed_on
    proofs = pre_sale_proofs(property_id=system.property_id, signed_by_on=signed_by_on)
    context = {"form": form, "system": system, "has_terms": bool(proofs), "proofs": proofs}
    return render(request, "warranties/issue.html", context)


@require_safe
@staff_only(*DESK)
def warranty(request: HttpRequest, warranty_id: int) -> HttpResponse:
    """How a warranty stands today, and all that happened to it."""
    file = warranty_file(_warranty(warranty_id), on=clock.today())
    is_manager = signed_in(request).role == Role.MANAGER
    context = {"file": file, "warranty": file.warranty, "today": clock.today(), "is_manager": is_manager}
    return render(request, "warranties/warranty.html", context)


@require_safe
@staff_only(*DESK)
def document(request: HttpRequest, warranty_id: int) -> HttpResponse:
    """The written warranty as a PDF."""
    found = _warranty(warranty_id)
    response = HttpResponse(warranty_pdf(found), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="warranty-{found.number}.pdf"'
    return response


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def void(request: HttpRequest, warranty_id: int) -> HttpResponse:
    """Declares a warranty void, with the clause and the reason."""
    found = _warranty(warranty_id)
    form = VoidForm(request.POST or None, initial={"voided_on": clock.today()})
    if request.method == "POST" and form.is_valid():
        try:
            issuing.void_warranty(
                warranty_id=warranty_id, by_user=signed_in(request), at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The warranty is void. Its record stays.")
            return redirect("warranties:warranty", warranty_id=warranty_id)
    return _decision(request, found, form, "void")


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def waive(request: HttpRequest, warranty_id: int) -> HttpResponse:
    """Lets days count as cared for."""
    found = _warranty(warranty_id)
    form = WaiveForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            issuing.waive_care(
                warranty_id=warranty_id,
                from_on=typed["from_on"],
                until_on=typed["last_on"] + timedelta(days=1),
                because=typed["because"],
                by_user=signed_in(request),
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "These days count as cared for.")
            return redirect("warranties:warranty", warranty_id=warranty_id)
    return _decision(request, found, form, "waive")


@require_POST
@staff_only(*DESK)
def issue_certificate(request: HttpRequest, warranty_id: int) -> HttpResponse:
    """Issues a certificate as of today, in the place of the one before."""
    _warranty(warranty_id)
    certificate = certifying.issue_certificate(
        warranty_id=warranty_id,
        on=clock.today(),
        by=signed_in(request).actor,
        at=clock.now(),
        issued_by=signed_in(request),
    )
    messages.success(request, f"Certificate {display_number(certificate.number)} is issued.")
    return redirect("warranties:warranty", warranty_id=warranty_id)


@require_safe
@staff_only(*DESK)
def certificate(request: HttpRequest, certificate_id: int) -> FileResponse:
    """A certificate as a PDF."""
    found = get_object_or_404(Certificate, pk=certificate_id)
    file = certifying.certificate_file(certificate_id=found.pk)
    name = f"certificate-{found.number}.pdf"
    return FileResponse(file.open("rb"), filename=name, content_type="application/pdf")


def _decision(request: HttpRequest, found: Warranty, form: DeskForm, which: str) -> HttpResponse:
    context: dict[str, Any] = {
        "form": form,
        "warranty": found,
        "number": display_warranty_number(found.number),
        "is_void": which == "void",
    }
    return render(request, "warranties/decision.html", context)
