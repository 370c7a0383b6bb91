"""Care plans: service contracts that are paid for by the year. No table here knows of a warranty, and none may."""

import builtins
from datetime import date, timedelta
from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from contractor.accounts.models import User
from contractor.plans.rules.terms import ENDING_DAYS, State, Year
from contractor.properties.models import Person, Property


def _money() -> models.DecimalField:  # type: ignore[type-arg]
    return models.DecimalField(max_digits=9, decimal_places=2)


class PlanOffer(models.Model):
    """An edition of a plan. Once published it stays as it is: agreements rest on its words."""

    edition = models.CharField(max_length=40, unique=True)
    title = models.CharField(max_length=120)
    visits_a_year = models.PositiveSmallIntegerField()
    included = models.TextField(help_text="One line each.")
    minor_parts_up_to = models.DecimalField(max_digits=7, decimal_places=2, default=Decimal("0.00"))
    price = _money()
    tax_percent = models.DecimalField(max_digits=5, decimal_places=3, default=Decimal("0.000"))
    cancellation = models.TextField(blank=True)
    full_refund_days = models.PositiveSmallIntegerField(default=30)
    disclosures = models.TextField(blank=True)
    created_at = models.DateTimeField()
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(price__gt=0), name="offer_costs_something"),
            models.CheckConstraint(condition=Q(tax_percent__gte=0), name="offer_tax_not_negative"),
        ]

    def __str__(self) -> str:
        return self.edition

    @property
    def is_open(self) -> bool:
        """Whether anybody can agree to it now."""
        return self.published_at is not None and self.withdrawn_at is None

    @property
    def included_lines(self) -> list[str]:
        """What is included, line by line."""
        return [line.strip() for line in self.included.splitlines() if line.strip()]


class AgreementQuerySet(models.QuerySet["Agreement"]):
    def in_state(self, state: State, on: date) -> "AgreementQuerySet":
        """The years that stand so on a day; the same answer as ``rules.terms.state_on``."""
        cancelled = Q(cancelled_on__isnull=False, cancelled_on__lte=on)
        live = self.filter(~cancelled)
        is_renewed = Q(next_year__isnull=False)
        ending_from = on + timedelta(days=ENDING_DAYS)
        running = live.filter(from_on__lte=on, until_on__gt=on)
        ending = Q(until_on__lte=ending_from) & ~is_renewed
        return {
            State.CANCELLED: self.filter(cancelled),
            State.COMING: live.filter(from_on__gt=on),
            State.ENDING: running.filter(ending),
            State.ACTIVE: running.exclude(ending),
            State.RENEWED: live.filter(is_renewed, until_on__lte=on, from_on__lte=on),
            State.LAPSED: live.filter(until_on__lte=on, from_on__lte=on).exclude(is_renewed),
        }[state]

    def not_over(self, on: date) -> "AgreementQuerySet":
        """Years that hold on this day or will."""
        return self.filter(until_on__gt=on).filter(Q(cancelled_on__isnull=True) | Q(cancelled_on__gt=on))


class Agreement(models.Model):
    """One paid year for a house and its owner: from a day until (excluding) another.

    A renewal is a year of its own that ``follows`` this one. ``takes_over`` names the year of an earlier owner whose
    rest this owner took over, by a consent of their own.
    """

    PERSONAL_FIELDS = ("consent_words", "cancelled_because")

    class Renews(models.TextChoices):
        NO = "no", "Ends by itself"
        ASKS = "asks", "We ask before it renews"
        AUTOMATIC = "automatic", "Renews by itself"

    class Way(models.TextChoices):
        PAGE = "page", "On the owner’s page"
        OFFICE = "office", "With the office"
        SALE = "sale", "House sold"

    offer = models.ForeignKey(PlanOffer, on_delete=models.PROTECT, related_name="agreements")
    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="plans")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="plans")
    from_on = models.DateField()
    until_on = models.DateField()
    price = _money()
    tax_percent = models.DecimalField(max_digits=5, decimal_places=3)
    renews = models.CharField(max_length=10, choices=Renews.choices)
    agreed_at = models.DateTimeField()
    agreed_way = models.CharField(max_length=8, choices=Way.choices)
    consent_words = models.TextField()
    renewal_consent_at = models.DateTimeField(null=True, blank=True)
    follows = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="next_year"
    )
    takes_over = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken_over_by"
    )
    cancelled_on = models.DateField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_way = models.CharField(max_length=8, choices=Way.choices, blank=True)
    cancelled_because = models.CharField(max_length=500, blank=True)

    objects = AgreementQuerySet.as_manager()

    class Meta:
        ordering = ["-from_on", "-pk"]
        indexes = [models.Index(fields=["until_on"], name="agreement_until")]
        constraints = [
            models.CheckConstraint(condition=Q(until_on__gt=F("from_on")), name="agreement_ends_after_start"),
            models.CheckConstraint(condition=Q(price__gt=0), name="agreement_costs_something"),
            models.CheckConstraint(
                condition=~Q(renews="automatic") | Q(renewal_consent_at__isnull=False),
                name="automatic_renewal_has_consent",
            ),
            models.CheckConstraint(
                condition=Q(cancelled_on__isnull=True, cancelled_at__isnull=True)
                | Q(cancelled_on__isnull=False, cancelled_at__isnull=False),
                name="agreement_cancelled_with_moment",
            ),
        ]

    def __str__(self) -> str:
        return f"plan {self.pk}"

    @builtins.property  # the house took the plain word
    def through_on(self) -> date:
        """The last day as people read it."""
        return self.until_on - timedelta(days=1)

    def year(self, *, is_renewed: bool) -> Year:
        """This year as the rules know it."""
        return Year(
            from_on=self.from_on, until_on=self.until_on, cancelled_on=self.cancelled_on, is_renewed=is_renewed
        )


class RenewalNotice(models.Model):
    """What the owner was told before the next year: offer, price, and the rule that set the days."""

    agreement = models.OneToOneField(Agreement, on_delete=models.PROTECT, related_name="renewal_notice")
    offer = models.ForeignKey(PlanOffer, on_delete=models.PROTECT, related_name="+")
    sent_on = models.DateField()
    first_on = models.DateField()
    last_on = models.DateField()
    rule_source = models.CharField(max_length=200)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(last_on__gte=F("first_on")), name="notice_window_forward")]

    def __str__(self) -> str:
        return f"renewal notice {self.pk}"


class NoticeDays(models.Model):
    """A manager's change to the renewal rule of a state; an empty state stands for those without a rule."""

    state = models.CharField(max_length=2, unique=True, blank=True)
    first_days = models.PositiveSmallIntegerField()
    last_days = models.PositiveSmallIntegerField()
    source = models.CharField(max_length=200)

    class Meta:
        verbose_name_plural = "notice days"

    def __str__(self) -> str:
        return self.state or "every other state"


class InvoiceSeries(models.Model):
    """The last number given out in a year. Its row is locked while the next invoice is written, so no number is
    skipped and none is given twice: a transaction that fails gives its number back."""

    year = models.PositiveSmallIntegerField(unique=True)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "invoice series"

    def __str__(self) -> str:
        return str(self.year)


class Invoice(models.Model):
    """An invoice, or a credit note that takes something off one. Written once; a wrong one gets a credit note.

    ``facts`` holds what the paper says of both sides, as it was on that day.
    """

    PERSONAL_FIELDS = ("facts",)

    year = models.PositiveSmallIntegerField()
    sequence = models.PositiveIntegerField()
    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="invoices")
    credits = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="credit_note"
    )
    issued_on = models.DateField()
    due_on = models.DateField()
    net = _money()
    tax_percent = models.DecimalField(max_digits=5, decimal_places=3)
    tax = _money()
    facts = models.JSONField()

    class Meta:
        ordering = ["-year", "-sequence"]
        constraints = [
            models.UniqueConstraint(fields=["year", "sequence"], name="invoice_number_once"),
            models.UniqueConstraint(
                fields=["agreement"], condition=Q(credits__isnull=True), name="one_invoice_per_year_of_a_plan"
            ),
            models.CheckConstraint(condition=Q(net__gte=0, tax__gte=0), name="invoice_not_negative"),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def number(self) -> str:
        """As printed: the year and a running number without gaps."""
        return f"{self.year}-{self.sequence:05d}"

    @property
    def total(self) -> Decimal:
        """Net and tax, never rounded by itself."""
        return Decimal(self.net + self.tax)

    @property
    def is_credit_note(self) -> bool:
        return self.credits_id is not None

    @property
    def file_name(self) -> str:
        """What its PDF is called."""
        return f"{'credit-note' if self.is_credit_note else 'invoice'}-{self.number}.pdf"


class Payment(models.Model):
    """Money that came (positive) or was given back (negative). Never changed: a wrong entry gets a counter-entry."""

    PERSONAL_FIELDS = ("reference", "because")

    class Way(models.TextChoices):
        CASH = "cash", "Cash"
        CHECK = "check", "Check"
        CARD = "card", "Card, by terminal"
        TRANSFER = "transfer", "Bank transfer"

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="payments")
    amount = _money()
    way = models.CharField(max_length=10, choices=Way.choices)
    on = models.DateField()
    reference = models.CharField(max_length=80, blank=True)
    counters = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="counter_entry"
    )
    because = models.CharField(max_length=300, blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [models.CheckConstraint(condition=~Q(amount=0), name="payment_of_something")]

    def __str__(self) -> str:
        return f"payment {self.pk}"
