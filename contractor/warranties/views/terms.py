"""Pages about editions of terms: the list, one edition as it is printed, and two beside each other."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from contractor.accounts.access import staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.warranties.actions.terms import with_warrantor
from contractor.warranties.documents import Paper, terms_context, terms_pdf
from contractor.warranties.models import TermsEdition
from contractor.warranties.queries import editions_list
from contractor.warranties.rules.comparing import Change, changes
from contractor.warranties.rules.plain_data import terms_from_data


@require_safe
@staff_only(Role.MANAGER)
def terms(request: HttpRequest) -> HttpResponse:
    """Every edition, published or draft."""
    return render(request, "warranties/terms.html", {"editions": editions_list()})


@require_safe
@staff_only(Role.MANAGER)
def terms_edition(request: HttpRequest, terms_id: int) -> HttpResponse:
    """One published edition to read, as it is printed; a draft leads to its editor."""
    edition = get_object_or_404(TermsEdition.objects.select_related("published_by"), pk=terms_id)
    if edition.published_at is None:
        return redirect("warranties:change_terms", terms_id=terms_id)
    read = terms_from_data(edition.data)
    context = {"edition": edition, "others": editions_list().exclude(pk=terms_id), **terms_context(read)}
    return render(request, "warranties/terms_edition.html", context)


@require_safe
@staff_only(Role.MANAGER)
def terms_document(request: HttpRequest, terms_id: int) -> HttpResponse:
    """An edition as a PDF with blanks where a house would stand; ``?paper=a4`` for that size."""
    edition = get_object_or_404(TermsEdition, pk=terms_id)
    made_at = edition.published_at or clock.now()
    paper: Paper = "a4" if request.GET.get("paper") == "a4" else "letter"
    body = terms_pdf(with_warrantor(terms_from_data(edition.data)), made_at=made_at, paper=paper)
    response = HttpResponse(body, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="terms-{edition.edition}-{paper}.pdf"'
    return response


@require_safe
@staff_only(Role.MANAGER)
def compare_terms(request: HttpRequest) -> HttpResponse:
    """What changed from one edition to another, field by field; the newest two until others are chosen."""
    editions = list(editions_list())
    known = {str(one.pk): one for one in editions}
    after = known.get(request.GET.get("after", "")) or next(iter(editions), None)
    rest = [one for one in editions if one is not after]
    before = known.get(request.GET.get("before", "")) or next(iter(rest), after)
    found: tuple[Change, ...] = ()
    if before is not None and after is not None:
        found = changes(terms_from_data(before.data), terms_from_data(after.data))
    context = {"editions": editions, "before": before, "after": after, "changes": found}
    return render(request, "warranties/terms_compare.html", context)
