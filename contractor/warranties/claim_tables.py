"""What follows a claim's report: questions to the owner, the letters of its decisions, and the appeal.

Tables of their own module, because ``models`` has grown; that one imports this, so that both are found.
"""

from django.db import models
from django.db.models import Q

from contractor.accounts.models import User
from contractor.warranties.frozen_facts import fingerprint


class ClaimQuestion(models.Model):
    """Something the office asks back before it decides, and what the owner answered."""

    PERSONAL_FIELDS = ("words", "answer")

    claim = models.ForeignKey("warranties.Claim", on_delete=models.PROTECT, related_name="questions")
    words = models.TextField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    answer = models.TextField(blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["asked_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["claim"], condition=Q(answered_at__isnull=True), name="one_open_question_per_claim"
            ),
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True) | ~Q(answer=""), name="answered_question_has_words"
            ),
        ]

    def __str__(self) -> str:
        return f"question {self.pk}"


class ClaimAppeal(models.Model):
    """The owner sees a decision otherwise; somebody else than the one who decided looks at all of it again.

    One for each claim. ``because`` is what the second person says about the owner's words; what was decided first
    stays in the claim's first letter.
    """

    PERSONAL_FIELDS = ("words", "because", "judgement", "decision")

    class Way(models.TextChoices):
        PAGE = "page", "On the owner's page"
        LETTER = "letter", "By letter or e-mail"
        CALL = "call", "By telephone"

    claim = models.OneToOneField("warranties.Claim", on_delete=models.PROTECT, related_name="appeal")
    way = models.CharField(max_length=10, choices=Way.choices)
    words = models.TextField()
    received_on = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=60)
    decision = models.JSONField(null=True, blank=True)
    judgement = models.JSONField(null=True, blank=True)
    because = models.TextField(blank=True)
    outcome = models.CharField(max_length=20, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(decided_at__isnull=True) | (~Q(outcome="") & ~Q(because="") & Q(decided_by__isnull=False)),
                name="decided_appeal_is_complete",
            ),
        ]

    def __str__(self) -> str:
        return f"appeal {self.pk}"


class ClaimLetter(models.Model):
    """The letter that tells an owner what was decided or given, with everything it says frozen.

    ``appeal`` is None for the first decision; ``goodwill`` is what a letter about goodwill tells of. The file is made
    from ``facts`` and from nothing else, when it is first asked for, and kept with its hash. ``appeal_by`` is the last
    day for an appeal of the decision, None where there is none any more.
    """

    claim = models.ForeignKey("warranties.Claim", on_delete=models.PROTECT, related_name="letters")
    appeal = models.OneToOneField(ClaimAppeal, on_delete=models.PROTECT, null=True, blank=True, related_name="letter")
    goodwill = models.OneToOneField(
        "warranties.Goodwill", on_delete=models.PROTECT, null=True, blank=True, related_name="letter"
    )
    facts = models.JSONField()
    facts_sha256 = models.CharField(max_length=64)
    appeal_by = models.DateField(null=True, blank=True)
    file = models.FileField(upload_to="claims/letters", blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["issued_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["claim"],
                condition=Q(appeal__isnull=True, goodwill__isnull=True),
                name="one_first_letter_per_claim",
            ),
            models.CheckConstraint(
                condition=Q(appeal__isnull=True) | Q(goodwill__isnull=True), name="letter_is_of_one_thing"
            ),
        ]

    def __str__(self) -> str:
        return f"letter {self.pk} of claim {self.claim_id}"

    @property
    def fingerprint(self) -> str:
        """The hash of what it says, shortened as it is printed at the foot of the letter."""
        return fingerprint(self.facts_sha256)
