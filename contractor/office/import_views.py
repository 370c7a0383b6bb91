"""The import of an old register: send a file, see what it would do, take over the good rows."""

from pathlib import Path
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header, urlencode
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.office.actions import forget_register, keep_register, take_over_next
from contractor.office.forms import IMPORT_LISTS, ImportRowsForm, RegisterForm
from contractor.office.register_file import DELIMITERS
from contractor.office.register_report import bad_rows_csv, report_csv
from contractor.office.register_review import (
    Fate,
    Review,
    in_register,
    known_models,
    progress_of,
    reading_of,
    review_of,
)
from contractor.office.register_template import TEMPLATE, examples, template_csv
from contractor.office.register_uploads import KeptRegister, kept_register, latest_register

ROWS_PER_PAGE = 50
TONES = {
    Fate.GOOD: "good",
    Fate.CAUTIONS: "watch",
    Fate.BAD: "bad",
    Fate.SKIPPED: "unknown",
    Fate.PRESENT: "water",
}
WORDS = {code: word.lower() for code, word in IMPORT_LISTS}
ENCODINGS = {"utf-8": "UTF-8", "utf-16": "UTF-16", "cp1252": "Windows-1252"}


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def import_register(request: HttpRequest) -> HttpResponse:
    """Takes a register and tries it out; nothing is written to the houses by that."""
    form = RegisterForm(request.POST, request.FILES) if request.method == "POST" else RegisterForm()
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["register"]
        data = file.read()
        try:
            reading_of(data, on=clock.today())
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            kept = keep_register(data=data, name=file.name, by_user=signed_in(request), at=clock.now())
            return redirect("office:import_review", upload_id=kept.upload_id)
    context = {
        "form": form,
        "columns": tuple(zip(TEMPLATE, examples(known_models()), strict=True)),
        "waiting": latest_register(user_id=signed_in(request).pk, at=clock.now()),
    }
    return render(request, "office/import.html", context)


@require_safe
@staff_only(*DESK)
def import_template(request: HttpRequest) -> HttpResponse:
    """An empty register with the column names that are understood."""
    return _download(template_csv(), "register-template.csv")


@require_safe
@staff_only(*DESK)
def import_review(request: HttpRequest, upload_id: UUID) -> HttpResponse:
    """What the import would do, row by row; later, what it did."""
    kept = _own_upload(request, upload_id)
    review = review_of(kept, on=clock.today())
    counts = review.counts()
    asked = ImportRowsForm(request.GET).asked()
    shown = [row for row in review.rows if asked["show"] in ("", row.fate)]
    page = Paginator(shown, ROWS_PER_PAGE).get_page(asked["page"])
    context = {
        "kept": kept,
        "review": review,
        "progress": review.progress,
        "encoding": ENCODINGS[review.reading.encoding],
        "separator": DELIMITERS[review.reading.delimiter],
        "counts": [(fate, TONES[fate], WORDS[fate], count) for fate, count in counts.items()],
        "good": counts[Fate.GOOD],
        "cautions": counts[Fate.CAUTIONS],
        "bad": counts[Fate.BAD],
        "asked": asked,
        "page": page,
        "shown": [(row, TONES[row.fate], WORDS[row.fate]) for row in page],
        "previous_url": _page_address(asked, page.number - 1) if page.has_previous() else "",
        "next_url": _page_address(asked, page.number + 1) if page.has_next() else "",
    }
    return render(request, "office/import_review.html", context)


@require_POST
@staff_only(*DESK)
def import_take_over(request: HttpRequest, upload_id: UUID) -> HttpResponse:
    """Takes over the next few rows. The answer asks for the following ones by itself until all are done."""
    kept = _own_upload(request, upload_id)
    rows = reading_of(kept.data, on=clock.today()).rows
    kept = take_over_next(kept=kept, rows=rows, by_user=signed_in(request), at=clock.now())
    address = reverse("office:import_review", args=[upload_id])
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect(address)
    progress = progress_of(kept, rows, in_register(rows))
    if progress.state != "halted":
        return HttpResponseClientRedirect(address)
    context = {"kept": kept, "progress": progress, "is_running": True}
    return render(request, "office/import_taking.html", context)


@require_POST
@staff_only(*DESK)
def import_forget(request: HttpRequest, upload_id: UUID) -> HttpResponse:
    """Removes the upload; houses that were taken over stay."""
    kept = _own_upload(request, upload_id)
    forget_register(by_user=signed_in(request))
    messages.success(request, f"The file {kept.name} was removed from here.")
    return redirect("office:import_register")


@require_safe
@staff_only(*DESK)
def import_report(request: HttpRequest, upload_id: UUID) -> HttpResponse:
    """The report as a file."""
    kept, review = _reviewed(request, upload_id)
    return _download(report_csv(review.reading), f"{Path(kept.name).stem}-report.csv")


@require_safe
@staff_only(*DESK)
def import_bad_rows(request: HttpRequest, upload_id: UUID) -> HttpResponse:
    """The rows to mend and to feed again, as a file."""
    kept, review = _reviewed(request, upload_id)
    return _download(bad_rows_csv(review.reading), f"{Path(kept.name).stem}-to-mend.csv")


def _own_upload(request: HttpRequest, upload_id: UUID) -> KeptRegister:
    kept = kept_register(user_id=signed_in(request).pk, upload_id=upload_id, at=clock.now())
    if kept is None:
        raise Http404
    return kept


def _reviewed(request: HttpRequest, upload_id: UUID) -> tuple[KeptRegister, Review]:
    kept = _own_upload(request, upload_id)
    return kept, review_of(kept, on=clock.today())


def _download(text: str, name: str) -> HttpResponse:
    """A table for a spreadsheet program, which tells UTF-8 by the mark in front."""
    response = HttpResponse(text.encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = content_disposition_header(True, name) or "attachment"
    return response


def _page_address(asked: dict[str, Any], number: int) -> str:
    return f"?{urlencode({'show': asked['show'], 'page': number})}#rows"
