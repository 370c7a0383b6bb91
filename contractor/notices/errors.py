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


class OffersNotWanted(Refusal):
    def __init__(self, name: str) -> None:
        super().__init__(f"{name} wants no more offers by e-mail. Notices about visits and the warranty still go out.")


class NoPostalAddress(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "A message that sells something must carry your postal address. Complete it on the company page first."
        )


class NobodyToWriteTo(Refusal):
    def __init__(self, name: str) -> None:
        super().__init__(
            f"{name} takes neither e-mail nor texts, and a letter would come too late. Telephone instead."
        )


class NotPrintedYet(Refusal):
    def __init__(self) -> None:
        super().__init__("No letter was chosen. Print the letters first, then say which are in the post.")
