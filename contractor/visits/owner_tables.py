"""What owners are sent and say about their appointments, and the calendar addresses of the staff."""

from datetime import datetime

from django.db import models

from contractor.accounts.models import User
from contractor.properties.models import Ownership


class VisitLinkQuerySet(models.QuerySet["VisitLink"]):
    def usable(self, at: datetime) -> "VisitLinkQuerySet":
        """Links that open their appointment: not expired, and in the hand of the present owner."""
        return self.filter(expires_at__gt=at, ownership__until_on__isnull=True)


class VisitLink(models.Model):
    """A secret link to one appointment for one owner. Only the hash of the token is kept.

    ``told_on`` and the two hours are what the message with the link said, so that its page can say what has changed.
    """

    appointment = models.ForeignKey("visits.Appointment", on_delete=models.PROTECT, related_name="links")
    ownership = models.ForeignKey(Ownership, on_delete=models.PROTECT, related_name="visit_links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    told_on = models.DateField()
    told_from = models.TimeField(null=True, blank=True)
    told_until = models.TimeField(null=True, blank=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()

    objects = VisitLinkQuerySet.as_manager()

    def __str__(self) -> str:
        return f"visit link {self.pk}"


class OwnerWish(models.Model):
    """What an owner asks of the office about an appointment, until the office has dealt with it."""

    PERSONAL_FIELDS = ("words",)

    class Kind(models.TextChoices):
        OTHER_DAY = "other_day", "Wants another day"
        TELEPHONE = "telephone", "Wants a call"
        CALLED_OFF = "called_off", "Called the visit off"

    appointment = models.ForeignKey("visits.Appointment", on_delete=models.PROTECT, related_name="wishes")
    ownership = models.ForeignKey(Ownership, on_delete=models.PROTECT, related_name="visit_wishes")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    words = models.TextField(blank=True)
    said_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["said_at", "pk"]
        verbose_name_plural = "owner wishes"
        indexes = [models.Index(fields=["settled_at", "said_at"], name="owner_wish_waiting")]

    def __str__(self) -> str:
        return f"owner wish {self.pk}"


class CalendarFeed(models.Model):
    """A secret address at which one of the staff reads visits in their own calendar. Only the token's hash is kept."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="calendar_feeds")
    name = models.CharField(max_length=60)
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"calendar feed {self.pk}"
