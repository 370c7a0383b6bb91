"""What owners are told about a plan: that it renews, that it ended, that something is unpaid."""

from datetime import date, datetime, timedelta

from django.db import transaction

from contractor.core import audit, clock
from contractor.core.audit import SYSTEM, Actor
from contractor.notices.actions import queue_notice
from contractor.plans.models import Agreement, Invoice, RenewalNotice
from contractor.plans.queries import (
    balance_of,
    changed_rules,
    ending_by,
    offer_for_renewal,
    overdue_invoices,
    present_owners,
)
from contractor.plans.rules.amounts import with_tax
from contractor.plans.rules.renewal import may_send_notice, notice_rule

LONGEST_WINDOW = timedelta(days=180)
# Days after the day it was due (common practice, no source).
REMIND_AFTER_DAYS = (7, 30)


@transaction.atomic
def say_cancelled(*, agreement: Agreement, by: Actor, at: datetime) -> None:
    """One closing message with what is given back; after it nothing more about this year goes to anybody."""
    invoice = Invoice.objects.filter(agreement=agreement, credits__isnull=True).first()
    queue_notice(
        occasion=f"plan ended:{agreement.pk}",
        template="plan_cancelled",
        person=agreement.person,
        property=agreement.property,
        context={
            "agreement": agreement,
            "is_sold": agreement.cancelled_way == Agreement.Way.SALE,
            "balance": balance_of(invoice) if invoice is not None else None,
            "credit_note": Invoice.objects.filter(credits=invoice).first() if invoice is not None else None,
        },
        by=by,
        at=at,
    )


def send_renewal_notices(*, on: date, at: datetime) -> int:
    """Tells owners of the coming renewal in the window of their state's rule; returns how many were told now."""
    rules = changed_rules()
    agreements = list(ending_by(on + LONGEST_WINDOW, on=on).filter(renewal_notice__isnull=True))
    owners = present_owners(agreement.property_id for agreement in agreements)
    sent = 0
    for agreement in agreements:
        rule = notice_rule(agreement.property.state, rules)
        if owners.get(agreement.property_id) != agreement.person_id:
            continue
        if may_send_notice(rule, renews_on=agreement.until_on, on=on):
            sent += _send_renewal_notice(agreement.pk, on=on, at=at)
    return sent


@transaction.atomic
def _send_renewal_notice(agreement_id: int, *, on: date, at: datetime) -> int:
    Agreement.objects.select_for_update().get(pk=agreement_id)
    agreement = ending_by(on + LONGEST_WINDOW, on=on).filter(pk=agreement_id, renewal_notice__isnull=True).first()
    offer = offer_for_renewal(agreement) if agreement is not None else None
    if agreement is None or offer is None:
        return 0
    rule = notice_rule(agreement.property.state, changed_rules())
    first_on, last_on = rule.window(agreement.until_on)
    told = RenewalNotice.objects.create(
        agreement=agreement, offer=offer, sent_on=on, first_on=first_on, last_on=last_on, rule_source=rule.source
    )
    queue_notice(
        occasion=f"plan renewal:{agreement.pk}",
        template="plan_renewal",
        person=agreement.person,
        property=agreement.property,
        context={
            "agreement": agreement,
            "offer": offer,
            "amount": with_tax(offer.price, offer.tax_percent),
            "is_by_itself": agreement.renews == Agreement.Renews.AUTOMATIC and offer.pk == agreement.offer_id,
        },
        by=SYSTEM,
        at=at,
    )
    audit.record(
        by=SYSTEM,
        at=at,
        verb="plan renewal announced",
        subject=told,
        property_id=agreement.property_id,
        after=audit.snapshot(told),
    )
    return 1


def remind_of_unpaid(*, on: date, at: datetime) -> int:
    """Reminds present owners of what is overdue, once after a week and once after a month; returns how many."""
    invoices = list(overdue_invoices(on - timedelta(days=REMIND_AFTER_DAYS[0])))
    owners = present_owners(invoice.agreement.property_id for invoice in invoices)
    reminded = 0
    for invoice in invoices:
        agreement = invoice.agreement
        balance = balance_of(invoice)
        late = (on - invoice.due_on).days
        if not balance.owed or owners.get(agreement.property_id) != agreement.person_id:
            continue
        number = sum(late >= days for days in REMIND_AFTER_DAYS)
        notice = queue_notice(
            occasion=f"plan unpaid:{invoice.pk}:{number}",
            template="plan_unpaid",
            person=agreement.person,
            property=agreement.property,
            context={"agreement": agreement, "invoice": invoice, "balance": balance, "number": number},
            by=SYSTEM,
            at=at,
        )
        reminded += clock.day_of(notice.queued_at) == on
    return reminded
