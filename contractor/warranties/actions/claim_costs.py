"""Writes about the money of claims: book a cost, undo one, give goodwill, take it back."""

from datetime import date, datetime
from decimal import Decimal

from django.db import OperationalError, transaction

from contractor.accounts.models import Company, Role, User
from contractor.core import audit, clock
from contractor.warranties.actions.claim_letters import issue_goodwill_letter
from contractor.warranties.actions.claim_messages import tell_goodwill, tell_goodwill_taken_back
from contractor.warranties.claim_costs import closed_through, entry_of, money_of
from contractor.warranties.claim_money import ClaimCost, Goodwill
from contractor.warranties.cost_errors import BooksHeld
from contractor.warranties.errors import ManagersOnly
from contractor.warranties.models import Claim
from contractor.warranties.queries import jurisdiction_of
from contractor.warranties.rules.claim_costs import (
    GOODWILL_WORDS,
    Entry,
    refuse_booking,
    refuse_goodwill,
    refuse_taking_back,
    refuse_undoing,
)


def hold_the_books() -> None:
    """Until the end of this transaction nobody else books a cost or closes a year.

    Otherwise a cost could be booked into a year while it is being closed, and stand in neither. Raises BooksHeld when
    somebody else has held them for longer than the database lets anybody wait.
    """
    try:
        list(Company.objects.select_for_update().values_list("pk"))
    except OperationalError as error:
        raise BooksHeld from error


@transaction.atomic
def book_cost(
    *,
    claim_id: int,
    kind: str,
    amount: Decimal,
    on: date,
    note: str,
    by_user: User,
    at: datetime,
    is_goodwill: bool = False,
    is_last: bool = False,
) -> ClaimCost:
    """Books what was spent on a claim on a day, in cash or in kind.

    ``is_last`` says that no more is to come; only then may the amount be nothing. Raises CostBeforeDecision,
    NothingToBook, NoGoodwillGiven, AmountNotExact, AmountNeeded, NothingIsLastOnly, NoteNeeded, BookedBeforeReport,
    BookedInClosedYear or DayAhead.
    """
    claim = _held(claim_id)
    entry = Entry(on=on, amount=amount, note=note, is_goodwill=is_goodwill, is_last=is_last)
    refuse_booking(money_of(claim), entry, closed_through_on=closed_through(), today=clock.day_of(at))
    cost = ClaimCost(
        claim=claim,
        kind=ClaimCost.Kind(kind),
        amount=amount,
        on=on,
        is_goodwill=is_goodwill,
        is_last=is_last,
        note=note.strip(),
        booked_by=by_user,
        booked_at=at,
    )
    return _booked(cost, verb="claim cost booked", by_user=by_user, at=at)


@transaction.atomic
def undo_cost(*, cost_id: int, on: date, because: str, by_user: User, at: datetime) -> ClaimCost:
    """Books the counter-entry of a cost; the cost itself stays in sight.

    Raises CounterEntryStays, UndoneAlready, ReasonNeeded, UndoneBeforeBooked, BookedInClosedYear or DayAhead.
    """
    claim = _held(ClaimCost.objects.get(pk=cost_id).claim_id)
    cost = ClaimCost.objects.select_related("undone_by").get(pk=cost_id)
    refuse_undoing(
        entry_of(cost), on=on, because=because, closed_through_on=closed_through(), today=clock.day_of(at)
    )
    counter = ClaimCost(
        claim=claim,
        kind=cost.kind,
        amount=-cost.amount,
        on=on,
        is_goodwill=cost.is_goodwill,
        note=because.strip(),
        undoes=cost,
        booked_by=by_user,
        booked_at=at,
    )
    return _booked(counter, verb="claim cost undone", by_user=by_user, at=at)


@transaction.atomic
def give_goodwill(*, claim_id: int, amount: Decimal, because: str, by_user: User, at: datetime) -> Goodwill:
    """Gives an owner something beyond the terms. The decision, the warranty and its standing are not touched.

    The owner gets a letter, and a message that it is there.

    Raises ManagersOnly, GoodwillBeforeDecision, AmountNotExact, AmountNeeded or ReasonNeeded.
    """
    if by_user.role != Role.MANAGER:
        raise ManagersOnly("give goodwill")
    claim = _held(claim_id)
    refuse_goodwill(money_of(claim), amount=amount, because=because)
    given = Goodwill(
        claim=claim, amount=amount, because=because.strip(), words=GOODWILL_WORDS, given_by=by_user, given_at=at
    )
    _given(given, verb="goodwill given", by_user=by_user, at=at)
    letter = issue_goodwill_letter(claim=claim, given=given, by_user=by_user, at=at)
    tell_goodwill(claim, letter, by=by_user.actor, at=at)
    return given


@transaction.atomic
def take_goodwill_back(*, goodwill_id: int, because: str, by_user: User, at: datetime) -> Goodwill:
    """Takes goodwill back that was given by mistake, as far as nothing of it is booked; the owner is told why.

    Raises ManagersOnly, CounterEntryStays, UndoneAlready, ReasonNeeded or GoodwillSpent.
    """
    if by_user.role != Role.MANAGER:
        raise ManagersOnly("take goodwill back")
    claim = _held(Goodwill.objects.get(pk=goodwill_id).claim_id)
    given = Goodwill.objects.select_related("undone_by").get(pk=goodwill_id)
    refuse_taking_back(
        money_of(claim),
        amount=given.amount,
        because=because,
        is_counter=given.undoes_id is not None,
        is_undone=hasattr(given, "undone_by"),
        jurisdiction=jurisdiction_of(claim),
    )
    counter = Goodwill(
        claim=claim, amount=-given.amount, because=because.strip(), undoes=given, given_by=by_user, given_at=at
    )
    _given(counter, verb="goodwill taken back", by_user=by_user, at=at)
    tell_goodwill_taken_back(claim, counter, by=by_user.actor, at=at)
    return counter


def _held(claim_id: int) -> Claim:
    """The claim, locked: two entries at once are judged one after the other."""
    hold_the_books()
    claims = Claim.objects.select_for_update(of=("self",)).select_related("warranty__system")
    return claims.get(pk=claim_id)


def _booked(cost: ClaimCost, *, verb: str, by_user: User, at: datetime) -> ClaimCost:
    cost.save(force_insert=True)
    _record(cost, cost.claim, verb=verb, by_user=by_user, at=at)
    return cost


def _given(goodwill: Goodwill, *, verb: str, by_user: User, at: datetime) -> None:
    goodwill.save(force_insert=True)
    _record(goodwill, goodwill.claim, verb=verb, by_user=by_user, at=at)


def _record(row: ClaimCost | Goodwill, claim: Claim, *, verb: str, by_user: User, at: datetime) -> None:
    house = claim.warranty.system.property_id
    audit.record(
        subject=row, property_id=house, verb=verb, by=by_user.actor, at=at, after=audit.snapshot(row)
    )
