"""The editor of terms: begin a draft, write it with the document beside it, publish it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from contractor.accounts.access import signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.warranties.actions import terms as terms_actions
from contractor.warranties.documents import terms_context
from contractor.warranties.errors import EditionFixed, EditionTaken
from contractor.warranties.forms import DraftForm
from contractor.warranties.models import TermsEdition
from contractor.warranties.queries import editions_list
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.publishing import broken_rules
from contractor.warranties.rules.terms import Terms
from contractor.warranties.terms_forms import TermsForm
from contractor.warranties.terms_layout import EDITOR_GROUPS
from contractor.warranties.terms_templates import templates
from contractor.warranties.views.refusals import put_beside

MANY_VALUES = ("provinces",)
COUNTRIES = {"US": "the United States", "CA": "Canada"}
NOT_TYPED = ("csrfmiddlewaretoken", "keep", "publish")


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def draft_terms(request: HttpRequest) -> HttpResponse:
    """Begins a draft as a copy of an edition or of a template."""
    sources = _sources()
    chosen = request.GET.get("from", "")
    initial = {"source": chosen if chosen in sources else next(iter(sources), "")}
    form = DraftForm(
        request.POST or None, initial=initial, sources=[(code, label) for code, (label, _) in sources.items()]
    )
    if request.method == "POST" and form.is_valid():
        _, data = sources[form.cleaned_data["source"]]
        # The warrantor is filled in when an edition is published, so that it is the company as it is then.
        copied = {**data, "edition": form.cleaned_data["edition"], "warrantor": None}
        try:
            edition = terms_actions.draft_terms(data=copied, by=signed_in(request).actor, at=clock.now())
        except Refusal as refusal:
            put_beside(form, refusal)
        else:
            return redirect("warranties:change_terms", terms_id=edition.pk)
    return render(request, "warranties/terms_draft.html", {"form": form})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def change_terms(request: HttpRequest, terms_id: int) -> HttpResponse:
    """The editor of a draft. What is typed is kept whatever it is; publishing needs it to keep the rules."""
    edition = get_object_or_404(TermsEdition, pk=terms_id)
    if edition.published_at is not None:
        messages.warning(request, EditionFixed(edition.edition).sentence)
        return redirect("warranties:terms_edition", terms_id=terms_id)
    if request.method != "POST":
        form = TermsForm(edition.typed or None, terms=terms_from_data(edition.data))
        return _editor(request, edition, form)
    form = TermsForm(typed_of(request.POST), terms=terms_from_data(edition.data))
    if not _keep(request, edition, form):
        return _editor(request, edition, form, kept_half=True)
    if "publish" not in request.POST:
        messages.success(request, "The draft is kept.")
        return redirect("warranties:change_terms", terms_id=terms_id)
    try:
        terms_actions.publish_terms(
            terms_id=terms_id,
            by=signed_in(request).actor,
            at=clock.now(),
            published_by=signed_in(request),
            overrides=form.overrides,
        )
    except Refusal:
        edition.refresh_from_db()
        return _editor(request, edition, form, refusal="It is kept as a draft. Put right what is listed here.")
    messages.success(request, f"Edition {form.cleaned_data['edition']} is published. It stays as it is from now on.")
    return redirect("warranties:terms_edition", terms_id=terms_id)


@require_POST
@staff_only(Role.MANAGER)
def check_terms(request: HttpRequest, terms_id: int) -> HttpResponse:
    """How the draft would stand as it is typed now, with the document; keeps nothing."""
    edition = get_object_or_404(TermsEdition, pk=terms_id)
    form = TermsForm(typed_of(request.POST), terms=terms_from_data(edition.data))
    return render(request, "warranties/terms_checked.html", _standing(form))


def typed_of(sent: QueryDict) -> dict[str, Any]:
    """What was typed, as it is kept."""
    return {
        name: sent.getlist(name) if name in MANY_VALUES else sent[name] for name in sent if name not in NOT_TYPED
    }


def _sources() -> dict[str, tuple[str, dict[str, Any]]]:
    """What a draft can start from, by code: every edition, the newest first, then our templates."""
    found = {}
    for edition in editions_list():
        state = "published" if edition.published_at else "draft"
        found[f"edition-{edition.pk}"] = (f"{edition.edition}: {edition.title} ({state})", edition.data)
    for one in templates():
        country = COUNTRIES[one.terms.jurisdiction]
        found[f"template-{one.code}"] = (f"Template for {country}: {one.terms.title}", one.data)
    return found


def _keep(request: HttpRequest, edition: TermsEdition, form: TermsForm) -> bool:
    """Keeps the draft; False when it could be kept only as typed."""
    who, typed = signed_in(request).actor, dict(form.data)
    if form.is_valid():
        try:
            terms_actions.change_terms(
                terms_id=edition.pk, data=form.terms_data, typed=typed, by=who, at=clock.now()
            )
        except EditionTaken as taken:
            put_beside(form, taken)
        else:
            return True
    terms_actions.keep_typed(terms_id=edition.pk, typed=typed, by=who, at=clock.now())
    return False


def _editor(request: HttpRequest, edition: TermsEdition, form: TermsForm, **more: Any) -> HttpResponse:
    last_read = terms_from_data(edition.data)
    context = {"edition": edition, "groups": EDITOR_GROUPS, **_standing(form, last_read), **more}
    return render(request, "warranties/terms_editor.html", context)


def _standing(form: TermsForm, last_read: Terms | None = None) -> dict[str, Any]:
    """How a draft stands, and its document: of the terms as typed, or of those that could be read last."""
    read = form.terms if form.is_valid() else last_read
    paper = terms_actions.with_warrantor(read) if read is not None else None
    broken = broken_rules(paper) if paper is not None and form.terms is not None else ()
    form.put_beside(broken)
    return {
        "form": form,
        "stopping": sum(one.severity == "E" for one in broken),
        "warned": sum(one.severity == "W" for one in broken),
        "is_beside": True,
        **(terms_context(paper) if paper is not None else {}),
    }
