"""Reads about check-ups: conditions of parts, last values, the record of care."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, QuerySet

from contractor.accounts.models import User
from contractor.checkups.models import Answer, Checklist, ChecklistItem, CheckUp, Finding, OutsideRecord
from contractor.checkups.rules.outcomes import Finding as Found
from contractor.checkups.rules.outcomes import component_condition
from contractor.checkups.rules.verdicts import BAD, WATCH, Reading, Verdict
from contractor.checkups.rules.walk import LineKey
from contractor.checkups.sheet import OPEN_STATES, PARTIAL_KINDS, Sheet, component_of, read_sheet
from contractor.checkups.wording import value_in_words
from contractor.systems.drawing import DrawnPart
from contractor.systems.models import Component, System
from contractor.visits.models import Appointment, VisitKind
from contractor.visits.queries import round_of


@dataclass(frozen=True, slots=True, kw_only=True)
class LastValue:
    """What the check-up before said at a line: the value as people read it, and its verdict."""

    on: date
    text: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CareEntry:
    """One check-up that counts for care: ours when finished, another's when accepted."""

    done_on: date
    kind: str
    is_passed: bool
    by_us: bool
    provider: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop of a round with what the technician should know before the door opens."""

    appointment: Appointment
    checkup: CheckUp | None
    findings: tuple[Finding, ...]
    parts: tuple[DrawnPart, ...]

    @property
    def is_open(self) -> bool:
        return self.appointment.state in OPEN_STATES


def whole_checkups() -> QuerySet[CheckUp]:
    """Check-ups with everything that a page or report names beside the lines."""
    return CheckUp.objects.select_related(
        "appointment__request", "appointment__technician", "system__property", "checklist", "technician"
    )


def checkups_of(system: System) -> QuerySet[CheckUp]:
    """Every check-up of a system with ``is_passed``, newest first."""
    return CheckUp.objects.with_passed().filter(system=system).select_related("technician").order_by("-done_on", "-pk")


def latest_checkup(system: System) -> CheckUp | None:
    """The latest finished check-up of a system; repairs and claim calls don't count."""
    finished = CheckUp.objects.finished().filter(system=system).exclude(kind__in=PARTIAL_KINDS)
    return finished.order_by("done_on", "pk").last()


def checkup_lines(checkup: CheckUp) -> list[tuple[ChecklistItem, Component | None]]:
    """The lines of a check-up in walking order: an item, and the component it asks about."""
    sheet = read_sheet(checkup)
    return [(sheet.items[line.item.code], _component(sheet, component_of(line))) for line in sheet.lines]


def _component(sheet: Sheet, component_id: int | None) -> Component | None:
    return None if component_id is None else sheet.components[component_id]


def component_conditions(*, system: System, on: date) -> dict[int, tuple[str, str]]:
    """How each part in place stands on a day: good, watch, bad or unknown, and the sentence that says why."""
    return _conditions({system.pk: list(Component.objects.in_place(on).filter(system=system))}, on)


def drawn_parts(*, system: System, on: date) -> tuple[DrawnPart, ...]:
    """The parts of the section drawing, each with its condition as found."""
    parts = list(Component.objects.in_place(on).filter(system=system).select_related("model"))
    return parts_to_draw(parts, _conditions({system.pk: parts}, on))


def parts_to_draw(parts: Iterable[Component], conditions: Mapping[int, tuple[str, str]]) -> tuple[DrawnPart, ...]:
    """Parts for the section drawing; what is good needs no note."""
    drawn = []
    for part in parts:
        word, sentence = conditions.get(part.pk, ("unknown", ""))
        drawn.append(
            DrawnPart(
                kind=part.part_kind,
                label=str(part.model) if part.model else part.place,
                condition=word,
                note=sentence if word in {WATCH, BAD} else "",
                key=str(part.pk),
            )
        )
    return tuple(drawn)


def sheet_conditions(sheet: Sheet, before: Mapping[int, tuple[str, str]]) -> dict[int, tuple[str, str]]:
    """Conditions as they stand in a check-up that is being done; what it hasn't seen yet stands as ``before``."""
    verdicts: dict[int, list[Verdict]] = defaultdict(list)
    put_right = {
        (found.item.code if found.item else "", found.component_id)
        for found in sheet.findings
        if found.done_at is not None
    }
    for (code, component_id), verdict in sheet.verdicts.items():
        if component_id is not None:
            right = (code, component_id) in put_right
            verdicts[int(component_id)].append(_PUT_RIGHT if right else verdict)
    conditions = dict(before)
    for component_id, said in verdicts.items():
        open_findings = [f for f in sheet.findings if f.component_id == component_id and f.done_at is None]
        standing = component_condition(said, [_found(finding) for finding in open_findings])
        conditions[component_id] = (standing.word, standing.sentence)
    return conditions


_PUT_RIGHT = Verdict(word="good", sentence="Put right.")


def _conditions(parts: Mapping[int, Sequence[Component]], on: date) -> dict[int, tuple[str, str]]:
    """From the latest finished check-up that looked at each part, and every finding on it that was open that day."""
    ids = [part.pk for of_system in parts.values() for part in of_system]
    verdicts = _latest_verdicts(ids, on)
    findings: dict[int, list[Found]] = defaultdict(list)
    raised = Finding.objects.filter(component_id__in=ids, checkup__finished_at__isnull=False, checkup__done_on__lte=on)
    for finding in raised.still_open():  # type: ignore[attr-defined]  # the manager's own query set
        findings[finding.component_id].append(_found(finding))
    conditions = {}
    for component_id in ids:
        standing = component_condition(verdicts[component_id], findings[component_id])
        conditions[component_id] = (standing.word, standing.sentence)
    return conditions


def _found(finding: Finding) -> Found:
    return Found(severity=finding.severity, what=finding.what, what_to_do=finding.what_to_do)


def _latest_verdicts(component_ids: Sequence[int], on: date) -> dict[int, list[Verdict]]:
    put_right = set(
        Finding.objects.filter(component_id__in=component_ids, done_at__isnull=False, item__isnull=False).values_list(
            "checkup_id", "item_id", "component_id"
        )
    )
    answers = (
        Answer.objects.standing()
        .filter(component_id__in=component_ids, checkup__finished_at__isnull=False, checkup__done_on__lte=on)
        .order_by("checkup__done_on", "checkup_id")
        .values_list("checkup_id", "item_id", "component_id", "verdict", "verdict_sentence", "item__severity")
    )
    latest: dict[int, int] = {}
    verdicts: dict[int, list[Verdict]] = defaultdict(list)
    for checkup_id, item_id, component_id, word, sentence, severity in answers:
        if component_id is None:
            continue
        if latest.get(component_id) != checkup_id:
            latest[component_id] = checkup_id
            verdicts[component_id] = []
        if (checkup_id, item_id, component_id) in put_right:
            verdicts[component_id].append(_PUT_RIGHT)
        else:
            weight = {WATCH: "watch", BAD: severity}.get(word, "")
            verdicts[component_id].append(Verdict(word=word, sentence=sentence, severity=weight))
    return verdicts


def last_values(checkup: CheckUp) -> dict[LineKey, LastValue]:
    """What the check-up before this one said at each line, for the same part."""
    earlier = (
        CheckUp.objects.finished()
        .filter(system_id=checkup.system_id, done_on__lte=checkup.done_on)
        .exclude(pk=checkup.pk)
        .exclude(kind__in=PARTIAL_KINDS)
        .order_by("done_on", "pk")
        .last()
    )
    if earlier is None:
        return {}
    sheet = read_sheet(earlier)
    return {
        line.key: LastValue(
            on=earlier.done_on,
            text=value_in_words(line.item, sheet.readings.get(line.key, Reading()), verdict, sheet.system),
            word=verdict.word,
        )
        for line in sheet.lines
        if (verdict := sheet.verdicts.get(line.key)) is not None
    }


def stops_of(*, technician: User, on: date) -> list[Stop]:
    """A technician's round on a day, in a fixed number of queries."""
    appointments = round_of(technician=technician, on=on)
    systems = {stop.request.system_id for stop in appointments}
    checkups = {checkup.appointment_id: checkup for checkup in CheckUp.objects.filter(appointment__in=appointments)}
    parts: dict[int, list[Component]] = defaultdict(list)
    for part in Component.objects.in_place(on).filter(system_id__in=systems).select_related("model"):
        parts[part.system_id].append(part)
    conditions = _conditions(parts, on)
    findings: dict[int, list[Finding]] = defaultdict(list)
    still_open = Finding.objects.still_open().filter(checkup__system_id__in=systems)
    for finding in still_open.select_related("component", "checkup"):
        findings[finding.checkup.system_id].append(finding)
    return [
        Stop(
            appointment=stop,
            checkup=checkups.get(stop.pk),
            findings=tuple(findings[stop.request.system_id]),
            parts=parts_to_draw(parts[stop.request.system_id], conditions),
        )
        for stop in appointments
    ]


def days_with_stops(*, technician: User, around: date) -> list[tuple[date, int]]:
    """The technician's days from a day on that have stops, each with how many; at most seven."""
    days: dict[date, int] = defaultdict(int)
    coming = Appointment.objects.live().filter(technician=technician, on__gte=around).order_by("on")
    for on in coming.values_list("on", flat=True):
        days[on] += 1
    return list(days.items())[:7]


def unfinished_before(*, technician: User, on: date) -> list[CheckUp]:
    """Check-ups of earlier days that were started and can still be finished."""
    started = whole_checkups().filter(technician=technician, finished_at__isnull=True, appointment__on__lt=on)
    return list(started.filter(appointment__state__in=OPEN_STATES))


def care_record(system_id: int) -> list[CareEntry]:
    """Every check-up that is on record for a system, our own and accepted ones from outside, oldest first."""
    own = CheckUp.objects.finished().with_passed().filter(system_id=system_id)
    entries = [
        CareEntry(done_on=on, kind=kind, is_passed=passed, by_us=True)
        for on, kind, passed in own.values_list("done_on", "kind", "is_passed")  # type: ignore[misc]  # annotated
    ]
    accepted = OutsideRecord.objects.accepted().filter(system_id=system_id)
    entries += [
        CareEntry(done_on=on, kind=VisitKind.CHECKUP, is_passed=True, by_us=by_us, provider=provider)
        for on, by_us, provider in accepted.values_list("done_on", "by_us", "provider")
    ]
    return sorted(entries, key=lambda entry: entry.done_on)


def checklists() -> QuerySet[Checklist]:
    """Every edition, newest first, with who published it."""
    return Checklist.objects.select_related("published_by").prefetch_related(
        Prefetch("items", ChecklistItem.objects.only("pk", "checklist_id"))
    )


def reports_missing() -> list[int]:
    """Finished check-ups that have no report yet, oldest first."""
    return list(
        CheckUp.objects.finished().filter(report__isnull=True).order_by("finished_at").values_list("pk", flat=True)[:100]
    )
