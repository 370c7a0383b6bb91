"""The house file: everything a call can ask about one house, in a number of queries that its history doesn't change."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, Max, Prefetch, Q

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.checkups.models import CheckUp, Finding, OutsideRecord
from contractor.core.units import shown
from contractor.estimates.models import LifeEstimate
from contractor.estimates.queries import drawn_parts, estimates_of
from contractor.notices.models import Notice
from contractor.office.trail import TrailLine, house_trail
from contractor.properties.models import OwnerLink, Ownership, Property
from contractor.systems.drawing import DrawnPart, legend, section_drawing
from contractor.systems.forms import wall_unit
from contractor.systems.measures import Measured, in_words
from contractor.systems.models import AsBuilt, Component, System, TreatedWall
from contractor.systems.queries import KIND_ORDER
from contractor.systems.rules import MEASURES
from contractor.visits.models import Appointment, Request
from contractor.warranties.models import Certificate, Claim, Transfer, Warranty
from contractor.warranties.queries import (
    PromiseStanding,
    facts_of_many,
    overall_cover,
    standings_under,
    terms_by_edition,
)
from contractor.warranties.rules.standing import Standing

LATEST = 12
TRAIL_SHOWN = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """One part in place: its number in the drawing, its condition with the sentence, and by when to replace it."""

    number: int
    component: Component
    condition: str
    note: str
    estimate: LifeEstimate | None
    is_overdue: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Replacement:
    """One part that was taken out, and what took its place."""

    old: Component
    new: Component | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WallLine:
    """One treated wall, its length as the company reads it."""

    wall: TreatedWall
    length: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseLine:
    """One promise, with the reasons and the way back that are its own."""

    word: str
    standing: Standing
    reasons: Sequence[str]
    restore: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WarrantyFile:
    """One warranty with the standing of each promise and its certificate.

    What holds for every promise alike (care, mostly) is said once, as ``reasons`` and ``restore``.
    """

    warranty: Warranty
    promises: Sequence[PromiseLine]
    reasons: Sequence[str]
    restore: str
    certificate: Certificate | None

    @property
    def cover(self) -> str:
        """One word for the whole warranty."""
        return overall_cover(promise.standing for promise in self.promises).value

    @property
    def care(self) -> str:
        """The care word, the same for every promise."""
        return self.promises[0].standing.care.value


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemFile:
    """One system: its drawing, parts, walls, line and pit as built, and warranties."""

    system: System
    drawing: str
    parts: Sequence[PartLine]
    replaced: Sequence[Replacement]
    walls: Sequence[WallLine]
    walls_length: str
    built: AsBuilt | None
    measured: Measured
    warranties: Sequence[WarrantyFile]

    @property
    def has_valid_warranty(self) -> bool:
        return any(file.warranty.voided_on is None for file in self.warranties)


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseFile:
    """Everything about one house."""

    house: Property
    owner: Ownership | None
    ownerships: Sequence[Ownership]
    open_links: int
    link_opened_at: datetime | None
    systems: Sequence[SystemFile]
    wanted: Sequence[Request]
    appointments: Sequence[Appointment]
    checkups: Sequence[CheckUp]
    findings: Sequence[Finding]
    outside_records: Sequence[OutsideRecord]
    claims: Sequence[Claim]
    transfers: Sequence[Transfer]
    notices: Sequence[Notice]
    trail: Sequence[TrailLine]

    @property
    def next_appointment(self) -> Appointment | None:
        """The next visit that somebody was given and has not made yet."""
        coming = [visit.live_appointments[0] for visit in self.wanted if visit.live_appointments]  # type: ignore[attr-defined]
        return min(coming, key=lambda appointment: (appointment.on, appointment.stop_number), default=None)


def house_file(*, house: Property, on: date, at: datetime) -> HouseFile:
    """Gathers the house file. The number of queries grows with systems and warranties, never with their history."""
    ownerships = list(house.ownerships.select_related("person").order_by("-from_on", "-pk"))
    owner = next((ownership for ownership in ownerships if ownership.until_on is None), None)
    links = OwnerLink.objects.filter(ownership=owner).aggregate(
        open=Count("pk", filter=Q(revoked_at__isnull=True, expires_at__gt=at)), opened=Max("last_opened_at")
    )
    here = {"system__property": house}
    of_warranty = {"warranty__system__property": house}
    return HouseFile(
        house=house,
        owner=owner,
        ownerships=ownerships,
        open_links=links["open"],
        link_opened_at=links["opened"],
        systems=_systems(house, on),
        wanted=_wanted(house),
        appointments=_past_appointments(house),
        checkups=_checkups(house),
        findings=list(
            Finding.objects.still_open()
            .filter(checkup__system__property=house)
            .select_related("component", "checkup")
            .order_by("raised_at")
        ),
        outside_records=list(OutsideRecord.objects.filter(**here).select_related("decided_by").order_by("-done_on")),
        claims=list(Claim.objects.filter(**of_warranty).select_related("warranty", "component", "appeal")),
        transfers=list(
            Transfer.objects.filter(**of_warranty)
            .select_related("warranty", "seller__person", "buyer")
            .order_by("-asked_at")
        ),
        notices=list(Notice.objects.filter(property=house).select_related("person")[:LATEST]),
        trail=house_trail(property_id=house.pk, most=TRAIL_SHOWN),
    )


def _systems(house: Property, on: date) -> list[SystemFile]:
    is_us = the_company().units == Company.Units.US
    components = Component.objects.select_related("model", "in_by", "out_by")
    certificates = Certificate.objects.order_by("-issued_at", "-pk")
    systems = house.systems.select_related("as_built__measured_by").prefetch_related(
        Prefetch("components", components, to_attr="all_components"),
        Prefetch("walls", to_attr="all_walls"),
        Prefetch(
            "warranties",
            Warranty.objects.select_related("terms", "issued_to__person", "voided_by").prefetch_related(
                Prefetch("certificates", certificates, to_attr="all_certificates")
            ),
            to_attr="all_warranties",
        ),
    )
    found: list[Any] = list(systems)
    files = _warranties([warranty for system in found for warranty in system.all_warranties], on)
    return [_system(system, files, on, is_us=is_us) for system in found]


def _system(system: Any, files: dict[int, WarrantyFile], on: date, *, is_us: bool) -> SystemFile:
    drawn = drawn_parts(system=system, on=on)
    estimates = {estimate.component_id: estimate for estimate in estimates_of(system=system)}
    unit = wall_unit(is_us=is_us)
    built = getattr(system, "as_built", None)
    name = f"{system.name}, installed {system.installed_on:%B} {system.installed_on.day}, {system.installed_on.year}"
    return SystemFile(
        system=system,
        drawing=section_drawing(
            drawn,
            title=name,
            description=f"Cross-section of {system.name} with the parts that are installed.",
            prefix=f"system-{system.pk}",
            compact=True,
        ),
        parts=_part_lines(system.all_components, drawn, estimates, on),
        replaced=_replacements(system.all_components, on),
        walls=[WallLine(wall=wall, length=shown(wall.length_m, unit)) for wall in system.all_walls],
        walls_length=shown(sum(wall.length_m for wall in system.all_walls), unit) if system.all_walls else "",
        built=built,
        measured=in_words({one: getattr(built, one, None) for one in MEASURES}, is_us=is_us),
        warranties=[files[warranty.pk] for warranty in reversed(system.all_warranties)],
    )


def _warranties(warranties: Sequence[Any], on: date) -> dict[int, WarrantyFile]:
    """The files of all warranties of a house by id, read together."""
    facts, terms = facts_of_many(warranties), terms_by_edition(warranties)
    files = {}
    for warranty in warranties:
        followed = {certificate.supersedes_id for certificate in warranty.all_certificates}
        last = next((one for one in warranty.all_certificates if one.pk not in followed), None)
        files[warranty.pk] = _warranty(
            warranty,
            standings_under(terms=terms[warranty.terms_id], facts=facts[warranty.pk], on=on),
            last if last is not None and last.revoked_at is None else None,
        )
    return files


def _warranty(warranty: Warranty, promises: Sequence[PromiseStanding], certificate: Certificate | None) -> WarrantyFile:
    standings = [promise.standing for promise in promises]
    shared = [reason for reason in standings[0].reasons if all(reason in one.reasons for one in standings)]
    ways_back = {standing.restore for standing in standings if standing.restore}
    shared_restore = ways_back.pop() if len(ways_back) == 1 else ""
    return WarrantyFile(
        warranty=warranty,
        promises=[
            PromiseLine(
                word=promise.word,
                standing=promise.standing,
                reasons=[reason for reason in promise.standing.reasons if reason not in shared],
                restore=promise.standing.restore if promise.standing.restore != shared_restore else "",
            )
            for promise in promises
        ],
        reasons=shared,
        restore=shared_restore,
        certificate=certificate,
    )


def _is_in_place(component: Component, on: date) -> bool:
    return component.in_on <= on and (component.out_on is None or component.out_on > on)


def _part_lines(
    components: Sequence[Component], drawn: Sequence[DrawnPart], estimates: dict[int, LifeEstimate], on: date
) -> list[PartLine]:
    found = {part.key: part for part in drawn}
    numbers = {row.kind: row.number for row in legend(drawn)}
    lines = []
    for component in sorted(components, key=lambda part: (KIND_ORDER[part.part_kind], part.in_on, part.pk)):
        if not _is_in_place(component, on):
            continue
        part = found.get(str(component.pk))
        estimate = estimates.get(component.pk)
        lines.append(
            PartLine(
                number=numbers.get(component.part_kind, 0),
                component=component,
                condition=part.condition if part else "unknown",
                note=part.note if part else "",
                estimate=estimate,
                is_overdue=estimate is not None and estimate.replace_by <= on,
            )
        )
    return lines


def _replacements(components: Sequence[Component], on: date) -> list[Replacement]:
    followers = {part.replaces_id: part for part in components if part.replaces_id is not None}
    gone = [part for part in components if part.out_on is not None and part.out_on <= on]
    gone.sort(key=lambda part: (part.out_on, part.pk), reverse=True)
    return [Replacement(old=part, new=followers.get(part.pk)) for part in gone]


def _wanted(house: Property) -> list[Request]:
    live = Appointment.objects.live().select_related("technician")
    wanted = Request.objects.wanting().filter(system__property=house).select_related("system")
    return list(wanted.prefetch_related(Prefetch("appointments", live, to_attr="live_appointments")))


def _past_appointments(house: Property) -> list[Appointment]:
    """The latest appointments that are over, whether done, called off or in vain."""
    over = (Appointment.State.DONE, Appointment.State.COULD_NOT, Appointment.State.CANCELLED)
    past = Appointment.objects.filter(request__system__property=house, state__in=over)
    return list(past.select_related("request", "technician", "checkup").order_by("-on", "-pk")[:LATEST])


def _checkups(house: Property) -> list[CheckUp]:
    """Every check-up with its report, its findings as ``all_findings`` and whether it passed, newest first."""
    checkups = CheckUp.objects.with_passed().filter(system__property=house)
    findings = Prefetch("findings", Finding.objects.order_by("raised_at"), to_attr="all_findings")
    return list(
        checkups.select_related("technician", "report", "system").prefetch_related(findings).order_by("-done_on", "-pk")
    )
