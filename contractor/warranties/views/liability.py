"""The manager's pages about the warranty liability: the table, the rows behind it, papers, and closing a year."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from contractor.accounts.access import signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.part_kinds import part_kind as kind_of
from contractor.warranties.actions.liability import close_liability_year
from contractor.warranties.liability_facts import closed_year, closed_years, kept_liability, reckoned_liability
from contractor.warranties.liability_forms import CloseYearForm, LiabilityForm, LiabilityRowsForm, asked
from contractor.warranties.liability_papers import (
    LINES,
    cohort_rows,
    liability_context,
    liability_csv,
    liability_pdf,
    movements_of,
    with_houses,
)
from contractor.warranties.models import LiabilityYear
from contractor.warranties.rules.liability_data import Liability
from contractor.warranties.views.refusals import put_beside

PER_PAGE = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What was asked for; ``liability`` is None while the form has faults."""

    form: LiabilityForm
    closed: LiabilityYear | None
    liability: Liability | None


def _asked(query: QueryDict) -> _Asked:
    form = LiabilityForm(asked(query.dict(), last=LiabilityYear.objects.first(), on=clock.today()), on=clock.today())
    if not form.is_valid():
        return _Asked(form=form, closed=None, liability=None)
    days = {"from_on": form.cleaned_data["from_on"], "until_on": form.cleaned_data["until_on"]}
    closed = closed_year(**days)
    liability = kept_liability(closed) if closed is not None else reckoned_liability(**days, typed=form.typed)
    return _Asked(form=form, closed=closed, liability=liability)


@require_safe
@staff_only(Role.MANAGER)
def liability(request: HttpRequest) -> HttpResponse:
    """The table of a period, the reserve by cohort, and what it was reckoned with."""
    return _page(request, _asked(request.GET), CloseYearForm())


@require_safe
@staff_only(Role.MANAGER)
def liability_rows(request: HttpRequest) -> HttpResponse:
    """The rows behind a line of the table, or behind a cohort."""
    found, which = _asked(request.GET), LiabilityRowsForm(request.GET)
    if found.liability is None or not which.is_valid():
        return redirect("warranties:liability")
    line = which.cleaned_data["line"] or ("" if which.cleaned_data["kind"] else "closing")
    rows, heading = _rows(found.liability, {**which.cleaned_data, "line": line})
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "heading": heading,
        "line": line,
        "roll": found.liability.roll,
        "rows": with_houses(list(page)),
        "query": found.form.query,
        **_pages(request, page.number),
    }
    return render(request, "warranties/liability_rows.html", context)


@require_safe
@staff_only(Role.MANAGER)
def liability_table(request: HttpRequest) -> HttpResponse:
    """Every row as CSV."""
    found = _asked(request.GET)
    if found.liability is None:
        return redirect("warranties:liability")
    response = HttpResponse(liability_csv(found.liability), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{_name(found.liability)}.csv"'
    return response


@require_safe
@staff_only(Role.MANAGER)
def liability_paper(request: HttpRequest) -> HttpResponse:
    """Table, cohorts and assumptions as a PDF."""
    found = _asked(request.GET)
    if found.liability is None:
        return redirect("warranties:liability")
    response = HttpResponse(liability_pdf(found.liability, found.closed), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{_name(found.liability)}.pdf"'
    return response


@require_POST
@staff_only(Role.MANAGER)
def close_liability(request: HttpRequest) -> HttpResponse:
    """Closes a year for ever."""
    form = LiabilityForm(request.POST.dict(), on=clock.today())
    close = CloseYearForm(request.POST)
    if not form.is_valid() or not close.is_valid():
        return _page(request, _Asked(form=form, closed=None, liability=None), close)
    try:
        year = close_liability_year(
            from_on=form.cleaned_data["from_on"],
            until_on=form.cleaned_data["until_on"],
            typed=form.typed,
            is_read=close.cleaned_data["is_read"],
            by_user=signed_in(request),
            at=clock.now(),
        )
    except Refusal as refusal:
        put_beside(close, refusal)
        return _page(request, _asked(request.POST), close)
    messages.success(request, "The year is closed. Its table and rows stay as they are.")
    return redirect(f"{reverse('warranties:liability')}?from_on={year.from_on}&until_on={year.until_on}")


def _page(request: HttpRequest, found: _Asked, close: CloseYearForm) -> HttpResponse:
    context: dict[str, Any] = {"form": found.form, "close": close, "closed_years": closed_years()}
    if found.liability is not None:
        context |= liability_context(found.liability, found.closed)
        context["query"] = found.form.query
        context["inputs"] = [
            (one, found.form[f"cost_{one.part_kind}"], found.form[f"years_{one.part_kind}"])
            for one in context["reckoned"]
        ]
        context["is_over"] = found.liability.roll.until_on < clock.today()
    return render(request, "warranties/liability.html", context)


def _rows(found: Liability, which: dict[str, Any]) -> tuple[list[Any], str]:
    if which["line"] == "payments":
        return list(found.payments), "Payments made, in cash or in kind"
    if which["line"]:
        return list(movements_of(found, which["line"])), {code: word for code, word, _ in LINES}[which["line"]]
    years = f", warranties issued in {which['year']}" if which["year"] else ""
    word = kind_of(which["kind"]).plural
    return list(cohort_rows(found, which["kind"], which["year"])), f"Reserve for {word}{years}"


def _pages(request: HttpRequest, number: int) -> dict[str, str]:
    """The addresses of the pages before and after."""

    def address(page: int) -> str:
        query = request.GET.copy()
        query["page"] = str(page)
        return f"?{query.urlencode()}"

    return {"earlier": address(number - 1), "later": address(number + 1)}


def _name(found: Liability) -> str:
    return f"warranty-liability-{found.roll.from_on}-{found.roll.until_on}"
