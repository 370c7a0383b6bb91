"""Checklists, and check-ups as they were done."""

from uuid import uuid4

from django.db import models
from django.db.models import Exists, OuterRef, Q

from contractor.accounts.models import User
from contractor.systems.models import Component, System
from contractor.systems.part_kinds import choices
from contractor.visits.models import Appointment, VisitKind


class ChecklistQuerySet(models.QuerySet["Checklist"]):
    def published(self) -> "ChecklistQuerySet":
        """Editions that check-ups may be made from, newest first."""
        return self.filter(published_at__isnull=False).order_by("-edition")


class Checklist(models.Model):
    """One edition of the list that check-ups are made from. Publishing freezes it; a change is a new edition."""

    name = models.CharField(max_length=80)
    edition = models.PositiveIntegerField(unique=True)
    created_at = models.DateTimeField()
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = ChecklistQuerySet.as_manager()

    class Meta:
        ordering = ["-edition"]

    def __str__(self) -> str:
        return f"{self.name}, edition {self.edition}"


class ChecklistItem(models.Model):
    """One line of a checklist. Limits are in the SI unit of the quantity; None means no limit on that side."""

    class Kind(models.TextChoices):
        CHECK = "check", "Check"
        MEASUREMENT = "measurement", "Measurement"
        TIMED_TEST = "timed_test", "Timed test"
        COUNT = "count", "Count"
        PHOTO = "photo", "Photo"
        NOTE = "note", "Note"

    checklist = models.ForeignKey(Checklist, on_delete=models.PROTECT, related_name="items")
    code = models.SlugField(max_length=60)
    part_kind = models.CharField(max_length=30, choices=choices(), blank=True)
    step = models.CharField(max_length=30)
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12, choices=Kind.choices)
    subject = models.CharField(max_length=120, blank=True)
    prompt = models.CharField(max_length=200)
    how = models.TextField(blank=True)
    quantity = models.CharField(max_length=30, blank=True)
    unit_us = models.CharField(max_length=20, blank=True)
    unit_metric = models.CharField(max_length=20, blank=True)
    good_low = models.FloatField(null=True, blank=True)
    good_high = models.FloatField(null=True, blank=True)
    watch_low = models.FloatField(null=True, blank=True)
    watch_high = models.FloatField(null=True, blank=True)
    caution = models.TextField(blank=True)
    consequence = models.TextField(blank=True)
    when_watch = models.TextField(blank=True)
    what_to_do = models.TextField(blank=True)
    severity = models.CharField(max_length=10, blank=True)
    photo = models.CharField(max_length=10, default="when_bad")
    required = models.BooleanField(default=True)
    formula = models.CharField(max_length=40, blank=True)
    applies_to = models.JSONField(null=True, blank=True)
    feeds = models.CharField(max_length=60, blank=True)
    source = models.TextField(blank=True)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["checklist", "code"], name="item_code_once_per_checklist")]

    def __str__(self) -> str:
        return self.prompt


class CheckUpQuerySet(models.QuerySet["CheckUp"]):
    def finished(self) -> "CheckUpQuerySet":
        return self.filter(finished_at__isnull=False)

    def with_passed(self) -> "CheckUpQuerySet":
        """Adds ``is_passed``: finished, and nothing bad or urgent that was found is still open."""
        still_open = Finding.objects.blocking().filter(checkup=OuterRef("pk"))
        return self.annotate(is_passed=Q(finished_at__isnull=False) & ~Exists(still_open))

    def visible_to(self, user: User) -> "CheckUpQuerySet":
        """A technician sees only the check-ups given to them; office and manager see all."""
        return self.filter(technician=user) if user.role == "technician" else self


class CheckUp(models.Model):
    """One service visit as done. It belongs to an appointment and keeps the edition it was made from."""

    PERSONAL_FIELDS = ("note_to_owner",)

    appointment = models.OneToOneField(Appointment, on_delete=models.PROTECT, related_name="checkup")
    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="checkups")
    kind = models.CharField(max_length=20, choices=VisitKind.choices)
    checklist = models.ForeignKey(Checklist, on_delete=models.PROTECT, related_name="checkups")
    technician = models.ForeignKey(User, on_delete=models.PROTECT, related_name="checkups")
    started_at = models.DateTimeField()
    done_on = models.DateField()
    finished_at = models.DateTimeField(null=True, blank=True)
    summary = models.TextField(blank=True)
    note_to_owner = models.TextField(blank=True, help_text="The technician's own words, printed in the report.")

    objects = CheckUpQuerySet.as_manager()

    class Meta:
        ordering = ["done_on", "pk"]

    def __str__(self) -> str:
        return f"check-up {self.pk}"


class AnswerQuerySet(models.QuerySet["Answer"]):
    def standing(self) -> "AnswerQuerySet":
        """Answers that no later answer has replaced."""
        return self.filter(superseded_by__isnull=True)


class Answer(models.Model):
    """One recorded response to one item for one component: never overwritten, only superseded.

    ``number_si`` is what was read; ``value_si`` the number that was judged, for a timed test the flow computed from
    it. The verdict and its value are settled once more at finishing, when everything they depend on is known.
    """

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    checkup = models.ForeignKey(CheckUp, on_delete=models.PROTECT, related_name="answers")
    item = models.ForeignKey(ChecklistItem, on_delete=models.PROTECT, related_name="answers")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, null=True, blank=True, related_name="answers")
    condition = models.CharField(max_length=14, blank=True)
    number_si = models.FloatField(null=True, blank=True)
    seconds = models.FloatField(null=True, blank=True)
    typed = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    text = models.TextField(blank=True)
    because = models.TextField(blank=True)
    value_si = models.FloatField(null=True, blank=True)
    verdict = models.CharField(max_length=14)
    verdict_sentence = models.TextField(blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    supersedes = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )

    objects = AnswerQuerySet.as_manager()

    class Meta:
        ordering = ["recorded_at"]

    def __str__(self) -> str:
        return f"answer {self.pk}"


class FindingQuerySet(models.QuerySet["Finding"]):
    def still_open(self) -> "FindingQuerySet":
        return self.filter(done_at__isnull=True)

    def blocking(self) -> "FindingQuerySet":
        """Open findings that keep a check-up from passing."""
        return self.still_open().filter(severity__in=(Finding.Severity.BAD, Finding.Severity.URGENT))


class Finding(models.Model):
    """Something wrong or worth watching: what it is, what to do, and whether it was done."""

    class Severity(models.TextChoices):
        WATCH = "watch", "Watch"
        BAD = "bad", "Bad"
        URGENT = "urgent", "Urgent"

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    checkup = models.ForeignKey(CheckUp, on_delete=models.PROTECT, related_name="findings")
    item = models.ForeignKey(ChecklistItem, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, null=True, blank=True, related_name="findings")
    severity = models.CharField(max_length=10, choices=Severity.choices)
    what = models.TextField()
    what_to_do = models.TextField(blank=True)
    raised_at = models.DateTimeField()
    raised_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    done_note = models.TextField(blank=True)

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["raised_at"]

    def __str__(self) -> str:
        return f"finding {self.pk}"


class Photo(models.Model):
    """A photo taken at a check-up. The original bytes are evidence; what is shown was re-encoded without GPS."""

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    checkup = models.ForeignKey(CheckUp, on_delete=models.PROTECT, related_name="photos")
    item = models.ForeignKey(ChecklistItem, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    original = models.FileField(upload_to="photos/original")
    original_sha256 = models.CharField(max_length=64)
    shown = models.FileField(upload_to="photos/shown")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    caption = models.CharField(max_length=200, blank=True)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["taken_at"]
        constraints = [models.UniqueConstraint(fields=["checkup", "original_sha256"], name="photo_once_per_checkup")]

    def __str__(self) -> str:
        return f"photo {self.pk}"


class Signature(models.Model):
    """The owner's word at the end: drawn, typed, or nobody at home. It signs a hash of what was on the screen."""

    class Kind(models.TextChoices):
        DRAWN = "drawn", "Drawn on the glass"
        TYPED = "typed", "Typed name"
        NOBODY_HOME = "nobody_home", "Nobody at home"

    PERSONAL_FIELDS = ("name", "strokes")

    checkup = models.OneToOneField(CheckUp, on_delete=models.PROTECT, related_name="signature")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    name = models.CharField(max_length=160, blank=True)
    strokes = models.JSONField(default=list, blank=True)
    signed_at = models.DateTimeField()
    signed_sha256 = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"signature {self.pk}"


class CheckUpReport(models.Model):
    """The report PDF that the owner gets."""

    checkup = models.OneToOneField(CheckUp, on_delete=models.PROTECT, related_name="report")
    file = models.FileField(upload_to="reports")
    sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"report {self.pk}"


class OutsideRecordQuerySet(models.QuerySet["OutsideRecord"]):
    def accepted(self) -> "OutsideRecordQuerySet":
        return self.filter(accepted=True)

    def waiting(self) -> "OutsideRecordQuerySet":
        return self.filter(accepted__isnull=True)


class OutsideRecord(models.Model):
    """A check-up documented outside this register: by another qualified provider, or by ourselves before it.

    It counts like our own once the office has accepted it.
    """

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="outside_records")
    by_us = models.BooleanField(default=False)
    provider = models.CharField(max_length=160)
    done_on = models.DateField()
    what = models.TextField()
    document = models.FileField(upload_to="outside", blank=True)
    document_sha256 = models.CharField(max_length=64, blank=True)
    sent_by = models.CharField(max_length=60)
    received_at = models.DateTimeField()
    accepted = models.BooleanField(null=True, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    decided_because = models.TextField(blank=True)

    objects = OutsideRecordQuerySet.as_manager()

    class Meta:
        ordering = ["done_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(accepted__isnull=True) | Q(decided_at__isnull=False),
                name="outside_record_decision_has_its_moment",
            )
        ]

    def __str__(self) -> str:
        return f"outside record {self.pk}"
