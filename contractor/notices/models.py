"""Messages to owners: written once per occasion, logged for ever."""

from datetime import datetime

from django.db import models
from django.db.models import Q

from contractor.properties.models import Person, Property


class NoticeQuerySet(models.QuerySet["Notice"]):
    def to_send(self, at: datetime) -> "NoticeQuerySet":
        """Queued notices whose hour has come."""
        return self.filter(state=Notice.State.QUEUED, not_before__lte=at)


class Notice(models.Model):
    """One message to one person about one occasion. ``occasion`` is unique, so a letter is never sent twice."""

    PERSONAL_FIELDS = ("address", "subject", "text", "html")

    class Channel(models.TextChoices):
        EMAIL = "email", "E-mail"
        LETTER = "letter", "Letter to print"

    class State(models.TextChoices):
        QUEUED = "queued", "Waiting"
        SENDING = "sending", "Being sent"
        SENT = "sent", "Sent"
        FAILED = "failed", "Could not be sent"
        WITHDRAWN = "withdrawn", "Withdrawn"

    occasion = models.CharField(max_length=160, unique=True)
    template = models.CharField(max_length=60)
    channel = models.CharField(max_length=10, choices=Channel.choices)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="notices")
    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="notices", null=True, blank=True)
    address = models.CharField(max_length=254, blank=True)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField(blank=True)
    queued_at = models.DateTimeField()
    not_before = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.QUEUED)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    last_error = models.TextField(blank=True)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering = ["-queued_at", "-pk"]
        indexes = [models.Index(fields=["state", "not_before"], name="notice_due")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent_at__isnull=False), name="sent_notice_has_its_moment"
            )
        ]

    def __str__(self) -> str:
        return self.occasion
