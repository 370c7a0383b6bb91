"""Pages of the manager about editions of terms."""

import json
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.part_kinds import part_kind as kind_of
from contractor.warranties.actions import terms as terms_actions
from contractor.warranties.errors import TermsBreakRules
from contractor.warranties.forms import TermsDataForm
from contractor.warranties.models import TermsEdition
from contractor.warranties.queries import editions_list
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.publishing import blocking, broken_rules
from contractor.warranties.views.refusals import put_beside

OVERRIDE = "override-"


@require_safe
@staff_only(Role.MANAGER)
def terms(request: HttpRequest) -> HttpResponse:
    """Every edition, published or draft."""
    return render(request, "warranties/terms.html", {"editions": editions_list()})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def draft_terms(request: HttpRequest) -> HttpResponse:
    """Drafts a new edition, starting from the latest when asked to."""
    latest = TermsEdition.objects.published().first()
    initial = {}
    if latest is not None:
        # The warrantor is filled in when an edition is published, so that it is the company as it is then.
        initial["terms_json"] = _as_text({**latest.data, "edition": f"{latest.edition}-next", "warrantor": None})
    form = TermsDataForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            edition = terms_actions.draft_terms(
                data=form.cleaned_data["terms_json"], by=signed_in(request).actor, at=clock.now()
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, f"Edition {edition.edition} is a draft now. Read it, then publish it.")
            return redirect("warranties:terms_edition", terms_id=edition.pk)
    return render(request, "warranties/terms_draft.html", {"form": form, "edition": None})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def change_terms(request: HttpRequest, terms_id: int) -> HttpResponse:
    """Corrects a draft; a published edition is refused."""
    edition = get_object_or_404(TermsEdition, pk=terms_id)
    form = TermsDataForm(request.POST or None, initial={"terms_json": _as_text(edition.data)})
    if request.method == "POST" and form.is_valid():
        try:
            terms_actions.change_terms(
                terms_id=terms_id, data=form.cleaned_data["terms_json"], by=signed_in(request).actor, at=clock.now()
            )
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            messages.success(request, "The draft is changed.")
            return redirect("warranties:terms_edition", terms_id=terms_id)
    return render(request, "warranties/terms_draft.html", {"form": form, "edition": edition})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def terms_edition(request: HttpRequest, terms_id: int) -> HttpResponse:
    """One edition to read; a draft with what keeps it from being published, and the button to publish it."""
    edition = get_object_or_404(TermsEdition.objects.select_related("published_by"), pk=terms_id)
    read = terms_actions.with_warrantor(terms_from_data(edition.data))
    reasons = {name.removeprefix(OVERRIDE): value for name, value in request.POST.items() if name.startswith(OVERRIDE)}
    status = 200
    refusal: Refusal | None = None
    if request.method == "POST":
        try:
            terms_actions.publish_terms(
                terms_id=terms_id,
                by=signed_in(request).actor,
                at=clock.now(),
                published_by=signed_in(request),
                overrides={str(code): str(reason) for code, reason in reasons.items()},
            )
        except TermsBreakRules as broken:
            refusal, status = broken, 409
        else:
            messages.success(request, f"Edition {edition.edition} is published. It stays as it is from now on.")
            return redirect("warranties:terms_edition", terms_id=terms_id)
    broken_now = broken_rules(read) if edition.published_at is None else ()
    context = {
        "edition": edition,
        "terms": read,
        "promises": [(promise, kind_of(promise.part_kind).word) for promise in read.promises],
        "refusal": refusal,
        "errors": [one for one in broken_now if one.severity == "E"],
        "warnings": [(one, reasons.get(one.code, "")) for one in broken_now if one.severity == "W"],
        "is_ready": not blocking(broken_now),
    }
    return render(request, "warranties/terms_edition.html", context, status=status)


def _as_text(data: dict[str, Any]) -> str:
    return json.dumps(data, indent=2, ensure_ascii=False)
