"""Questions back to the owner: asked once at a time, told, answered with photos, kept as they are."""

from datetime import date, datetime
from decimal import Decimal

import pytest

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.models import Ownership
from contractor.warranties.actions.claim_questions import answer_question, ask_owner
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_errors import AlreadyAnswered, AnswerNeeded, QuestionNeeded, QuestionWaits
from contractor.warranties.claim_file import claim_file
from contractor.warranties.claim_tables import ClaimQuestion
from contractor.warranties.errors import ClaimSettled
from contractor.warranties.models import Claim, Warranty
from tests.warranties.claim_hands import drawn_photo

pytestmark = pytest.mark.django_db


@pytest.fixture
def claim(cared_for: Warranty, office: Actor, at: datetime) -> Claim:
    return report_claim(
        warranty_id=cared_for.pk, part_kind="pit", lost_on=date(2026, 4, 20), reported_on=date(2026, 4, 21),
        what="Cracked.", cause="not_known", by=office, at=at, photos=[drawn_photo("navy")],
    )  # fmt: skip


@pytest.fixture
def question(claim: Claim, nora: User, at: datetime) -> ClaimQuestion:
    return ask_owner(claim_id=claim.pk, words=" When did you see it first? ", by_user=nora, at=at)


def test_the_owner_is_asked_by_message_and_the_answer_is_kept_with_its_photos(
    claim: Claim, question: ClaimQuestion, ownership: Ownership, at: datetime
) -> None:
    notice = Notice.objects.get(template="claim_question")
    assert notice.person == ownership.person
    assert "When did you see it first?" in notice.text
    owner = Actor(f"owner:{ownership.person_id}", "Iris Holloway")
    answer_question(
        question_id=question.pk, answer="Last week.", by=owner, at=at, photos=[drawn_photo("gray"), drawn_photo("navy")]
    )
    question.refresh_from_db()
    assert (question.answer, question.answered_at, question.answered_by) == ("Last week.", at, owner.ref)
    # The photo that came with the report already is kept once, with the report.
    assert [photo.question_id for photo in claim.photos.order_by("sent_at", "question_id")].count(question.pk) == 1
    assert claim.photos.count() == 2
    file = claim_file(claim, on=date(2026, 5, 4))
    assert [event.owner_words for event in file.events] == [
        "You reported it, with 1 photo",
        "We asked you: When did you see it first?",
        "You answered",
    ]
    assert audit.breaks(f"property:{claim.warranty.system.property_id}") == []


def test_an_answer_by_telephone_is_written_down(question: ClaimQuestion, office: Actor, at: datetime) -> None:
    answer_question(question_id=question.pk, answer="In March.", by=office, at=at)
    file = claim_file(question.claim, on=date(2026, 5, 4))
    assert file.events[-1].words == "The answer was written down at the desk"


def test_one_question_at_a_time_and_one_answer_to_each(
    claim: Claim, question: ClaimQuestion, nora: User, office: Actor, at: datetime
) -> None:
    with pytest.raises(QuestionWaits):
        ask_owner(claim_id=claim.pk, words="And the lid?", by_user=nora, at=at)
    answer_question(question_id=question.pk, answer="In March.", by=office, at=at)
    with pytest.raises(AlreadyAnswered):
        answer_question(question_id=question.pk, answer="In April.", by=office, at=at)
    assert ask_owner(claim_id=claim.pk, words="And the lid?", by_user=nora, at=at).pk != question.pk
    question.refresh_from_db()
    assert question.answer == "In March."


def test_nothing_is_asked_or_answered_without_words(
    claim: Claim, question: ClaimQuestion, nora: User, office: Actor, at: datetime
) -> None:
    with pytest.raises(AnswerNeeded):
        answer_question(question_id=question.pk, answer=" ", by=office, at=at, photos=[drawn_photo("red")])
    assert claim.photos.count() == 1
    answer_question(question_id=question.pk, answer="In March.", by=office, at=at)
    with pytest.raises(QuestionNeeded):
        ask_owner(claim_id=claim.pk, words=" ", by_user=nora, at=at)


def test_a_settled_claim_asks_nothing_and_takes_no_answer(
    claim: Claim, question: ClaimQuestion, nora: User, office: Actor, at: datetime
) -> None:
    decide_claim(claim_id=claim.pk, cost=Decimal(100), by_user=nora, at=at, cause="part_failed")
    with pytest.raises(ClaimSettled):
        answer_question(question_id=question.pk, answer="In March.", by=office, at=at)
    with pytest.raises(ClaimSettled):
        ask_owner(claim_id=claim.pk, words="And the lid?", by_user=nora, at=at)
