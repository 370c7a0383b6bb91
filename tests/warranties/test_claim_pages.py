"""The claim's page at the desk: all on one screen, each step with its refusal, and a fixed number of queries."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.visits.models import Request
from contractor.warranties.actions.claim_appeals import appeal_claim, decide_appeal
from contractor.warranties.actions.claim_questions import answer_question, ask_owner
from contractor.warranties.actions.claim_visits import ask_for_claim_visit
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_tables import ClaimAppeal, ClaimQuestion
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.queries import claims_for_the_desk
from tests.warranties.claim_hands import drawn_photo
from tests.warranties.factories import checkup_done, outside_record

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]
ON = date(2026, 5, 4)


@pytest.fixture(autouse=True)
def standing_clock(monkeypatch: pytest.MonkeyPatch, at: datetime) -> None:
    monkeypatch.setattr(clock, "today", lambda: ON)
    monkeypatch.setattr(clock, "now", lambda: at)


@pytest.fixture
def claim(warranty: Warranty, office: Actor, at: datetime) -> Claim:
    """Of a system that was never checked."""
    return report_claim(
        warranty_id=warranty.pk, part_kind="pit", lost_on=date(2026, 4, 20), reported_on=date(2026, 4, 21),
        what="Water round the pit.", cause="not_known", by=office, at=at, photos=[drawn_photo("navy")],
    )  # fmt: skip


@pytest.fixture
def desk(nora: User, signed_in_as: SignIn) -> Client:
    return signed_in_as(nora)


def page_of(client: Client, claim: Claim) -> str:
    return client.get(reverse("warranties:claim", args=[claim.pk])).content.decode()


def test_everything_needed_to_decide_stands_on_one_page(claim: Claim, desk: Client) -> None:
    outside_record(claim.warranty.system, date(2026, 3, 1), accepted=None)
    page = page_of(desk, claim)
    for said in (
        "Water round the pit.",
        "Photo 1 sent with this claim",
        "April 20, 2026",
        "The promise for the pit runs through and including",
        "days on record",
        "edition limited-2026-1",
        "Parts of this kind then in place",
        "Sent in by the owner, not decided yet",
        "A record is to be decided first.",
        reverse("checkups:outside_records", args=[claim.warranty.system_id]),
        "15 U.S.C. 2304(c), 16 CFR 700.10(c)",
        "Did the missing care cause the loss?",
        "Ask the owner something",
    ):
        assert said in page, said


def test_a_record_that_waits_is_named_when_somebody_decides_all_the_same(claim: Claim, desk: Client) -> None:
    outside_record(claim.warranty.system, date(2026, 3, 1), accepted=None)
    typed = {"cost": "900", "cause": "part_failed", "caused": "no", "because": "Frost.", "step": "decide"}
    page = desk.post(reverse("warranties:claim", args=[claim.pk]), typed).content.decode()
    assert "Accept or refuse that record first" in page
    assert "Frost." in page
    claim.refresh_from_db()
    assert claim.state == "reported"


def test_the_owner_is_asked_and_the_answer_written_down(claim: Claim, desk: Client) -> None:
    path = reverse("warranties:ask_owner", args=[claim.pk])
    assert "This field is required" in desk.post(path, {"words": ""}).content.decode()
    desk.post(path, {"words": "Since when?"})
    question = ClaimQuestion.objects.get()
    page = page_of(desk, claim)
    assert "waits for the owner" in page
    assert "Ask the owner something" not in page
    refused = desk.post(path, {"words": "And the lid?"}).content.decode()
    assert "is not answered yet" in refused
    assert "And the lid?" in refused
    answer = reverse("warranties:write_answer", args=[claim.pk, question.pk])
    assert "Since when?" in desk.get(answer).content.decode()
    desk.post(answer, {"answer": "Since March."})
    assert "Since March." in page_of(desk, claim)
    assert "answered already" in desk.post(answer, {"answer": "Since May."}).content.decode()
    assert desk.get(reverse("warranties:write_answer", args=[claim.pk + 1, question.pk])).status_code == 404


def test_a_visit_is_asked_for_from_the_claim_with_its_days_filled_in(claim: Claim, desk: Client) -> None:
    path = reverse("warranties:claim_visit", args=[claim.pk])
    form = desk.get(path).content.decode()
    assert "Have somebody look" in form
    assert 'value="2026-05-07"' in form
    typed = {"reason": "To look.", "target_on": "2026-05-07", "earliest_on": "2026-05-04", "latest_on": "2026-05-18",
             "minutes": "45", "carry": ""}  # fmt: skip
    backwards = desk.post(path, {**typed, "latest_on": "2026-05-05"}).content.decode()
    assert "The three days must be in order" in backwards
    desk.post(path, typed)
    assert Request.objects.get(kind="claim").occasion == f"claim:{claim.pk}:look:1"
    page = page_of(desk, claim)
    assert "to be given out" in page
    assert reverse("visits:give", args=[Request.objects.get(kind="claim").pk]) in page


@pytest.fixture
def refused(claim: Claim, nora: User, at: datetime) -> Claim:
    return decide_claim(claim_id=claim.pk, cost=Decimal(900), by_user=nora, at=at, cause="flood")


def test_no_repair_is_asked_for_what_is_not_covered(refused: Claim, desk: Client) -> None:
    path = reverse("warranties:claim_visit", args=[refused.pk])
    typed = {"reason": "x", "target_on": "2026-05-07", "earliest_on": "2026-05-04", "latest_on": "2026-05-18",
             "minutes": "45"}  # fmt: skip
    assert "once the claim is covered" in desk.post(path, typed).content.decode()
    assert "Ask for the repair" not in page_of(desk, refused)


def test_an_appeal_by_telephone_is_written_down_and_the_first_person_may_not_decide_it(
    refused: Claim, desk: Client, ruth: User, signed_in_as: SignIn
) -> None:
    path = reverse("warranties:record_appeal", args=[refused.pk])
    typed = {"way": "call", "received_on": "2026-05-04", "words": "There was no flood."}
    ahead = desk.post(path, {**typed, "received_on": "2026-05-05"}).content.decode()
    assert "This day has not come yet" in ahead
    assert "There was no flood." in ahead
    assert "Select a valid choice" in desk.post(path, {**typed, "way": "page"}).content.decode()
    desk.post(path, typed)
    assert ClaimAppeal.objects.get().way == "call"
    assert "You decided this claim the first time." in page_of(desk, refused)
    decide = reverse("warranties:decide_appeal", args=[refused.pk])
    answer = {"found": "No flood that day.", "cost": "900", "cause": "part_failed", "caused": "no", "because": "Frost."}
    own = desk.post(decide, {**answer, "step": "decide"}).content.decode()
    assert "Somebody else has to decide the appeal" in own
    assert ClaimAppeal.objects.get().decided_at is None
    manager = signed_in_as(ruth)
    worked_out = manager.post(decide, {**answer, "step": "work"}).content.decode()
    assert "We pay <strong>$900.00</strong>" in worked_out
    worse = manager.post(decide, {**answer, "found": " ", "step": "decide"}).content.decode()
    assert "This field is required" in worse
    assert manager.post(decide, {**answer, "step": "decide"}).status_code == 302
    page = page_of(desk, refused)
    for said in ("Second letter, after the appeal", "No flood that day.", "after an appeal", "Ask for the repair"):
        assert said in page, said
    assert desk.get(decide)["Location"] == reverse("warranties:claim", args=[refused.pk])


def test_lists_and_the_first_page_tell_what_came_in(
    refused: Claim, office: Actor, at: datetime, desk: Client, nora: User
) -> None:
    lists = reverse("warranties:claims")
    assert "12 Millrace Lane" not in desk.get(lists + "?state=appealed").content.decode()
    appeal_claim(
        claim_id=refused.pk, way=ClaimAppeal.Way.CALL, words="No.", received_on=ON, by=office, at=at
    )
    assert "appealed" in desk.get(lists + "?state=appealed").content.decode()
    assert "appealed" in desk.get(reverse("office:today")).content.decode()
    house = reverse("office:house", args=[refused.warranty.system.property_id])
    assert "appealed, to be decided" in desk.get(house).content.decode()


def test_the_first_page_says_when_an_owner_answered(claim: Claim, office: Actor, nora: User, at: datetime) -> None:
    question = ask_owner(claim_id=claim.pk, words="Since when?", by_user=nora, at=at)
    [waiting] = claims_for_the_desk()
    assert (waiting.is_asked, waiting.answered_at) == (True, None)  # type: ignore[attr-defined]
    answer_question(question_id=question.pk, answer="March.", by=office, at=at)
    [waiting] = claims_for_the_desk()
    assert (waiting.is_asked, waiting.answered_at) == (False, at)  # type: ignore[attr-defined]


def test_the_page_takes_as_many_queries_for_a_long_story_as_for_a_short_one(
    claim: Claim, nora: User, ruth: User, theo: User, office: Actor, at: datetime, desk: Client
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            page_of(desk, claim)
        return len(seen)

    ask_owner(claim_id=claim.pk, words="0?", by_user=nora, at=at)
    ask_for_claim_visit(
        claim_id=claim.pk, target_on=ON, earliest_on=ON, latest_on=ON + timedelta(days=9), minutes=60, reason="Look.",
        by=office, at=at,
    )  # fmt: skip
    page_of(desk, claim)
    short = queries()
    for number in range(1, 6):
        open_question = claim.questions.get(answered_at__isnull=True)
        answer_question(
            question_id=open_question.pk, answer="Yes.", by=office, at=at, photos=[drawn_photo(f"#0000{number}0")]
        )
        ask_owner(claim_id=claim.pk, words=f"{number}?", by_user=nora, at=at)
        checkup_done(claim.warranty.system, date(2020 + number, 5, 10), theo)
        outside_record(claim.warranty.system, date(2020 + number, 8, 1))
    assert queries() == short == 25


def test_a_decided_claim_with_its_appeal_takes_a_fixed_number_of_queries(
    refused: Claim, ruth: User, office: Actor, at: datetime, desk: Client, django_assert_max_num_queries: Any
) -> None:
    appeal_claim(claim_id=refused.pk, way=ClaimAppeal.Way.CALL, words="No.", received_on=ON, by=office, at=at)
    decide_appeal(claim_id=refused.pk, cost=Decimal(900), because="A flood.", by_user=ruth, at=at)
    page_of(desk, refused)
    with django_assert_max_num_queries(25):
        page_of(desk, refused)
