"""Refusals about notices."""

from contractor.core.errors import Refusal


class NotFailed(Refusal):
    def __init__(self) -> None:
        super().__init__("Only a notice that could not be sent can be tried again. This one has gone out or waits.")
