"""Payments in part and in whole, refunds, counter-entries, reminders."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from contractor.accounts.models import User
from contractor.notices.models import Notice
from contractor.plans import errors
from contractor.plans.actions.agreements import cancel
from contractor.plans.actions.invoices import correct_payment, record_payment, record_refund
from contractor.plans.actions.letters import remind_of_unpaid
from contractor.plans.models import Agreement, Invoice, Payment
from contractor.plans.queries import balance_of, overdue_invoices
from contractor.properties.models import Ownership
from tests.plans.made import noon

pytestmark = pytest.mark.django_db
ON = date(2026, 5, 4)
TOTAL = Decimal("386.90")


@pytest.fixture
def invoice(agreed: Callable[..., Agreement]) -> Invoice:
    return Invoice.objects.get(agreement=agreed())


def money(amount: str, nora: User, **more: Any) -> dict[str, Any]:
    return {"amount": Decimal(amount), "way": "check", "on": ON, "by_user": nora, "at": noon(ON), **more}


def test_part_payments_add_up_to_what_is_owed(invoice: Invoice, nora: User) -> None:
    record_payment(invoice_id=invoice.pk, **money("100.00", nora))
    assert balance_of(invoice).owed == Decimal("286.90")
    record_payment(invoice_id=invoice.pk, **money("286.90", nora, way="card"))
    assert balance_of(invoice).owed == 0
    with pytest.raises(errors.MoreThanOwed, match=r"\$0\.00"):
        record_payment(invoice_id=invoice.pk, **money("0.01", nora))


@pytest.mark.parametrize(
    ("amount", "on", "refusal"),
    [
        ("386.91", ON, errors.MoreThanOwed),
        ("0.00", ON, errors.AmountNotPositive),
        ("-5.00", ON, errors.AmountNotPositive),
        ("10.00", ON + timedelta(days=1), errors.ReceivedInFuture),
    ],
)
def test_a_payment_that_cannot_be_is_refused(
    invoice: Invoice, nora: User, amount: str, on: date, refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        record_payment(invoice_id=invoice.pk, **money(amount, nora, on=on))
    assert not Payment.objects.exists()


def test_a_wrong_entry_gets_a_counter_entry_and_both_stay(invoice: Invoice, nora: User) -> None:
    wrong = record_payment(invoice_id=invoice.pk, **money("368.90", nora))
    counter = correct_payment(payment_id=wrong.pk, because="Digits turned round", by_user=nora, at=noon(ON))
    assert balance_of(invoice).owed == TOTAL
    assert Payment.objects.count() == 2
    with pytest.raises(errors.CorrectedAlready):
        correct_payment(payment_id=wrong.pk, because="Again", by_user=nora, at=noon(ON))
    with pytest.raises(errors.CounterEntryStays):
        correct_payment(payment_id=counter.pk, because="Again", by_user=nora, at=noon(ON))


def test_a_counter_entry_says_why(invoice: Invoice, nora: User) -> None:
    wrong = record_payment(invoice_id=invoice.pk, **money("10.00", nora))
    with pytest.raises(errors.NoReason):
        correct_payment(payment_id=wrong.pk, because="  ", by_user=nora, at=noon(ON))


def test_no_more_is_given_back_than_is_due(invoice: Invoice, nora: User) -> None:
    record_payment(invoice_id=invoice.pk, **money("386.90", nora))
    with pytest.raises(errors.MoreThanToRefund, match=r"\$0\.00"):
        record_refund(invoice_id=invoice.pk, **money("1.00", nora))
    cancel(agreement_id=invoice.agreement_id, way="office", because="", by=nora.actor, at=noon(ON))
    with pytest.raises(errors.MoreThanToRefund):
        record_refund(invoice_id=invoice.pk, **money("386.91", nora))
    with pytest.raises(errors.AmountNotPositive):
        record_refund(invoice_id=invoice.pk, **money("0", nora))
    record_refund(invoice_id=invoice.pk, **money("386.90", nora))
    assert (balance_of(invoice).owed, balance_of(invoice).to_refund) == (0, 0)


@pytest.mark.parametrize(
    ("paid", "is_cancelled", "is_overdue"),
    [("", False, True), ("386.90", False, False), ("100.00", False, True), ("", True, False)],
)
def test_only_what_is_still_owed_is_overdue(
    invoice: Invoice, nora: User, paid: str, is_cancelled: bool, is_overdue: bool
) -> None:
    if paid:
        record_payment(invoice_id=invoice.pk, **money(paid, nora))
    if is_cancelled:
        cancel(agreement_id=invoice.agreement_id, way="office", because="", by=nora.actor, at=noon(ON))
    assert (list(overdue_invoices(invoice.due_on)) == [invoice]) is is_overdue
    assert list(overdue_invoices(invoice.due_on - timedelta(days=1))) == []


@pytest.mark.parametrize(("days", "reminders"), [(6, 0), (7, 1), (29, 1), (30, 2), (90, 2)])
def test_what_is_overdue_is_reminded_of_after_a_week_and_after_a_month(
    invoice: Invoice, days: int, reminders: int
) -> None:
    for day in range(days + 1):
        on = invoice.due_on + timedelta(days=day)
        remind_of_unpaid(on=on, at=noon(on))
    assert Notice.objects.filter(template="plan_unpaid").count() == reminders


def test_a_former_owner_is_not_reminded(invoice: Invoice, ownership: Ownership) -> None:
    Ownership.objects.filter(pk=ownership.pk).update(until_on=ON + timedelta(days=40))
    on = invoice.due_on + timedelta(days=60)
    assert remind_of_unpaid(on=on, at=noon(on)) == 0
