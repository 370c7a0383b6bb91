"""A check-up as it stands: its checklist laid over the parts in place, with answers, photos, findings, verdicts.

One reading of the tables, in a fixed number of queries, for the page, the actions and the report alike.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.checkups.errors import NotOnThisCheckUp
from contractor.checkups.models import Answer, ChecklistItem, CheckUp, Finding, Photo, Signature
from contractor.checkups.rules.items import Item, read_item
from contractor.checkups.rules.outcomes import Finding as Found
from contractor.checkups.rules.outcomes import Outcome, outcome, verdicts_of
from contractor.checkups.rules.verdicts import NOT_POSSIBLE, Reading, Verdict
from contractor.checkups.rules.walk import Line, LineKey, Part, lines_for
from contractor.systems.models import Component
from contractor.visits.models import Appointment, VisitKind

# A repair or a claim call uses of the list what it needs; every other visit answers all of it.
PARTIAL_KINDS: Final = (VisitKind.REPAIR, VisitKind.CLAIM)
OPEN_STATES: Final = (Appointment.State.PLANNED, Appointment.State.CONFIRMED)
# The fields of a checklist's item that the table keeps.
ITEM_COLUMNS: Final = tuple(
    field.name
    for field in fields(Item)
    if field.name in {column.name for column in ChecklistItem._meta.concrete_fields}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDo:
    """One thing that is missing before a check-up can be finished, and the place on the page where it is done."""

    anchor: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything about one check-up. ``system`` is "US" or "metric"; keys are (item code, component id or None)."""

    checkup: CheckUp
    system: str
    items: Mapping[str, ChecklistItem]
    components: Mapping[int, Component]
    lines: tuple[Line, ...]
    answers: Mapping[LineKey, Answer]
    readings: Mapping[LineKey, Reading]
    photos: Sequence[Photo]
    findings: Sequence[Finding]
    signature: Signature | None
    verdicts: Mapping[LineKey, Verdict]
    outcome: Outcome

    @property
    def is_open(self) -> bool:
        """Whether something can still be entered."""
        return self.checkup.finished_at is None and self.checkup.appointment.state in OPEN_STATES

    @property
    def asked(self) -> tuple[Line, ...]:
        """The lines that must be done: all of them, or on a repair those that were taken up."""
        return _asked(self.checkup, self.lines, self.readings)

    def line(self, item_id: int, component_id: int | None) -> Line:
        """The line of an item for a component. Raises NotOnThisCheckUp when it isn't asked here."""
        for line in self.lines:
            if (self.items[line.item.code].pk, component_of(line)) == (item_id, component_id):
                return line
        raise NotOnThisCheckUp

    def anchor(self, line: Line) -> str:
        """The name of a line's place on the page."""
        return f"line-{self.items[line.item.code].pk}-{component_of(line) or 0}"

    def photos_of(self, key: LineKey) -> list[Photo]:
        """The photos taken for one line."""
        code, component_id = key
        item_id = self.items[code].pk
        return [photo for photo in self.photos if (photo.item_id, photo.component_id) == (item_id, component_id)]

    @property
    def sha256(self) -> str:
        """The hash of all that was on the screen: answers, photos, findings and the parts in place."""
        body = {
            "answers": sorted(str(answer.pk) for answer in self.answers.values()),
            "photos": sorted(photo.original_sha256 for photo in self.photos),
            "findings": sorted([str(found.pk), found.done_at is not None] for found in self.findings),
            "parts": sorted({component_of(line) or 0 for line in self.lines}),
        }
        return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()

    @property
    def signature_holds(self) -> bool:
        """Whether what was signed is still what is there; "nobody at home" signs nothing and always holds."""
        signed = self.signature
        if signed is None:
            return False
        return signed.kind == Signature.Kind.NOBODY_HOME or signed.signed_sha256 == self.sha256

    @property
    def to_do(self) -> tuple[ToDo, ...]:
        """What is missing before it can be finished, in walking order, the signature last."""
        found = [ToDo(anchor=self.anchor(one.line), sentence=self._sentence(one)) for one in self.outcome.missing]
        if not (self.answers or self.photos or self.findings):
            found.append(ToDo(anchor="list", sentence="Enter at least one thing that was looked at or done."))
        if self.signature is None:
            found.append(ToDo(anchor="sign", sentence="Let the owner sign, or say that nobody is at home."))
        elif not self.signature_holds:
            sentence = "Something changed after the signature: show the owner what is new and let them sign again."
            found.append(ToDo(anchor="sign", sentence=sentence))
        return tuple(found)

    def _sentence(self, missing: Any) -> str:
        """The rule's sentence, with the place of the part instead of its number where a kind is there twice."""
        component_id = component_of(missing.line)
        if component_id is None:
            return str(missing.sentence)
        part = self.components[component_id]
        raw = f" ({part.part_kind.replace('_', ' ')} {component_id})"
        return str(missing.sentence).replace(raw, f" ({part_name(part)})")


def component_of(line: Line) -> int | None:
    """The id of the component that a line asks about; None for the house."""
    return int(line.part.component_id) if line.part else None


def part_name(component: Component) -> str:
    """How a part is told from another of its kind: serial number, else place."""
    return component.serial_number or component.place or component.kind.word


def units_of(company: Company) -> str:
    """The system of units in the words of ``core/units``."""
    return "US" if company.units == Company.Units.US else "metric"


def rule_item(row: ChecklistItem) -> Item:
    """An item of the table as the rules take it."""
    return read_item({name: getattr(row, name) for name in ITEM_COLUMNS})


def read_sheet(checkup: CheckUp) -> Sheet:
    """The sheet of a check-up."""
    system = units_of(the_company())
    rows = {row.code: row for row in ChecklistItem.objects.filter(checklist_id=checkup.checklist_id)}
    components = {part.pk: part for part in Component.objects.filter(system_id=checkup.system_id).select_related("model")}
    lines = lines_for([rule_item(row) for row in rows.values()], _parts(checkup, components))
    answers = {_key(answer): answer for answer in checkup.answers.standing().select_related("item", "recorded_by")}
    photos = list(checkup.photos.select_related("item"))
    findings = list(checkup.findings.select_related("item", "component", "done_by"))
    readings = _readings(answers, photos, rows)
    if checkup.finished_at is not None:
        lines = tuple(line for line in lines if line.key in readings)
    asked = _asked(checkup, lines, readings)
    return Sheet(
        checkup=checkup,
        system=system,
        items=rows,
        components=components,
        lines=lines,
        answers=answers,
        readings=readings,
        photos=photos,
        findings=findings,
        signature=Signature.objects.filter(checkup=checkup).first(),
        verdicts=verdicts_of(lines, readings, system),
        outcome=outcome(asked, readings, [_found(finding) for finding in findings], system),
    )


def reading_of(answer: Answer, photos: int) -> Reading:
    """An answer of the table as the rules take it. A photo that was taken after all goes before "not possible"."""
    taken_after_all = answer.item.kind == "photo" and photos > 0
    condition = "" if taken_after_all else answer.condition
    return Reading(
        condition=condition,
        number_si=answer.number_si,
        seconds=answer.seconds,
        text=answer.text,
        because=answer.because,
        photos=photos,
        no_photo_because="" if condition == NOT_POSSIBLE else answer.because,
    )


def _key(answer: Answer) -> LineKey:
    return answer.item.code, answer.component_id


def _found(finding: Finding) -> Found:
    return Found(
        severity=finding.severity,
        what=finding.what,
        what_to_do=finding.what_to_do,
        done=finding.done_at is not None,
        item_code=finding.item.code if finding.item else "",
        component_id=finding.component_id,
    )


def _asked(checkup: CheckUp, lines: tuple[Line, ...], readings: Mapping[LineKey, Reading]) -> tuple[Line, ...]:
    if checkup.kind not in PARTIAL_KINDS:
        return lines
    return tuple(line for line in lines if line.key in readings)


def _parts(checkup: CheckUp, components: Mapping[int, Component]) -> list[Part]:
    """The parts in place on the day, each where the first of its chain stood, so that a swap moves nothing."""

    def first_of_chain(part: Component) -> int:
        while part.replaces_id is not None:
            part = components[part.replaces_id]
        return part.pk

    in_place = [
        part
        for part in components.values()
        if part.in_on <= checkup.done_on and (part.out_on is None or part.out_on > checkup.done_on)
    ]
    return [
        Part(component_id=part.pk, part_kind=part.part_kind, data=part.declared)
        for part in sorted(in_place, key=first_of_chain)
    ]


def _readings(
    answers: Mapping[LineKey, Answer], photos: Sequence[Photo], rows: Mapping[str, ChecklistItem]
) -> dict[LineKey, Reading]:
    codes = {row.pk: row.code for row in rows.values()}
    taken: dict[LineKey, int] = defaultdict(int)
    for photo in photos:
        if photo.item_id is not None:
            taken[codes[photo.item_id], photo.component_id] += 1
    readings = {key: Reading(photos=count) for key, count in taken.items()}
    for key, answer in answers.items():
        readings[key] = reading_of(answer, taken[key])
    return readings
