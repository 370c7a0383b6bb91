"""Writes about money: invoices and credit notes with numbers without gaps, payments, refunds, counter-entries."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.accounts.queries import the_company
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.core.templatetags.country_style import amount_in_words
from contractor.plans.errors import (
    AmountNotPositive,
    CorrectedAlready,
    CounterEntryStays,
    MoreThanOwed,
    MoreThanToRefund,
    NoReason,
    ReceivedInFuture,
)
from contractor.plans.models import Agreement, Invoice, InvoiceSeries, Payment
from contractor.plans.queries import balance_of
from contractor.plans.rules.amounts import Amount, with_tax

# Common practice, no source.
DUE_WITHIN = timedelta(days=30)


@transaction.atomic
def issue_invoice(*, agreement: Agreement, on: date, by: Actor, at: datetime) -> Invoice:
    """The invoice of a year, from its price; due thirty days later. The caller holds the agreement's row."""
    amount = with_tax(agreement.price, agreement.tax_percent)
    return _issue(agreement, amount, on=on, due_on=on + DUE_WITHIN, credits=None, by=by, at=at)


@transaction.atomic
def issue_credit_note(*, invoice: Invoice, amount: Amount, on: date, by: Actor, at: datetime) -> Invoice:
    """Takes an amount off an invoice; the caller has asked the rule how much."""
    return _issue(invoice.agreement, amount, on=on, due_on=on + DUE_WITHIN, credits=invoice, by=by, at=at)


def _issue(
    agreement: Agreement, amount: Amount, *, on: date, due_on: date, credits: Invoice | None, by: Actor, at: datetime
) -> Invoice:
    InvoiceSeries.objects.get_or_create(year=on.year)
    series = InvoiceSeries.objects.select_for_update().get(year=on.year)
    series.last += 1
    series.save()
    invoice = Invoice.objects.create(
        year=on.year,
        sequence=series.last,
        agreement=agreement,
        credits=credits,
        issued_on=on,
        due_on=due_on,
        net=amount.net,
        tax_percent=agreement.tax_percent,
        tax=amount.tax,
        facts=_facts(agreement),
    )
    audit.record(
        by=by,
        at=at,
        verb="credit note issued" if credits else "plan invoiced",
        subject=invoice,
        property_id=agreement.property_id,
        after=audit.snapshot(invoice),
    )
    return invoice


@transaction.atomic
def record_payment(
    *, invoice_id: int, amount: Decimal, way: str, on: date, by_user: User, at: datetime, reference: str = ""
) -> Payment:
    """Notes money that came in, all of what is owed or a part.

    Raises AmountNotPositive, MoreThanOwed or ReceivedInFuture.
    """
    invoice = _locked(invoice_id)
    if amount <= 0:
        raise AmountNotPositive
    owed = balance_of(invoice).owed
    if amount > owed:
        raise MoreThanOwed(amount_in_words(owed))
    return _pay(invoice, amount, way=way, on=on, by_user=by_user, at=at, reference=reference, verb="payment recorded")


@transaction.atomic
def record_refund(
    *, invoice_id: int, amount: Decimal, way: str, on: date, by_user: User, at: datetime, reference: str = ""
) -> Payment:
    """Notes money that was given back. Raises AmountNotPositive, MoreThanToRefund or ReceivedInFuture."""
    invoice = _locked(invoice_id)
    if amount <= 0:
        raise AmountNotPositive
    due = balance_of(invoice).to_refund
    if amount > due:
        raise MoreThanToRefund(amount_in_words(due))
    return _pay(invoice, -amount, way=way, on=on, by_user=by_user, at=at, reference=reference, verb="refund recorded")


@transaction.atomic
def correct_payment(*, payment_id: int, because: str, by_user: User, at: datetime) -> Payment:
    """Takes an entry back by its counter-entry; both stay. Raises CorrectedAlready, CounterEntryStays or NoReason."""
    invoice_id = Payment.objects.get(pk=payment_id).invoice_id
    invoice = _locked(invoice_id)
    payment = Payment.objects.get(pk=payment_id)
    if payment.counters_id is not None:
        raise CounterEntryStays
    if Payment.objects.filter(counters=payment).exists():
        raise CorrectedAlready
    if not because.strip():
        raise NoReason
    counter = Payment.objects.create(
        invoice=invoice,
        amount=-payment.amount,
        way=payment.way,
        on=clock.day_of(at),
        counters=payment,
        because=because.strip(),
        made_by=by_user,
        made_at=at,
    )
    _record_payment(counter, invoice, verb="payment taken back", by_user=by_user, at=at)
    return counter


def _pay(
    invoice: Invoice, amount: Decimal, *, way: str, on: date, by_user: User, at: datetime, reference: str, verb: str
) -> Payment:
    if on > clock.day_of(at):
        raise ReceivedInFuture
    payment = Payment.objects.create(
        invoice=invoice, amount=amount, way=way, on=on, reference=reference.strip(), made_by=by_user, made_at=at
    )
    _record_payment(payment, invoice, verb=verb, by_user=by_user, at=at)
    return payment


def _record_payment(payment: Payment, invoice: Invoice, *, verb: str, by_user: User, at: datetime) -> None:
    audit.record(
        by=by_user.actor,
        at=at,
        verb=verb,
        subject=payment,
        property_id=invoice.agreement.property_id,
        after=audit.snapshot(payment),
    )


def _locked(invoice_id: int) -> Invoice:
    """The invoice with its row locked, so that two payments at once never add up to more than is owed."""
    Invoice.objects.select_for_update().get(pk=invoice_id)
    return Invoice.objects.select_related("agreement").get(pk=invoice_id, credits__isnull=True)


def _facts(agreement: Agreement) -> dict[str, Any]:
    company, house, person = the_company(), agreement.property, agreement.person
    lines = person.mail_address.strip().splitlines() or [
        house.street_line,
        f"{house.city}, {house.state} {house.postcode}",
    ]
    return {
        "seller": {
            "name": company.legal_name,
            "licence": company.licence,
            "lines": [company.street, f"{company.city}, {company.state} {company.postcode}"],
        },
        "buyer": {"name": person.name, "lines": lines},
        "house": house.address_line,
        "plan": agreement.offer.title,
        "edition": agreement.offer.edition,
        "included": agreement.offer.included_lines,
        "from_on": agreement.from_on.isoformat(),
        "through_on": agreement.through_on.isoformat(),
    }
