"""What may be booked on a claim, what may be given as goodwill, and what is still to come of a decision.

Costs in kind (our own hours, parts from the shelf) count like cash: both are payments under ASC 460-10-50-8(c). What
was spent was spent, so a cost above the decided amount is booked and shown with a caution, never refused.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import partial

from contractor.warranties.cost_errors import (
    AmountNeeded,
    AmountNotExact,
    BookedBeforeReport,
    BookedInClosedYear,
    CostBeforeDecision,
    CounterEntryStays,
    GoodwillBeforeDecision,
    GoodwillSpent,
    NoGoodwillGiven,
    NoteNeeded,
    NothingIsLastOnly,
    NothingToBook,
    UndoneAlready,
    UndoneBeforeBooked,
)
from contractor.warranties.errors import DayAhead, ReasonNeeded
from contractor.warranties.rules.counting import ONE_DAY
from contractor.warranties.rules.terms import CENT
from contractor.warranties.rules.wording import money_in_words

NOTHING = Decimal("0.00")
# A lawyer should read this sentence before it goes to an owner.
GOODWILL_WORDS = (
    "This is goodwill, given for this one case. It is no admission that the loss is covered or that we are at fault, "
    "it changes nothing in the written warranty or in how it stands, and it promises nothing for another time. "
    "Your rights under the law stay as they are."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimMoney:
    """The money of one claim: what the company bears by the decision and by goodwill, and what is booked under each.

    ``is_finished``: an entry that still stands says that no more is to come.
    """

    is_decided: bool
    reported_on: date
    decided: Decimal = NOTHING
    goodwill: Decimal = NOTHING
    booked_decided: Decimal = NOTHING
    booked_goodwill: Decimal = NOTHING
    is_finished: bool = False

    @property
    def booked(self) -> Decimal:
        """All that is booked."""
        return self.booked_decided + self.booked_goodwill

    @property
    def to_come(self) -> Decimal:
        """What is decided or given and not booked yet: never below nothing, and nothing once it is finished.

        Each of the two for itself, because a cost above the decision doesn't use up the goodwill.
        """
        if self.is_finished:
            return NOTHING
        return max(self.decided - self.booked_decided, NOTHING) + max(self.goodwill - self.booked_goodwill, NOTHING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A cost about to be booked, or one that was; ``on`` is the day on which it was spent."""

    on: date
    amount: Decimal
    note: str
    is_goodwill: bool = False
    is_last: bool = False
    is_counter: bool = False
    is_undone: bool = False


def refuse_booking(claim: ClaimMoney, entry: Entry, *, closed_through_on: date | None, today: date) -> None:
    """Raise the refusal that stands against booking this entry, if there is one.

    ``closed_through_on`` is the last day of the last closed year of the liability.
    """
    if not claim.is_decided:
        raise CostBeforeDecision
    if entry.is_goodwill and not claim.goodwill:
        raise NoGoodwillGiven
    if not entry.is_goodwill and not claim.decided:
        raise NothingToBook
    if entry.amount != entry.amount.quantize(CENT):
        raise AmountNotExact
    if entry.amount < 0:
        raise AmountNeeded
    if entry.amount == 0 and not entry.is_last:
        raise NothingIsLastOnly
    if not entry.note.strip():
        raise NoteNeeded
    if entry.on < claim.reported_on:
        raise BookedBeforeReport(claim.reported_on)
    _refuse_day(entry.on, closed_through_on=closed_through_on, today=today)


def refuse_undoing(entry: Entry, *, on: date, because: str, closed_through_on: date | None, today: date) -> None:
    """Raise the refusal that stands against a counter-entry on a day, if there is one."""
    if entry.is_counter:
        raise CounterEntryStays
    if entry.is_undone:
        raise UndoneAlready
    if not because.strip():
        raise ReasonNeeded
    if on < entry.on:
        raise UndoneBeforeBooked(entry.on)
    _refuse_day(on, closed_through_on=closed_through_on, today=today)


def refuse_goodwill(claim: ClaimMoney, *, amount: Decimal, because: str) -> None:
    """Raise the refusal that stands against giving goodwill, if there is one; who may give it is not asked here."""
    if not claim.is_decided:
        raise GoodwillBeforeDecision
    if amount != amount.quantize(CENT):
        raise AmountNotExact
    if amount <= 0:
        raise AmountNeeded
    if not because.strip():
        raise ReasonNeeded


def refuse_taking_back(
    claim: ClaimMoney,
    *,
    amount: Decimal,
    because: str,
    is_counter: bool,
    is_undone: bool,
    jurisdiction: str = "US",
) -> None:
    """Raise the refusal that stands against taking an amount of goodwill back, if there is one."""
    if is_counter:
        raise CounterEntryStays
    if is_undone:
        raise UndoneAlready
    if not because.strip():
        raise ReasonNeeded
    if claim.booked_goodwill > claim.goodwill - amount:
        raise GoodwillSpent(money_in_words(claim.booked_goodwill, jurisdiction))


def cautions(claim: ClaimMoney, *, jurisdiction: str = "US") -> tuple[str, ...]:
    """Sentences on what is booked above what the decision, or the goodwill, says the company bears."""
    words = (
        (claim.booked_decided, claim.decided, "the decision says that we bear. Look at the entries, or ask a manager."),
        (claim.booked_goodwill, claim.goodwill, "was given as goodwill. A manager may give more, with a reason."),
    )
    money = partial(money_in_words, jurisdiction=jurisdiction)
    return tuple(
        f"{money(booked)} is booked, {money(booked - most)} more than the {money(most)} that {said}"
        for booked, most, said in words
        if booked > most
    )


def _refuse_day(on: date, *, closed_through_on: date | None, today: date) -> None:
    if on > today:
        raise DayAhead("on")
    if closed_through_on is not None and on <= closed_through_on:
        raise BookedInClosedYear(closed_through_on + ONE_DAY)
