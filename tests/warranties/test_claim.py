"""Claims: reported, decided from the record, with the arithmetic kept."""

from datetime import date, datetime
from decimal import Decimal

import pytest

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.models import Person
from contractor.systems.models import Component
from contractor.warranties.actions import claims as actions
from contractor.warranties.errors import (
    ClaimSettled,
    DayAhead,
    NotOfThisSystem,
    QuestionOpen,
    ReasonNeeded,
    ReportedBeforeLoss,
)
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.rules.claims import Judgement
from tests.factories import ComponentFactory, SystemFactory

pytestmark = pytest.mark.django_db
MANY_YEARS = date(2026, 4, 20)


def report(
    warranty: Warranty,
    office: Actor,
    at: datetime,
    *,
    part_kind: str = "pit",
    lost_on: date = MANY_YEARS,
    cause: str = "part_failed",
    component_id: int | None = None,
) -> Claim:
    return actions.report_claim(
        warranty_id=warranty.pk,
        part_kind=part_kind,
        lost_on=lost_on,
        reported_on=max(lost_on, date(2026, 4, 21)),
        what="There was water on the floor in the morning.",
        cause=cause,
        by=office,
        at=at,
        component_id=component_id,
    )


# The falling share is (W2 - t) / (W2 - W1) in completed months (the combination rebate of Blischke and Murthy,
# "Warranty Cost Analysis", 1994, chapter 4; formula from memory). The primary pump of these terms has W1 = 36 and
# W2 = 60 months, a call-out fee of $75, and was covered from May 14, 2020.
SHARES = [
    (date(2023, 5, 13), "500.00", "75.00"),  # 35 months: all
    (date(2024, 5, 14), "250.00", "325.00"),  # 48 months: 12 / 24
    (date(2025, 4, 14), "20.83", "554.17"),  # 59 months: 1 / 24 of 500 is 20.8333
]


@pytest.mark.parametrize(("lost_on", "contractor_pays", "owner_pays"), SHARES)
def test_the_share_falls_as_the_published_formula_says(
    cared_for: Warranty,
    nora: User,
    office: Actor,
    at: datetime,
    lost_on: date,
    contractor_pays: str,
    owner_pays: str,
) -> None:
    claim = report(cared_for, office, at, part_kind="primary_pump", lost_on=lost_on)
    decided = actions.decide_claim(claim_id=claim.pk, cost=Decimal("500.00"), by_user=nora, at=at)
    assert decided.outcome == "covered"
    assert (decided.contractor_pays, decided.owner_pays) == (Decimal(contractor_pays), Decimal(owner_pays))
    assert decided.contractor_pays + decided.owner_pays == Decimal("575.00")


def test_after_the_last_day_nothing_is_covered(cared_for: Warranty, nora: User, office: Actor, at: datetime) -> None:
    claim = report(cared_for, office, at, part_kind="primary_pump", lost_on=date(2025, 5, 15))
    decided = actions.decide_claim(claim_id=claim.pk, cost=Decimal("500.00"), by_user=nora, at=at)
    assert (decided.outcome, decided.owner_pays) == ("not_covered", Decimal("500.00"))


def test_an_exclusion_of_the_terms_that_were_issued_is_not_covered(
    cared_for: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    claim = report(cared_for, office, at, cause="flood")
    decided = actions.decide_claim(claim_id=claim.pk, cost=Decimal("900.00"), by_user=nora, at=at)
    assert decided.outcome == "not_covered"
    assert decided.decision is not None
    assert any("flood of a river" in line for line in decided.decision["lines"])


def test_the_decision_is_kept_with_the_facts_and_the_hash_it_rests_on(
    cared_for: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    claim = report(cared_for, office, at)
    decided = actions.decide_claim(claim_id=claim.pk, cost=Decimal("900.00"), by_user=nora, at=at)
    kept = Claim.objects.get(pk=claim.pk).decision
    assert kept is not None
    assert kept["lines"][0].startswith("The loss happened on April 20, 2026")
    assert freeze(kept["facts"]).sha256 == kept["facts_sha256"]
    assert kept["edition"] == "limited-2026-1"
    assert decided.decided_by == nora
    assert audit.breaks(f"property:{cared_for.system.property_id}") == []


def test_a_gap_in_care_asks_a_person_and_without_evidence_it_is_covered(
    warranty: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    claim = report(warranty, office, at)
    with pytest.raises(QuestionOpen, match="Did the missing care cause"):
        actions.decide_claim(claim_id=claim.pk, cost=Decimal("900.00"), by_user=nora, at=at)
    claim.refresh_from_db()
    assert claim.state == "reported"
    answer = Judgement(
        caused_by_missing_care=False, evidence="", by=nora.name, on=date(2026, 5, 4), because="The pit cracked by frost"
    )
    decided = actions.decide_claim(claim_id=claim.pk, cost=Decimal("900.00"), by_user=nora, at=at, judgement=answer)
    assert decided.outcome == "covered"
    assert decided.judgement is not None
    assert decided.judgement["because"] == "The pit cracked by frost"


def test_missing_care_that_is_shown_to_be_the_cause_is_not_covered(
    warranty: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    claim = report(warranty, office, at)
    answer = Judgement(
        caused_by_missing_care=True,
        evidence="Photo of the silted pit",
        by=nora.name,
        on=date(2026, 5, 4),
        because="The pit was full of silt",
    )
    decided = actions.decide_claim(claim_id=claim.pk, cost=Decimal("900.00"), by_user=nora, at=at, judgement=answer)
    assert decided.outcome == "not_covered"


def test_of_two_batteries_the_one_that_failed_must_be_named(
    cared_for: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    second = ComponentFactory(system=cared_for.system, part_kind="battery", in_on=date(2025, 6, 1))
    claim = report(cared_for, office, at, part_kind="battery")
    with pytest.raises(QuestionOpen, match="Which battery failed"):
        actions.decide_claim(claim_id=claim.pk, cost=Decimal("300.00"), by_user=nora, at=at)
    decided = actions.decide_claim(
        claim_id=claim.pk, cost=Decimal("300.00"), by_user=nora, at=at, component_id=second.pk
    )
    assert (decided.outcome, decided.component) == ("covered", second)


def test_whoever_owned_the_house_when_it_was_reported_is_told_once(
    cared_for: Warranty, nora: User, buyer: Person, office: Actor, at: datetime
) -> None:
    claim = report(cared_for, office, at)
    hand_over(property_id=cared_for.system.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)
    actions.decide_claim(claim_id=claim.pk, cost=Decimal("900.00"), by_user=nora, at=at)
    notice = Notice.objects.get(template="claim_decided")
    assert notice.person.name == "Iris Holloway"
    assert "we pay $900.00" in notice.text
    assert "The loss happened on April 20, 2026" in notice.text


def test_what_cannot_be_reported_is_refused(cared_for: Warranty, office: Actor, at: datetime) -> None:
    elsewhere: Component = ComponentFactory(system=SystemFactory(), part_kind="pit")
    pump = Component.objects.get(system=cared_for.system, part_kind="primary_pump")
    with pytest.raises(NotOfThisSystem):
        report(cared_for, office, at, component_id=elsewhere.pk)
    with pytest.raises(NotOfThisSystem):
        report(cared_for, office, at, component_id=pump.pk)
    with pytest.raises(DayAhead):
        report(cared_for, office, at, lost_on=date(2026, 5, 5))
    with pytest.raises(ReportedBeforeLoss):
        actions.report_claim(
            warranty_id=cared_for.pk,
            part_kind="pit",
            lost_on=date(2026, 4, 20),
            reported_on=date(2026, 4, 19),
            what="Water.",
            cause="not_known",
            by=office,
            at=at,
        )
    assert not Claim.objects.exists()


def test_a_settled_claim_stays_as_it_is(cared_for: Warranty, nora: User, office: Actor, at: datetime) -> None:
    claim = report(cared_for, office, at)
    with pytest.raises(ReasonNeeded):
        actions.withdraw_claim(claim_id=claim.pk, because=" ", by=office, at=at)
    actions.decide_claim(claim_id=claim.pk, cost=Decimal("900.00"), by_user=nora, at=at)
    with pytest.raises(ClaimSettled):
        actions.decide_claim(claim_id=claim.pk, cost=Decimal("1.00"), by_user=nora, at=at)
    with pytest.raises(ClaimSettled):
        actions.withdraw_claim(claim_id=claim.pk, because="Mistake", by=office, at=at)
    claim.refresh_from_db()
    assert claim.cost == Decimal("900.00")
