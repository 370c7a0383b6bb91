"""The letter and the message of goodwill: what they say, that they are frozen, and that taking it back is told."""

import hashlib
import io
from datetime import date, datetime
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from pypdf import PdfReader

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.models import Person
from contractor.warranties.actions.claim_appeals import appeal_claim
from contractor.warranties.actions.claim_costs import give_goodwill, take_goodwill_back
from contractor.warranties.actions.claim_letters import letter_file
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_file import claim_file
from contractor.warranties.claim_money import Goodwill
from contractor.warranties.claim_tables import ClaimAppeal, ClaimLetter
from contractor.warranties.errors import ManagersOnly, ReasonNeeded
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.goodwill_letters import goodwill_pdf
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.rules.claim_costs import GOODWILL_WORDS
from contractor.warranties.rules.disclosures import RIGHTS_SENTENCE

pytestmark = pytest.mark.django_db


@pytest.fixture
def refused(cared_for: Warranty, nora: User, office: Actor, at: datetime) -> Claim:
    """A flood of the river, which the terms exclude."""
    claim = report_claim(
        warranty_id=cared_for.pk, part_kind="pit", lost_on=date(2026, 4, 20), reported_on=date(2026, 5, 1),
        what="It failed.", cause="not_known", by=office, at=at,
    )  # fmt: skip
    return decide_claim(claim_id=claim.pk, cost=Decimal("350.00"), by_user=nora, at=at, cause="flood")


def give(claim: Claim, manager: User, at: datetime) -> Goodwill:
    because = "Every check-up in time since 2020"
    return give_goodwill(claim_id=claim.pk, amount=Decimal("120.00"), because=because, by_user=manager, at=at)


def told(letter: ClaimLetter) -> str:
    with letter_file(letter_id=letter.pk).open("rb") as file:
        pages = PdfReader(io.BytesIO(file.read())).pages
        assert len(pages) == 1
        return " ".join(pages[0].extract_text().split())


def test_the_letter_says_what_we_give_why_and_what_it_is_not(refused: Claim, ruth: User, at: datetime) -> None:
    text = told(give(refused, ruth, at).letter)
    for said in (
        "Iris Holloway 12 Millrace Lane",
        "May 4, 2026",
        "The warranty does not cover it. That decision stays as it is.",
        "of our own free will, we give you $120.00.",
        "Every check-up in time since 2020.",
        GOODWILL_WORDS,
        "no admission that the loss is covered or that we are at fault",
        "it changes nothing in the written warranty or in how it stands",
        # Still open: 60 days from May 4, see test_claim_letter.
        "you can still appeal it through and including July 6, 2026",
        RIGHTS_SENTENCE,
        "Ruth Adair",
    ):
        assert said in text, said
    # What only the office and the lawyer are to read.
    assert "lawyer" not in text.lower()


def test_a_covered_claim_keeps_its_own_figures_beside_the_goodwill(
    cared_for: Warranty, nora: User, ruth: User, office: Actor, at: datetime
) -> None:
    claim = report_claim(
        warranty_id=cared_for.pk, part_kind="primary_pump", lost_on=date(2024, 5, 14), reported_on=date(2026, 5, 1),
        what="It stopped.", cause="not_known", by=office, at=at,
    )  # fmt: skip
    # Half of $500 and a fee of $75 (see test_claim).
    decide_claim(claim_id=claim.pk, cost=Decimal("500.00"), by_user=nora, at=at, cause="part_failed")
    assert "It is covered: we pay $250.00, you pay $325.00." in told(give(claim, ruth, at).letter)


def test_the_owner_hears_of_it_at_once(refused: Claim, ruth: User, at: datetime) -> None:
    give(refused, ruth, at)
    notice = Notice.objects.get(template="claim_goodwill")
    assert notice.subject == "Goodwill on your claim of May 1, 2026 for 12 Millrace Lane"
    for said in ("we give you $120.00", "Why: Every check-up in time since 2020", GOODWILL_WORDS, "on the page of"):
        assert said in notice.text, said


def test_whoever_sold_the_house_since_hears_of_it_and_the_buyer_does_not(
    refused: Claim, ruth: User, buyer: Person, office: Actor, at: datetime
) -> None:
    house = refused.warranty.system.property
    hand_over(property_id=house.pk, person_id=buyer.pk, on=date(2026, 5, 3), by=office, at=at)
    give(refused, ruth, at)
    notice = Notice.objects.get(template="claim_goodwill")
    assert notice.person.name == "Iris Holloway"
    assert "It comes to you by post." in notice.text


def test_what_was_written_stays_whatever_changes_later(refused: Claim, ruth: User, at: datetime) -> None:
    letter = give(refused, ruth, at).letter
    before = goodwill_pdf(letter.facts, letter.facts_sha256)
    Company.objects.update(phone="(555) 555-0199", name="Another name")
    Person.objects.update(name="Renamed")
    Claim.objects.update(contractor_pays=Decimal(1))
    with letter_file(letter_id=letter.pk).open("rb") as file:
        body = file.read()
    assert body == before
    letter.refresh_from_db()
    assert freeze(letter.facts).sha256 == letter.facts_sha256
    assert hashlib.sha256(body).hexdigest() == letter.file_sha256


def test_the_trail_names_it_by_its_hash_and_nobody_by_name(refused: Claim, ruth: User, at: datetime) -> None:
    letter = give(refused, ruth, at).letter
    entry = AuditEntry.objects.filter(verb="claim letter issued").latest("pk")
    assert entry.body["after"]["facts_sha256"] == letter.facts_sha256
    assert "Iris" not in str(entry.body)


def test_once_an_appeal_is_in_the_letter_speaks_of_none(
    refused: Claim, ruth: User, office: Actor, at: datetime
) -> None:
    on = date(2026, 5, 4)
    appeal_claim(claim_id=refused.pk, way=ClaimAppeal.Way.CALL, words="No.", received_on=on, by=office, at=at)
    assert "you can still appeal" not in told(give(refused, ruth, at).letter)


def test_it_stands_in_the_history_and_leaves_the_letter_of_the_decision_the_one_that_holds(
    refused: Claim, ruth: User, at: datetime
) -> None:
    given = give(refused, ruth, at)
    take_goodwill_back(goodwill_id=given.pk, because="Meant for another claim.", by_user=ruth, at=at)
    file = claim_file(Claim.objects.get(pk=refused.pk), on=date(2026, 5, 4))
    assert [letter.goodwill_id for letter in file.letters] == [None, given.pk]
    assert file.letter == file.letters[0]
    for_owner = [event.owner_words for event in file.events]
    assert for_owner[-2:] == ["We gave you $120.00 as goodwill", "The goodwill of $120.00 was taken back"]
    assert "We decided: not covered" in for_owner
    assert "Ruth Adair gave $120.00 of goodwill: Every check-up in time since 2020" in [
        event.words for event in file.events
    ]


def test_taking_it_back_is_told_with_the_reason(refused: Claim, ruth: User, at: datetime) -> None:
    given = give(refused, ruth, at)
    take_goodwill_back(goodwill_id=given.pk, because="It was meant for another claim.", by_user=ruth, at=at)
    notice = Notice.objects.get(template="claim_goodwill_taken_back")
    for said in ("On May 4, 2026 we wrote", "$120.00", "It was meant for another claim.", "Nothing else changes"):
        assert said in notice.text, said


def test_whoever_was_never_told_of_it_hears_nothing_of_its_end(refused: Claim, ruth: User, at: datetime) -> None:
    """Goodwill of before it had letters."""
    given = Goodwill.objects.create(
        claim=refused, amount=Decimal(5), because="A gift", words="", given_by=ruth, given_at=at
    )
    take_goodwill_back(goodwill_id=given.pk, because="Twice.", by_user=ruth, at=at)
    assert not Notice.objects.filter(template__startswith="claim_goodwill").exists()


def test_nothing_is_written_when_it_is_refused(refused: Claim, nora: User, ruth: User, at: datetime) -> None:
    with pytest.raises(ManagersOnly):
        give(refused, nora, at)
    with pytest.raises(ReasonNeeded):
        give_goodwill(claim_id=refused.pk, amount=Decimal(5), because=" ", by_user=ruth, at=at)
    assert not ClaimLetter.objects.filter(goodwill__isnull=False).exists()
    assert not Notice.objects.filter(template="claim_goodwill").exists()


def test_a_letter_is_of_one_thing(refused: Claim, ruth: User, office: Actor, at: datetime) -> None:
    given, on = give(refused, ruth, at), date(2026, 5, 4)
    appeal_claim(claim_id=refused.pk, way=ClaimAppeal.Way.CALL, words="No.", received_on=on, by=office, at=at)
    appeal = ClaimAppeal.objects.get()
    with pytest.raises(IntegrityError), transaction.atomic():
        ClaimLetter.objects.filter(goodwill=given).update(appeal=appeal)
