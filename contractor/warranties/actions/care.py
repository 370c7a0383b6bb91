"""Writes that keep the yearly check-up in sight: requests from the care clock, and the letter to the owner."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef

from contractor.core.audit import SYSTEM
from contractor.estimates.known_climate import Climates
from contractor.estimates.models import ClimateNormals
from contractor.notices.actions import queue_notice
from contractor.properties.models import Ownership
from contractor.visits.actions.appointments import ask_for_visit, withdraw_request
from contractor.visits.durations import Duration, parts_key
from contractor.visits.models import Appointment, Request
from contractor.visits.queries import checkup_durations
from contractor.visits.seasons import narrowed, season_of
from contractor.visits.skills import checkup_skills
from contractor.warranties.care_visits import WantedVisit, parts_at_house, wanted_visit
from contractor.warranties.models import Warranty
from contractor.warranties.queries import facts_of_many, terms_by_edition, terms_of, warranty_chunk
from contractor.warranties.rules.facts import Facts

CHUNK = 300
# The very sentence with which requests are taken back here. One that a person took back with a reason of their
# own is not asked for again.
MOVED_ON = "No longer needed: the check-up was done or excused, or its time has passed."


def raise_due_requests(*, on: date, at: datetime) -> int:
    """Asks for every check-up that comes up, takes back what has been settled otherwise, and writes to owners.

    Returns how many warranties have a visit wanted. Safe to run twice: an occasion is asked for once.
    """
    after, wanted = 0, 0
    while chunk := warranty_chunk(after=after, most=CHUNK):
        wanted += _settle_all(chunk, on=on, at=at)
        after = chunk[-1].pk
    return wanted


def raise_house_requests(*, property_id: int, on: date, at: datetime) -> int:
    """The same for one house, after its facts have changed."""
    warranties = Warranty.objects.filter(system__property_id=property_id)
    return _settle_all(list(warranties.select_related("terms", "system__property")), on=on, at=at)


def _settle_all(warranties: list[Warranty], *, on: date, at: datetime) -> int:
    facts, terms = facts_of_many(warranties), terms_by_edition(warranties)
    raised = _raised_requests(warranties)
    plan = _Planning.of(warranties, facts, on)
    count = 0
    for warranty in warranties:
        wish = wanted_visit(terms[warranty.terms_id], facts[warranty.pk], on)
        if wish is None and not any(_is_open(request) for request in raised[warranty.pk]):
            continue
        _settle(warranty, wish, raised[warranty.pk], plan=plan, on=on, at=at)
        count += wish is not None
    return count


@dataclass(frozen=True, slots=True)
class _Planning:
    """What is read once for many warranties: parts, minutes learned from past visits, and the regions' climate."""

    parts: dict[int, list[str]]
    durations: dict[str, Duration]
    climates: Climates

    @classmethod
    def of(cls, warranties: list[Warranty], facts: dict[int, Facts], on: date) -> "_Planning":
        parts = {warranty.pk: parts_at_house(facts[warranty.pk], on) for warranty in warranties}
        return cls(parts, checkup_durations(parts.values()), Climates(ClimateNormals.objects.order_by("pk")))

    def details(self, warranty: Warranty, wish: WantedVisit) -> dict[str, Any]:
        """Minutes, skills and the better part of the window of a visit."""
        parts = self.parts[warranty.pk]
        takes = self.durations[parts_key(parts)]
        climate = self.climates.of(warranty.system.property.postcode)
        best = None
        if climate is not None and wish.kind == "checkup":
            season = season_of(climate.rain_mm, climate.temperature_c)
            best = narrowed(earliest_on=wish.earliest_on, latest_on=wish.latest_on, season=season)
        return {
            "minutes": takes.minutes,
            "minutes_because": takes.because,
            "skills": checkup_skills(parts),
            "best_until": best.best_until if best else None,
            "best_because": best.because if best else "",
        }


@transaction.atomic
def _settle(
    warranty: Warranty, wish: WantedVisit | None, raised: list[Request], *, plan: "_Planning", on: date, at: datetime
) -> None:
    name = _occasion(warranty, wish.kind, wish.due_on) if wish is not None else ""
    still_open = [one for one in raised if _is_open(one)]
    planned = [one for one in still_open if one.is_planned]  # type: ignore[attr-defined]
    if wish is not None and wish.kind == "reinstatement" and planned:
        # Somebody is on the way already; that visit closes the gap as well.
        return
    for one in still_open:
        if wish is None or not _is_for(one, name):
            withdraw_request(request_id=one.pk, because=MOVED_ON, by=SYSTEM, at=at)
    if wish is None:
        return
    earlier = [one for one in raised if _is_for(one, name)]
    request: Request | None = next((one for one in earlier if _is_open(one)), None)
    if request is None:
        if not all(one.withdrawn_because == MOVED_ON for one in earlier):
            return
        request = ask_for_visit(
            occasion=f"{name}#{len(earlier) + 1}" if earlier else name,
            system_id=warranty.system_id,
            kind=wish.kind,
            target_on=wish.target_on,
            earliest_on=wish.earliest_on,
            latest_on=wish.latest_on,
            reason=wish.reason,
            by=SYSTEM,
            at=at,
            **plan.details(warranty, wish),
        )
    if wish.tell_owner and request not in planned:
        _tell_owner(warranty, wish, name, at=at)


def _raised_requests(warranties: list[Warranty]) -> dict[int, list[Request]]:
    """Requests that the care clock made, by warranty, with ``is_done`` and ``is_planned``."""
    appointments = Appointment.objects.filter(request=OuterRef("pk"))
    requests = Request.objects.filter(
        system_id__in=[warranty.system_id for warranty in warranties], kind__in=("checkup", "reinstatement")
    ).annotate(
        is_done=Exists(appointments.filter(state=Appointment.State.DONE)),
        is_planned=Exists(appointments.filter(state__in=(Appointment.State.PLANNED, Appointment.State.CONFIRMED))),
    )
    by_prefix: dict[tuple[int, str], list[Request]] = defaultdict(list)
    for request in requests.order_by("pk"):
        kind, _, rest = request.occasion.partition(":")
        by_prefix[request.system_id, f"{kind}:{rest.partition(':')[0]}"].append(request)
    return {
        warranty.pk: [
            request
            for kind in ("checkup", "reinstatement")
            for request in by_prefix[warranty.system_id, f"{kind}:{warranty.pk}"]
        ]
        for warranty in warranties
    }


def _occasion(warranty: Warranty, kind: str, due_on: date) -> str:
    return f"{kind}:{warranty.pk}:{due_on.isoformat()}"


def _is_for(request: Request, occasion: str) -> bool:
    return request.occasion.partition("#")[0] == occasion


def _is_open(request: Request) -> bool:
    return request.withdrawn_at is None and not request.is_done  # type: ignore[attr-defined]


def _tell_owner(warranty: Warranty, wish: WantedVisit, occasion: str, *, at: datetime) -> None:
    house = warranty.system.property
    owner = Ownership.objects.open_ended().filter(property=house).select_related("person").first()
    if owner is None:
        return
    queue_notice(
        occasion=f"{occasion}:due notice:{owner.pk}",
        template="checkup_due",
        person=owner.person,
        property=house,
        context={
            "due_on": wish.due_on,
            "first_on": wish.earliest_on,
            "last_on": wish.latest_on,
            "system": warranty.system,
            "care": terms_of(warranty).care,
        },
        by=SYSTEM,
        at=at,
    )
