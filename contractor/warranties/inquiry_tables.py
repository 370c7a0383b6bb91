"""What buyers, agents and closing offices ask about the transfer of a warranty, until the office has answered.

A table of its own module, because ``models`` has grown; that one imports this, so that it is found.
"""

from django.db import models
from django.db.models import Q

from contractor.accounts.models import User
from contractor.properties.models import Person


class TransferInquiryQuerySet(models.QuerySet["TransferInquiry"]):
    def waiting(self) -> "TransferInquiryQuerySet":
        """Those that the office has not answered, the longest waiting first."""
        return self.with_house().filter(state=TransferInquiry.State.OPEN).order_by("asked_at", "pk")

    def with_house(self) -> "TransferInquiryQuerySet":
        """With the house and whoever asked, for lists."""
        return self.select_related("warranty__system__property", "person")


class TransferInquiry(models.Model):
    """Somebody who holds a certificate asks for the transfer of its warranty; nothing is begun by it.

    ``asker`` is the e-mail address or, without one, the dialled number: whoever asks again while it is open is found
    by it, and what they say then is put under ``message``.
    """

    PERSONAL_FIELDS = ("asker", "message")

    class Role(models.TextChoices):
        BUYER = "buyer", "Buyer"
        BUYERS_AGENT = "buyers_agent", "Buyer’s agent"
        SELLERS_AGENT = "sellers_agent", "Seller’s agent"
        CLOSING = "closing", "Closing office"

    class State(models.TextChoices):
        OPEN = "open", "Not begun"
        BEGUN = "begun", "Begun"
        DECLINED = "declined", "Declined"

    certificate = models.ForeignKey("warranties.Certificate", on_delete=models.PROTECT, related_name="inquiries")
    warranty = models.ForeignKey("warranties.Warranty", on_delete=models.PROTECT, related_name="inquiries")
    role = models.CharField(max_length=16, choices=Role.choices)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="transfer_inquiries")
    asker = models.CharField(max_length=254)
    closing_on = models.DateField(null=True, blank=True)
    message = models.TextField(blank=True)
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    because = models.TextField(blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    transfer = models.ForeignKey(
        "warranties.Transfer", on_delete=models.PROTECT, null=True, blank=True, related_name="inquiries"
    )

    objects = TransferInquiryQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        verbose_name_plural = "transfer inquiries"
        constraints = [
            models.UniqueConstraint(
                fields=["warranty", "asker"], condition=Q(state="open"), name="one_open_inquiry_per_asker"
            ),
            models.CheckConstraint(
                condition=~Q(state="begun") | Q(transfer__isnull=False), name="begun_inquiry_has_transfer"
            ),
            models.CheckConstraint(condition=~Q(state="declined") | ~Q(because=""), name="declined_inquiry_has_reason"),
        ]

    def __str__(self) -> str:
        return f"inquiry {self.pk}"

    @property
    def is_of_buyer(self) -> bool:
        """Whether the buyer asks, and nobody on a buyer's or seller's behalf."""
        return self.role == self.Role.BUYER
