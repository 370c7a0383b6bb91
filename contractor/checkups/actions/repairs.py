"""Asks for the visits that open findings need, and takes them back when the findings are put right."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction

from contractor.checkups.models import Finding
from contractor.core import clock
from contractor.visits.actions.keeping import Wanted, keep_asking, stop_asking
from contractor.visits.models import Request, VisitKind
from contractor.visits.queries import raised_before
from contractor.visits.skills import BY_PART_KIND
from contractor.visits.wishes import REPAIR_MINUTES, days_for_finding

# The occasion of a visit that puts a finding right: this, and the finding's id.
FINDING = "finding:"
CHUNK = 500


def ask_for_repairs(*, system_ids: Iterable[int], on: date, at: datetime) -> int:
    """Keeps the visits true that findings of these systems ask for; returns how many findings are open and ask.

    Every finding of a finished check-up that is bad or urgent and not put right asks once, with its part to bring
    along. Several of one house share a trip (``visits.trips``).
    """
    systems = list(system_ids)
    raised = raised_before(prefix=FINDING, systems=systems)
    asking = Finding.objects.blocking().filter(checkup__system__in=systems, checkup__finished_at__isnull=False)
    count = 0
    with transaction.atomic():
        for finding in asking.select_related("checkup", "component__model").order_by("raised_at", "pk"):
            wanted = _wanted(finding)
            if wanted is not None:
                keep_asking(wanted=wanted, earlier=raised.pop(wanted.occasion, []), on=on, at=at)
                count += 1
        for earlier in raised.values():
            stop_asking(earlier=earlier, because="what was found has been put right.", on=on, at=at)
    return count


def ask_for_all_repairs(*, on: date, at: datetime) -> int:
    """The same for every system with an open finding or a standing request for one; safe to run twice."""
    systems = sorted(
        {
            *Finding.objects.blocking().values_list("checkup__system", flat=True),
            *Request.objects.wanting().filter(occasion__startswith=FINDING).values_list("system", flat=True),
        }
    )
    return sum(
        ask_for_repairs(system_ids=systems[start : start + CHUNK], on=on, at=at)
        for start in range(0, len(systems), CHUNK)
    )


def _wanted(finding: Finding) -> Wanted | None:
    found_on = clock.day_of(finding.raised_at)
    days = days_for_finding(finding.severity, found_on=found_on)
    if days is None:
        return None
    part = finding.component
    skill = BY_PART_KIND.get(part.part_kind) if part is not None else None
    return Wanted(
        occasion=f"{FINDING}{finding.pk}",
        system_id=finding.checkup.system_id,
        kind=VisitKind.REPAIR,
        earliest_on=days.earliest_on,
        target_on=days.target_on,
        latest_on=days.latest_on,
        minutes=REPAIR_MINUTES,
        minutes_because="The usual minutes for putting something right.",
        reason=f"Found on {found_on:%B} {found_on.day}, {found_on.year}: {finding.what}",
        carry="" if part is None else f"{part.kind.word} ({part.model or 'model not known'})",
        skills=() if skill is None else (skill,),
    )
