"""Terms, warranties, what was decided about them, and the certificates issued."""

from datetime import datetime
from uuid import uuid4

from django.db import models
from django.db.models import F, Q

from contractor.accounts.models import User
from contractor.properties.models import Ownership, Person, Property
from contractor.systems.models import Component, System
from contractor.systems.part_kinds import choices
from contractor.warranties import claim_money  # noqa: F401  # its tables are part of these
from contractor.warranties.claim_tables import ClaimAppeal, ClaimQuestion
from contractor.warranties.inquiry_tables import TransferInquiry  # noqa: F401  # its table is part of these


class TermsEditionQuerySet(models.QuerySet["TermsEdition"]):
    def published(self) -> "TermsEditionQuerySet":
        return self.filter(published_at__isnull=False).order_by("-published_at")


class TermsEdition(models.Model):
    """One edition of warranty terms. Once published it is never edited; a change is a new edition.

    ``data`` are the terms. Of a draft, ``typed`` is what was last typed into the editor, exactly; ``is_half_typed``
    says that it can't be read as terms yet, and that ``data`` are those of before.
    """

    edition = models.SlugField(max_length=40, unique=True)
    title = models.CharField(max_length=120)
    data = models.JSONField()
    typed = models.JSONField(default=dict, blank=True)
    is_half_typed = models.BooleanField(default=False)
    created_at = models.DateTimeField()
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = TermsEditionQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"{self.title} ({self.edition})"


class TermsShownQuerySet(models.QuerySet["TermsShown"]):
    def at_house(self, property_id: int) -> "TermsShownQuerySet":
        return self.filter(property_id=property_id).select_related("terms", "shown_by")


class TermsShown(models.Model):
    """An edition of terms shown to somebody before they bought: which, when, to whom, how, and the exact document.

    ``document`` holds the bytes of the PDF, the same file for everybody who was shown the same; ``confirmed_at`` is
    when the reader of a link said that they could read it.
    """

    PERSONAL_FIELDS = ("name", "email")

    class Way(models.TextChoices):
        SCREEN = "screen", "On our screen, together"
        PRINTED = "printed", "Printed and handed over"
        LINK = "link", "By e-mail, with a link"

    terms = models.ForeignKey(TermsEdition, on_delete=models.PROTECT, related_name="shown")
    property = models.ForeignKey(Property, on_delete=models.PROTECT, null=True, blank=True, related_name="terms_shown")
    name = models.CharField(max_length=160)
    email = models.EmailField(blank=True)
    way = models.CharField(max_length=10, choices=Way.choices)
    shown_at = models.DateTimeField()
    shown_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    document = models.FileField(upload_to="terms_shown")
    document_sha256 = models.CharField(max_length=64)
    token = models.CharField(max_length=64, unique=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)

    objects = TermsShownQuerySet.as_manager()

    class Meta:
        ordering = ["-shown_at", "-pk"]
        verbose_name_plural = "terms shown"
        constraints = [
            models.CheckConstraint(condition=~Q(way="link") | ~Q(email=""), name="terms_link_has_address"),
        ]

    def __str__(self) -> str:
        return f"terms shown {self.pk}"


class Warranty(models.Model):
    """Terms issued to a system on a date; ``signed_on`` is the day of the contract, where it was recorded."""

    number = models.CharField(max_length=20, unique=True)
    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="warranties")
    terms = models.ForeignKey(TermsEdition, on_delete=models.PROTECT, related_name="warranties")
    issued_on = models.DateField()
    signed_on = models.DateField(null=True, blank=True)
    issued_to = models.ForeignKey(Ownership, on_delete=models.PROTECT, related_name="warranties")
    issued_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    issued_at = models.DateTimeField()
    voided_on = models.DateField(null=True, blank=True)
    voided_clause = models.CharField(max_length=120, blank=True)
    voided_because = models.TextField(blank=True)
    voided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["issued_on", "pk"]
        verbose_name_plural = "warranties"
        constraints = [
            models.UniqueConstraint(
                fields=["system"], condition=Q(voided_on__isnull=True), name="one_valid_warranty_per_system"
            ),
            models.CheckConstraint(
                condition=Q(voided_on__isnull=True) | (~Q(voided_because="") & ~Q(voided_clause="")),
                name="void_has_clause_and_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class Waiver(models.Model):
    """Days that count as cared for, by a manager's recorded decision."""

    warranty = models.ForeignKey(Warranty, on_delete=models.PROTECT, related_name="waivers")
    from_on = models.DateField()
    until_on = models.DateField()
    because = models.TextField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["from_on"]
        constraints = [
            models.CheckConstraint(condition=Q(from_on__lt=models.F("until_on")), name="waiver_has_days"),
            models.CheckConstraint(condition=~Q(because=""), name="waiver_has_reason"),
        ]

    def __str__(self) -> str:
        return f"waiver {self.pk}"


class Transfer(models.Model):
    """Carrying a warranty from one owner to the next."""

    class State(models.TextChoices):
        ASKED = "asked", "Asked for"
        ISSUED = "issued", "Issued"
        WITHDRAWN = "withdrawn", "Withdrawn"
        REVOKED = "revoked", "Revoked"

    warranty = models.ForeignKey(Warranty, on_delete=models.PROTECT, related_name="transfers")
    seller = models.ForeignKey(Ownership, on_delete=models.PROTECT, related_name="transfers_out")
    buyer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="transfers_in")
    asked_at = models.DateTimeField()
    notified_on = models.DateField()
    closing_on = models.DateField()
    fee = models.DecimalField(max_digits=9, decimal_places=2, default=0)
    fee_paid_on = models.DateField(null=True, blank=True)
    accepted_on = models.DateField(null=True, blank=True)
    accepted_name = models.CharField(max_length=160, blank=True)
    waived = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.ASKED)
    state_because = models.TextField(blank=True)
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    buyer_ownership = models.ForeignKey(
        Ownership, on_delete=models.PROTECT, null=True, blank=True, related_name="transfers_here"
    )

    class Meta:
        ordering = ["closing_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["warranty"], condition=Q(state="asked"), name="one_open_transfer_per_warranty"
            ),
            models.CheckConstraint(
                condition=~Q(state="issued") | (Q(issued_at__isnull=False) & Q(buyer_ownership__isnull=False)),
                name="issued_transfer_is_complete",
            ),
        ]

    def __str__(self) -> str:
        return f"transfer {self.pk}"


class Claim(models.Model):
    """An owner's report of a failure, and the decision with the arithmetic behind it.

    Outcome, amounts and ``decision`` are those that hold now: an appeal may have changed them, and what was decided
    first stays in the first letter. ``decided_at`` and ``decided_by`` are always those of the first decision.
    """

    class State(models.TextChoices):
        REPORTED = "reported", "Reported"
        DECIDED = "decided", "Decided"
        WITHDRAWN = "withdrawn", "Withdrawn"

    warranty = models.ForeignKey(Warranty, on_delete=models.PROTECT, related_name="claims")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, null=True, blank=True, related_name="claims")
    part_kind = models.CharField(max_length=30, choices=choices())
    lost_on = models.DateField()
    reported_on = models.DateField()
    what = models.TextField()
    cause = models.CharField(max_length=40)
    cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.REPORTED)
    judgement = models.JSONField(null=True, blank=True)
    decision = models.JSONField(null=True, blank=True)
    outcome = models.CharField(max_length=20, blank=True)
    owner_pays = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    contractor_pays = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_because = models.TextField(blank=True)

    class Meta:
        ordering = ["-reported_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="decided") | (Q(decided_at__isnull=False) & ~Q(outcome="")),
                name="decided_claim_has_outcome",
            )
        ]

    def __str__(self) -> str:
        return f"claim {self.pk}"

    @property
    def waits_for_owner(self) -> bool:
        """Whether a question to the owner waits for its answer; reads prefetched questions."""
        return any(question.answered_at is None for question in self.questions.all())


class ClaimPhoto(models.Model):
    """A photo sent with a claim. The original bytes are evidence; what is shown was re-encoded without GPS.

    ``question`` or ``appeal`` is what it came with, when it did not come with the report.
    """

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    claim = models.ForeignKey(Claim, on_delete=models.PROTECT, related_name="photos")
    question = models.ForeignKey(
        ClaimQuestion, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    appeal = models.ForeignKey(ClaimAppeal, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    original = models.FileField(upload_to="claims/original")
    original_sha256 = models.CharField(max_length=64)
    shown = models.FileField(upload_to="claims/shown")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    sent_by = models.CharField(max_length=60)
    sent_at = models.DateTimeField()

    class Meta:
        ordering = ["sent_at", "pk"]
        constraints = [models.UniqueConstraint(fields=["claim", "original_sha256"], name="photo_once_per_claim")]

    def __str__(self) -> str:
        return f"photo of claim {self.claim_id}"


class Certificate(models.Model):
    """The numbered document that states a warranty's standing and promises on a day, with its facts frozen."""

    number = models.CharField(max_length=12, unique=True)
    warranty = models.ForeignKey(Warranty, on_delete=models.PROTECT, related_name="certificates")
    transfer = models.OneToOneField(
        Transfer, on_delete=models.PROTECT, null=True, blank=True, related_name="certificate"
    )
    issued_to = models.ForeignKey(Ownership, on_delete=models.PROTECT, related_name="certificates")
    facts = models.JSONField()
    facts_sha256 = models.CharField(max_length=64, db_index=True)
    check_code = models.CharField(max_length=8)
    token = models.CharField(max_length=64, unique=True)
    issued_on = models.DateField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    file = models.FileField(upload_to="certificates", blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True, db_index=True)
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_because = models.TextField(blank=True)

    class Meta:
        ordering = ["-issued_at", "-pk"]
        constraints = [
            # One first certificate per warranty, and each later one supersedes exactly one: a chain, no branches.
            models.UniqueConstraint(
                fields=["warranty"], condition=Q(supersedes__isnull=True), name="one_first_certificate_per_warranty"
            )
        ]

    def __str__(self) -> str:
        return self.number


class TransferLinkQuerySet(models.QuerySet["TransferLink"]):
    def usable(self, at: datetime) -> "TransferLinkQuerySet":
        """Links that open their part at this moment."""
        return self.filter(revoked_at__isnull=True, expires_at__gt=at, transfer__state=Transfer.State.ASKED)

    def of_person(self, link: "TransferLink") -> "TransferLinkQuerySet":
        """Every link that this person was given for this part: each message holds one of its own."""
        return self.filter(transfer=link.transfer_id, role=link.role, email=link.email)


class TransferLink(models.Model):
    """A secret link to one person's part of one transfer. Only the SHA-256 of its token is kept."""

    PERSONAL_FIELDS = ("name", "email")

    class Role(models.TextChoices):
        SELLER = "seller", "Seller"
        BUYER = "buyer", "Buyer"
        AGENT = "agent", "Agent"

    transfer = models.ForeignKey(Transfer, on_delete=models.PROTECT, related_name="links")
    role = models.CharField(max_length=10, choices=Role.choices)
    name = models.CharField(max_length=160, blank=True)
    email = models.EmailField(blank=True)
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = TransferLinkQuerySet.as_manager()

    def __str__(self) -> str:
        return f"link {self.pk} of transfer {self.transfer_id}"


class Acceptance(models.Model):
    """The buyer's word that they take the warranty over, with the exact bytes that they were shown or signed.

    ``shown`` is the document as shown (electronic) or the signed paper as scanned; ``consent`` the text by which they
    agreed to do it electronically, empty for paper.
    """

    PERSONAL_FIELDS = ("name",)

    class Way(models.TextChoices):
        ELECTRONIC = "electronic", "Electronic"
        PAPER = "paper", "On paper"

    transfer = models.OneToOneField(Transfer, on_delete=models.PROTECT, related_name="acceptance")
    way = models.CharField(max_length=10, choices=Way.choices)
    name = models.CharField(max_length=160)
    consent = models.TextField(blank=True)
    consented_at = models.DateTimeField(null=True, blank=True)
    shown = models.FileField(upload_to="acceptances")
    shown_sha256 = models.CharField(max_length=64)
    accepted_at = models.DateTimeField()
    link = models.ForeignKey(TransferLink, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(way="paper") | Q(consented_at__isnull=False), name="electronic_acceptance_has_consent"
            )
        ]

    def __str__(self) -> str:
        return f"acceptance of transfer {self.transfer_id}"


class LiabilityYear(models.Model):
    """A closed year of the warranty liability: the table as it was closed, and the rows that it was made from.

    Never changed; ``sha256`` is the hash of table and rows.
    """

    from_on = models.DateField()
    until_on = models.DateField()
    table = models.JSONField()
    rows = models.JSONField()
    sha256 = models.CharField(max_length=64)
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-until_on"]
        constraints = [
            models.UniqueConstraint(fields=["until_on"], name="liability_year_closed_once"),
            models.CheckConstraint(condition=Q(until_on__gt=F("from_on")), name="liability_year_has_days"),
        ]

    def __str__(self) -> str:
        return f"liability {self.from_on} to {self.until_on}"


class StoredStanding(models.Model):
    """The derived standing of a promise, kept for lists; ``inputs_sha256`` and ``on`` prove it is not stale.

    The row with an empty part kind sums up the warranty: its care, and one cover for the list: void or
    suspended before all else, and in force while any promise is. Its ``on`` is the day of the last renewal of
    the whole warranty; that of the others, the day on which they last changed.
    """

    warranty = models.ForeignKey(Warranty, on_delete=models.PROTECT, related_name="standings")
    part_kind = models.CharField(max_length=30, choices=choices(), blank=True)
    cover = models.CharField(max_length=12)
    care = models.CharField(max_length=12)
    through_on = models.DateField(null=True, blank=True)
    next_due_on = models.DateField(null=True, blank=True)
    reasons = models.JSONField(default=list)
    restore = models.TextField(blank=True)
    on = models.DateField()
    inputs_sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["warranty", "part_kind"], name="one_standing_per_promise"),
        ]
        indexes = [
            models.Index(fields=["part_kind", "care"], name="standing_care"),
            models.Index(fields=["part_kind", "cover"], name="standing_cover"),
        ]

    def __str__(self) -> str:
        return f"standing of warranty {self.warranty_id} {self.part_kind}"
