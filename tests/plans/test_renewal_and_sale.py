"""The next year: told in time, begun by itself only with consent. A sale ends the plan and binds nobody else."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import TestCase

from contractor.accounts.models import User
from contractor.notices.actions import mark_letter_sent
from contractor.notices.models import Notice
from contractor.plans import errors
from contractor.plans.actions.agreements import Consent, cancel, end_with_sale, renew, stop_renewal, take_over
from contractor.plans.actions.letters import send_renewal_notices
from contractor.plans.actions.nightly import follow_the_calendar
from contractor.plans.actions.offers import change_notice_days, withdraw_offer
from contractor.plans.models import Agreement, Invoice, PlanOffer
from contractor.properties.actions import hand_over
from contractor.properties.models import Ownership, Person
from tests.plans.made import YES, new_offer, noon

pytestmark = pytest.mark.django_db
Agreed = Callable[..., Agreement]
NO = Consent(way="page", to_plan=False)
ON, RENEWS_ON = date(2026, 5, 4), date(2027, 5, 4)
# Pennsylvania has no row in the table: 45 to 30 days before.
FIRST, LAST = RENEWS_ON - timedelta(days=45), RENEWS_ON - timedelta(days=30)


def nights(first: date, last: date) -> Iterator[date]:
    for day in range((last - first).days + 1):
        yield first + timedelta(days=day)


def live(first: date, last: date) -> None:
    """Every night in between; what was queued goes out in the same moment."""
    for on in nights(first, last):
        with TestCase.captureOnCommitCallbacks(execute=False):
            follow_the_calendar(on=on, at=noon(on))
        Notice.objects.filter(state=Notice.State.QUEUED).update(state=Notice.State.SENT, sent_at=noon(on))


def test_a_plan_with_consent_renews_by_itself_after_a_notice_in_its_window(agreed: Agreed) -> None:
    plan = agreed(renews="automatic")
    live(FIRST - timedelta(days=3), RENEWS_ON - timedelta(days=2))
    told = Notice.objects.get(template="plan_renewal")
    assert told.queued_at == noon(FIRST)
    assert "renews by itself on May 4, 2027" in told.text
    assert "together $386.90" in told.text
    assert not hasattr(Agreement.objects.get(pk=plan.pk), "next_year"), "Nothing is charged before its day."
    live(RENEWS_ON - timedelta(days=1), RENEWS_ON + timedelta(days=3))
    following = Agreement.objects.get(follows=plan)
    assert (following.from_on, following.until_on) == (RENEWS_ON, date(2028, 5, 4))
    assert Invoice.objects.get(agreement=following).issued_on == RENEWS_ON - timedelta(days=1)
    assert Notice.objects.filter(template="plan_renewal").count() == 1


def test_a_night_that_was_missed_is_caught_up_within_a_week(agreed: Agreed) -> None:
    plan = agreed(renews="automatic")
    live(FIRST, FIRST)
    live(RENEWS_ON + timedelta(days=5), RENEWS_ON + timedelta(days=5))
    assert Agreement.objects.get(follows=plan).from_on == RENEWS_ON


def test_without_consent_to_it_nothing_renews_and_nothing_is_charged(agreed: Agreed) -> None:
    plan = agreed(renews="asks")
    live(FIRST, RENEWS_ON + timedelta(days=10))
    assert "It does not renew unless you say yes" in Notice.objects.get(template="plan_renewal").text
    assert list(Agreement.objects.all()) == [plan]
    assert Invoice.objects.count() == 1


def test_a_plan_that_simply_ends_tells_nobody_anything(agreed: Agreed) -> None:
    agreed(renews="no")
    live(FIRST, RENEWS_ON + timedelta(days=3))
    assert not Notice.objects.exclude(template="plan_unpaid").exists()


def test_a_letter_counts_from_the_day_it_is_posted(agreed: Agreed, ownership: Ownership, nora: User) -> None:
    Person.objects.filter(pk=ownership.person_id).update(email="")
    plan = agreed(renews="automatic")
    follow_the_calendar(on=FIRST, at=noon(FIRST))
    late = LAST + timedelta(days=1)
    mark_letter_sent(notice_id=Notice.objects.get(template="plan_renewal").pk, by=nora.actor, at=noon(late))
    live(late, RENEWS_ON + timedelta(days=3))
    assert not Agreement.objects.filter(follows=plan).exists()


def test_another_edition_is_another_bargain_and_is_asked_for(agreed: Agreed, offer: PlanOffer, ruth: User) -> None:
    plan = agreed(renews="automatic")
    withdraw_offer(offer_id=offer.pk, by_user=ruth, at=noon(ON))
    dearer = new_offer(ruth, noon(ON), edition="yearly-care-2027", price=Decimal("399.00"))
    live(FIRST, RENEWS_ON - timedelta(days=1))
    told = Notice.objects.get(template="plan_renewal")
    assert "$399.00" in told.text
    assert "(until now $365.00)" in told.text
    assert not Agreement.objects.filter(follows=plan).exists()
    following = renew(agreement_id=plan.pk, consent=YES, by=ruth.actor, at=noon(RENEWS_ON - timedelta(days=1)))
    assert (following.offer, following.price, following.renews) == (dearer, Decimal("399.00"), "asks")


def test_an_owner_who_stopped_the_renewal_is_not_charged(agreed: Agreed, nora: User) -> None:
    plan = agreed(renews="automatic")
    live(FIRST, FIRST)
    stop_renewal(agreement_id=plan.pk, by=nora.actor, at=noon(LAST))
    live(LAST, RENEWS_ON + timedelta(days=3))
    assert list(Agreement.objects.all()) == [plan]


def test_the_days_that_a_manager_put_down_set_the_window(agreed: Agreed, ruth: User) -> None:
    agreed(renews="automatic")
    change_notice_days(state="PA", first_days=60, last_days=50, source="Our lawyer", by_user=ruth, at=noon(ON))
    assert send_renewal_notices(on=RENEWS_ON - timedelta(days=49), at=noon(ON)) == 0
    assert send_renewal_notices(on=RENEWS_ON - timedelta(days=50), at=noon(ON)) == 1


def test_a_renewal_is_refused_before_the_notice_twice_and_without_a_yes(agreed: Agreed, nora: User) -> None:
    plan = agreed()
    with pytest.raises(errors.RenewalNotYetOffered):
        renew(agreement_id=plan.pk, consent=YES, by=nora.actor, at=noon(FIRST))
    live(FIRST, FIRST)
    with pytest.raises(errors.NoConsent):
        renew(agreement_id=plan.pk, consent=NO, by=nora.actor, at=noon(LAST))
    renew(agreement_id=plan.pk, consent=YES, by=nora.actor, at=noon(LAST))
    with pytest.raises(errors.RenewedAlready):
        renew(agreement_id=plan.pk, consent=YES, by=nora.actor, at=noon(LAST))
    with pytest.raises(errors.RenewedAlready):
        stop_renewal(agreement_id=plan.pk, by=nora.actor, at=noon(LAST))


def test_a_next_year_that_was_agreed_goes_with_a_cancellation(agreed: Agreed, nora: User) -> None:
    plan = agreed()
    live(FIRST, FIRST)
    following = renew(agreement_id=plan.pk, consent=YES, by=nora.actor, at=noon(LAST))
    cancel(agreement_id=plan.pk, way="page", because="", by=nora.actor, at=noon(LAST + timedelta(days=10)))
    assert Invoice.objects.get(credits__agreement=following).total == Decimal("386.90")


def sold(ownership: Ownership, buyer: Person, on: date, nora: User) -> None:
    with TestCase.captureOnCommitCallbacks(execute=True):
        hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=on, by=nora.actor, at=noon(on))


SOLD_ON = ON + timedelta(days=183)


def test_a_sale_ends_the_plan_as_of_its_day_and_the_seller_hears_of_it_once(
    agreed: Agreed, ownership: Ownership, buyer: Person, nora: User
) -> None:
    plan = agreed(renews="automatic")
    sold(ownership, buyer, SOLD_ON, nora)
    plan.refresh_from_db()
    assert (plan.cancelled_on, plan.cancelled_way) == (SOLD_ON, "sale")
    # The hand-over is followed at the real moment, so the credit note's day is today's; its amount is the rule's.
    assert Invoice.objects.get(credits__agreement=plan).total == Decimal("192.92")
    assert end_with_sale(property_id=plan.property_id, at=noon(SOLD_ON)) == 0
    live(FIRST, RENEWS_ON + timedelta(days=3))
    assert list(Notice.objects.values_list("template", "person_id")) == [("plan_cancelled", ownership.person_id)]
    assert Agreement.objects.count() == 1


def test_a_renewal_notice_that_still_waits_is_withdrawn_when_the_house_is_sold(
    agreed: Agreed, ownership: Ownership, buyer: Person, nora: User
) -> None:
    Person.objects.filter(pk=ownership.person_id).update(email="")
    agreed()
    follow_the_calendar(on=FIRST, at=noon(FIRST))
    sold(ownership, buyer, FIRST + timedelta(days=1), nora)
    assert Notice.objects.get(template="plan_renewal").state == Notice.State.WITHDRAWN


def test_a_buyer_takes_over_the_rest_by_their_own_yes_for_what_the_seller_was_credited(
    agreed: Agreed, ownership: Ownership, buyer: Person, nora: User
) -> None:
    plan = agreed(renews="automatic")
    sold(ownership, buyer, SOLD_ON, nora)
    with pytest.raises(errors.NoConsent):
        take_over(property_id=plan.property_id, consent=NO, by=nora.actor, at=noon(SOLD_ON))
    rest = take_over(property_id=plan.property_id, consent=YES, by=nora.actor, at=noon(SOLD_ON))
    assert (rest.person, rest.from_on, rest.until_on, rest.renews) == (buyer, SOLD_ON, plan.until_on, "asks")
    assert rest.price == Invoice.objects.get(credits__agreement=plan).net == Decimal("182.00")
    with pytest.raises(errors.NothingToTakeOver):
        take_over(property_id=plan.property_id, consent=YES, by=nora.actor, at=noon(SOLD_ON))


def test_there_is_nothing_to_take_over_from_an_owner_who_stayed(agreed: Agreed, nora: User) -> None:
    plan = agreed()
    with pytest.raises(errors.NothingToTakeOver):
        take_over(property_id=plan.property_id, consent=YES, by=nora.actor, at=noon(SOLD_ON))


def test_consent_words_name_the_renewal_only_where_it_was_asked_for(agreed: Agreed) -> None:
    assert "renews by itself" not in agreed().consent_words
    assert "renews by itself" in agreed(renews="automatic", from_on=RENEWS_ON).consent_words
