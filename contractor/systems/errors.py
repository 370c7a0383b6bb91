"""Refusals about systems and their components."""

from datetime import date

from contractor.core.errors import Refusal


class SystemNameTaken(Refusal):
    def __init__(self, name: str) -> None:
        super().__init__(
            f"This house has a system called “{name}” already. Give the second one its own name, such as “Garage”.",
            field="name",
        )


class SerialNumberTaken(Refusal):
    def __init__(self, serial_number: str, where: str) -> None:
        super().__init__(
            f"Serial number {serial_number} of this model is recorded at {where}. Read the plate again; "
            "if both are right, leave the number empty and note it at the place.",
            field="serial_number",
        )


class WrongModel(Refusal):
    def __init__(self, model: str, wanted: str) -> None:
        super().__init__(f"{model} is not a {wanted}. Choose a {wanted} from the catalogue.", field="model")


class BeforeSystem(Refusal):
    def __init__(self, installed_on: date) -> None:
        super().__init__(
            f"The system was installed on {installed_on:%B} {installed_on.day}, {installed_on.year}; "
            "a part can't have gone in before that.",
            field="on",
        )


class AlreadyOut(Refusal):
    def __init__(self, out_on: date) -> None:
        super().__init__(
            f"This part was taken out on {out_on:%B} {out_on.day}, {out_on.year}. Open the part that replaced it."
        )


class OutBeforeIn(Refusal):
    def __init__(self, in_on: date) -> None:
        super().__init__(
            f"This part went in on {in_on:%B} {in_on.day}, {in_on.year}; it can't come out before that.", field="on"
        )


class WallLetterTaken(Refusal):
    def __init__(self, letter: str) -> None:
        super().__init__(f"Wall {letter} is listed already. Take the next letter.", field="letter")


class ModelKnown(Refusal):
    def __init__(self) -> None:
        super().__init__("The catalogue has this model already.", field="name")


class NotALength(Refusal):
    def __init__(self, *, field: str, may_be_nothing: bool) -> None:
        more = "can't be less than nothing" if may_be_nothing else "must be more than nothing"
        super().__init__(f"A length {more}. Leave the field empty if it was not measured.", field=field)


class UnlikelySize(Refusal):
    """The sentence gives the value in both worlds, so that a mistaken unit is seen at a glance."""

    def __init__(self, metres: float, *, field: str) -> None:
        super().__init__(
            f"This would be {metres:.3g} m ({metres / 0.3048:.3g} ft), which no house of this trade has. "
            "Check the unit, or write it behind the number, such as 2.5 m or 8 ft 3 in.",
            field=field,
        )


class NotThatMany(Refusal):
    def __init__(self, most: int, *, field: str) -> None:
        super().__init__(f"Type how many there are, from 0 to {most}.", field=field)


class StartBelowStop(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The pump starts at a higher level than it stops at. Measure both up from the pit's floor.",
            field="pump_on_m",
        )


class StandbyBelowPrimary(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The standby pump starts when the water has risen past the level at which the primary pump should have "
            "started, so its level is the higher one. Measure both up from the pit's floor; if it is so in the house, "
            "the standby's switch must be raised first.",
            field="standby_on_m",
        )


class LevelAbovePit(Refusal):
    def __init__(self, *, field: str) -> None:
        super().__init__(
            "This level lies above the pit's rim. Levels are measured up from the pit's floor; check the pit's depth.",
            field=field,
        )


class ExposedLongerThanLine(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The part of the line in the open air can't be longer than the whole line. Check both lengths.",
            field="exposed_length_m",
        )


class FallsButSags(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "A line that falls all the way to its outlet has no low point that holds water. Answer “No”, or count 0.",
            field="sags",
        )


class MeasuredBeforeInstalled(Refusal):
    def __init__(self, installed_on: date) -> None:
        super().__init__(
            f"The system was installed on {installed_on:%B} {installed_on.day}, {installed_on.year}; "
            "it can't have been measured before that.",
            field="measured_on",
        )


class MeasuredLater(Refusal):
    def __init__(self) -> None:
        super().__init__("This day is still to come. Give the day on which it was measured.", field="measured_on")


class NothingMeasured(Refusal):
    def __init__(self) -> None:
        super().__init__("Nothing is filled in yet. Fill in what was measured; the rest may stay empty.")
