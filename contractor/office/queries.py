"""Reads for the lists of the desk: what waits today, the houses, what is due. Each a constant number of queries."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, TypeVar

from django.db.models import Count, Model, OuterRef, Prefetch, Q, QuerySet, Subquery

from contractor.checkups.models import CheckUp, Finding, OutsideRecord
from contractor.estimates.queries import to_replace
from contractor.notices.models import Notice
from contractor.notices.queries import letters_to_former_owners, letters_to_post
from contractor.plans.queries import overdue_invoices
from contractor.properties.models import Ownership, Property
from contractor.systems.models import System
from contractor.visits.models import Appointment, Request
from contractor.visits.queries import requests_wanting
from contractor.warranties.inquiry_tables import TransferInquiry
from contractor.warranties.models import StoredStanding, Transfer, Warranty
from contractor.warranties.queries import claims_for_the_desk

Row = TypeVar("Row", bound=Model)

SHORT = 6
PAGE = 50
SOON = timedelta(days=90)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The first few of what waits, and how many there are."""

    rows: Sequence[Any]
    total: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TodaysRound:
    """One technician's stops today."""

    technician_id: int
    name: str
    stops: int
    done: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """What waits for the desk."""

    due: int
    in_grace: int
    gap: int
    not_given: int
    claims: Waiting
    transfers: Waiting
    inquiries: Waiting
    outside_records: Waiting
    overdue: Waiting
    findings: Waiting
    replacements: Waiting
    rounds: Sequence[TodaysRound]
    failed_notices: Waiting
    letters: int
    former_letters: Waiting


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page by key: the rows, and the keys of the pages beside it (None when there is none)."""

    rows: Sequence[Any]
    total: int
    before: int | None
    after: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DueRow:
    """One visit that is wanted, as the desk plans it."""

    visit: Request
    owner: Ownership | None
    appointment: Appointment | None
    care: str
    last_checkup_on: date | None
    when: str


def todays_desk(*, on: date) -> Today:
    """Everything on the first page of the desk."""
    cares = dict(
        StoredStanding.objects.filter(part_kind="", warranty__voided_on__isnull=True)
        .values_list("care")
        .annotate(Count("pk"))
    )
    failed = Notice.objects.filter(state=Notice.State.FAILED).select_related("person", "property")
    return Today(
        due=cares.get("due", 0),
        in_grace=cares.get("in_grace", 0),
        gap=cares.get("gap", 0),
        not_given=Request.objects.without_appointment().filter(earliest_on__lte=on).count(),
        claims=_waiting(claims_for_the_desk()),
        transfers=_waiting(
            Transfer.objects.filter(state=Transfer.State.ASKED).select_related("warranty__system__property", "buyer")
        ),
        inquiries=_waiting(TransferInquiry.objects.waiting()),
        outside_records=_waiting(OutsideRecord.objects.waiting().select_related("system__property")),
        overdue=_waiting(overdue_invoices(on)),
        findings=_waiting(
            Finding.objects.blocking()
            .select_related("checkup__system__property", "component")
            .order_by("-severity", "raised_at")
        ),
        replacements=_waiting(to_replace(by=on + SOON)),
        rounds=_rounds_on(on),
        failed_notices=_waiting(failed),
        letters=letters_to_post().count(),
        former_letters=_waiting(letters_to_former_owners()),
    )


def towns() -> list[str]:
    """The towns in which houses stand."""
    return list(Property.objects.order_by("city").values_list("city", flat=True).distinct())


def houses_page(*, town: str = "", standing: str = "", after: int | None = None, before: int | None = None) -> Page:
    """A page of the register by street, with present owner, systems and the summed-up standing of each warranty.

    ``standing`` is "cover:in_force", "care:gap" and so on, or "none" for houses without a valid warranty.
    """
    houses = Property.objects.all()
    if town:
        houses = houses.filter(city=town)
    valid = Warranty.objects.filter(voided_on__isnull=True)
    if standing == "none":
        houses = houses.exclude(pk__in=valid.values("system__property"))
    elif standing:
        # A list of houses, not a condition on each: that way the database begins with the few that stand so.
        kind, _, word = standing.partition(":")
        alike = StoredStanding.objects.filter(part_kind="", **{kind: word})
        houses = houses.filter(pk__in=valid.filter(pk__in=alike.values("warranty")).values("system__property"))
    shown = houses.prefetch_related(
        Prefetch("ownerships", Ownership.objects.open_ended().select_related("person"), to_attr="present_ownerships"),
        Prefetch("systems", System.objects.order_by("installed_on", "pk"), to_attr="shown_systems"),
        Prefetch("shown_systems__warranties", _valid_warranties(), to_attr="valid_warranties"),
    )
    return _page(shown, houses.count(), ("by_street", "pk"), after=after, before=before)


def due_page(
    *,
    on: date,
    show: str,
    town: str = "",
    kind: str = "",
    only_without_appointment: bool = False,
    after: int | None = None,
    before: int | None = None,
) -> Page:
    """A page of wanted visits, the earliest last day first; ``show`` is now, grace, later or all."""
    wanted = requests_wanting().filter(pk__in=Request.objects.wanting().values("pk"))
    wanted = wanted.filter(_window(show, on))
    if only_without_appointment:
        wanted = wanted.filter(pk__in=Request.objects.without_appointment().values("pk"))
    if town:
        wanted = wanted.filter(system__property__city=town)
    if kind:
        wanted = wanted.filter(kind=kind)
    last = CheckUp.objects.finished().filter(system=OuterRef("system")).order_by("-done_on").values("done_on")[:1]
    shown = wanted.annotate(last_checkup_on=Subquery(last)).prefetch_related(
        Prefetch("system__warranties", _valid_warranties(), to_attr="valid_warranties")
    )
    page = _page(shown, wanted.count(), ("latest_on", "pk"), after=after, before=before)
    rows = [_due_row(visit, on) for visit in page.rows]
    return Page(rows=rows, total=page.total, before=page.before, after=page.after)


def due_counts(*, on: date) -> dict[str, int]:
    """How many visits each filter of the due list shows."""
    wanted = Request.objects.wanting()
    filters = {show: Count("pk", filter=_window(show, on), distinct=True) for show in ("now", "grace", "later", "all")}
    return dict(wanted.aggregate(**filters))


def _window(show: str, on: date) -> Q:
    if show == "grace":
        return Q(target_on__lt=on)
    if show == "later":
        return Q(earliest_on__gt=on)
    if show == "now":
        return Q(earliest_on__lte=on)
    return Q(pk__isnull=False)


def _due_row(visit: Request, on: date) -> DueRow:
    owners = visit.system.property.present_ownerships  # type: ignore[attr-defined]  # prefetched
    appointments = visit.live_appointments  # type: ignore[attr-defined]
    warranties = visit.system.valid_warranties  # type: ignore[attr-defined]
    standings = [standing for warranty in warranties for standing in warranty.summed_up]
    if on > visit.latest_on:
        when = "past"
    elif on > visit.target_on:
        when = "grace"
    else:
        when = "now" if on >= visit.earliest_on else "later"
    return DueRow(
        visit=visit,
        owner=owners[0] if owners else None,
        appointment=appointments[0] if appointments else None,
        care=standings[0].care if standings else "",
        last_checkup_on=visit.last_checkup_on,  # type: ignore[attr-defined]
        when=when,
    )


def _valid_warranties() -> QuerySet[Warranty]:
    """Warranties that were not voided, with the row that sums up their standing as ``summed_up``."""
    return Warranty.objects.filter(voided_on__isnull=True).prefetch_related(
        Prefetch("standings", StoredStanding.objects.filter(part_kind=""), to_attr="summed_up")
    )


def _waiting(rows: QuerySet[Any]) -> Waiting:
    return Waiting(rows=list(rows[:SHORT]), total=rows.count())


def _rounds_on(on: date) -> list[TodaysRound]:
    live = Appointment.objects.live().filter(on=on).order_by("technician__name", "technician_id")
    done = Count("pk", filter=Q(state=Appointment.State.DONE))
    rows = live.values("technician_id", "technician__name").annotate(stops=Count("pk"), finished=done)
    return [
        TodaysRound(
            technician_id=row["technician_id"],
            name=row["technician__name"],
            stops=row["stops"],
            done=row["finished"],
        )
        for row in rows
    ]


def _page(rows: QuerySet[Row], total: int, order: tuple[str, ...], *, after: int | None, before: int | None) -> Page:
    """The rows next to a key, in order; a key that is gone shows the first page."""
    edge = rows.model._default_manager.filter(pk=after or before or 0).values(*order).first()
    backwards = edge is not None and after is None
    if edge is not None:
        rows = rows.filter(_beyond(order, edge, "lt" if backwards else "gt"))
    signs = [f"-{name}" for name in order] if backwards else list(order)
    found = list(rows.order_by(*signs)[: PAGE + 1])
    is_full = len(found) > PAGE
    found = found[:PAGE]
    if backwards:
        found.reverse()
    has_before = is_full if backwards else edge is not None
    has_after = True if backwards else is_full
    return Page(
        rows=found,
        total=total,
        before=found[0].pk if found and has_before else None,
        after=found[-1].pk if found and has_after else None,
    )


def _beyond(order: tuple[str, ...], edge: dict[str, Any], direction: str) -> Q:
    """Rows after (gt) or before (lt) an edge in the order of several columns."""
    beyond = Q()
    same = Q()
    for name in order:
        beyond |= same & Q(**{f"{name}__{direction}": edge[name]})
        same &= Q(**{name: edge[name]})
    return beyond
