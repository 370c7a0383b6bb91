"""Writes about agreements: agree, stop the renewal, cancel, end with the house's sale, take over, renew."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from contractor.accounts.queries import the_company
from contractor.core import audit, clock
from contractor.core.audit import SYSTEM, Actor
from contractor.core.templatetags.country_style import amount_in_words
from contractor.plans.actions.invoices import issue_credit_note, issue_invoice
from contractor.plans.actions.letters import say_cancelled
from contractor.plans.errors import (
    CancelledAlready,
    EndsBeforeItBegins,
    NoConsent,
    NoConsentToRenewal,
    NothingToStop,
    NothingToTakeOver,
    NotTheOwner,
    OfferNotOpen,
    PlanOver,
    PlanRunsAlready,
    RenewalNotYetOffered,
    RenewedAlready,
)
from contractor.plans.models import Agreement, Invoice, PlanOffer
from contractor.plans.queries import CATCH_UP, to_take_over
from contractor.plans.rules.amounts import Amount, refund, share_of
from contractor.plans.rules.terms import a_year_from, overlaps
from contractor.properties.models import Ownership, Property

CONSENT = "I agree to the plan “{title}”, edition {edition}, for {price} a year plus tax, from {from_on}."
CONSENT_RENEWAL = " I agree that it renews by itself each year, after you have written to me, until I say stop."


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """Who said yes, by which way, and to what: the plan itself, and renewing by itself."""

    way: str
    to_plan: bool
    to_renewal: bool = False


@transaction.atomic
def agree(
    *,
    property_id: int,
    offer_id: int,
    from_on: date,
    renews: str,
    consent: Consent,
    by: Actor,
    at: datetime,
    until_on: date | None = None,
) -> Agreement:
    """A plan for the house with its present owner, for a year or until (excluding) another day, and its invoice.

    Raises NotTheOwner, OfferNotOpen, NoConsent, NoConsentToRenewal, EndsBeforeItBegins or PlanRunsAlready.
    """
    Property.objects.select_for_update().get(pk=property_id)
    owner = Ownership.objects.open_ended().filter(property_id=property_id).first()
    if owner is None:
        raise NotTheOwner
    offer = PlanOffer.objects.get(pk=offer_id)
    if not offer.is_open:
        raise OfferNotOpen
    agreement = _draft(offer, owner, from_on, until_on or a_year_from(from_on), renews=renews, consent=consent, at=at)
    if until_on is not None:
        days = (agreement.until_on - from_on).days
        of_days = (a_year_from(from_on) - from_on).days
        agreement.price = share_of(offer.price, Decimal(0), days=days, of_days=of_days).net
    return _keep(agreement, verb="plan agreed", by=by, at=at)


@transaction.atomic
def take_over(*, property_id: int, consent: Consent, by: Actor, at: datetime) -> Agreement:
    """The present owner takes over what is left of the plan that ended with the sale, by their own consent.

    It costs the share of the days that are left, and ends when the old one would have. It never renews by itself.
    Raises NotTheOwner, NothingToTakeOver, NoConsent or PlanRunsAlready.
    """
    Property.objects.select_for_update().get(pk=property_id)
    owner = Ownership.objects.open_ended().filter(property_id=property_id).first()
    if owner is None:
        raise NotTheOwner
    on = clock.day_of(at)
    old = to_take_over(property_id=property_id, on=on)
    if old is None or old.cancelled_on is None:
        raise NothingToTakeOver
    from_on = max(on, old.cancelled_on, owner.from_on)
    agreement = _draft(old.offer, owner, from_on, old.until_on, renews=Agreement.Renews.ASKS, consent=consent, at=at)
    days = (old.until_on - from_on).days
    agreement.price = share_of(old.price, Decimal(0), days=days, of_days=(old.until_on - old.from_on).days).net
    agreement.takes_over = old
    return _keep(agreement, verb="plan taken over", by=by, at=at)


def _draft(
    offer: PlanOffer, owner: Ownership, from_on: date, until_on: date, *, renews: str, consent: Consent, at: datetime
) -> Agreement:
    if not consent.to_plan:
        raise NoConsent
    is_automatic = renews == Agreement.Renews.AUTOMATIC
    if is_automatic and not consent.to_renewal:
        raise NoConsentToRenewal
    if until_on <= from_on:
        raise EndsBeforeItBegins
    return Agreement(
        offer=offer,
        property_id=owner.property_id,
        person_id=owner.person_id,
        from_on=from_on,
        until_on=until_on,
        price=offer.price,
        tax_percent=offer.tax_percent,
        renews=renews,
        agreed_at=at,
        agreed_way=consent.way,
        renewal_consent_at=at if is_automatic else None,
    )


def _keep(agreement: Agreement, *, verb: str, by: Actor, at: datetime) -> Agreement:
    others = Agreement.objects.filter(property_id=agreement.property_id)
    years = [one.year(is_renewed=False) for one in others]
    if (present := overlaps(agreement.from_on, agreement.until_on, years)) is not None:
        raise PlanRunsAlready(present.ends_on - timedelta(days=1))
    agreement.consent_words = CONSENT.format(
        title=agreement.offer.title,
        edition=agreement.offer.edition,
        price=amount_in_words(agreement.price, the_company().country),
        from_on=f"{agreement.from_on:%B} {agreement.from_on.day}, {agreement.from_on.year}",
    ) + (CONSENT_RENEWAL if agreement.renewal_consent_at is not None else "")
    agreement.save()
    audit.record(
        by=by,
        at=at,
        verb=verb,
        subject=agreement,
        property_id=agreement.property_id,
        after=audit.snapshot(agreement),
    )
    # A year that begins later is billed when it is agreed: who agrees knows at once what it costs.
    issue_invoice(agreement=agreement, on=clock.day_of(at), by=by, at=at)
    return agreement


@transaction.atomic
def renew(*, agreement_id: int, consent: Consent, by: Actor, at: datetime) -> Agreement:
    """The next year, because the owner said yes to the notice. Raises what ``_next_year`` raises, or NoConsent."""
    return _next_year(agreement_id, consent=consent, by=by, at=at)


@transaction.atomic
def renew_by_itself(*, agreement_id: int, by: Actor, at: datetime) -> Agreement:
    """The next year of a plan whose owner agreed to that beforehand; the nightly task has asked the rule."""
    consent = Consent(way=Agreement.objects.get(pk=agreement_id).agreed_way, to_plan=True, to_renewal=True)
    return _next_year(agreement_id, consent=consent, by=by, at=at, late=CATCH_UP)


def _next_year(
    agreement_id: int, *, consent: Consent, by: Actor, at: datetime, late: timedelta = timedelta(0)
) -> Agreement:
    present = _locked(agreement_id)
    _refuse_ended(present, clock.day_of(at) - late)
    if hasattr(present, "next_year"):
        raise RenewedAlready
    notice = getattr(present, "renewal_notice", None)
    if notice is None:
        raise RenewalNotYetOffered
    owner = Ownership.objects.open_ended().filter(property_id=present.property_id).first()
    if owner is None or owner.person_id != present.person_id:
        raise NotTheOwner
    renews = present.renews
    if renews == Agreement.Renews.AUTOMATIC and not consent.to_renewal:
        renews = Agreement.Renews.ASKS
    if renews == Agreement.Renews.NO:
        renews = Agreement.Renews.ASKS
    from_on = present.until_on
    following = _draft(notice.offer, owner, from_on, a_year_from(from_on), renews=renews, consent=consent, at=at)
    following.follows = present
    if following.renewal_consent_at is not None:
        following.renewal_consent_at = present.renewal_consent_at
    return _keep(following, verb="plan renewed", by=by, at=at)


@transaction.atomic
def stop_renewal(*, agreement_id: int, by: Actor, at: datetime) -> Agreement:
    """The plan runs to its last day and ends. Raises PlanOver, CancelledAlready, RenewedAlready or NothingToStop."""
    agreement = _locked(agreement_id)
    _refuse_ended(agreement, clock.day_of(at))
    if hasattr(agreement, "next_year"):
        raise RenewedAlready
    if agreement.renews == Agreement.Renews.NO:
        raise NothingToStop
    before = audit.snapshot(agreement)
    agreement.renews = Agreement.Renews.NO
    agreement.save()
    _record(agreement, verb="plan renewal stopped", by=by, at=at, before=before)
    return agreement


@transaction.atomic
def cancel(*, agreement_id: int, way: str, because: str, by: Actor, at: datetime) -> Agreement:
    """Cancels as of today, with the refund that the rule gives. A next year that was agreed already goes with it.

    Nobody has to give a reason. Raises PlanOver or CancelledAlready.
    """
    agreement = _locked(agreement_id)
    on = clock.day_of(at)
    _refuse_ended(agreement, on)
    following = getattr(agreement, "next_year", None)
    if following is not None and following.cancelled_on is None:
        _end(following, on=max(on, following.from_on), way=way, because=because, by=by, at=at)
    _end(agreement, on=max(on, agreement.from_on), way=way, because=because, by=by, at=at)
    say_cancelled(agreement=agreement, by=by, at=at)
    return agreement


def end_or_stop(*, agreement_id: int, when: str, because: str, way: str, by: Actor, at: datetime) -> Agreement:
    """``when`` is "now" for ``cancel`` or "end" for ``stop_renewal``: what the cancelling page asks."""
    if when == "end":
        return stop_renewal(agreement_id=agreement_id, by=by, at=at)
    return cancel(agreement_id=agreement_id, way=way, because=because, by=by, at=at)


@transaction.atomic
def end_with_sale(*, property_id: int, at: datetime) -> int:
    """Ends the plans of whoever no longer owns the house, as of the day of the hand-over; returns how many.

    The buyer owes nothing and is bound by nothing: a plan is theirs only by a consent of their own. Safe to run twice.
    """
    owner = Ownership.objects.open_ended().filter(property_id=property_id).first()
    live = Agreement.objects.select_for_update().filter(property_id=property_id, cancelled_on__isnull=True)
    if owner is not None:
        live = live.exclude(person_id=owner.person_id)
    ended = 0
    for agreement in live.order_by("from_on", "pk"):
        last = (
            Ownership.objects.filter(property_id=property_id, person_id=agreement.person_id, until_on__isnull=False)
            .order_by("-until_on")
            .first()
        )
        if last is None or last.until_on is None or last.until_on >= agreement.until_on:
            continue
        from_on = max(agreement.from_on, last.until_on)
        _end(agreement, on=from_on, way=Agreement.Way.SALE, because="The house was sold.", by=SYSTEM, at=at)
        say_cancelled(agreement=agreement, by=SYSTEM, at=at)
        ended += 1
    return ended


def _end(agreement: Agreement, *, on: date, way: str, because: str, by: Actor, at: datetime) -> None:
    before = audit.snapshot(agreement)
    agreement.cancelled_on, agreement.cancelled_at = on, at
    agreement.cancelled_way, agreement.cancelled_because = way, because.strip()
    agreement.save()
    _record(agreement, verb="plan cancelled", by=by, at=at, before=before)
    invoice = Invoice.objects.filter(agreement=agreement, credits__isnull=True).first()
    if invoice is None:
        return
    off = refund(
        Amount(net=invoice.net, tax=invoice.tax),
        agreement.year(is_renewed=False),
        on=on,
        agreed_on=clock.day_of(agreement.agreed_at),
        full_refund_days=agreement.offer.full_refund_days,
    )
    if off.total:
        issue_credit_note(invoice=invoice, amount=off, on=clock.day_of(at), by=by, at=at)


def _refuse_ended(agreement: Agreement, on: date) -> None:
    if agreement.cancelled_on is not None:
        raise CancelledAlready(agreement.cancelled_on)
    if agreement.until_on <= on:
        raise PlanOver(agreement.through_on)


def _locked(agreement_id: int) -> Agreement:
    Agreement.objects.select_for_update().get(pk=agreement_id)
    return Agreement.objects.select_related("offer", "property", "person").get(pk=agreement_id)


def _record(agreement: Agreement, *, verb: str, by: Actor, at: datetime, before: dict[str, object]) -> None:
    audit.record(
        by=by,
        at=at,
        verb=verb,
        subject=agreement,
        property_id=agreement.property_id,
        before=before,
        after=audit.snapshot(agreement),
    )
