"""Reads about staff and the company."""

from contractor.accounts.models import Company


def the_company() -> Company:
    """The company of this installation; an unsaved nameless one before set-up, so that pages still open."""
    return Company.objects.order_by("pk").first() or Company(name="Your company", legal_name="Your company")
