"""What can be installed, what was installed, and what replaced what."""

from datetime import date
from typing import Any

from django.db import models
from django.db.models import F, Q

from contractor.accounts.models import User
from contractor.properties.models import Property
from contractor.systems.part_kinds import PartKind, choices, part_kind


class CatalogueModel(models.Model):
    """One model of a part as its maker sells it; ``data`` holds what the maker declares (curve, capacity, ...)."""

    part_kind = models.CharField(max_length=30, choices=choices())
    maker = models.CharField(max_length=80)
    name = models.CharField(max_length=80)
    data = models.JSONField(default=dict, blank=True)
    is_offered = models.BooleanField(default=True)

    class Meta:
        ordering = ["part_kind", "maker", "name"]
        constraints = [
            models.UniqueConstraint(fields=["part_kind", "maker", "name"], name="catalogue_model_once"),
        ]

    def __str__(self) -> str:
        return f"{self.maker} {self.name}"

    @property
    def kind(self) -> PartKind:
        return part_kind(self.part_kind)


class System(models.Model):
    """What the contractor installed at a property on a date."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="systems")
    name = models.CharField(max_length=80, default="Basement")
    installed_on = models.DateField()
    notes = models.TextField(blank=True)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["installed_on", "pk"]
        constraints = [models.UniqueConstraint(fields=["property", "name"], name="system_name_once_per_property")]

    def __str__(self) -> str:
        return self.name


class ComponentQuerySet(models.QuerySet["Component"]):
    def in_place(self, on: date) -> "ComponentQuerySet":
        """Components that are in the house on this day; the day of a swap belongs to the new one."""
        return self.filter(in_on__lte=on).filter(Q(out_on__isnull=True) | Q(out_on__gt=on))


class Component(models.Model):
    """One installed part. A replacement is a new row that names the one it replaced."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="components")
    part_kind = models.CharField(max_length=30, choices=choices())
    model = models.ForeignKey(
        CatalogueModel, on_delete=models.PROTECT, null=True, blank=True, related_name="components"
    )
    serial_number = models.CharField(max_length=60, blank=True)
    place = models.CharField(max_length=120, blank=True)
    in_on = models.DateField()
    in_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    out_on = models.DateField(null=True, blank=True)
    out_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    out_because = models.TextField(blank=True)
    failed = models.BooleanField(default=False, help_text="Taken out because it had failed, not as a precaution.")
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")

    objects = ComponentQuerySet.as_manager()

    class Meta:
        ordering = ["in_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(out_on__isnull=True) | Q(out_on__gte=F("in_on")), name="component_out_after_in"
            ),
            models.UniqueConstraint(
                fields=["model", "serial_number"],
                condition=~Q(serial_number="") & Q(model__isnull=False),
                name="serial_number_once_per_model",
            ),
        ]
        indexes = [models.Index(fields=["serial_number"], name="component_serial")]

    def __str__(self) -> str:
        return f"{self.kind.word} {self.serial_number}".strip()

    @property
    def kind(self) -> PartKind:
        return part_kind(self.part_kind)

    @property
    def declared(self) -> dict[str, Any]:
        """What the maker declares of this model; empty when the model is not known."""
        return dict(self.model.data) if self.model else {}


class TreatedWall(models.Model):
    """A run of wall with channel and liner: what the water promise covers."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="walls")
    letter = models.CharField(max_length=3)
    name = models.CharField(max_length=80)
    length_m = models.FloatField()
    has_channel = models.BooleanField(default=True)
    has_liner = models.BooleanField(default=True)

    class Meta:
        ordering = ["letter"]
        constraints = [
            models.UniqueConstraint(fields=["system", "letter"], name="wall_letter_once_per_system"),
            models.CheckConstraint(condition=Q(length_m__gt=0), name="wall_has_length"),
            models.CheckConstraint(condition=Q(has_channel=True) | Q(has_liner=True), name="wall_is_treated"),
        ]

    def __str__(self) -> str:
        return f"{self.letter} {self.name}"


class AsBuilt(models.Model):
    """What was measured of a system as it was built: the discharge line's run and the levels in the pit.

    All lengths in metres; None means that nobody has measured it, and computations then assume and say so.
    ``static_lift_m`` is the height from the water level at which the pump stops to the line's highest point;
    levels (``..._on_m``, ``..._off_m``) are heights above the pit's floor. ``bore_m``, ``pit_diameter_m`` and
    ``pit_depth_m`` stand in where the part's catalogue model isn't known. ``cover_m`` is the least depth of
    ground over the buried run, ``sags`` the low points that hold water.
    """

    LENGTHS = (
        "static_lift_m",
        "length_m",
        "bore_m",
        "cover_m",
        "exposed_length_m",
        "outlet_above_ground_m",
        "pump_on_m",
        "pump_off_m",
        "standby_on_m",
        "pit_diameter_m",
        "pit_depth_m",
    )

    system = models.OneToOneField(System, on_delete=models.PROTECT, related_name="as_built")
    static_lift_m = models.FloatField(null=True, blank=True)
    length_m = models.FloatField(null=True, blank=True)
    bore_m = models.FloatField(null=True, blank=True)
    elbows_90 = models.PositiveSmallIntegerField(null=True, blank=True)
    elbows_45 = models.PositiveSmallIntegerField(null=True, blank=True)
    cover_m = models.FloatField(null=True, blank=True)
    exposed_length_m = models.FloatField(null=True, blank=True)
    is_insulated = models.BooleanField(null=True, blank=True)
    falls_to_outlet = models.BooleanField(null=True, blank=True)
    sags = models.PositiveSmallIntegerField(null=True, blank=True)
    outlet_above_ground_m = models.FloatField(null=True, blank=True)
    pump_on_m = models.FloatField(null=True, blank=True)
    pump_off_m = models.FloatField(null=True, blank=True)
    standby_on_m = models.FloatField(null=True, blank=True)
    pit_diameter_m = models.FloatField(null=True, blank=True)
    pit_depth_m = models.FloatField(null=True, blank=True)
    measured_on = models.DateField()
    measured_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        verbose_name_plural = "as built"
        constraints = [
            models.CheckConstraint(
                condition=Q(pump_on_m__isnull=True) | Q(pump_off_m__isnull=True) | Q(pump_on_m__gt=F("pump_off_m")),
                name="as_built_pump_starts_above_its_stop",
            )
        ]

    def __str__(self) -> str:
        return f"as built of system {self.system_id}"
