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
    """One message to one person about one occasion. ``occasion`` is unique, so a letter is never sent twice.

    ``short`` is what goes out as a text message, in ``parts`` parts. ``about`` names what it tells of, such as
    ``appointment:41``. After ``not_after`` it would be of no use. ``fell_back`` says which ways failed before.
    """

    PERSONAL_FIELDS = ("address", "subject", "text", "html", "short")

    class Channel(models.TextChoices):
        EMAIL = "email", "E-mail"
        TEXT = "text", "Text message"
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
    short = models.TextField(blank=True)
    parts = models.PositiveSmallIntegerField(default=0)
    about = models.CharField(max_length=60, blank=True, db_index=True)
    queued_at = models.DateTimeField()
    not_before = models.DateTimeField()
    not_after = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.QUEUED)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    last_error = models.TextField(blank=True)
    fell_back = models.TextField(blank=True)

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


class OptOutQuerySet(models.QuerySet["OptOut"]):
    def standing(self, what: str, address: str) -> "OptOutQuerySet":
        """Whether messages of this sort are not wanted at this address."""
        return self.filter(what=what, address=address, lifted_at__isnull=True)


class OptOut(models.Model):
    """Somebody said that no texts, or no offers, are to come to an address any more.

    By address and not by person, so that it holds when the person is registered anew or buys another house.
    """

    PERSONAL_FIELDS = ("address",)

    class What(models.TextChoices):
        TEXTS = "texts", "Text messages"
        OFFERS = "offers", "Offers"

    what = models.CharField(max_length=8, choices=What.choices)
    address = models.CharField(max_length=254, help_text="An e-mail address, or a number such as +15555550142.")
    said_at = models.DateTimeField()
    lifted_at = models.DateTimeField(null=True, blank=True)

    objects = OptOutQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["what", "address"], condition=Q(lifted_at__isnull=True), name="one_standing_opt_out"
            )
        ]

    def __str__(self) -> str:
        return f"opt-out {self.pk}"


class ReceivedText(models.Model):
    """What somebody answered to a text of ours, until the office has dealt with it.

    ``meaning`` is stop, start, help or words; only words wait for a person.
    """

    PERSONAL_FIELDS = ("number", "text")

    number = models.CharField(max_length=20)
    text = models.TextField()
    meaning = models.CharField(max_length=8)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="received_texts")
    received_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-received_at", "-pk"]

    def __str__(self) -> str:
        return f"received text {self.pk}"
