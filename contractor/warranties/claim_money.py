"""What claims cost, entry by entry, and what was given as goodwill. Neither is ever changed; ``models`` names both."""

from django.db import models
from django.db.models import Q

from contractor.accounts.models import User


class ClaimCost(models.Model):
    """One entry of what a claim cost the company, in cash or in kind, on its own day.

    A mistake is put right by a counter-entry of the same amount with the other sign, which names what it ``undoes``.
    ``is_goodwill``: beyond the terms, by a manager's goodwill. ``is_last``: no more is to come. What was carried over
    from before costs were booked stands by itself: nobody wrote down then whether it was cash.
    """

    PERSONAL_FIELDS = ("note",)

    class Kind(models.TextChoices):
        LABOR = "labor", "Our own labor"
        PARTS = "parts", "Parts from stock, at cost"
        INVOICE = "invoice", "A subcontractor’s invoice"
        OWNER = "owner", "Money paid to the owner"
        CARRIED = "carried", "Carried over from before costs were booked"

    IN_KIND = frozenset({Kind.LABOR, Kind.PARTS})

    claim = models.ForeignKey("warranties.Claim", on_delete=models.PROTECT, related_name="costs")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    amount = models.DecimalField(max_digits=10, decimal_places=2)
    on = models.DateField()
    is_goodwill = models.BooleanField(default=False)
    is_last = models.BooleanField(default=False)
    note = models.CharField(max_length=300)
    undoes = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by")
    booked_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    booked_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(undoes__isnull=False, amount__lte=0)
                | Q(undoes__isnull=True, amount__gt=0)
                | Q(undoes__isnull=True, amount=0, is_last=True),
                name="claim_cost_has_its_sign",
            ),
            models.CheckConstraint(condition=~Q(note=""), name="claim_cost_has_note"),
            models.CheckConstraint(
                condition=Q(kind="carried") | Q(booked_by__isnull=False), name="claim_cost_has_somebody"
            ),
        ]
        indexes = [models.Index(fields=["on"], name="claim_cost_on")]

    def __str__(self) -> str:
        return f"cost {self.pk} of claim {self.claim_id}"

    @property
    def paid_in(self) -> str:
        """Whether it was "cash" or in "kind"; empty where nobody wrote it down."""
        if self.kind == self.Kind.CARRIED:
            return ""
        return "kind" if self.kind in self.IN_KIND else "cash"


class Goodwill(models.Model):
    """What a manager gives beyond the terms, with the reason and the exact words that the owner reads.

    Taken back by an entry of the same amount with the other sign, which names what it ``undoes``.
    """

    PERSONAL_FIELDS = ("because",)

    claim = models.ForeignKey("warranties.Claim", on_delete=models.PROTECT, related_name="goodwill")
    amount = models.DecimalField(max_digits=10, decimal_places=2)
    because = models.CharField(max_length=300)
    words = models.TextField(blank=True)
    undoes = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by")
    given_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    given_at = models.DateTimeField()

    class Meta:
        ordering = ["given_at", "pk"]
        verbose_name_plural = "goodwill"
        constraints = [
            models.CheckConstraint(
                condition=Q(undoes__isnull=True, amount__gt=0) | Q(undoes__isnull=False, amount__lt=0),
                name="goodwill_has_its_sign",
            ),
            models.CheckConstraint(condition=~Q(because=""), name="goodwill_has_reason"),
        ]

    def __str__(self) -> str:
        return f"goodwill {self.pk} for claim {self.claim_id}"
