"""Reads about check-ups for pages and for the rooms above."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q, QuerySet

from contractor.accounts.models import User
from contractor.checkups.lines import Sheet, finding_of
from contractor.checkups.models import Answer, ChecklistItem, CheckUp, Finding, OutsideRecord
from contractor.checkups.rules.outcomes import component_condition
from contractor.checkups.rules.verdicts import Verdict
from contractor.systems.drawing import DrawnPart
from contractor.systems.models import Component, System
from contractor.visits.models import Appointment, VisitKind
from contractor.visits.queries import round_of

# What an answer weighs when nothing was written down about it: the word of the verdict stands for the severity.
SEVERITY_OF_WORD = {"good": "", "watch": "watch", "bad": "bad", "not possible": ""}

# Visits that are made from a checklist; a repair or a claim call is noted on the house file.
KINDS_WITH_CHECKLIST = (VisitKind.CHECKUP, VisitKind.TRANSFER, VisitKind.REINSTATEMENT)


def checkup_lines(checkup: CheckUp) -> list[tuple[ChecklistItem, Component | None]]:
    """The lines of a check-up in walking order: which item, for which component (None for the house)."""
    return [(line.row, line.component) for line in Sheet(checkup).lines]


def latest_checkup(system: System, *, on: date | None = None) -> CheckUp | None:
    """The last finished check-up of a system, up to a day when one is given."""
    finished = CheckUp.objects.finished().filter(system=system)
    if on is not None:
        finished = finished.filter(done_on__lte=on)
    return finished.order_by("-done_on", "-pk").first()


def checkups_of(system: System) -> list[CheckUp]:
    """Every check-up of a system, the newest first, with ``is_passed``."""
    rows = CheckUp.objects.filter(system=system).with_passed().select_related("technician", "appointment")
    return list(rows.order_by("-done_on", "-pk"))


def component_conditions(*, system: System, on: date) -> dict[int, tuple[str, str]]:
    """How each part in place stands: component id to a condition word and a sentence.

    From the last finished check-up in which the part was looked at, and from findings that are still open.
    """
    return conditions_of(parts=Component.objects.in_place(on).filter(system=system), on=on)


def conditions_of(*, parts: QuerySet[Component], on: date) -> dict[int, tuple[str, str]]:
    """``component_conditions`` of any parts, of however many systems, in three queries."""
    ids = list(parts.values_list("pk", flat=True))
    latest: dict[int, int] = {}
    answers: dict[int, list[tuple[int, Verdict]]] = defaultdict(list)
    rows = (
        Answer.objects.standing()
        .filter(component__in=parts, checkup__finished_at__isnull=False, checkup__done_on__lte=on)
        .order_by("checkup__done_on", "checkup_id")
        .values_list("component_id", "checkup_id", "item_id", "item__severity", "verdict", "verdict_sentence")
    )
    for component_id, checkup_id, item_id, severity, word, sentence in rows:
        key = component_id or 0
        if latest.get(key) != checkup_id:
            latest[key], answers[key] = checkup_id, []
        answers[key].append((item_id, _verdict_of(word, sentence, severity)))
    findings: dict[int, list[Finding]] = defaultdict(list)
    for row in Finding.objects.filter(component__in=parts, raised_at__date__lte=on).select_related("item"):
        findings[row.component_id or 0].append(row)
    return {
        component_id: _condition(answers[component_id], findings[component_id], latest.get(component_id, 0))
        for component_id in ids
    }


def _condition(answers: list[tuple[int, Verdict]], findings: list[Finding], checkup_id: int) -> tuple[str, str]:
    # Only what was found at that very check-up: last year's repair says nothing about this year's answer.
    mended = {row.item_id for row in findings if row.done_at and row.checkup_id == checkup_id}
    still_open = [finding_of(row) for row in findings if row.done_at is None]
    condition = component_condition([verdict for item_id, verdict in answers if item_id not in mended], still_open)
    if condition.word == "unknown" and answers:
        return "good", "What was found was put right."
    return condition.word, condition.sentence


def drawn_parts(*, system: System, on: date) -> tuple[DrawnPart, ...]:
    """The parts of the section drawing with their condition as found."""
    conditions = component_conditions(system=system, on=on)
    placed = Component.objects.in_place(on).filter(system=system).select_related("model").order_by("in_on", "pk")
    drawn = []
    for component in placed:
        word, sentence = conditions.get(component.pk, ("unknown", ""))
        drawn.append(
            DrawnPart(
                kind=component.part_kind,
                label=str(component.model or component.kind.word.capitalize()),
                condition=word,
                note=sentence if word in {"watch", "bad"} else "",
                key=str(component.pk),
            )
        )
    return tuple(drawn)


@dataclass(frozen=True, slots=True, kw_only=True)
class CareEntry:
    """One check-up that the care clock may count: ours, or a record by somebody else that the office accepted."""

    done_on: date
    kind: str
    is_passed: bool
    by_us: bool
    provider: str
    checkup_id: int | None = None
    record_id: int | None = None


def care_record(system_id: int) -> list[CareEntry]:
    """Every finished check-up and accepted record of a system, the earliest first."""
    entries = [
        CareEntry(
            done_on=checkup.done_on,
            kind=checkup.kind,
            is_passed=bool(getattr(checkup, "is_passed", False)),
            by_us=True,
            provider=checkup.technician.name,
            checkup_id=checkup.pk,
        )
        for checkup in CheckUp.objects.finished().filter(system_id=system_id).with_passed().select_related("technician")
    ]
    entries += [
        CareEntry(
            done_on=record.done_on,
            kind="checkup",
            is_passed=True,
            by_us=record.by_us,
            provider=record.provider,
            record_id=record.pk,
        )
        for record in OutsideRecord.objects.accepted().filter(system_id=system_id)
    ]
    return sorted(entries, key=lambda entry: (entry.done_on, entry.checkup_id or 0, entry.record_id or 0))


def last_values(checkup: CheckUp) -> dict[tuple[str, int | None], Answer]:
    """The last answer to each line in an earlier finished check-up of the same system, by item code and component.

    A part that was swapped since has no last value: the figure belonged to the old one.
    """
    earlier = (
        Answer.objects.standing()
        .filter(checkup__system_id=checkup.system_id, checkup__finished_at__isnull=False)
        .filter(
            Q(checkup__done_on__lt=checkup.done_on) | Q(checkup__done_on=checkup.done_on, checkup_id__lt=checkup.pk)
        )
        .exclude(checkup_id=checkup.pk)
        .select_related("item", "checkup")
        .order_by("checkup__done_on", "checkup_id", "recorded_at")
    )
    return {(answer.item.code, answer.component_id): answer for answer in earlier}


def open_findings(*, system_id: int) -> list[Finding]:
    """What was found at any check-up of a system and is still to be put right, the gravest first."""
    rows = Finding.objects.still_open().filter(checkup__system_id=system_id)
    weights = {Finding.Severity.URGENT: 0, Finding.Severity.BAD: 1, Finding.Severity.WATCH: 2}
    found = rows.select_related("component__model", "checkup", "item", "raised_by")
    return sorted(found, key=lambda row: (weights[Finding.Severity(row.severity)], row.raised_at))


def _verdict_of(word: str, sentence: str, item_severity: str) -> Verdict:
    severity = SEVERITY_OF_WORD.get(word, "")
    if severity == "bad":
        severity = item_severity or "bad"
    return Verdict(word=word, sentence=sentence, severity=severity)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundStop:
    """One stop of a round with what the technician wants to know before ringing the bell."""

    appointment: Appointment
    checkup: CheckUp | None
    findings: tuple[Finding, ...]
    has_checklist: bool


def round_stops(*, technician: User, on: date) -> list[RoundStop]:
    """The stops of one technician on one day, in order, with what was begun and what was found last time."""
    stops = round_of(technician=technician, on=on)
    begun = {row.appointment_id: row for row in CheckUp.objects.filter(appointment__in=stops)}
    found: dict[int, list[Finding]] = defaultdict(list)
    systems = [stop.request.system_id for stop in stops]
    for row in Finding.objects.still_open().filter(checkup__system__in=systems).select_related("checkup", "component"):
        found[row.checkup.system_id].append(row)
    return [
        RoundStop(
            appointment=stop,
            checkup=begun.get(stop.pk),
            findings=tuple(found[stop.request.system_id]),
            has_checklist=stop.request.kind in KINDS_WITH_CHECKLIST,
        )
        for stop in stops
    ]


def rounds_ahead(*, technician: User, on: date, most: int = 6) -> list[tuple[date, int]]:
    """The next days on which a technician has stops, and how many."""
    days = (
        Appointment.objects.live()
        .filter(technician=technician, on__gt=on)
        .values_list("on")
        .annotate(stops=Count("pk"))
        .order_by("on")
    )
    return list(days[:most])
