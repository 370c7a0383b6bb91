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
