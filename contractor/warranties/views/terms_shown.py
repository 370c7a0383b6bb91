"""Pages of the desk about terms shown before a sale: show them, what was shown to whom, and the exact document."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.properties.models import Ownership, Property
from contractor.warranties.actions import showing
from contractor.warranties.documents import terms_context
from contractor.warranties.forms import ShowTermsForm
from contractor.warranties.models import TermsEdition, TermsShown
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.views.refusals import put_beside

PER_PAGE = 50


@require_safe
@staff_only(*DESK)
def shown_list(request: HttpRequest) -> HttpResponse:
    """What was shown to whom, the latest first."""
    records = TermsShown.objects.select_related("terms", "property", "shown_by")
    page = Paginator(records, PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "warranties/shown_list.html", {"page": page})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def show_terms(request: HttpRequest) -> HttpResponse:
    """Shows an edition to somebody whose house is not on record yet."""
    return _show(request, None)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def show_terms_at(request: HttpRequest, property_id: int) -> HttpResponse:
    """Shows an edition for a house."""
    return _show(request, get_object_or_404(Property, pk=property_id))


@require_safe
@staff_only(*DESK)
def shown_terms(request: HttpRequest, shown_id: int) -> HttpResponse:
    """What was shown, to read on the screen together, with its record."""
    records = TermsShown.objects.select_related("terms", "property", "shown_by")
    shown = get_object_or_404(records, pk=shown_id)
    context = {"shown": shown, "is_beside": True, **terms_context(terms_from_data(shown.terms.data))}
    return render(request, "warranties/shown_terms.html", context)


@require_safe
@staff_only(*DESK)
def shown_document(request: HttpRequest, shown_id: int) -> FileResponse:
    """The exact document that was shown."""
    shown = get_object_or_404(TermsShown.objects.select_related("terms"), pk=shown_id)
    name = f"terms-{shown.terms.edition}.pdf"
    return FileResponse(shown.document.open("rb"), filename=name, content_type="application/pdf")


def _show(request: HttpRequest, house: Property | None) -> HttpResponse:
    editions = TermsEdition.objects.published()
    initial = {"terms": request.GET.get("terms") or editions.first(), "way": TermsShown.Way.SCREEN}
    if house is not None:
        owner = Ownership.objects.current(clock.today()).filter(property=house).select_related("person").first()
        if owner is not None:
            initial |= {"name": owner.person.name, "email": owner.person.email}
    form = ShowTermsForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            shown = showing.show_terms(
                terms_id=typed["terms"].pk,
                property_id=house.pk if house is not None else None,
                name=typed["name"],
                email=typed["email"],
                way=typed["way"],
                shown_by=signed_in(request),
                at=clock.now(),
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, f"It is on record that {shown.name} was shown edition {shown.terms.edition}.")
            return redirect("warranties:shown_terms", shown_id=shown.pk)
    context = {"form": form, "house": house, "has_terms": editions.exists()}
    return render(request, "warranties/show_terms.html", context)
