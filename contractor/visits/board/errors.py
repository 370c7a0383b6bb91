"""Refusals of the board."""

from collections.abc import Sequence
from datetime import date

from contractor.core.errors import Refusal


class NotOnTheBoard(Refusal):
    def __init__(self) -> None:
        super().__init__("This visit isn't on the board any more: it was done or taken back. Load the board again.")


class BegunAlready(Refusal):
    def __init__(self, where: str) -> None:
        super().__init__(f"The visit at {where} has begun or is done, so it stays where it is.")


class LockedHere(Refusal):
    def __init__(self, where: str) -> None:
        super().__init__(f"{where} is locked where it stands. Unlock it first, then move it.")


class NoPosition(Refusal):
    def __init__(self, where: str) -> None:
        super().__init__(f"{where} has no position yet, so no drive to it can be reckoned. Set it on the house file.")


class NotWorking(Refusal):
    def __init__(self, technician: str, day: date) -> None:
        super().__init__(
            f"{technician} doesn't work on {day:%A}, {day:%B} {day.day}. Choose another day or technician.",
            field="technician",
        )


class MoveRefused(Refusal):
    """The rules that a move would break, one sentence each."""

    def __init__(self, sentences: Sequence[str]) -> None:
        super().__init__(f"It stays where it is. {' '.join(sentences)}")


class NoRoomThatDay(Refusal):
    def __init__(self, where: str, day: str) -> None:
        super().__init__(
            f"Nobody who can do {where} has room for it on {day}. Open that day and make room, or choose another."
        )


class NothingToUndo(Refusal):
    def __init__(self) -> None:
        super().__init__("There is no step to take back: the draft is as it was planned.")


class NothingToRedo(Refusal):
    def __init__(self) -> None:
        super().__init__("There is no step to do again.")


class MovedMeanwhile(Refusal):
    def __init__(self, name: str) -> None:
        super().__init__(
            f"{name} changed this draft meanwhile. Here it is as it stands now; do your step again if it is needed."
        )


class DraftClosed(Refusal):
    def __init__(self, state: str) -> None:
        super().__init__(f"This draft is {state.lower()}, so it can't be changed. Plan the stretch anew.")


class StillPlanning(Refusal):
    def __init__(self) -> None:
        super().__init__("This draft is still being planned. Wait until it is ready, or stop the planning.")


class DraftOpen(Refusal):
    def __init__(self, name: str) -> None:
        super().__init__(
            f"{name} has an open draft for some of these days. Go on with that one, or drop it and plan anew.",
            field="first_on",
        )


class StretchPast(Refusal):
    def __init__(self) -> None:
        super().__init__("These days are past. Choose a week that isn't over.", field="first_on")


class StretchTooLong(Refusal):
    def __init__(self, weeks: int) -> None:
        super().__init__(
            f"More than {weeks} weeks can't be planned in one go. Choose a later first or an earlier last day.",
            field="weeks",
        )


class NothingToAccept(Refusal):
    def __init__(self) -> None:
        super().__init__("These days stand in the book as they are drafted: there is nothing to accept.")


class StillHeard(Refusal):
    def __init__(self) -> None:
        super().__init__("This draft is being planned and was heard of just now. Give it a moment.")


class NobodyWorks(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Nobody works on these days. Give the technicians their working days first, or choose another week.",
            field="first_on",
        )


class BookChanged(Refusal):
    """The draft was made from a book that says something else now."""

    def __init__(self, names: Sequence[str]) -> None:
        listed = "; ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
        super().__init__(
            f"Since this draft was made, the book has changed: {listed}. Nothing was written. Bring the draft up to "
            "date, look at it, and accept it then."
        )


class DraftBreaks(Refusal):
    def __init__(self, sentences: Sequence[str]) -> None:
        super().__init__(f"Nothing was written. {' '.join(sentences)} Put that right, then accept.")


class NothingHappens(Refusal):
    def __init__(self) -> None:
        super().__init__("Nobody's day changes by this. Choose who is away or what is closed.")


class MustBeConfirmed(Refusal):
    """What may be broken by whoever says so twice; ``questions`` are the reasons, one sentence each."""

    def __init__(self, questions: Sequence[str]) -> None:
        self.questions = tuple(questions)
        super().__init__(" ".join(questions))


class AwayBackwards(Refusal):
    def __init__(self) -> None:
        super().__init__("The last day must not be before the first. Correct one of them.", field="last_on")
