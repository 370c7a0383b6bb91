"""The secret half of a link to set a new password: made, checked, and kept nowhere.

Django's token holds the hash of the present password, the address and the last sign-in, so a link stops working once
it was used, and so does every other link of the same person; it lasts ``settings.PASSWORD_RESET_TIMEOUT`` seconds.
"""

from datetime import UTC, datetime

from django.contrib.auth.tokens import PasswordResetTokenGenerator

from contractor.accounts.models import User


class _Tokens(PasswordResetTokenGenerator):
    """Django's tokens at a given moment, told in UTC: in local time a link would last no time at all, or two hours,
    in the nights when the clocks change.
    """

    def __init__(self, at: datetime) -> None:
        super().__init__()
        self._at = at.astimezone(UTC).replace(tzinfo=None)

    def _now(self) -> datetime:
        return self._at


def make_token(user: User, *, at: datetime) -> str:
    """A token for this person, good from this moment on."""
    return _Tokens(at).make_token(user)


def is_good(token: str, user: User, *, at: datetime) -> bool:
    """Whether the token opens the page of a new password: made for this person, not used, not expired, not closed."""
    return user.is_active and _Tokens(at).check_token(user, token)
