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


class SignInClosed(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This person can't sign in, so no link was sent. Tick “Can sign in”, save, and send the link then."
        )


class TooManyLinks(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Five links went to this address within the hour, and no more go out until that hour is over. "
            "The newest one still works; it may lie in the spam folder."
        )


class LinkClosed(Refusal):
    def __init__(self) -> None:
        super().__init__("This link was used or has expired. Ask for a new one on the sign-in page.")
