"""The report of a check-up as PDF, written for the owner."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from contractor.checkups.lines import Sheet, SheetLine
from contractor.checkups.models import Answer, CheckUp, Signature
from contractor.checkups.queries import drawn_parts, last_values
from contractor.checkups.rules.items import STEPS
from contractor.core.units import shown
from contractor.notices.printing import render_pdf
from contractor.systems.drawing import legend, section_drawing
from contractor.systems.models import Component

SIGNATURE_SIZE = (600, 200)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One measured value as the report prints it."""

    line: SheetLine
    value: str
    limits: str
    last: str


def report_pdf(checkup: CheckUp) -> bytes:
    """The report as PDF bytes."""
    return render_pdf("checkups/report.html", report_context(checkup), pdf_variant="pdf/ua-1")


def report_context(checkup: CheckUp) -> dict[str, object]:
    """What the report's template needs."""
    sheet = Sheet(checkup)
    before = last_values(checkup)
    parts = drawn_parts(system=checkup.system, on=checkup.done_on)
    ownership = checkup.system.property.ownerships.current(checkup.done_on).select_related("person").first()
    house = checkup.system.property
    svg = section_drawing(
        parts,
        title=f"The system at {house.street_line}",
        description="A section through the basement wall with the installed parts and their condition.",
        prefix="report",
        compact=True,
    )
    return {
        "checkup": checkup,
        "house": house,
        "owner": ownership.person if ownership else None,
        "drawing": mark_safe(svg),  # noqa: S308  # the drawing escapes every label itself
        "legend": legend(parts),
        "measured": [_measured(line, before, sheet.units) for line in sheet.lines if _has_figure(line)],
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


def _has_figure(line: SheetLine) -> bool:
    return line.verdict is not None and line.row.kind in {"measurement", "timed_test", "count"}


def _measured(line: SheetLine, before: dict[tuple[str, int | None], Answer], units: str) -> Measured:
    unit = _unit(line, units)
    earlier = before.get((line.row.code, line.component.pk if line.component else None))
    return Measured(
        line=line,
        value=_value(line, unit),
        limits=limits_in_words(line, unit),
        last=_last(earlier, unit) if earlier else "",
    )


def _unit(line: SheetLine, units: str) -> str:
    """The unit of the judged value: for a timed test that makes a flow, that of the flow."""
    if line.row.formula in {"pit_rise_inflow", "pump_down_flow"}:
        return "gal/min" if units == "US" else "L/min"
    return line.line.item.unit(units) or "count"


def _value(line: SheetLine, unit: str) -> str:
    if line.verdict is None or line.verdict.word == "not possible" or line.answer is None:
        return "not possible"
    value_si = line.verdict.value_si
    if value_si is None:
        value_si = line.answer.seconds if line.row.kind == "timed_test" else line.answer.number_si
    return "" if value_si is None else shown(value_si, unit)


def limits_in_words(line: SheetLine, unit: str) -> str:
    """Such as "at least 12.4 V", "6 in to 14 in", or nothing where the item has no limits."""
    low, high = line.row.good_low, line.row.good_high
    if low is not None and high is not None:
        return f"{shown(low, unit)} to {shown(high, unit)}"
    if low is not None:
        return f"at least {shown(low, unit)}"
    return f"at most {shown(high, unit)}" if high is not None else ""


def _last(answer: Answer, unit: str) -> str:
    if answer.item.formula in {"pit_rise_inflow", "pump_down_flow"}:
        return ""
    value_si = answer.seconds if answer.item.kind == "timed_test" else answer.number_si
    return "" if value_si is None else shown(value_si, unit)


def _signature_path(checkup: CheckUp) -> SafeString:
    """The drawn signature as the path of an SVG of 600 by 200; only numbers come out of what was stored."""
    signature = Signature.objects.filter(checkup=checkup).first()
    strokes = signature.strokes if signature else []
    width, height = SIGNATURE_SIZE
    pieces = []
    for stroke in strokes:
        points = [(float(x) * width, float(y) * height) for x, y in stroke]
        pieces.append("M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in points))
    return mark_safe(" ".join(pieces))  # noqa: S308  # numbers only
