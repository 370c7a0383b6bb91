"""What tablets hand in: devices and their keys, events exactly as they came, what was set aside, photos on their way.

Nothing here is ever changed to fit: an event is kept as the text that the device wrote, and what the office makes of
it stands beside it.
"""

from uuid import UUID, uuid4

from django.db import models

from contractor.accounts.models import User
from contractor.checkups.models import CheckUp, Photo
from contractor.visits.models import Appointment

# The office has no tablet of its own: what it says about a visit carries this device.
OFFICE_DEVICE = UUID(int=0)


class ServerEpoch(models.Model):
    """One life of this database. After a restore from a backup a new one begins, and every tablet offers again all
    that it still keeps. The highest number holds."""

    number = models.PositiveIntegerField(unique=True)
    epoch = models.UUIDField(default=uuid4, unique=True)
    began_at = models.DateTimeField()
    because = models.CharField(max_length=200)

    class Meta:
        ordering = ["-number"]

    def __str__(self) -> str:
        return str(self.epoch)


class Device(models.Model):
    """One browser on one tablet. ``about`` is what it says of itself, ``checks`` its last ready check as a list of
    ``{"code", "ok", "sentence"}``; ``waiting`` is how many items it still kept when it was last heard."""

    id = models.UUIDField(primary_key=True)
    name = models.CharField(max_length=80)
    about = models.JSONField(default=dict, blank=True)
    registered_at = models.DateTimeField()
    registered_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    last_heard_at = models.DateTimeField(null=True, blank=True)
    last_person = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    waiting = models.PositiveIntegerField(default=0)
    client = models.CharField(max_length=80, blank=True)
    checks = models.JSONField(default=list, blank=True)
    checked_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    revoked_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name

    @property
    def failed_checks(self) -> list[dict[str, str]]:
        """What the last ready check found wrong."""
        return [check for check in self.checks if not check["ok"]]


class UploadKey(models.Model):
    """Lets one person's work on one device come in without a sign-in. It adds and reads nothing; only its hash is
    kept."""

    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="keys")
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["device", "person"], name="key_of_device_and_person")]

    def __str__(self) -> str:
        return f"upload key {self.pk}"


class Event(models.Model):
    """One thing that was done at a visit. ``raw`` is the text that the device wrote, ``sha256`` the hash of its bytes
    in UTF-8; the other columns are read from it for finding it again."""

    id = models.UUIDField(primary_key=True)
    raw = models.TextField()
    sha256 = models.CharField(max_length=64)
    version = models.PositiveSmallIntegerField()
    appointment = models.ForeignKey(Appointment, on_delete=models.PROTECT, related_name="events")
    device_id = models.UUIDField()
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=20)
    field = models.CharField(max_length=160)
    flags = models.JSONField(default=list, blank=True)
    received_at = models.DateTimeField()

    class Meta:
        ordering = ["received_at", "id"]
        indexes = [
            models.Index(fields=["device_id"], name="event_of_device"),
            # Every photo that comes in asks which visit it is of.
            models.Index(fields=["field"], name="event_of_photo", condition=models.Q(kind="photo")),
        ]

    def __str__(self) -> str:
        return f"event {self.pk}"


class SetAsideQuerySet(models.QuerySet["SetAside"]):
    def waiting(self) -> "SetAsideQuerySet":
        """What nobody has decided on yet."""
        return self.filter(state=SetAside.State.WAITING)


class SetAside(models.Model):
    """Something that came in and could not be taken as an event: kept whole, for somebody to look at.

    ``raw`` is bytes, because it may be no text that a database takes.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "Waits for the office"
        TAKEN = "taken", "Handed in after all"
        CLOSED = "closed", "Set aside for good"

    claimed_id = models.CharField(max_length=64, blank=True)
    raw = models.BinaryField()
    sha256 = models.CharField(max_length=64, unique=True)
    reason = models.CharField(max_length=30)
    sentence = models.TextField()
    is_alarm = models.BooleanField(default=False)
    device_id = models.UUIDField(null=True, blank=True)
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    received_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    decided_because = models.TextField(blank=True)

    objects = SetAsideQuerySet.as_manager()

    class Meta:
        ordering = ["-received_at", "-pk"]
        verbose_name_plural = "set aside"

    def __str__(self) -> str:
        return f"set aside {self.pk}"


class PhotoUpload(models.Model):
    """A photo on its way in, by chunks; whole when ``done_at`` is set. ``file`` is its place under the media folder,
    ``sha256`` the hash of the stored bytes, ``photo`` what became of it."""

    id = models.UUIDField(primary_key=True)
    length = models.PositiveIntegerField()
    announced_sha256 = models.CharField(max_length=64)
    offset = models.PositiveIntegerField(default=0)
    file = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64, blank=True)
    begun_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    spoiled = models.PositiveSmallIntegerField(default=0)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="uploads")

    class Meta:
        ordering = ["begun_at", "id"]

    def __str__(self) -> str:
        return f"photo upload {self.pk}"


class TabletVisit(models.Model):
    """How far the events of a visit have become a check-up.

    ``revision`` rises with every event, so that what was read before can be told from what is there now.
    ``placed`` says what became of fields: ``{"swap:<uuid>": component id, "finding:<uuid>": finding id}``.
    ``problems`` is a list of ``{"code", "sentence", "field"}``: why it is not finished; ``needs_office`` says that one
    of them waits for somebody at the desk and not only for the tablet.
    """

    appointment = models.OneToOneField(Appointment, on_delete=models.PROTECT, related_name="tablet")
    revision = models.PositiveIntegerField(default=0)
    applied_revision = models.PositiveIntegerField(default=0)
    checkup = models.OneToOneField(CheckUp, on_delete=models.PROTECT, null=True, blank=True, related_name="tablet")
    edition = models.PositiveIntegerField(null=True, blank=True)
    placed = models.JSONField(default=dict, blank=True)
    problems = models.JSONField(default=list, blank=True)
    needs_office = models.BooleanField(default=False)
    last_event_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-last_event_at"]

    def __str__(self) -> str:
        return f"tablet's visit {self.appointment_id}"
