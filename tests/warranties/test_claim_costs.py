"""Costs of claims and goodwill: booked once, undone by a counter-entry, shown to those whom they concern."""

import csv
from datetime import date, datetime
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties.actions import make_owner_link
from contractor.properties.models import Ownership
from contractor.warranties import cost_errors
from contractor.warranties.actions import claim_costs as actions
from contractor.warranties.actions.liability import close_liability_year
from contractor.warranties.actions.standing import refresh_standing
from contractor.warranties.claim_costs import costs_of, money_on
from contractor.warranties.claim_money import ClaimCost, Goodwill
from contractor.warranties.errors import ManagersOnly
from contractor.warranties.frozen_rows import FROZEN
from contractor.warranties.liability_assumed import Typed
from contractor.warranties.models import Claim, StoredStanding, Warranty
from contractor.warranties.rules.claim_costs import GOODWILL_WORDS

pytestmark = pytest.mark.django_db
DAY = date(2026, 4, 28)
COSTS_PAGE = 6


def decided_claim(warranty: Warranty, by_user: User, at: datetime, *, company: str, owner: str = "0.00") -> Claim:
    return Claim.objects.create(
        warranty=warranty,
        part_kind="pit",
        lost_on=date(2026, 4, 20),
        reported_on=date(2026, 4, 21),
        what="It cracked.",
        cause="part_failed",
        cost=Decimal(company) + Decimal(owner),
        state="decided",
        outcome="covered" if Decimal(company) else "not_covered",
        contractor_pays=Decimal(company),
        owner_pays=Decimal(owner),
        decision={"lines": ["The loss happened."]},
        decided_at=at,
        decided_by=by_user,
    )


@pytest.fixture
def claim(warranty: Warranty, nora: User, at: datetime) -> Claim:
    """Decided for the owner: the company bears $500.00."""
    return decided_claim(warranty, nora, at, company="500.00")


@pytest.fixture
def refused(warranty: Warranty, nora: User, at: datetime) -> Claim:
    """Decided against the owner."""
    return decided_claim(warranty, nora, at, company="0.00", owner="350.00")


def book(claim: Claim, by_user: User, at: datetime, **changes: Any) -> ClaimCost:
    usual = {"kind": "labor", "amount": Decimal("144.00"), "on": DAY, "note": "3 h at $48.00"}
    return actions.book_cost(claim_id=claim.pk, by_user=by_user, at=at, **(usual | changes))


def give(claim: Claim, ruth: User, at: datetime, amount: str = "120.00") -> Goodwill:
    return actions.give_goodwill(
        claim_id=claim.pk, amount=Decimal(amount), because="A customer for 20 years", by_user=ruth, at=at
    )


def test_costs_in_cash_and_in_kind_stand_apart_and_add_up(claim: Claim, nora: User, at: datetime) -> None:
    book(claim, nora, at)
    book(claim, nora, at, kind="parts", amount=Decimal("212.35"), note="Pit lid and basin")
    book(claim, nora, at, kind="invoice", amount=Decimal("90.00"), note="Invoice 118, core drilling")
    costs = costs_of(claim)
    assert (costs.in_kind, costs.in_cash) == (Decimal("356.35"), Decimal("90.00"))
    assert costs.money.booked == Decimal("446.35")
    assert costs.money.to_come == Decimal("53.65")
    assert costs.cautions == ()
    book(claim, nora, at, kind="owner", amount=Decimal("100.00"), note="Paid back", is_last=True)
    costs = costs_of(claim)
    assert costs.money.to_come == 0
    assert "$46.35 more than the $500.00" in costs.cautions[0]


def test_who_booked_it_when_and_why_is_kept_and_in_the_trail(claim: Claim, nora: User, at: datetime) -> None:
    cost = book(claim, nora, at)
    assert (cost.booked_by, cost.booked_at, cost.on, cost.note) == (nora, at, DAY, "3 h at $48.00")
    entry = AuditEntry.objects.get(verb="claim cost booked")
    assert entry.stream == f"property:{claim.warranty.system.property_id}"
    assert entry.body["after"]["amount"] == "144.00"
    # Free text stays beside the chain, where a person can be erased from it.
    assert "note" not in entry.body["after"]
    assert entry.personal["after"]["note"] == "3 h at $48.00"
    assert audit.breaks(entry.stream) == []


def test_a_mistake_is_undone_by_an_entry_that_names_it(claim: Claim, nora: User, ruth: User, at: datetime) -> None:
    wrong = book(claim, nora, at, amount=Decimal("1440.00"), is_last=True)
    assert costs_of(claim).money.is_finished
    counter = actions.undo_cost(cost_id=wrong.pk, on=DAY, because="A digit too many", by_user=ruth, at=at)
    assert (counter.amount, counter.undoes, counter.kind) == (Decimal("-1440.00"), wrong, "labor")
    costs = costs_of(claim)
    assert costs.money.booked == 0
    assert not costs.money.is_finished
    assert costs.money.to_come == Decimal("500.00")
    assert [(line.is_undone, line.is_counter) for line in costs.lines] == [(True, False), (False, True)]
    for cost, refusal in ((wrong, cost_errors.UndoneAlready), (counter, cost_errors.CounterEntryStays)):
        with pytest.raises(refusal):
            actions.undo_cost(cost_id=cost.pk, on=DAY, because="Again", by_user=ruth, at=at)
    assert audit.breaks(f"property:{claim.warranty.system.property_id}") == []


@pytest.mark.parametrize("table", ["warranties_claimcost", "warranties_goodwill"])
def test_the_database_refuses_to_change_an_entry(
    claim: Claim, nora: User, ruth: User, at: datetime, table: str
) -> None:
    book(claim, nora, at)
    give(claim, ruth, at)
    sentence = next(one.sentence for one in FROZEN if one.table == table)
    with pytest.raises(IntegrityError, match=sentence), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET amount = 1")  # the two names above
    with pytest.raises(IntegrityError), transaction.atomic():
        ClaimCost.objects.update(note="Another word")
    with pytest.raises(IntegrityError), transaction.atomic():
        Goodwill.objects.update(because="Another reason")
    assert ClaimCost.objects.get().amount == Decimal("144.00")


@pytest.mark.parametrize(
    "wrong",
    [
        {"amount": Decimal("-1.00")},
        {"amount": Decimal("0.00")},
        {"note": ""},
        {"booked_by": None},
    ],
    ids=str,
)
def test_the_database_takes_no_entry_that_makes_no_sense(
    claim: Claim, nora: User, at: datetime, wrong: dict[str, Any]
) -> None:
    row = {"claim": claim, "kind": "labor", "amount": Decimal(1), "on": DAY, "note": "1 h", "booked_by": nora}
    with pytest.raises(IntegrityError), transaction.atomic():
        ClaimCost.objects.create(**(row | wrong), booked_at=at)


def test_nothing_is_booked_on_a_claim_against_the_owner_until_goodwill_is_given(
    refused: Claim, nora: User, ruth: User, at: datetime
) -> None:
    with pytest.raises(cost_errors.NothingToBook):
        book(refused, nora, at)
    give(refused, ruth, at)
    with pytest.raises(cost_errors.NothingToBook):
        book(refused, nora, at)
    book(refused, nora, at, kind="owner", is_goodwill=True, amount=Decimal("120.00"))
    assert costs_of(refused).money.to_come == 0


def test_nothing_is_booked_before_the_decision(claim: Claim, nora: User, at: datetime) -> None:
    Claim.objects.update(state="reported", decided_at=None, outcome="")
    with pytest.raises(cost_errors.CostBeforeDecision):
        book(claim, nora, at)
    with pytest.raises(cost_errors.GoodwillBeforeDecision):
        give(claim, User.objects.create(email="m@example.com", role="manager"), at)
    assert not ClaimCost.objects.exists()


def test_a_closed_year_takes_no_entry_and_no_counter_entry(claim: Claim, nora: User, ruth: User, at: datetime) -> None:
    cost = book(claim, nora, at)
    days = {"from_on": date(2026, 1, 1), "until_on": date(2026, 4, 30)}
    close_liability_year(**days, typed=Typed(), is_read=True, by_user=ruth, at=at)
    with pytest.raises(cost_errors.BookedInClosedYear, match="Book it on May 1, 2026"):
        book(claim, nora, at)
    with pytest.raises(cost_errors.BookedInClosedYear):
        actions.undo_cost(cost_id=cost.pk, on=date(2026, 4, 30), because="Wrong", by_user=ruth, at=at)
    actions.undo_cost(cost_id=cost.pk, on=date(2026, 5, 1), because="Wrong", by_user=ruth, at=at)


def test_only_a_manager_gives_goodwill_and_takes_it_back(refused: Claim, nora: User, ruth: User, at: datetime) -> None:
    with pytest.raises(ManagersOnly):
        give(refused, nora, at)
    given = give(refused, ruth, at)
    with pytest.raises(ManagersOnly):
        actions.take_goodwill_back(goodwill_id=given.pk, because="Wrong claim", by_user=nora, at=at)
    taken = actions.take_goodwill_back(goodwill_id=given.pk, because="Wrong claim", by_user=ruth, at=at)
    assert (taken.amount, taken.undoes) == (Decimal("-120.00"), given)
    assert costs_of(refused).money.goodwill == 0
    with pytest.raises(cost_errors.UndoneAlready):
        actions.take_goodwill_back(goodwill_id=given.pk, because="Again", by_user=ruth, at=at)


def test_goodwill_that_is_spent_is_not_taken_back(refused: Claim, nora: User, ruth: User, at: datetime) -> None:
    given = give(refused, ruth, at)
    cost = book(refused, nora, at, kind="owner", is_goodwill=True, amount=Decimal("0.01"))
    with pytest.raises(cost_errors.GoodwillSpent, match=r"\$0\.01 of goodwill is booked"):
        actions.take_goodwill_back(goodwill_id=given.pk, because="Wrong", by_user=ruth, at=at)
    actions.undo_cost(cost_id=cost.pk, on=DAY, because="Not paid", by_user=ruth, at=at)
    actions.take_goodwill_back(goodwill_id=given.pk, because="Wrong", by_user=ruth, at=at)


def test_goodwill_touches_neither_the_decision_nor_the_standing(refused: Claim, ruth: User, at: datetime) -> None:
    def kept() -> tuple[Any, ...]:
        rows = StoredStanding.objects.order_by("part_kind").values_list("part_kind", "cover", "care", "inputs_sha256")
        return (*Claim.objects.values_list("outcome", "decision", "contractor_pays"), *rows)

    refresh_standing(warranty_id=refused.warranty_id, on=clock.day_of(at))
    before = kept()
    assert len(before) > 2
    assert give(refused, ruth, at).words == GOODWILL_WORDS
    refresh_standing(warranty_id=refused.warranty_id, on=clock.day_of(at))
    assert kept() == before


def test_the_money_of_a_day_leaves_out_what_came_later(claim: Claim, nora: User, ruth: User, at: datetime) -> None:
    book(claim, nora, at)
    give(claim, ruth, at)  # on May 4
    assert money_on([claim], date(2026, 4, 27))[claim.pk].booked == 0
    assert money_on([claim], DAY)[claim.pk].booked == Decimal("144.00")
    assert money_on([claim], date(2026, 5, 3))[claim.pk].goodwill == 0
    assert money_on([claim], date(2026, 5, 4))[claim.pk].goodwill == Decimal("120.00")


# ---- the pages ----


@pytest.fixture
def in_may(on: date, at: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


def post_cost(client: Client, claim: Claim, **changes: str) -> Any:
    typed = {"kind": "labor", "amount": "144.00", "on": "2026-04-28", "note": "3 h at $48.00"}
    return client.post(reverse("warranties:book_cost", args=[claim.pk]), {**typed, **changes}, follow=True)


@pytest.mark.usefixtures("in_may")
def test_the_office_books_a_cost_and_undoes_it_from_the_claim(claim: Claim, nora: User, signed_in_as: Any) -> None:
    client = signed_in_as(nora)
    page = post_cost(client, claim).content.decode()
    assert "The cost is booked." in page
    assert "3 h at $48.00" in page
    assert "$356.00 of what we bear is not booked yet" in page
    cost = ClaimCost.objects.get()
    undo = reverse("warranties:undo_cost", args=[claim.pk, cost.pk])
    assert undo in page
    assert "$144.00" in client.get(undo).content.decode()
    page = client.post(undo, {"on": "2026-04-29", "because": "Another claim"}, follow=True).content.decode()
    assert "Both entries stay in sight" in page
    assert "−$144.00" in page
    assert undo not in page


@pytest.mark.usefixtures("in_may")
@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"amount": "1.001"}, "Amounts are exact to the cent"),
        ({"amount": "-5"}, "Type an amount above zero"),
        ({"amount": "0"}, "only says that no more is to come"),
        ({"amount": "100000000"}, "less than or equal to 99999999"),
        ({"amount": "12345678901"}, "less than or equal to 99999999"),
        ({"on": "2026-04-20"}, "choose April 21, 2026 or a later day"),
        ({"on": "2026-05-05"}, "This day has not come yet"),
        ({"note": ""}, "required"),
        ({"kind": "carried"}, "Select a valid choice"),
        ({"kind": ""}, "required"),
    ],
    ids=str,
)
def test_what_cannot_be_booked_gets_a_sentence_and_keeps_what_was_typed(
    claim: Claim, nora: User, signed_in_as: Any, typed: dict[str, str], sentence: str
) -> None:
    page = post_cost(signed_in_as(nora), claim, **{"note": "Three hours", **typed}).content.decode()
    assert sentence in page
    assert typed.get("note", "Three hours") in page
    assert not ClaimCost.objects.exists()


@pytest.mark.usefixtures("in_may")
def test_what_it_is_booked_under_is_asked_only_where_there_is_a_choice(
    claim: Claim, refused: Claim, nora: User, ruth: User, at: datetime, signed_in_as: Any
) -> None:
    client = signed_in_as(nora)

    def page(of: Claim) -> str:
        return client.get(reverse("warranties:book_cost", args=[of.pk])).content.decode()

    assert "Booked under" not in page(claim)
    assert "nothing of it" in page(refused)
    give(claim, ruth, at)
    give(refused, ruth, at)
    assert "Booked under" in page(claim)
    assert "Booked under" not in page(refused)
    assert "required" in post_cost(client, claim).content.decode()
    post_cost(client, claim, under="goodwill")
    post_cost(client, refused)
    assert list(ClaimCost.objects.values_list("claim_id", "is_goodwill").order_by("pk")) == [
        (claim.pk, True),
        (refused.pk, True),
    ]
    nothing = decided_claim(claim.warranty, nora, at, company="0.00")
    assert "was decided against the owner" in post_cost(client, nothing).content.decode()


@pytest.mark.usefixtures("in_may")
def test_the_manager_gives_goodwill_and_the_owner_reads_what_it_is(
    refused: Claim, ruth: User, signed_in_as: Any, ownership: Ownership, office: Actor, at: datetime
) -> None:
    client = signed_in_as(ruth)
    address = reverse("warranties:give_goodwill", args=[refused.pk])
    page = client.get(address).content.decode()
    assert "It is no admission" in page
    assert "A lawyer should read these words" in page
    page = client.post(address, {"amount": "0", "because": "A customer for 20 years"}).content.decode()
    assert "Type an amount above zero" in page
    page = client.post(address, {"amount": "120", "because": "A customer for 20 years"}, follow=True).content.decode()
    assert "A customer for 20 years" in page
    hers = Client()
    token = make_owner_link(ownership_id=ownership.pk, by=office, at=at)
    hers.post(reverse("portal:link", args=[token]))
    told = hers.get(reverse("portal:claim", args=[refused.pk])).content.decode()
    assert "$120.00" in told
    assert "It is no admission" in told
    assert "A customer for 20 years" not in told
    given = Goodwill.objects.get()
    back = reverse("warranties:take_goodwill_back", args=[refused.pk, given.pk])
    assert back in page
    assert "$120.00" in client.get(back).content.decode()
    page = client.post(back, {"because": "The wrong claim"}, follow=True).content.decode()
    assert "The wrong claim" in page
    told = hers.get(reverse("portal:claim", args=[refused.pk])).content.decode()
    assert "The goodwill of $120.00 was taken back" in told
    assert "It is no admission" not in told


@pytest.mark.usefixtures("in_may")
def test_entries_of_a_period_with_their_sums_and_as_csv(
    claim: Claim, nora: User, ruth: User, at: datetime, signed_in_as: Any
) -> None:
    first = book(claim, nora, at, note="=HYPERLINK(1)")
    book(claim, nora, at, kind="invoice", amount=Decimal("90.00"), note="Invoice 118", on=date(2026, 5, 1))
    actions.undo_cost(cost_id=first.pk, on=date(2026, 5, 2), because="Wrong", by_user=ruth, at=at)
    client = signed_in_as(nora)
    page = client.get(reverse("warranties:costs")).content.decode()
    assert "Counter-entry" in page
    assert "$90.00" in page
    query = {"from_on": "2026-05-01", "until_on": "2026-05-02"}
    answer = client.get(reverse("warranties:costs_table", query=query))
    rows = list(csv.DictReader(StringIO(answer.content.decode())))
    assert sum(Decimal(row["amount"]) for row in rows) == Decimal("-54.00")
    assert [(row["paid_in"], row["undoes_entry"]) for row in rows] == [("cash", ""), ("kind", str(first.pk))]
    everything = client.get(reverse("warranties:costs_table")).content.decode()
    assert ",'=HYPERLINK(1)," in everything
    backwards = {"from_on": "2026-05-02", "until_on": "2026-05-01"}
    assert "must not lie before the first" in client.get(reverse("warranties:costs", query=backwards)).content.decode()
    assert client.get(reverse("warranties:costs_table", query=backwards)).status_code == 302
    nothing = {"from_on": "2020-05-01", "until_on": "2020-05-02"}
    assert "Nothing was booked" in client.get(reverse("warranties:costs", query=nothing)).content.decode()


@pytest.mark.usefixtures("in_may")
def test_pages_take_the_same_number_of_queries_however_much_is_booked(
    claim: Claim, nora: User, at: datetime, signed_in_as: Any, django_assert_num_queries: Any
) -> None:
    client = signed_in_as(nora)
    page, entries = reverse("warranties:claim", args=[claim.pk]), reverse("warranties:costs")
    book(claim, nora, at)
    with django_assert_num_queries(2):
        costs_of(claim)
    with django_assert_num_queries(COSTS_PAGE):
        client.get(entries)
    with CaptureQueriesContext(connection) as seen:
        client.get(page)
    undone = book(claim, nora, at)
    actions.undo_cost(cost_id=undone.pk, on=DAY, because="Wrong", by_user=nora, at=at)
    for place in range(6):
        book(claim, nora, at, note=f"Hour {place}")
    with django_assert_num_queries(COSTS_PAGE):
        client.get(entries)
    with django_assert_num_queries(len(seen)):
        client.get(page)
