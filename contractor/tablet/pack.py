"""The pack: everything that a technician needs underground on the next days, and nothing of anybody else's rounds.

Read with a fixed number of queries however many stops there are.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any

from django.conf import settings

from contractor.accounts.models import Role, User
from contractor.accounts.queries import the_company
from contractor.checkups.lines import item_of, published_checklist, units_in_use
from contractor.checkups.models import Answer, ChecklistItem, CheckUp, Finding, Signature
from contractor.checkups.queries import KINDS_WITH_CHECKLIST, conditions_of
from contractor.checkups.rules.items import Item
from contractor.checkups.rules.walk import Part, lines_for
from contractor.core.units import UNITS, factor_and_offset
from contractor.estimates.models import LifeEstimate
from contractor.systems.models import AsBuilt, CatalogueModel, Component
from contractor.systems.part_kinds import PART_KINDS
from contractor.tablet.models import Event
from contractor.tablet.pack_stop import Around, Pieces, stop_of
from contractor.tablet.pack_words import item_told
from contractor.tablet.rules.heads import heads_of
from contractor.tablet.told import read_events
from contractor.visits.models import Appointment
from contractor.visits.queries import appointments_to_show

LONGEST_PX, QUALITY = 2048, 0.82


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """The pack as plain data, and a short hash of all of it."""

    content: dict[str, Any]
    etag: str


def pack_for(*, person: User, on: date, days: int, epoch: str, client: str) -> Pack:
    """The pack of one person for ``days`` days from ``on``, with visits begun earlier and not finished."""
    reading = _Reading(person=person, on=on, until=on + timedelta(days=days - 1))
    company, pieces = the_company(), Pieces()
    visits = [stop_of(stop, reading.around(stop), pieces) for stop in reading.stops]
    content = {
        "v": 1,
        "epoch": epoch,
        "person": {"id": person.pk, "name": person.name},
        "people": reading.people,
        "company": {
            "name": company.name,
            "phone": company.phone,
            "units": company.units,
            "zone": settings.TIME_ZONE,
        },
        "client": client,
        "photo": {"longest_px": LONGEST_PX, "quality": QUALITY},
        "visits": visits,
        "pieces": pieces.all,
        "checklists": reading.checklists,
        "models": reading.models,
        "kinds": {kind.code: {"word": kind.word, "serial": kind.serial} for kind in PART_KINDS},
        "units": {code: _unit(code) for code in UNITS},
        "words": {"units": reading.units},
    }
    text = json.dumps(content, sort_keys=True, default=str)
    return Pack(content=content, etag=hashlib.sha256(text.encode()).hexdigest()[:32])


def _unit(code: str) -> dict[str, Any]:
    unit = UNITS[code]
    return {
        "symbol": unit.symbol,
        "quantity": unit.quantity,
        "to_si": list(factor_and_offset(code)),
        "digits": unit.digits,
        "fixed": unit.fixed,
        "also": list(unit.also),
    }


class _Reading:
    """The rows behind one pack, each table once."""

    def __init__(self, *, person: User, on: date, until: date) -> None:
        self.person, self.on, self.until = person, on, until
        self.units = units_in_use()

    @cached_property
    def stops(self) -> list[Appointment]:
        if self.person.role != Role.TECHNICIAN:
            return []
        mine = appointments_to_show().filter(technician=self.person)
        ahead = mine.live().filter(on__gte=self.on, on__lte=self.until)
        begun = mine.live().filter(on__lt=self.on, checkup__finished_at__isnull=True, checkup__isnull=False)
        return list(begun) + list(ahead)

    @cached_property
    def _systems(self) -> list[int]:
        return [stop.request.system_id for stop in self.stops]

    @cached_property
    def _checkups(self) -> dict[int, CheckUp]:
        rows = CheckUp.objects.filter(appointment__in=self.stops).select_related("checklist")
        return {row.appointment_id: row for row in rows}

    @cached_property
    def _editions(self) -> dict[int, tuple[int, list[ChecklistItem]]]:
        """Edition and items by the checklist's number: the newest, and those that begun check-ups were made from."""
        newest = published_checklist()
        lists = {row.checklist_id: row.checklist.edition for row in self._checkups.values()}
        if newest is not None:
            lists[newest.pk] = newest.edition
        items: dict[int, list[ChecklistItem]] = defaultdict(list)
        for item in ChecklistItem.objects.filter(checklist__in=lists):
            items[item.checklist_id].append(item)
        return {pk: (edition, items[pk]) for pk, edition in lists.items()}

    @cached_property
    def checklists(self) -> dict[str, Any]:
        return {
            str(edition): {"items": {row.code: item_told(item_of(row), self.units) for row in rows}}
            for edition, rows in self._editions.values()
        }

    @cached_property
    def _items(self) -> dict[int, tuple[int, list[Item]]]:
        return {pk: (edition, [item_of(row) for row in rows]) for pk, (edition, rows) in self._editions.items()}

    @cached_property
    def _parts(self) -> dict[int, list[Component]]:
        placed = Component.objects.in_place(self.on).filter(system__in=self._systems).select_related("model")
        return _grouped(placed.order_by("in_on", "pk"), lambda row: row.system_id)

    @cached_property
    def _as_built(self) -> dict[int, AsBuilt]:
        return {row.system_id: row for row in AsBuilt.objects.filter(system__in=self._systems)}

    @cached_property
    def _conditions(self) -> dict[int, tuple[str, str]]:
        placed = Component.objects.in_place(self.on).filter(system__in=self._systems)
        return conditions_of(parts=placed, on=self.on)

    @cached_property
    def _estimates(self) -> dict[int, list[LifeEstimate]]:
        rows = LifeEstimate.objects.filter(component__system__in=self._systems, component__out_on__isnull=True)
        return _grouped(rows.select_related("component"), lambda row: row.component.system_id)

    @cached_property
    def _findings(self) -> dict[int, list[Finding]]:
        rows = Finding.objects.still_open().filter(checkup__system__in=self._systems).select_related("checkup")
        return _grouped(rows.order_by("raised_at", "pk"), lambda row: row.checkup.system_id)

    @cached_property
    def _last(self) -> dict[int, dict[tuple[str, int | None], Answer]]:
        """The last answer to each line of each system in a finished check-up, and by which item."""
        rows = (
            Answer.objects.standing()
            .filter(checkup__system__in=self._systems, checkup__finished_at__isnull=False)
            .select_related("item", "checkup")
            .order_by("checkup__done_on", "checkup_id", "recorded_at", "pk")
        )
        last: dict[int, dict[tuple[str, int | None], Answer]] = defaultdict(dict)
        for row in rows:
            last[row.checkup.system_id][row.item.code, row.component_id] = row
        return last

    @cached_property
    def _events(self) -> dict[int, list[Event]]:
        rows = Event.objects.filter(appointment__in=self.stops).order_by("received_at", "id")
        return _grouped(rows, lambda row: row.appointment_id)

    @cached_property
    def _desk(self) -> frozenset[int]:
        return frozenset(User.objects.exclude(role=Role.TECHNICIAN).values_list("pk", flat=True))

    @cached_property
    def people(self) -> dict[str, str]:
        """Names of colleagues whose answers stand at these visits, by their number."""
        authors = {event.actor_id for events in self._events.values() for event in events} - {self.person.pk}
        if not authors:
            return {}
        return {str(pk): name for pk, name in User.objects.filter(pk__in=authors).values_list("pk", "name")}

    @cached_property
    def _signers(self) -> dict[int, list[str]]:
        """Names that signed at earlier check-ups of a system, the latest first."""
        rows = Signature.objects.filter(checkup__system__in=self._systems).exclude(name="")
        found: dict[int, list[str]] = defaultdict(list)
        for system_id, name in rows.order_by("-signed_at", "-pk").values_list("checkup__system_id", "name"):
            found[system_id].append(name)
        return found

    @cached_property
    def _asked_of_models(self) -> frozenset[str]:
        """What the checklists ask of a new part (``applies_to``), and what a formula needs to know of it."""
        items = [item for _, items in self._items.values() for item in items]
        return frozenset({"diameter_m"} | {name for item in items for name, _ in item.applies_to})

    @cached_property
    def models(self) -> dict[str, list[dict[str, Any]]]:
        """What can be put in, by kind; only kinds that stand in one of these houses."""
        kinds = {part.part_kind for parts in self._parts.values() for part in parts}
        rows = CatalogueModel.objects.filter(part_kind__in=kinds, is_offered=True).order_by("maker", "name", "pk")
        found: dict[str, list[dict[str, Any]]] = {}
        for row in rows:
            told = {"id": row.pk, "label": str(row), "data": _needed(row.data, self._asked_of_models)}
            found.setdefault(row.part_kind, []).append(told)
        return found

    def around(self, stop: Appointment) -> Around:
        """Everything that one stop's part of the pack is made of."""
        system_id = stop.request.system_id
        parts = self._parts.get(system_id, [])
        checkup = self._checkups.get(stop.pk)
        newest = max(self._items.values(), default=None, key=_first)
        known = self._items.get(checkup.checklist_id) if checkup else newest
        has_checklist = stop.request.kind in KINDS_WITH_CHECKLIST and known is not None
        items = known[1] if known and has_checklist else []
        as_built = self._as_built.get(system_id)
        placed = [_part(part, as_built) for part in parts]
        events = self._events.get(stop.pk, [])
        return Around(
            on=self.on,
            units=self.units,
            parts=parts,
            conditions=self._conditions,
            estimates=self._estimates.get(system_id, []),
            findings=self._findings.get(system_id, []),
            signers=self._signers.get(system_id, []),
            edition=str(known[0]) if known and has_checklist else "",
            lines=lines_for(items, placed),
            placed=placed,
            last=self._last.get(system_id, {}),
            events=[row.raw for row in events],
            heads=heads_of(read_events(events), desk=self._desk),
            is_finished=checkup is not None and checkup.finished_at is not None,
        )


def _first(one: tuple[int, list[Item]]) -> int:
    return one[0]


def _needed(data: Mapping[str, Any], asked: frozenset[str]) -> dict[str, Any]:
    return {name: data[name] for name in sorted(asked) if name in data}


def _part(component: Component, as_built: AsBuilt | None) -> Part:
    """A part with what its maker declares; a pit of unknown make is as wide as it was measured when it was built."""
    known = component.declared
    if component.part_kind == "pit" and not known.get("diameter_m"):
        known["diameter_m"] = as_built.pit_diameter_m if as_built else None
    return Part(component_id=component.pk, part_kind=component.part_kind, data=known)


def _grouped(rows: Iterable[Any], key: Any) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[key(row)].append(row)
    return found
