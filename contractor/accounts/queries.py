"""Reads about staff and the company."""

from datetime import datetime

from contractor.accounts import password_links
from contractor.accounts.models import Company, User


def the_company() -> Company:
    """The company of this installation; an unsaved nameless one before set-up, so that pages still open."""
    return Company.objects.order_by("pk").first() or Company(name="Your company", legal_name="Your company")


def whose_link(*, user_id: int, token: str, at: datetime) -> User | None:
    """Who may set a new password with this link; None when it is wrong, used or expired."""
    user = User.objects.filter(pk=user_id).first()
    return user if user is not None and password_links.is_good(token, user, at=at) else None
