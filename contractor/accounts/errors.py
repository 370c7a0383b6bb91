"""Refusals about staff."""

from contractor.core.errors import Refusal


class EmailTaken(Refusal):
    def __init__(self) -> None:
        super().__init__("Somebody on the staff already signs in with this e-mail address. Use another.", field="email")


class LastManager(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This is the only active manager, and somebody must be able to run the set-up. "
            "Make another person manager first.",
            field="role",
        )
