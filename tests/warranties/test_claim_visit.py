"""The visits of a claim: somebody looks, the repair once it is covered, and none for what is not."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.visits.actions.appointments import give_to_technician, mark_done, withdraw_request
from contractor.visits.errors import WindowBackwards
from contractor.visits.models import Request
from contractor.warranties.actions.claim_visits import ask_for_claim_visit
from contractor.warranties.actions.claims import decide_claim, report_claim, withdraw_claim
from contractor.warranties.claim_errors import NothingToRepair
from contractor.warranties.claim_file import claim_file
from contractor.warranties.errors import ClaimSettled
from contractor.warranties.models import Claim, Warranty

pytestmark = pytest.mark.django_db
ON = date(2026, 5, 4)


@pytest.fixture
def claim(cared_for: Warranty, office: Actor, at: datetime) -> Claim:
    return report_claim(
        warranty_id=cared_for.pk, part_kind="primary_pump", lost_on=date(2023, 4, 20), reported_on=date(2026, 4, 21),
        what="Hums.", cause="part_failed", by=office, at=at,
    )  # fmt: skip


def ask(claim: Claim, office: Actor, at: datetime, *, target_on: date = ON) -> Request:
    return ask_for_claim_visit(
        claim_id=claim.pk, target_on=target_on, earliest_on=ON, latest_on=ON + timedelta(days=9), minutes=60,
        reason="To look.", by=office, at=at,
    )  # fmt: skip


def test_somebody_looks_before_and_repairs_after_the_decision(
    claim: Claim, nora: User, theo: User, office: Actor, at: datetime
) -> None:
    look = ask(claim, office, at)
    assert (look.kind, look.skills, look.system_id) == ("claim", ["pumps"], claim.warranty.system_id)
    assert ask(claim, office, at) == look
    assert not claim_file(claim, on=ON).may_ask_for_visit
    given = give_to_technician(request_id=look.pk, technician_id=theo.pk, on=ON, by=office, at=at)
    assert [one.state for one in claim_file(claim, on=ON).visits] == ["given"]
    mark_done(appointment_id=given.pk, by=theo.actor, at=at)
    decided = decide_claim(claim_id=claim.pk, cost=Decimal(500), by_user=nora, at=at)
    repair = ask(decided, office, at)
    assert repair.pk != look.pk
    file = claim_file(decided, on=ON)
    assert [one.state for one in file.visits] == ["done", "waiting"]
    assert "Theo Marsh was there" in [event.words for event in file.events]
    assert "We came" in [event.owner_words for event in file.events]


def test_a_visit_that_was_called_off_can_be_asked_for_again(claim: Claim, office: Actor, at: datetime) -> None:
    first = ask(claim, office, at)
    withdraw_request(request_id=first.pk, because="Too early", by=office, at=at)
    assert ask(claim, office, at).pk != first.pk
    assert [one.state for one in claim_file(claim, on=ON).visits] == ["withdrawn", "waiting"]


def test_what_is_not_covered_gets_no_repair_under_the_warranty(
    claim: Claim, nora: User, office: Actor, at: datetime
) -> None:
    with pytest.raises(WindowBackwards):
        ask(claim, office, at, target_on=ON - timedelta(days=1))
    decided = decide_claim(claim_id=claim.pk, cost=Decimal(500), by_user=nora, at=at, cause="unplugged")
    with pytest.raises(NothingToRepair):
        ask(decided, office, at)
    assert not claim_file(decided, on=ON).may_ask_for_visit
    assert not Request.objects.filter(kind="claim").exists()


def test_withdrawing_a_claim_calls_its_visit_off(claim: Claim, office: Actor, at: datetime) -> None:
    look = ask(claim, office, at)
    withdraw_claim(claim_id=claim.pk, because="It was the breaker.", by=office, at=at)
    look.refresh_from_db()
    assert (look.withdrawn_at, look.withdrawn_because) == (at, "It was the breaker.")
    assert claim_file(claim, on=ON).events[-1].words
    with pytest.raises(ClaimSettled):
        ask(claim, office, at)
