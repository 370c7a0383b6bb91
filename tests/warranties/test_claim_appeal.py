"""Appeals: taken in from the page, a letter or a call, in time; decided by somebody else, never for the worse."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.models import Ownership, Person
from contractor.warranties.actions.claim_appeals import appeal_claim, decide_appeal
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_errors import (
    AppealBeforeDecision,
    AppealThere,
    AppealTooLate,
    AppealWordsNeeded,
    AppealWorse,
    NoAppeal,
    NotDecidedYet,
    SameDecider,
)
from contractor.warranties.claim_file import claim_file
from contractor.warranties.claim_tables import ClaimAppeal, ClaimLetter
from contractor.warranties.errors import DayAhead, ReasonNeeded
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.queries import claims_for_the_desk
from tests.warranties.claim_hands import drawn_photo

pytestmark = pytest.mark.django_db
ON = date(2026, 5, 4)
# Sixty days from May 4, 2026; see test_rules_appeals.
LAST_DAY = date(2026, 7, 6)


@pytest.fixture
def reported(cared_for: Warranty, office: Actor, at: datetime) -> Claim:
    return report_claim(
        warranty_id=cared_for.pk, part_kind="pit", lost_on=date(2026, 4, 20), reported_on=date(2026, 4, 21),
        what="Cracked.", cause="not_known", by=office, at=at,
    )  # fmt: skip


@pytest.fixture
def claim(reported: Claim, nora: User, at: datetime) -> Claim:
    """Refused by Nora, as harm done on purpose."""
    return decide_claim(claim_id=reported.pk, cost=Decimal(900), by_user=nora, at=at, cause="outside_force")


def appeal(
    claim: Claim, office: Actor, at: datetime, *, on: date = ON, words: str = "Nobody touched it."
) -> ClaimAppeal:
    return appeal_claim(
        claim_id=claim.pk, way=ClaimAppeal.Way.LETTER, words=words, received_on=on, by=office, at=at,
        photos=[drawn_photo("navy")],
    )  # fmt: skip


def later(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 15, tzinfo=UTC)


def test_an_appeal_is_kept_the_owner_hears_of_it_and_it_waits_in_sight_of_the_desk(
    claim: Claim, ownership: Ownership, office: Actor, at: datetime
) -> None:
    assert not claims_for_the_desk().exists()
    kept = appeal(claim, office, at)
    assert kept.photos.count() == 1
    notice = Notice.objects.get(template="claim_appeal_received")
    assert notice.person == ownership.person
    assert "Nobody touched it." in notice.text
    assert [one.pk for one in claims_for_the_desk()] == [claim.pk]


def test_somebody_else_decides_it_again_and_both_letters_stay(
    claim: Claim, nora: User, ruth: User, office: Actor, at: datetime
) -> None:
    kept = appeal(claim, office, at)
    first = ClaimLetter.objects.get()
    with pytest.raises(SameDecider, match="Nora Vance decided this claim the first time"):
        decide_appeal(claim_id=claim.pk, cost=Decimal(900), because="No.", by_user=nora, at=at)
    decide_appeal(
        claim_id=claim.pk, cost=Decimal(900), because="The photo shows frost.", by_user=ruth, at=at, cause="part_failed"
    )
    claim.refresh_from_db()
    kept.refresh_from_db()
    assert (claim.state, claim.outcome, claim.contractor_pays) == ("decided", "covered", Decimal("900.00"))
    assert (claim.decided_by, kept.decided_by, kept.outcome) == (nora, ruth, "covered")
    second = ClaimLetter.objects.get(appeal=kept)
    first.refresh_from_db()
    assert (first.facts["outcome"], second.facts["outcome"]) == ("not_covered", "covered")
    assert second.facts["appeal"]["first"] == {
        "outcome": "not_covered", "contractor_pays": "0.00", "owner_pays": "900.00", "decided_by": "Nora Vance",
    }  # fmt: skip
    assert second.appeal_by is None
    notice = Notice.objects.get(template="claim_appeal_decided")
    assert "You pay $0.00" not in notice.subject
    for said in ("The photo shows frost.", "we pay $900.00", "you may also have other rights"):
        assert said in notice.text, said
    events = [event.owner_words for event in claim_file(claim, on=ON).events]
    assert events[1:] == [
        "We decided: not covered",
        "You appealed",
        "Ruth Adair decided your appeal: covered; we pay $900.00, you pay $0.00",
    ]
    assert not claims_for_the_desk().exists()
    assert audit.breaks(f"property:{claim.warranty.system.property_id}") == []


def test_an_appeal_that_changes_nothing_is_answered_with_a_reason(
    claim: Claim, ruth: User, office: Actor, at: datetime
) -> None:
    appeal(claim, office, at)
    with pytest.raises(ReasonNeeded):
        decide_appeal(claim_id=claim.pk, cost=Decimal(900), because=" ", by_user=ruth, at=at)
    decide_appeal(claim_id=claim.pk, cost=Decimal(900), because="The marks are of an axe.", by_user=ruth, at=at)
    claim.refresh_from_db()
    assert claim.outcome == "not_covered"
    assert "The answer stays the same" in Notice.objects.get(template="claim_appeal_decided").text


def test_nobody_loses_by_asking_for_a_second_look(
    reported: Claim, nora: User, ruth: User, office: Actor, at: datetime
) -> None:
    decide_claim(claim_id=reported.pk, cost=Decimal(900), by_user=nora, at=at, cause="part_failed")
    appeal(reported, office, at, words="The repair costs more.")
    with pytest.raises(AppealWorse):
        decide_appeal(claim_id=reported.pk, cost=Decimal(900), because="Flood.", by_user=ruth, at=at, cause="flood")
    reported.refresh_from_db()
    assert (reported.outcome, reported.cause) == ("covered", "part_failed")
    assert ClaimLetter.objects.count() == 1
    decide_appeal(claim_id=reported.pk, cost=Decimal(1100), because="The bill says so.", by_user=ruth, at=at)
    reported.refresh_from_db()
    assert reported.contractor_pays == Decimal("1100.00")


# The day it came in, the day it is written down, and what is said.
TIMES = [
    (ON, ON, None),
    (LAST_DAY, LAST_DAY, None),
    (LAST_DAY, LAST_DAY + timedelta(days=9), None),  # the letter waited at the desk
    (LAST_DAY + timedelta(days=1), LAST_DAY + timedelta(days=1), AppealTooLate),
    (ON - timedelta(days=1), ON, AppealBeforeDecision),
    (ON + timedelta(days=1), ON, DayAhead),
]


@pytest.mark.parametrize(("received_on", "written_on", "refused"), TIMES)
def test_an_appeal_is_in_time_by_the_day_on_which_it_came(
    claim: Claim, office: Actor, received_on: date, written_on: date, refused: type[Exception] | None
) -> None:
    if refused is None:
        assert appeal(claim, office, later(written_on), on=received_on).received_on == received_on
        return
    with pytest.raises(refused):
        appeal(claim, office, later(written_on), on=received_on)
    assert not ClaimAppeal.objects.exists()


def test_what_can_not_be_appealed_is_refused(
    reported: Claim, nora: User, ruth: User, office: Actor, at: datetime
) -> None:
    with pytest.raises(NotDecidedYet):
        appeal(reported, office, at)
    with pytest.raises(NoAppeal):
        decide_appeal(claim_id=reported.pk, cost=Decimal(1), because="x", by_user=ruth, at=at)
    decide_claim(claim_id=reported.pk, cost=Decimal(900), by_user=nora, at=at, cause="flood")
    with pytest.raises(AppealWordsNeeded):
        appeal(reported, office, at, words="  ")
    appeal(reported, office, at)
    with pytest.raises(AppealThere):
        appeal(reported, office, at)
    decide_appeal(claim_id=reported.pk, cost=Decimal(900), because="A flood.", by_user=ruth, at=at)
    with pytest.raises(NoAppeal):
        decide_appeal(claim_id=reported.pk, cost=Decimal(900), because="Again.", by_user=ruth, at=at)
    with pytest.raises(AppealThere):
        appeal(reported, office, at)


def test_a_seller_still_appeals_by_letter_and_the_buyer_hears_nothing(
    claim: Claim, ruth: User, ownership: Ownership, buyer: Person, office: Actor, at: datetime
) -> None:
    hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=ON, by=office, at=at)
    appeal(claim, office, at)
    decide_appeal(claim_id=claim.pk, cost=Decimal(900), because="Yes.", by_user=ruth, at=at, cause="part_failed")
    told = Notice.objects.filter(template__startswith="claim_appeal")
    assert {notice.person for notice in told} == {ownership.person}
    decided = told.get(template="claim_appeal_decided")
    assert "It comes to you by post." in decided.text
    assert "personal-link" not in decided.text
    assert ClaimLetter.objects.get(appeal__isnull=False).facts["owner"]["name"] == "Iris Holloway"


def test_the_database_keeps_one_appeal_and_one_first_letter(claim: Claim, office: Actor, at: datetime) -> None:
    kept, letter = appeal(claim, office, at), ClaimLetter.objects.get()
    for row in (kept, letter):
        row.pk = None
        row._state.adding = True
        with pytest.raises(IntegrityError), transaction.atomic():
            row.save(force_insert=True)
