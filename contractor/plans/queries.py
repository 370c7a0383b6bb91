"""Reads about plans: lists, one agreement, what an owner sees, what is due, and what the revenue is reckoned from."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Count, DecimalField, F, Prefetch, Q, QuerySet, Sum, Value
from django.db.models.functions import Coalesce

from contractor.checkups.models import CheckUp
from contractor.core import clock
from contractor.notices.models import Notice
from contractor.plans.models import Agreement, Invoice, NoticeDays, Payment, PlanOffer
from contractor.plans.rules.amounts import NOTHING, Amount, Balance, refund
from contractor.plans.rules.renewal import NOTICE_RULES, USUAL_RULE, NoticeRule
from contractor.plans.rules.revenue import Billed
from contractor.plans.rules.terms import State, state_on
from contractor.properties.models import Ownership

PAGE = 50
ONE_DAY, CATCH_UP = timedelta(days=1), timedelta(days=7)
UNPAID = "unpaid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """An invoice with what was taken off and paid."""

    invoice: Invoice
    credit_note: Invoice | None
    payments: Sequence[Payment]
    balance: Balance


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanYear:
    """One agreement as a page shows it."""

    agreement: Agreement
    state: State
    bill: Bill | None

    @property
    def code(self) -> str:
        return self.state.value

    @property
    def is_over(self) -> bool:
        """Whether nothing is left to cancel."""
        return self.state in {State.LAPSED, State.RENEWED, State.CANCELLED}

    @property
    def can_stop(self) -> bool:
        """Whether there is a renewal that could be stopped."""
        return self.agreement.renews != Agreement.Renews.NO and not hasattr(self.agreement, "next_year")


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page of the list by key; ``before`` and ``after`` are the keys of its neighbours."""

    rows: Sequence[PlanYear]
    total: int
    before: int | None
    after: int | None


def balance_of(invoice: Invoice) -> Balance:
    """What an invoice comes to now."""
    paid = Payment.objects.filter(invoice=invoice).aggregate(sum=Sum("amount"))["sum"] or NOTHING
    credit_note = Invoice.objects.filter(credits=invoice).first()
    return Balance(total=invoice.total, credited=credit_note.total if credit_note else NOTHING, paid=paid)


def _with_bills(agreements: QuerySet[Agreement]) -> QuerySet[Agreement]:
    notes = Invoice.objects.filter(credits__isnull=False)
    payments = Payment.objects.select_related("made_by", "counter_entry")
    invoices = Invoice.objects.filter(credits__isnull=True).prefetch_related(
        Prefetch("payments", payments, to_attr="all_payments")
    )
    return agreements.select_related("offer", "property", "person", "next_year").prefetch_related(
        Prefetch("invoices", invoices, to_attr="own_invoices"),
        Prefetch("invoices", notes, to_attr="own_notes"),
    )


def _plan_year(agreement: Agreement, on: date) -> PlanYear:
    year = agreement.year(is_renewed=hasattr(agreement, "next_year"))
    invoices: list[Invoice] = agreement.own_invoices  # type: ignore[attr-defined]
    notes: list[Invoice] = agreement.own_notes  # type: ignore[attr-defined]
    bill = None
    if invoices:
        payments: list[Payment] = invoices[0].all_payments  # type: ignore[attr-defined]
        note = notes[0] if notes else None
        balance = Balance(
            total=invoices[0].total,
            credited=note.total if note is not None else NOTHING,
            paid=sum((payment.amount for payment in payments), NOTHING),
        )
        bill = Bill(invoice=invoices[0], credit_note=note, payments=payments, balance=balance)
    return PlanYear(agreement=agreement, state=state_on(year, on), bill=bill)


def plan_year(agreement_id: int, *, on: date) -> PlanYear | None:
    """One agreement with its bill; None when there is none."""
    found = _with_bills(Agreement.objects.filter(pk=agreement_id)).first()
    return _plan_year(found, on) if found is not None else None


def would_refund(year: PlanYear, *, on: date) -> Amount | None:
    """What cancelling on a day would take off the invoice; None when there is no invoice."""
    if year.bill is None:
        return None
    invoice, agreement = year.bill.invoice, year.agreement
    return refund(
        Amount(net=invoice.net, tax=invoice.tax),
        agreement.year(is_renewed=False),
        on=max(on, agreement.from_on),
        agreed_on=clock.day_of(agreement.agreed_at),
        full_refund_days=agreement.offer.full_refund_days,
    )


def agreements_page(*, show: str, on: date, after: int | None = None, before: int | None = None) -> Page:
    """A page of agreements in a state, of all, or of those with something unpaid; the earliest end first."""
    chosen = Agreement.objects.all()
    if show == UNPAID:
        chosen = chosen.filter(pk__in=overdue_invoices(on).values("agreement_id"))
    elif show:
        chosen = chosen.in_state(State(show), on)
    total = chosen.count()
    key = Agreement.objects.filter(pk=after or before or 0).values_list("until_on", "pk").first()
    forward = _beside(chosen, key, backwards=False) if after and key else chosen.order_by("until_on", "pk")
    if before and key:
        found = list(_with_bills(_beside(chosen, key, backwards=True))[: PAGE + 1])
        more, rows = len(found) > PAGE, found[:PAGE][::-1]
        earlier, later = (rows[0].pk if more and rows else None), (rows[-1].pk if rows else None)
    else:
        found = list(_with_bills(forward)[: PAGE + 1])
        more, rows = len(found) > PAGE, found[:PAGE]
        earlier, later = (rows[0].pk if after and rows else None), (rows[-1].pk if more else None)
    return Page(rows=[_plan_year(row, on) for row in rows], total=total, before=earlier, after=later)


def _beside(chosen: QuerySet[Agreement], key: tuple[date, int], *, backwards: bool) -> QuerySet[Agreement]:
    until_on, pk = key
    if backwards:
        return chosen.filter(Q(until_on__lt=until_on) | Q(until_on=until_on, pk__lt=pk)).order_by("-until_on", "-pk")
    return chosen.filter(Q(until_on__gt=until_on) | Q(until_on=until_on, pk__gt=pk)).order_by("until_on", "pk")


def house_plans(property_id: int, *, on: date) -> list[PlanYear]:
    """Every year of every plan of a house, the latest first."""
    return [_plan_year(one, on) for one in _with_bills(Agreement.objects.filter(property_id=property_id))]


def owned_plans(ownership: Ownership, *, on: date) -> list[PlanYear]:
    """The years that this owner agreed to for this house while it has been theirs, the latest first."""
    own = Agreement.objects.filter(
        property_id=ownership.property_id, person_id=ownership.person_id, until_on__gt=ownership.from_on
    )
    return [_plan_year(one, on) for one in _with_bills(own)]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnedPlan:
    """The plan on an owner's page: the present year, those before, and whether one could be agreed to."""

    present: PlanYear | None
    visits: int
    earlier: Sequence[PlanYear]
    can_agree: bool

    @property
    def years(self) -> list[PlanYear]:
        return [*([self.present] if self.present else []), *self.earlier]


def plan_of_house(ownership: Ownership, *, on: date) -> OwnedPlan:
    """What an owner's page says of their plan on a day."""
    years = owned_plans(ownership, on=on)
    running = [year for year in years if year.code in {"active", "ending", "coming"}]
    present = running[-1] if running else None
    return OwnedPlan(
        present=present,
        visits=visits_made(present.agreement, on=on) if present is not None else 0,
        earlier=[year for year in years if year is not present],
        can_agree=present is None and open_offers().exists(),
    )


def own_agreements(ownership: Ownership) -> QuerySet[Agreement]:
    """The same as rows."""
    return Agreement.objects.filter(
        property_id=ownership.property_id, person_id=ownership.person_id, until_on__gt=ownership.from_on
    )


def own_invoices(ownership: Ownership) -> QuerySet[Invoice]:
    """Invoices and credit notes of this owner."""
    return Invoice.objects.filter(agreement__in=own_agreements(ownership).values("pk"))


def visits_made(agreement: Agreement, *, on: date) -> int:
    """Check-ups done at the house in the days of this year."""
    last = min(on, agreement.through_on)
    done = CheckUp.objects.finished().filter(system__property_id=agreement.property_id)
    return done.filter(done_on__gte=agreement.from_on, done_on__lte=last).count()


def open_offers() -> QuerySet[PlanOffer]:
    """Plans that can be agreed to now, the newest first."""
    return PlanOffer.objects.filter(published_at__isnull=False, withdrawn_at__isnull=True)


def offers_list() -> QuerySet[PlanOffer]:
    """Every edition with ``agreed``: how many years rest on it."""
    return PlanOffer.objects.annotate(agreed=Count("agreements")).select_related("published_by")


def offer_for_renewal(agreement: Agreement) -> PlanOffer | None:
    """The same edition while it is offered, else the newest open one of the same title; None when there is neither."""
    if agreement.offer.is_open:
        return agreement.offer
    return open_offers().filter(title=agreement.offer.title).first()


def ending_by(last: date, *, on: date) -> QuerySet[Agreement]:
    """Running years that end by a day and renew in some way, and have not been renewed."""
    running = Agreement.objects.filter(cancelled_on__isnull=True, until_on__gt=on, until_on__lte=last)
    wanted = running.exclude(renews=Agreement.Renews.NO).filter(next_year__isnull=True)
    return wanted.select_related("offer", "property", "person").order_by("until_on", "pk")


def to_renew_on(on: date) -> list[Agreement]:
    """Years on their last day, or just over, whose owners were told and which nobody has renewed yet.

    A night that was missed is caught up within ``CATCH_UP``; after that the office asks the owner.
    """
    ended = ending_by(on + ONE_DAY, on=on - CATCH_UP)
    return list(ended.filter(renewal_notice__isnull=False).select_related("offer", "renewal_notice__offer"))


def notice_was_in_time(agreement: Agreement) -> bool:
    """Whether the renewal notice really went out, by e-mail or by post, within its window."""
    notice = Notice.objects.filter(occasion=f"plan renewal:{agreement.pk}", state=Notice.State.SENT).first()
    if notice is None or notice.sent_at is None:
        return False
    told = agreement.renewal_notice
    return told.first_on <= clock.day_of(notice.sent_at) <= told.last_on


def present_owners(property_ids: Iterable[int]) -> dict[int, int]:
    """Who owns these houses now: person ids by house."""
    owners = Ownership.objects.open_ended().filter(property_id__in=set(property_ids))
    return dict(owners.values_list("property_id", "person_id"))


def overdue_invoices(on: date) -> QuerySet[Invoice]:
    """Invoices due by a day with something still owed."""
    nothing = Value(NOTHING, output_field=DecimalField())
    paid = Coalesce(Sum("payments__amount"), nothing)
    credited = Coalesce(F("credit_note__net") + F("credit_note__tax"), nothing)
    due = Invoice.objects.filter(credits__isnull=True, due_on__lte=on).annotate(settled=paid + credited)
    owing = due.filter(settled__lt=F("net") + F("tax"))
    return owing.select_related("agreement__property", "agreement__person").order_by("due_on", "pk")


def to_take_over(*, property_id: int, on: date) -> Agreement | None:
    """The plan that ended with the sale and has days left, unless somebody took it over or has a plan already."""
    if Agreement.objects.not_over(on).filter(property_id=property_id).exists():
        return None
    return (
        Agreement.objects.filter(
            property_id=property_id,
            cancelled_way=Agreement.Way.SALE,
            until_on__gt=on,
            cancelled_on__lte=on,
            taken_over_by__isnull=True,
        )
        .select_related("offer")
        .order_by("-from_on")
        .first()
    )


def changed_rules() -> dict[str, NoticeRule]:
    """Renewal rules that a manager changed, by state."""
    return {
        row.state: NoticeRule(
            state=row.state, first_days=row.first_days, last_days=row.last_days, source=row.source, is_read=True
        )
        for row in NoticeDays.objects.all()
    }


def all_rules() -> list[NoticeRule]:
    """Every renewal rule as it holds now, the one for all other states last."""
    changed = changed_rules()
    known = {rule.state: rule for rule in NOTICE_RULES} | changed
    usual = known.pop("", USUAL_RULE)
    return [*(known[state] for state in sorted(known)), usual]


def billed_years(*, by: date) -> dict[int, tuple[Billed, Invoice]]:
    """Every year invoiced by a day, by the id of its invoice, as the revenue is reckoned from it."""
    invoices = (
        Invoice.objects.filter(credits__isnull=True, issued_on__lte=by)
        .select_related("agreement__property", "agreement__person", "credit_note")
        .order_by("year", "sequence")
    )
    found = {}
    for invoice in invoices:
        note = getattr(invoice, "credit_note", None)
        found[invoice.pk] = (
            Billed(
                key=invoice.pk,
                year=invoice.agreement.year(is_renewed=False),
                billed_on=invoice.issued_on,
                net=invoice.net,
                credited_on=note.issued_on if note is not None else None,
                credited=note.net if note is not None else Decimal("0.00"),
            ),
            invoice,
        )
    return found
