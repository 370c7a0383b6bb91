"""Refusals about the costs of claims and about goodwill."""

from datetime import date

from contractor.core.errors import Refusal


def _day(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"


class CostBeforeDecision(Refusal):
    def __init__(self) -> None:
        super().__init__("Costs are booked once the claim is decided. Decide it first, or withdraw it.")


class NothingToBook(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This claim was decided against the owner, so the company bears nothing of it. "
            "If a manager gives goodwill first, its cost can be booked."
        )


class NoGoodwillGiven(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "No goodwill stands on this claim. Book the cost under the warranty, or ask a manager to give goodwill.",
            field="under",
        )


class BookedBeforeReport(Refusal):
    def __init__(self, reported_on: date) -> None:
        super().__init__(
            f"A claim costs nothing before it is reported: choose {_day(reported_on)} or a later day.", field="on"
        )


class BookedInClosedYear(Refusal):
    def __init__(self, next_on: date) -> None:
        super().__init__(
            f"The liability is closed through the day before {_day(next_on)}, and closed figures stay as they are. "
            f"Book it on {_day(next_on)} or later, and say in the note when it was spent.",
            field="on",
        )


class BooksHeld(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Somebody is closing a year of the liability at this moment. Nothing was booked; try again in a minute."
        )


class AmountNotExact(Refusal):
    def __init__(self) -> None:
        super().__init__("Amounts are exact to the cent: type two decimals at most.", field="amount")


class AmountNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__("Type an amount above zero.", field="amount")


class NothingIsLastOnly(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "An entry of nothing only says that no more is to come. Tick that it is the last, or type an amount.",
            field="amount",
        )


class NoteNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__("Say what it was for: the hours, the parts, or the number of the invoice.", field="note")


class CounterEntryStays(Refusal):
    def __init__(self) -> None:
        super().__init__("This is a counter-entry itself. If the entry was right after all, book it once more.")


class UndoneAlready(Refusal):
    def __init__(self) -> None:
        super().__init__("A counter-entry has undone this already. Nothing more needs to be done.")


class UndoneBeforeBooked(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"A counter-entry can't come before what it undoes: choose {_day(on)} or a later day.", field="on"
        )


class GoodwillBeforeDecision(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Goodwill goes beyond what the terms give, so the claim is decided by the terms first. Decide it, then "
            "give what you want to give."
        )


class GoodwillSpent(Refusal):
    def __init__(self, booked: str) -> None:
        super().__init__(
            f"{booked} of goodwill is booked on this claim already. Undo those entries first, if they are wrong."
        )
