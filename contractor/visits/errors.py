"""Refusals about requests and appointments."""

from datetime import date

from contractor.core.errors import Refusal


def _words(on: date) -> str:
    return f"{on:%A}, {on:%B} {on.day}, {on.year}"


def _closed(reason: str) -> str:
    """What somebody typed as a reason, ended like a sentence."""
    return reason if reason.endswith((".", "!", "?")) else f"{reason}."


class DayIsPast(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(f"{_words(on)} is past. Choose today or a later day.", field="on")


class NotATechnician(Refusal):
    def __init__(self) -> None:
        super().__init__("Only an active technician can be sent to a house. Choose another.", field="technician")


class AlreadyGiven(Refusal):
    def __init__(self, technician: str, on: date) -> None:
        super().__init__(f"This visit is given to {technician} on {_words(on)} already. Move that appointment instead.")


class NotWantedAnyMore(Refusal):
    def __init__(self, because: str) -> None:
        super().__init__(
            f"This visit is no longer wanted: {_closed(because)} Ask for a new one if it is needed after all."
        )


class AlreadyDone(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This visit has been done; what was done stays on record. Ask for a new visit if one is needed."
        )


class NotLive(Refusal):
    def __init__(self, state: str) -> None:
        super().__init__(
            f"This appointment is {state.lower()} already, so it can't be changed. Give the visit out again."
        )


class ReasonMissing(Refusal):
    def __init__(self) -> None:
        super().__init__("Say why in a few words, so that whoever calls the owner knows.", field="because")


class NotYet(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"This visit is on {_words(on)}. It can be noted as done on that day or afterwards; move it first if "
            "somebody goes earlier."
        )


class HasChecklist(Refusal):
    def __init__(self, kind: str) -> None:
        super().__init__(f"A {kind.lower()} is finished through its checklist. Open it, answer its lines and sign.")


class WorkMissing(Refusal):
    def __init__(self) -> None:
        super().__init__("Say in a few words what was done: it stays on the house's record.", field="work_done")


class WindowBackwards(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The three days must be in order: not before, wished, not after. Correct the one that is out of place.",
            field="target_on",
        )


class RoundChanged(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This round was changed by somebody else meanwhile. Look at it again and put it in order once more."
        )


class GoesAlong(Refusal):
    def __init__(self, kind: str) -> None:
        super().__init__(
            f"This visit goes along with the {kind.lower()} at the same house. Give that one out, or give this one a "
            "trip of its own first."
        )


class GoesAlone(Refusal):
    def __init__(self) -> None:
        super().__init__("This visit has a trip of its own already. Look at the house file again.")


class NoWorkingDay(Refusal):
    def __init__(self) -> None:
        super().__init__("Give hours for at least one day of the week. Somebody who is away for a while has leave.")


class HoursBackwards(Refusal):
    def __init__(self) -> None:
        super().__init__("A working day must end after it begins. Exchange the two times.", field="ends")


class BreakBackwards(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "A break takes at least a minute, and the last time at which it may begin can't come before the first.",
            field="rest_until",
        )


class PlaceWithoutPosition(Refusal):
    def __init__(self, field: str) -> None:
        super().__init__(
            "The drive from a place can only be reckoned when its position is known. Type latitude and longitude.",
            field=field,
        )


class LeaveBackwards(Refusal):
    def __init__(self) -> None:
        super().__init__("The last day of leave can't come before the first. Exchange them.", field="last_on")


class HalfOfManyDays(Refusal):
    def __init__(self) -> None:
        super().__init__("Half a day off is of one day only. Note whole days, or one half day at a time.", field="part")


class LeaveTwice(Refusal):
    def __init__(self, first_on: date, last_on: date) -> None:
        span = f"on {_words(first_on)}" if first_on == last_on else f"from {_words(first_on)} to {_words(last_on)}"
        super().__init__(
            f"Leave is noted {span} already. Take that back first, or choose other days.", field="first_on"
        )


class LeaveTakenBack(Refusal):
    def __init__(self) -> None:
        super().__init__("This leave was taken back already. Note it again if it holds after all.")


class NameMissing(Refusal):
    def __init__(self) -> None:
        super().__init__("Say what day it is, so that whoever reads the calendar understands it.", field="name")


class NotToday(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(f"This visit is on {_words(on)}. The owner is told on that day, once somebody has set out.")


class NobodyOwnsIt(Refusal):
    def __init__(self) -> None:
        super().__init__("Nobody is recorded as the owner of this house, so there is nobody to tell. Record the owner.")


class VisitChanged(Refusal):
    def __init__(self) -> None:
        super().__init__("We moved this visit while you were looking at it. The new day stands here; does it suit you?")


class DayGone(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"{_words(on)} was taken by somebody else in the meantime. Your visit stays where it was; these days are "
            "still free.",
            field="day",
        )


class WishEmpty(Refusal):
    def __init__(self) -> None:
        super().__init__("Write in a few words which days or hours suit you.", field="words")


class TooManyFeeds(Refusal):
    def __init__(self, most: int) -> None:
        super().__init__(f"You have {most} calendar addresses already. Shut one that you don't use any more first.")


class FeedRevoked(Refusal):
    def __init__(self) -> None:
        super().__init__("This calendar address is shut already.")


class AlreadyAsked(Refusal):
    """``request_id`` is the visit that stands already, so that a page can lead to it."""

    def __init__(self, kind: str, latest_on: date, request_id: int) -> None:
        super().__init__(
            f"The same visit is asked for already: a {kind.lower()}, by {_words(latest_on)}. Give that one out, or say "
            "what this one is for besides."
        )
        self.request_id = request_id
