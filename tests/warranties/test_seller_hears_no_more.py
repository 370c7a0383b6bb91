"""Once a house is sold its old owner hears nothing more of it: what waits is withdrawn, and nothing new is written."""

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from contractor.accounts.models import User
from contractor.checkups import tasks as checkup_tasks
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices import actions as notice_actions
from contractor.notices.models import Notice
from contractor.plans import tasks as plan_tasks
from contractor.plans.actions.agreements import agree
from contractor.properties.models import Person
from contractor.visits.actions.appointments import give_to_technician
from contractor.visits.models import Request
from contractor.warranties import tasks as warranty_tasks
from contractor.warranties.actions import transfers
from contractor.warranties.models import Transfer, Warranty
from tests.plans.made import YES, new_offer, noon
from tests.warranties.test_transfer import ask, complete, issue

pytestmark = pytest.mark.django_db
KINDS = sorted(
    path.name.removesuffix(".subject.txt")
    for path in (Path(__file__).resolve().parents[2] / "templates/notices").glob("*.subject.txt")
)

# What each kind of message to the seller comes to when the certificate is issued while it still waits. A new kind has
# to be put here, and so somebody has to think of it.
WITHDRAWN = {
    "appointment_called_off",
    "appointment_cancelled",
    "appointment_confirmed",
    "appointment_moved",
    "appointment_set",
    "checkup_due",
    "owner_link",
    "plan_offer",
    "plan_renewal",
    "plan_unpaid",
    "report_ready",
    "transfer_accepted_seller",
    "transfer_asked",
    "transfer_inquiry_owner",
    "transfer_link",
    "transfer_moved",
    "transfer_reminder",
    "visit_on_the_way",
    "visit_reminder",
    "warranty_issued",
}
# Their own money and their own word: a claim of theirs, the money back of their plan, the end of the sale itself, and
# the answers to texts of theirs, which are about no house.
STAYS = {
    "claim_appeal_decided",
    "claim_appeal_received",
    "claim_decided",
    "claim_goodwill",
    "claim_goodwill_taken_back",
    "claim_question",
    "plan_cancelled",
    "texts_help",
    "texts_started",
    "texts_stopped",
    "transfer_issued_seller",
    "transfer_revoked",
    "transfer_withdrawn",
}
TO_OTHERS = {
    "terms_to_read",
    "transfer_accepted_buyer",
    "transfer_asked_buyer",
    "transfer_inquiry_declined",
    "transfer_inquiry_received",
    "transfer_issued_agent",
    "transfer_issued_buyer",
}


def test_every_kind_of_message_is_in_the_table() -> None:
    assert sorted(WITHDRAWN | STAYS | TO_OTHERS) == KINDS


@pytest.fixture
def ready(cared_for: Warranty, buyer: Person, theo: User, office: Actor, at: datetime) -> Transfer:
    transfer = ask(cared_for, buyer, office, at)
    complete(transfer, theo, office, at)
    return transfer


def waiting(kind: str, channel: str, transfer: Transfer, person: Person, at: datetime) -> Notice:
    """A message of a kind that is queued and not out yet, under an occasion as its writer names it."""
    step = kind.removeprefix("transfer_").removesuffix("_seller")
    occasion = f"transfer {step}:{transfer.pk}:waiting" if kind.startswith("transfer_") else f"waiting {kind}"
    return Notice.objects.create(
        occasion=f"{occasion}:{channel}",
        template=kind,
        channel=channel,
        person=person,
        property=transfer.seller.property,
        address=person.email if channel == "email" else "",
        subject="About 12 Millrace Lane",
        text="About 12 Millrace Lane",
        queued_at=at,
        # An e-mail that could not be sent waits for its next attempt.
        not_before=at + timedelta(minutes=4),
    )


@pytest.mark.parametrize("channel", ["letter", "email"])
@pytest.mark.parametrize("kind", sorted(WITHDRAWN | STAYS))
def test_what_waits_for_the_seller_is_withdrawn_with_the_sale(
    kind: str, channel: str, ready: Transfer, office: Actor, on: date, at: datetime
) -> None:
    hers = waiting(kind, channel, ready, ready.seller.person, at)
    issue(ready, office, at, on)
    hers.refresh_from_db()
    assert hers.state == ("withdrawn" if kind in WITHDRAWN else "queued")


@pytest.mark.parametrize("kind", ["transfer_accepted_buyer", "checkup_due"])
def test_what_waits_for_the_buyer_is_not(kind: str, ready: Transfer, office: Actor, on: date, at: datetime) -> None:
    his = waiting(kind, "letter", ready, ready.buyer, at)
    issue(ready, office, at, on)
    his.refresh_from_db()
    assert his.state == "queued"


def test_it_is_withdrawn_in_the_same_transaction_not_by_a_worker_that_may_be_late(
    ready: Transfer, office: Actor, on: date, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    hers = waiting("checkup_due", "letter", ready, ready.seller.person, at)
    monkeypatch.setattr("contractor.core.renewal.facts_changed", lambda **_: None)
    issue(ready, office, at, on)
    hers.refresh_from_db()
    assert hers.state == "withdrawn"


def test_through_the_year_after_the_sale_nothing_is_written_to_the_seller(
    ready: Transfer,
    theo: User,
    ruth: User,
    office: Actor,
    on: date,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every task of the calendar, month by month, with a plan of the seller's, a check-up due and a visit given."""
    seller = ready.seller.person
    begun = on - timedelta(days=100)
    agree(
        property_id=ready.seller.property_id,
        offer_id=new_offer(ruth, noon(begun)).pk,
        from_on=begun,
        renews="asks",
        consent=YES,
        by=office,
        at=noon(begun),
    )
    issue(ready, office, at, on)
    before = set(Notice.objects.filter(person=seller).values_list("pk", flat=True))
    for month in range(1, 15):
        day = on + timedelta(days=30 * month)
        monkeypatch.setattr(clock, "today", lambda day=day: day)
        monkeypatch.setattr(clock, "now", lambda day=day: datetime.combine(day, time(15), tzinfo=UTC))
        warranty_tasks.refresh_all_standings()
        warranty_tasks.remind_of_transfers()
        plan_tasks.follow_the_calendar()
        checkup_tasks.render_missing_reports()
        visit = Request.objects.without_appointment().filter(earliest_on__lte=day).first()
        if visit is not None:
            give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=day, by=office, at=clock.now())
    assert not Notice.objects.filter(person=seller).exclude(pk__in=before).exists()
    # The calendar did have something to say, to the owner of today.
    assert Notice.objects.filter(person=ready.buyer, template__in=["checkup_due", "appointment_set"]).exists()


def test_a_link_in_a_message_that_comes_too_late_opens_nothing_of_the_house(
    ready: Transfer, office: Actor, on: date, at: datetime
) -> None:
    late = waiting("transfer_issued_seller", "email", ready, ready.seller.person, at)
    issue(ready, office, at, on)
    assert notice_actions.house_link(notice=late, key=None, at=at) is None


def test_a_sale_that_is_called_off_leaves_the_owners_letters_alone(
    ready: Transfer, office: Actor, at: datetime
) -> None:
    hers = waiting("checkup_due", "letter", ready, ready.seller.person, at)
    stale = waiting("transfer_reminder", "letter", ready, ready.seller.person, at)
    transfers.withdraw_transfer(transfer_id=ready.pk, because="Off.", by=office, at=at)
    hers.refresh_from_db()
    stale.refresh_from_db()
    assert (hers.state, stale.state) == ("queued", "withdrawn")
