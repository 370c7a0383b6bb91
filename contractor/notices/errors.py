"""Refusals about notices."""

from contractor.core.errors import Refusal


class StillSending(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This message is being sent right now. Look again in a few minutes; it can be sent again if it hangs."
        )


class NotFailed(Refusal):
    def __init__(self) -> None:
        super().__init__("Only a notice that could not be sent can be tried again. This one has gone out or waits.")
