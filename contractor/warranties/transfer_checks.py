"""Which visit requests are the check-up for a sale: the first, and those asked for after one was called off."""

from django.db.models import Q

from contractor.visits.models import Request
from contractor.warranties.models import Transfer


def check_occasion(transfer: Transfer) -> str:
    """The occasion of the first of them."""
    return f"transfer:{transfer.pk}"


def transfer_checks(transfer: Transfer) -> Q:
    """The condition by which visit requests for this sale are found."""
    return Q(occasion=check_occasion(transfer)) | Q(occasion__startswith=f"{check_occasion(transfer)}:")


def standing_check(transfer: Transfer) -> Request | None:
    """The one that was not called off, done or not."""
    return Request.objects.filter(transfer_checks(transfer), withdrawn_at__isnull=True).order_by("pk").last()
