"""What needs somebody at a house, and who goes there on which day."""

from django.db import models
from django.db.models import F, Q

from contractor.accounts.models import User
from contractor.systems.models import System


class VisitKind(models.TextChoices):
    CHECKUP = "checkup", "Yearly check-up"
    REPAIR = "repair", "Repair"
    CLAIM = "claim", "Claim call"
    TRANSFER = "transfer", "Transfer check"
    REINSTATEMENT = "reinstatement", "Reinstatement check"


class RequestQuerySet(models.QuerySet["Request"]):
    def wanting(self) -> "RequestQuerySet":
        """Requests that still stand: neither withdrawn nor done."""
        return (
            self.filter(withdrawn_at__isnull=True)
            .exclude(appointments__state=Appointment.State.DONE)
            .exclude(goes_with__appointments__state=Appointment.State.DONE)
        )

    def without_appointment(self) -> "RequestQuerySet":
        """Standing requests that nobody has been given yet; one that goes along with another is given with it."""
        return self.wanting().filter(goes_with__isnull=True).exclude(appointments__state__in=Appointment.LIVE)


class Request(models.Model):
    """Everything that needs somebody at a house. ``occasion`` is unique, so nothing is asked for twice.

    ``goes_with`` is the request whose trip serves this one too: it has no appointment of its own, and is done when that
    one is. ``best_until`` is the last day of the better part of the window, with the season that ends it. ``skills``
    are codes of ``visits.skills``; ``minutes_because`` says where the minutes come from.
    """

    occasion = models.CharField(max_length=120, unique=True)
    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="requests")
    kind = models.CharField(max_length=20, choices=VisitKind.choices)
    target_on = models.DateField()
    earliest_on = models.DateField()
    latest_on = models.DateField()
    minutes = models.PositiveSmallIntegerField()
    reason = models.TextField()
    carry = models.TextField(blank=True, help_text="Parts to bring along.")
    goes_with = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="along")
    best_until = models.DateField(null=True, blank=True)
    best_because = models.TextField(blank=True)
    minutes_because = models.TextField(blank=True)
    skills = models.JSONField(default=list, blank=True)
    created_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_because = models.TextField(blank=True)

    objects = RequestQuerySet.as_manager()

    class Meta:
        ordering = ["latest_on", "pk"]
        indexes = [models.Index(fields=["earliest_on", "latest_on"], name="request_window")]
        constraints = [
            models.CheckConstraint(
                condition=Q(earliest_on__lte=F("target_on")) & Q(target_on__lte=F("latest_on")),
                name="request_target_in_window",
            ),
            models.CheckConstraint(condition=Q(minutes__gt=0), name="request_takes_time"),
            models.CheckConstraint(condition=~Q(goes_with=F("pk")), name="request_goes_with_another"),
            models.CheckConstraint(
                condition=Q(best_until__isnull=True)
                | Q(best_until__gte=F("earliest_on"), best_until__lte=F("latest_on")),
                name="request_best_part_in_window",
            ),
        ]

    def __str__(self) -> str:
        return self.occasion


class AppointmentQuerySet(models.QuerySet["Appointment"]):
    def live(self) -> "AppointmentQuerySet":
        """Appointments that hold: planned, confirmed or done."""
        return self.filter(state__in=Appointment.LIVE)

    def visible_to(self, user: User) -> "AppointmentQuerySet":
        """A technician sees only what was given to them; office and manager see all."""
        return self.filter(technician=user) if user.role == "technician" else self


class Appointment(models.Model):
    """One request given to one technician on one day, as one stop of that day's round.

    ``begun_at`` and ``ended_at`` are those of the visit as done, and ``parts_key`` names the parts that were seen: from
    them the minutes of later visits are learned.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "Planned"
        CONFIRMED = "confirmed", "Confirmed by the owner"
        DONE = "done", "Done"
        COULD_NOT = "could_not", "Could not be done"
        CANCELLED = "cancelled", "Cancelled"

    LIVE = ("planned", "confirmed", "done")

    request = models.ForeignKey(Request, on_delete=models.PROTECT, related_name="appointments")
    technician = models.ForeignKey(User, on_delete=models.PROTECT, related_name="appointments")
    on = models.DateField()
    stop_number = models.PositiveSmallIntegerField()
    arrive_from = models.TimeField(null=True, blank=True)
    arrive_until = models.TimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=State.choices, default=State.PLANNED)
    state_because = models.TextField(blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    made_at = models.DateTimeField()
    begun_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    parts_key = models.CharField(max_length=400, blank=True)

    objects = AppointmentQuerySet.as_manager()

    class Meta:
        ordering = ["on", "stop_number", "pk"]
        indexes = [
            models.Index(fields=["technician", "on"], name="appointment_round"),
            models.Index(fields=["parts_key", "-on"], name="appointment_like_parts"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["request"],
                condition=Q(state__in=("planned", "confirmed", "done")),
                name="one_live_appointment_per_request",
            ),
            models.CheckConstraint(
                condition=Q(arrive_from__isnull=True, arrive_until__isnull=True) | Q(arrive_from__lt=F("arrive_until")),
                name="arrival_window_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"appointment {self.pk}"


class DraftQuerySet(models.QuerySet["Draft"]):
    def open(self) -> "DraftQuerySet":
        """Drafts that somebody still works on, or that are being planned."""
        return self.filter(state__in=Draft.OPEN)


class Draft(models.Model):
    """A plan for a stretch of days that is tried out on the board; no appointment knows of it until it is accepted.

    ``book`` holds a fingerprint of every visit and working day as they were when the draft was made, and
    ``book_sha256`` one of all together: what differs from them later has changed meanwhile. ``upsets`` are what came
    up: a technician whose promises may move, a town that can't be reached on a day. ``left_out`` gives each visit
    that found no place its reason. ``step_number`` points at the step that shows; those after it were undone.
    """

    class State(models.TextChoices):
        PLANNING = "planning", "Being planned"
        READY = "ready", "Ready"
        ACCEPTED = "accepted", "Accepted"
        DROPPED = "dropped", "Dropped"

    OPEN = ("planning", "ready")

    first_on = models.DateField()
    last_on = models.DateField()
    cause = models.TextField(blank=True, help_text="What came up, when the draft answers something.")
    keeps_others = models.BooleanField(default=False, help_text="Moves as few of the visits that stand as it can.")
    upsets = models.JSONField(default=list, blank=True)
    state = models.CharField(max_length=10, choices=State.choices)
    state_because = models.TextField(blank=True)
    seconds = models.PositiveSmallIntegerField(null=True, blank=True)
    iterations = models.PositiveIntegerField(null=True, blank=True)
    seed = models.PositiveIntegerField(default=1)
    progress = models.JSONField(default=dict, blank=True)
    touched_at = models.DateTimeField()
    book = models.JSONField(default=dict, blank=True)
    book_sha256 = models.CharField(max_length=64, blank=True)
    left_out = models.JSONField(default=dict, blank=True)
    cautions = models.JSONField(default=list, blank=True)
    step_number = models.PositiveIntegerField(default=0)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = DraftQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["state", "first_on"], name="draft_open")]
        constraints = [
            models.CheckConstraint(condition=Q(first_on__lte=F("last_on")), name="draft_days_in_order"),
            models.CheckConstraint(
                condition=Q(seconds__isnull=True) | Q(iterations__isnull=True), name="draft_searches_one_way"
            ),
        ]

    def __str__(self) -> str:
        return f"draft {self.pk}"


class DraftStep(models.Model):
    """One step of a draft: the whole arrangement after it, and what was done in a sentence."""

    draft = models.ForeignKey(Draft, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveIntegerField()
    sentence = models.TextField()
    arrangement = models.JSONField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["draft", "number"]
        constraints = [models.UniqueConstraint(fields=["draft", "number"], name="one_draft_step_per_number")]

    def __str__(self) -> str:
        return f"{self.draft}, step {self.number}"
