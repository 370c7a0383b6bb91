"""What needs somebody at a house, who goes there on which day, who works when, and the drafts of the board."""

from datetime import date
from uuid import uuid4

from django.db import models
from django.db.models import F, Q

from contractor.accounts.models import User
from contractor.systems.models import System
from contractor.visits import owner_tables  # noqa: F401  # its tables are part of these
from contractor.visits.rules import BY_HAND
from contractor.visits.working import week_in_words


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

    @property
    def all_carried(self) -> str:
        """What to bring along for this visit and those that go along, where they were read with it."""
        along: list[Request] = getattr(self, "going_along", [])
        return "; ".join(carry for carry in [self.carry, *(one.carry for one in along)] if carry)


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
    them the minutes of later visits are learned. A visit without a checklist is finished by hand: ``minutes_taken``,
    ``work_done`` and, for the office alone, ``office_note``.
    """

    PERSONAL_FIELDS = ("office_note",)

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
    minutes_taken = models.PositiveSmallIntegerField(null=True, blank=True)
    work_done = models.TextField(blank=True)
    office_note = models.TextField(blank=True)
    # What calendars know it by, for good, and how often its time or state has changed since (RFC 5545, 5546).
    calendar_uid = models.UUIDField(default=uuid4, unique=True)
    calendar_sequence = models.PositiveIntegerField(default=0)
    calendar_changed_at = models.DateTimeField(null=True, blank=True)

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

    @property
    def is_finished_by_hand(self) -> bool:
        """Whether it has no checklist through which it is finished; read with its request."""
        return self.request.kind in BY_HAND


class WorkingPattern(models.Model):
    """A technician's usual week from a day on, until their next pattern begins.

    ``skills`` are codes of ``visits.skills``; ``room`` is how many parts the van carries, None where it never runs
    out. A day begins and ends at the company's yard, or at a place with a position of its own.
    """

    PERSONAL_FIELDS = ("start_name", "start_latitude", "start_longitude", "end_name", "end_latitude", "end_longitude")

    class Place(models.TextChoices):
        COMPANY = "company", "The company's yard"
        HOME = "home", "Home"
        ELSEWHERE = "elsewhere", "Another place"

    technician = models.ForeignKey(User, on_delete=models.PROTECT, related_name="working_patterns")
    valid_from = models.DateField()
    skills = models.JSONField(default=list, blank=True)
    room = models.PositiveSmallIntegerField(null=True, blank=True)
    rest_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    rest_from = models.TimeField(null=True, blank=True)
    rest_until = models.TimeField(null=True, blank=True)
    start_at = models.CharField(max_length=10, choices=Place.choices, default=Place.COMPANY)
    start_name = models.CharField(max_length=120, blank=True)
    start_latitude = models.FloatField(null=True, blank=True)
    start_longitude = models.FloatField(null=True, blank=True)
    end_at = models.CharField(max_length=10, choices=Place.choices, default=Place.COMPANY)
    end_name = models.CharField(max_length=120, blank=True)
    end_latitude = models.FloatField(null=True, blank=True)
    end_longitude = models.FloatField(null=True, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["technician", "valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["technician", "valid_from"], name="one_working_pattern_from_a_day"),
            models.CheckConstraint(
                condition=Q(rest_minutes__isnull=True, rest_from__isnull=True, rest_until__isnull=True)
                | Q(rest_minutes__gt=0, rest_from__lte=F("rest_until")),
                name="working_pattern_break_whole",
            ),
            models.CheckConstraint(
                condition=Q(start_at="company")
                | Q(start_latitude__gte=-90, start_latitude__lte=90)
                & Q(start_longitude__gte=-180, start_longitude__lte=180),
                name="working_pattern_starts_on_earth",
            ),
            models.CheckConstraint(
                condition=Q(end_at="company")
                | Q(end_latitude__gte=-90, end_latitude__lte=90)
                & Q(end_longitude__gte=-180, end_longitude__lte=180),
                name="working_pattern_ends_on_earth",
            ),
        ]

    def __str__(self) -> str:
        return f"working pattern {self.pk}"

    @property
    def week_in_words(self) -> list[str]:
        """The hours of the week, equal days said together."""
        return week_in_words({row.weekday: (row.begins, row.ends) for row in self.hours.all()})


class WorkingHours(models.Model):
    """From when until when somebody works on one day of their usual week; Monday is 0."""

    pattern = models.ForeignKey(WorkingPattern, on_delete=models.PROTECT, related_name="hours")
    weekday = models.PositiveSmallIntegerField()
    begins = models.TimeField()
    ends = models.TimeField()

    class Meta:
        ordering = ["pattern", "weekday"]
        verbose_name_plural = "working hours"
        constraints = [
            models.UniqueConstraint(fields=["pattern", "weekday"], name="working_hours_once_a_weekday"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="working_hours_on_a_weekday"),
            models.CheckConstraint(condition=Q(begins__lt=F("ends")), name="working_hours_in_order"),
        ]

    def __str__(self) -> str:
        return f"working hours {self.pk}"

class LeaveQuerySet(models.QuerySet["Leave"]):
    def standing(self) -> "LeaveQuerySet":
        """Leave that was not taken back."""
        return self.filter(withdrawn_at__isnull=True)

    def between(self, first: date, last: date) -> "LeaveQuerySet":
        """Leave of which at least one day lies between two days, both included."""
        return self.filter(first_on__lte=last, last_on__gte=first)


class Leave(models.Model):
    """Days on which a technician is away. The reason is for the office alone."""

    PERSONAL_FIELDS = ("reason",)

    class Part(models.TextChoices):
        WHOLE = "whole", "Whole days"
        MORNING = "morning", "The first half of the day"
        AFTERNOON = "afternoon", "The second half of the day"

    technician = models.ForeignKey(User, on_delete=models.PROTECT, related_name="leaves")
    first_on = models.DateField()
    last_on = models.DateField()
    part = models.CharField(max_length=10, choices=Part.choices, default=Part.WHOLE)
    reason = models.TextField(blank=True)
    made_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = LeaveQuerySet.as_manager()

    class Meta:
        ordering = ["first_on", "pk"]
        indexes = [models.Index(fields=["first_on", "last_on"], name="leave_span")]
        constraints = [
            models.CheckConstraint(
                condition=Q(part="whole", first_on__lte=F("last_on")) | Q(first_on=F("last_on")),
                name="leave_in_order_and_half_of_one_day",
            ),
        ]

    def __str__(self) -> str:
        return f"leave {self.pk}"


class OwnDay(models.Model):
    """One day on which a technician's hours differ from the usual week; without hours they can't go out that day."""

    technician = models.ForeignKey(User, on_delete=models.PROTECT, related_name="own_days")
    on = models.DateField()
    begins = models.TimeField(null=True, blank=True)
    ends = models.TimeField(null=True, blank=True)
    because = models.CharField(max_length=200)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["technician", "on"], name="own_day_once"),
            models.CheckConstraint(
                condition=Q(begins__isnull=True, ends__isnull=True) | Q(begins__lt=F("ends")),
                name="own_day_hours_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"own day {self.pk}"


class CompanyDay(models.Model):
    """A day that the company closes although it is no holiday, or works although it is one."""

    on = models.DateField(unique=True)
    is_closed = models.BooleanField()
    name = models.CharField(max_length=80)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["on"]

    def __str__(self) -> str:
        return f"company day {self.on}"


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
