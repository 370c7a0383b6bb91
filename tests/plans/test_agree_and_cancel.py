"""Agreeing, cancelling, stopping the renewal; every refusal; and numbers without gaps."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core import mail
from django.db import IntegrityError, transaction

from contractor.accounts.models import User
from contractor.core.audit import breaks
from contractor.notices.models import Notice
from contractor.plans import errors
from contractor.plans.actions.agreements import Consent, agree, cancel, stop_renewal
from contractor.plans.actions.invoices import record_payment
from contractor.plans.actions.offers import withdraw_offer
from contractor.plans.models import Agreement, Invoice, InvoiceSeries, PlanOffer
from contractor.plans.queries import balance_of
from contractor.properties.models import Ownership, Property
from tests.plans.made import YES, new_offer, noon

pytestmark = pytest.mark.django_db
Agreed = Callable[..., Agreement]
ON = date(2026, 5, 4)


def invoice_of(agreement: Agreement) -> Invoice:
    return Invoice.objects.get(agreement=agreement, credits__isnull=True)


def test_agreeing_writes_the_year_the_words_of_the_consent_and_the_invoice(agreed: Agreed) -> None:
    plan = agreed()
    assert (plan.from_on, plan.until_on, plan.through_on) == (ON, date(2027, 5, 4), date(2027, 5, 3))
    assert "edition yearly-care-2026, for $365.00" in plan.consent_words
    invoice = invoice_of(plan)
    assert (invoice.net, invoice.tax, invoice.total) == (Decimal("365.00"), Decimal("21.90"), Decimal("386.90"))
    assert (invoice.number, invoice.due_on) == ("2026-00001", ON + timedelta(days=30))
    assert breaks(f"property:{plan.property_id}") == []


def test_a_shorter_time_costs_its_share(offer: PlanOffer, ownership: Ownership, nora: User) -> None:
    plan = agree(
        property_id=ownership.property_id,
        offer_id=offer.pk,
        from_on=ON,
        until_on=ON + timedelta(days=100),
        renews="no",
        consent=YES,
        by=nora.actor,
        at=noon(ON),
    )
    assert plan.price == Decimal("100.00")


@pytest.mark.parametrize(
    ("consent", "renews", "until_on", "refusal"),
    [
        (Consent(way="office", to_plan=False), "no", None, errors.NoConsent),
        (Consent(way="office", to_plan=True), "automatic", None, errors.NoConsentToRenewal),
        (YES, "no", date(2026, 5, 4), errors.EndsBeforeItBegins),
        (YES, "no", date(2026, 5, 1), errors.EndsBeforeItBegins),
    ],
)
def test_nothing_is_agreed_without_a_yes_or_with_days_turned_round(
    offer: PlanOffer,
    ownership: Ownership,
    nora: User,
    consent: Consent,
    renews: str,
    until_on: date | None,
    refusal: type[Exception],
) -> None:
    with pytest.raises(refusal):
        agree(
            property_id=ownership.property_id,
            offer_id=offer.pk,
            from_on=ON,
            until_on=until_on,
            renews=renews,
            consent=consent,
            by=nora.actor,
            at=noon(ON),
        )
    assert not Agreement.objects.exists()
    assert not Invoice.objects.exists()


def test_a_house_has_one_plan_at_a_time(agreed: Agreed) -> None:
    agreed()
    with pytest.raises(errors.PlanRunsAlready, match="May 3, 2027"):
        agreed(date(2026, 8, 1))
    agreed(date(2026, 8, 1), from_on=date(2027, 5, 4))


def test_a_house_without_an_owner_or_an_offer_that_is_closed_gets_no_plan(
    offer: PlanOffer, house: Property, ruth: User, neighbour: Ownership
) -> None:
    def ask(property_id: int) -> None:
        agree(
            property_id=property_id,
            offer_id=offer.pk,
            from_on=ON,
            renews="no",
            consent=YES,
            by=ruth.actor,
            at=noon(ON),
        )

    with pytest.raises(errors.NotTheOwner):
        ask(house.pk)
    withdraw_offer(offer_id=offer.pk, by_user=ruth, at=noon(ON))
    with pytest.raises(errors.OfferNotOpen):
        ask(neighbour.property_id)


def test_cancelling_gives_back_the_days_not_used_and_says_so_once(agreed: Agreed, nora: User) -> None:
    plan = agreed()
    invoice = invoice_of(plan)
    record_payment(
        invoice_id=invoice.pk, amount=Decimal("386.90"), way="check", on=ON, by_user=nora, at=noon(ON)
    )
    on = ON + timedelta(days=183)
    cancel(agreement_id=plan.pk, way="page", because="", by=nora.actor, at=noon(on))
    note = Invoice.objects.get(credits=invoice)
    # 182 of 365 days of $386.90 are $192.92, of $365.00 are $182.00, worked by hand.
    assert (note.net, note.total, note.number) == (Decimal("182.00"), Decimal("192.92"), "2026-00002")
    assert balance_of(invoice).to_refund == Decimal("192.92")
    told = Notice.objects.get(template="plan_cancelled")
    assert "$192.92" in told.text
    assert "warranty of your system did not depend on the plan" in told.text


def test_within_the_first_thirty_days_all_money_comes_back(agreed: Agreed, nora: User) -> None:
    plan = agreed()
    cancel(agreement_id=plan.pk, way="page", because="", by=nora.actor, at=noon(ON + timedelta(days=30)))
    assert Invoice.objects.get(credits__agreement=plan).total == Decimal("386.90")


def test_a_plan_is_cancelled_once_and_not_after_its_end(agreed: Agreed, nora: User) -> None:
    plan = agreed()
    with pytest.raises(errors.PlanOver):
        cancel(agreement_id=plan.pk, way="page", because="", by=nora.actor, at=noon(date(2027, 5, 4)))
    cancel(agreement_id=plan.pk, way="page", because="", by=nora.actor, at=noon(date(2026, 9, 1)))
    with pytest.raises(errors.CancelledAlready, match="September 1, 2026"):
        cancel(agreement_id=plan.pk, way="page", because="", by=nora.actor, at=noon(date(2026, 9, 2)))
    assert Invoice.objects.filter(credits__isnull=False).count() == 1


def test_the_renewal_is_stopped_and_nothing_else_changes(agreed: Agreed, nora: User) -> None:
    plan = agreed(renews="automatic")
    stop_renewal(agreement_id=plan.pk, by=nora.actor, at=noon(ON))
    plan.refresh_from_db()
    assert (plan.renews, plan.cancelled_on) == ("no", None)
    with pytest.raises(errors.NothingToStop):
        stop_renewal(agreement_id=plan.pk, by=nora.actor, at=noon(ON))


def test_numbers_have_no_gaps_even_when_a_write_fails(agreed: Agreed, nora: User) -> None:
    first = agreed()

    def interrupted() -> None:
        with transaction.atomic():
            agreed(from_on=date(2027, 5, 4))
            raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        interrupted()
    second = agreed(from_on=date(2027, 5, 4))
    assert [invoice_of(one).sequence for one in (first, second)] == [1, 2]
    assert InvoiceSeries.objects.get(year=2026).last == 2


def test_every_year_counts_its_invoices_from_one(agreed: Agreed) -> None:
    agreed()
    assert invoice_of(agreed(date(2027, 1, 2), from_on=date(2027, 5, 4))).number == "2027-00001"


def test_the_table_itself_refuses_a_year_that_ends_before_it_begins(agreed: Agreed) -> None:
    plan = agreed()
    with pytest.raises(IntegrityError), transaction.atomic():
        Agreement.objects.filter(pk=plan.pk).update(until_on=ON)


def test_nobody_is_sent_anything_for_agreeing(agreed: Agreed, ruth: User) -> None:
    agreed()
    new_offer(ruth, noon(ON), edition="another")
    assert mail.outbox == []
