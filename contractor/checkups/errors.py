"""Refusals about checklists, check-ups, photos and records."""

from collections.abc import Sequence
from datetime import date

from contractor.core.errors import Refusal


class NoChecklist(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "No checklist is published yet, so no check-up can begin. A manager publishes one in the set-up."
        )


class ChecklistFrozen(Refusal):
    def __init__(self, edition: int) -> None:
        super().__init__(f"Edition {edition} is published and stays as it is. Make a new edition and change that one.")


class EditionTaken(Refusal):
    def __init__(self, edition: int) -> None:
        super().__init__(f"There is an edition {edition} already. Give the new one the next number.", field="edition")


class NotYourVisit(Refusal):
    def __init__(self) -> None:
        super().__init__("This visit was given to another technician. Ask the office to give it to you.")


class VisitNotOpen(Refusal):
    def __init__(self, state: str) -> None:
        super().__init__(
            f"This visit is {state.lower()}, so its check-up can't begin. Ask the office to give it out again."
        )


class NotACheckUp(Refusal):
    def __init__(self, kind: str) -> None:
        super().__init__(f"A {kind.lower()} has no checklist. Note what was done on the house file instead.")


class AlreadyFinished(Refusal):
    def __init__(self) -> None:
        super().__init__("This check-up is finished and stays as it was signed. The office can ask for another visit.")


class NotFinished(Refusal):
    def __init__(self) -> None:
        super().__init__("This check-up is not finished, so there is nothing to open again.")


class NotOfThisHouse(Refusal):
    def __init__(self) -> None:
        super().__init__("This item or part does not belong to this check-up. Reload the page and try once more.")


class NothingAnswered(Refusal):
    def __init__(self, what: str) -> None:
        super().__init__(what, field="answer")


class ReasonMissing(Refusal):
    def __init__(self) -> None:
        super().__init__("Say in a few words why, or what was done.", field="because")


class StillMissing(Refusal):
    """``missing`` holds a sentence for each line that still asks for something."""

    def __init__(self, missing: Sequence[str]) -> None:
        many = "One thing is" if len(missing) == 1 else f"{len(missing)} things are"
        super().__init__(f"{many} still to do before this check-up can be finished: {missing[0]}")
        self.missing = tuple(missing)


class NotSigned(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Let the owner sign, type the name, or choose “nobody at home”, then finish.", field="signature"
        )


class ChangedSinceSigned(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Something was changed after the owner signed. Go through it with them, let them sign once more, "
            "then finish.",
            field="signature",
        )


class NameMissing(Refusal):
    def __init__(self) -> None:
        super().__init__("Type the name of the person who signs.", field="name")


class NothingDrawn(Refusal):
    def __init__(self) -> None:
        super().__init__("Nothing is drawn yet. Sign on the field with a finger, or type the name.", field="strokes")


class UnreadablePhoto(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This file is not a photo that can be read (JPEG, PNG or WebP). Take it once more.", field="photo"
        )


class PhotoTooLarge(Refusal):
    def __init__(self, what: str) -> None:
        super().__init__(f"This photo is too large: {what}. Take it at a lower resolution.", field="photo")


class PhotoAtAnotherCard(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This very photo stands at another card of this check-up already. Take one of what this card asks for.",
            field="photo",
        )


class FindingDone(Refusal):
    def __init__(self) -> None:
        super().__init__("This finding has been put right already.")


class DayAhead(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"{on:%B} {on.day}, {on.year} is still to come. Give the day on which the check-up was done.",
            field="done_on",
        )


class BeforeInstallation(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"The system was installed on {on:%B} {on.day}, {on.year}. A check-up can't have been before that.",
            field="done_on",
        )


class UnreadableDocument(Refusal):
    def __init__(self) -> None:
        super().__init__("Send a PDF or a photo (JPEG, PNG or WebP), up to 10 MB.", field="document")


class AlreadyDecided(Refusal):
    def __init__(self) -> None:
        super().__init__("This record was decided on already. Reload the page to see how.")
