"""The report of a check-up as PDF, written for the owner."""

from django.utils.safestring import SafeString, mark_safe

from contractor.checkups.drawings import drawing_of
from contractor.checkups.figures import WITH_FIGURE, figure_of
from contractor.checkups.lines import Sheet
from contractor.checkups.models import CheckUp, Signature
from contractor.checkups.queries import last_values
from contractor.checkups.rules.items import STEPS
from contractor.notices.printing import render_pdf
from contractor.notices.tagging import hide_repeating_pictures
from contractor.systems.models import Component

SIGNATURE_SIZE = (600, 200)


def report_pdf(checkup: CheckUp) -> bytes:
    """The report as PDF bytes."""
    return render_pdf(
        "checkups/report.html", report_context(checkup), pdf_variant="pdf/ua-1", finisher=hide_repeating_pictures
    )


def report_context(checkup: CheckUp) -> dict[str, object]:
    """What the report's template needs."""
    sheet = Sheet(checkup)
    before = last_values(checkup)
    ownership = checkup.system.property.ownerships.current(checkup.done_on).select_related("person").first()
    house = checkup.system.property
    return {
        "checkup": checkup,
        "house": house,
        "owner": ownership.person if ownership else None,
        **drawing_of(checkup),
        "measured": [
            (line, figure_of(line, before, sheet.units))
            for line in sheet.lines
            if line.verdict and line.row.kind in WITH_FIGURE
        ],
        "steps": _steps(sheet),
        "findings": sheet.findings,
        "pictures": [photo for photos in sheet.photos.values() for photo in photos][:12],
        "swaps": list(
            Component.objects.filter(system=checkup.system, in_on=checkup.done_on, replaces__isnull=False)
            .select_related("model", "replaces__model")
            .order_by("pk")
        ),
        "signature": Signature.objects.filter(checkup=checkup).first(),
        "signature_path": _signature_path(checkup),
        "outcome": sheet.outcome,
    }


def _steps(sheet: Sheet) -> list[dict[str, object]]:
    """For each walking step how many lines were good, and those that were not."""
    steps: list[dict[str, object]] = []
    for code, word in STEPS.items():
        lines = [line for line in sheet.lines if line.row.step == code and line.verdict]
        if lines:
            others = [line for line in lines if line.verdict and line.verdict.word != "good"]
            steps.append({"word": word, "good": len(lines) - len(others), "all": len(lines), "others": others})
    return steps


def _signature_path(checkup: CheckUp) -> SafeString:
    """The drawn signature as the path of an SVG of 600 by 200; only numbers come out of what was stored."""
    signature = Signature.objects.filter(checkup=checkup).first()
    strokes = signature.strokes if signature else []
    width, height = SIGNATURE_SIZE
    pieces = []
    for stroke in filter(None, strokes):
        points = [(float(x) * width, float(y) * height) for x, y in stroke]
        pieces.append("M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in points))
    return mark_safe(" ".join(pieces))  # noqa: S308  # numbers only
