"""Lays the tables of one check-up over the pure rules: its lines, readings, verdicts and findings.

Reads only. What a page, an action and a report need to know about a check-up comes from ``Sheet``.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Q, QuerySet

from contractor.accounts.queries import the_company
from contractor.checkups.models import Answer, Checklist, ChecklistItem, CheckUp, Photo
from contractor.checkups.models import Finding as FindingRow
from contractor.checkups.rules.items import Item, read_item
from contractor.checkups.rules.outcomes import Finding, Outcome, outcome, verdicts_of
from contractor.checkups.rules.verdicts import Reading, Verdict
from contractor.checkups.rules.walk import Line, LineKey, Part, lines_for
from contractor.systems.models import AsBuilt, Component

ITEM_FIELDS = (
    "code",
    "part_kind",
    "step",
    "position",
    "kind",
    "subject",
    "prompt",
    "how",
    "quantity",
    "unit_us",
    "unit_metric",
    "good_low",
    "good_high",
    "watch_low",
    "watch_high",
    "caution",
    "consequence",
    "when_watch",
    "what_to_do",
    "severity",
    "photo",
    "required",
    "formula",
    "applies_to",
    "feeds",
    "source",
)
NULL_WHEN_EMPTY = ("quantity", "unit_us", "unit_metric", "formula", "feeds")


def item_of(row: ChecklistItem) -> Item:
    """The rule's item for a row of a checklist; a row was checked by the reader of checklists before it was kept."""
    given = _given(row)
    applies_to = tuple((key, tuple(accepted)) for key, accepted in (given.pop("applies_to") or {}).items())
    return Item(**given, applies_to=applies_to)


def check_item(row: ChecklistItem) -> None:
    """Lets the reader of checklists look at a changed row: UnreadableChecklist names what doesn't go together."""
    read_item(_given(row), row.code)


def _given(row: ChecklistItem) -> dict[str, Any]:
    given = {name: getattr(row, name) for name in ITEM_FIELDS}
    return {**given, **{name: given[name] or None for name in NULL_WHEN_EMPTY}}


def units_in_use() -> str:
    """The units that people of this company read: "US" or "metric"."""
    return "US" if the_company().units == "us" else "metric"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One line of a check-up as its page shows it."""

    row: ChecklistItem
    component: Component | None
    line: Line
    answer: Answer | None
    verdict: Verdict | None
    photos: tuple[Photo, ...]
    findings: tuple[FindingRow, ...]


class Sheet:
    """Everything recorded in one check-up, read with a fixed number of queries however much it is.

    With ``about``, only that item and those that its verdict depends on: the basement's temperature and the inflow.
    """

    def __init__(self, checkup: CheckUp, *, about: ChecklistItem | None = None) -> None:
        self.checkup = checkup
        self.units = units_in_use()
        self._wanted = Q()
        if about is not None:
            self._wanted = Q(pk=about.pk) | Q(feeds="basement.temperature_c") | Q(formula="pit_rise_inflow")

    @cached_property
    def components(self) -> dict[int, Component]:
        """The parts in place on the day of the check-up, after what was swapped in it, in the order they went in."""
        placed = Component.objects.in_place(self.checkup.done_on).filter(system_id=self.checkup.system_id)
        return {component.pk: component for component in placed.select_related("model").order_by("in_on", "pk")}

    @cached_property
    def rows(self) -> dict[str, ChecklistItem]:
        """The items of its checklist by code."""
        return {row.code: row for row in self._items()}

    def _items(self) -> QuerySet[ChecklistItem]:
        return ChecklistItem.objects.filter(self._wanted, checklist_id=self.checkup.checklist_id)

    @cached_property
    def walk(self) -> tuple[Line, ...]:
        """The lines in walking order."""
        parts = [
            Part(component_id=component.pk, part_kind=component.part_kind, data=self._known_of(component))
            for component in self.components.values()
        ]
        return lines_for([item_of(row) for row in self.rows.values()], parts)

    def _known_of(self, component: Component) -> dict[str, Any]:
        """What the maker declares; a pit of unknown make is as wide as it was measured when it was built."""
        known = component.declared
        if component.part_kind == "pit" and not known.get("diameter_m"):
            as_built = AsBuilt.objects.filter(system_id=self.checkup.system_id).first()
            known["diameter_m"] = as_built.pit_diameter_m if as_built else None
        return known

    @cached_property
    def answers(self) -> dict[LineKey, Answer]:
        """The standing answer of each line; where two stand side by side, the later recorded one."""
        standing = Answer.objects.standing().filter(checkup=self.checkup).select_related("item", "recorded_by")
        if self._wanted:
            standing = standing.filter(item__in=self._items())
        return {(answer.item.code, answer.component_id): answer for answer in standing.order_by("recorded_at", "pk")}

    @cached_property
    def photos(self) -> dict[LineKey, list[Photo]]:
        """The photos of each line; those of the check-up as a whole stand under ("", None)."""
        found: dict[LineKey, list[Photo]] = defaultdict(list)
        for photo in Photo.objects.filter(checkup=self.checkup).select_related("item"):
            found[photo.item.code if photo.item else "", photo.component_id].append(photo)
        return found

    @cached_property
    def findings(self) -> list[FindingRow]:
        """Every finding of this check-up, the earliest first."""
        rows = FindingRow.objects.filter(checkup=self.checkup).select_related("item", "component__model", "done_by")
        return list(rows.order_by("raised_at", "pk"))

    @cached_property
    def readings(self) -> Mapping[LineKey, Reading]:
        """The standing answers, and the photos of lines that ask for nothing else, as the rules read them."""
        found = {key: reading_of(answer, photos=len(self.photos.get(key, ()))) for key, answer in self.answers.items()}
        for line in self.walk:
            if line.key not in found and self.photos.get(line.key):
                found[line.key] = Reading(photos=len(self.photos[line.key]))
        return found

    @cached_property
    def verdicts(self) -> Mapping[LineKey, Verdict]:
        """The verdict of each answered line."""
        return verdicts_of(self.walk, self.readings, self.units)

    @cached_property
    def outcome(self) -> Outcome:
        """What the check-up comes to as it stands."""
        return outcome(self.walk, self.readings, [finding_of(row) for row in self.findings], self.units)

    @cached_property
    def lines(self) -> tuple[SheetLine, ...]:
        """The lines with everything that belongs to them."""
        by_line: dict[LineKey, list[FindingRow]] = defaultdict(list)
        for row in self.findings:
            by_line[row.item.code if row.item else "", row.component_id].append(row)
        return tuple(
            SheetLine(
                row=self.rows[line.item.code],
                component=self.components[int(line.part.component_id)] if line.part else None,
                line=line,
                answer=self.answers.get(line.key),
                verdict=self.verdicts.get(line.key),
                photos=tuple(self.photos.get(line.key, ())),
                findings=tuple(by_line.get(line.key, ())),
            )
            for line in self.walk
        )


def reading_of(answer: Answer, *, photos: int = 0) -> Reading:
    """An answer as the rules read it."""
    return Reading(
        condition="not possible" if answer.condition == "not_possible" else answer.condition,
        number_si=answer.number_si,
        seconds=answer.seconds,
        text=answer.text,
        because=answer.because,
        photos=photos,
        no_photo_because=answer.because,
    )


def finding_of(row: FindingRow) -> Finding:
    """A finding as the rules read it."""
    return Finding(
        severity=row.severity,
        what=row.what,
        what_to_do=row.what_to_do,
        done=row.done_at is not None,
        item_code=row.item.code if row.item else "",
        component_id=row.component_id,
    )


def published_checklist() -> Checklist | None:
    """The edition that a new check-up is made from."""
    return Checklist.objects.published().first()


def content_sha256(checkup: CheckUp) -> str:
    """The hash of everything that the check-up says: answers, findings, photos, the parts that are in place.

    A signature is over this.
    """
    parts = Component.objects.in_place(checkup.done_on).filter(system_id=checkup.system_id)
    content = {
        "answers": sorted(str(pk) for pk in checkup.answers.standing().values_list("pk", flat=True)),
        "findings": sorted(str(pk) for pk in checkup.findings.values_list("pk", flat=True)),
        "parts": sorted(parts.values_list("pk", flat=True)),
        "photos": sorted(checkup.photos.values_list("original_sha256", flat=True)),
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
