"""The stored copies of estimates, behind lists and pages, and the climate that they reckon with."""

from django.db import models

from contractor.systems.models import CatalogueModel, Component, System
from contractor.systems.part_kinds import choices


class LifeEstimate(models.Model):
    """By when a battery or pump should be replaced, as last computed; ``inputs_sha256`` proves it is not stale.

    ``inputs`` is a list of ``{"name", "value", "unit", "origin", "on", "note"}`` with origin "measured", "declared by
    the maker", "on record" or "assumed", the ISO day or "", and whose figure it is; ``cautions`` a list of sentences.
    ``steps`` is the computation with this part's numbers put in, a list of ``{"name", "formula", "with_numbers",
    "result"}``, enough to do it again by hand. ``probability`` is that of a failure before the next yearly check-up,
    ``consequence`` how much would be lost then, from 1 (little) to 5 (the basement floods), with
    ``consequence_reason`` in a sentence; ``urgency`` is their product.
    """

    component = models.OneToOneField(Component, on_delete=models.PROTECT, related_name="estimate")
    replace_by = models.DateField()
    earliest = models.DateField()
    latest = models.DateField()
    governing = models.CharField(max_length=40)
    reason = models.TextField()
    inputs = models.JSONField(default=list)
    cautions = models.JSONField(default=list)
    steps = models.JSONField(default=list)
    probability = models.FloatField(default=0.0)
    consequence = models.PositiveSmallIntegerField(default=1)
    consequence_reason = models.TextField(blank=True)
    urgency = models.FloatField(default=0.0)
    inputs_sha256 = models.CharField(max_length=64)
    made_on = models.DateField()

    class Meta:
        ordering = ["replace_by"]
        indexes = [
            models.Index(fields=["replace_by"], name="estimate_replace_by"),
            models.Index(fields=["-urgency"], name="estimate_urgency"),
        ]

    def __str__(self) -> str:
        return f"estimate of component {self.component_id}"


class SystemEstimate(models.Model):
    """What is computed of a system as a whole, as last computed.

    ``results`` is a list of ``{"code", "level", "sentence", "reasons", "inputs", "steps", "cautions"}`` with code one
    of "standby", "reserve", "freeze", "pit_cycle", "line_speed" and "season", and level "good", "watch", "bad" or
    "unknown"; inputs and steps as for a life estimate.
    """

    system = models.OneToOneField(System, on_delete=models.PROTECT, related_name="estimate")
    results = models.JSONField(default=list)
    inputs_sha256 = models.CharField(max_length=64)
    made_on = models.DateField()

    def __str__(self) -> str:
        return f"estimate of system {self.system_id}"


class FleetLife(models.Model):
    """How long this company's own parts last: a Weibull fit of a kind (``model`` empty) or of one model.

    Made at the nightly renewal from the components' histories as known on ``known_on``, once five parts or more have
    failed. ``scale_years`` with its 95 % interval, ``shape`` likewise.
    """

    part_kind = models.CharField(max_length=30, choices=choices())
    model = models.ForeignKey(CatalogueModel, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    shape = models.FloatField()
    shape_low = models.FloatField()
    shape_high = models.FloatField()
    scale_years = models.FloatField()
    scale_low_years = models.FloatField()
    scale_high_years = models.FloatField()
    failures = models.PositiveIntegerField()
    units = models.PositiveIntegerField()
    known_on = models.DateField()

    class Meta:
        ordering = ["part_kind", "model_id"]
        constraints = [
            models.UniqueConstraint(fields=["part_kind", "model"], name="one_fleet_life_a_model"),
            models.UniqueConstraint(
                fields=["part_kind"], condition=models.Q(model__isnull=True), name="one_fleet_life_a_kind"
            ),
        ]

    def __str__(self) -> str:
        return f"own records of {self.model or self.part_kind}"


class ClimateNormals(models.Model):
    """The climate and the power cuts of a region, as long-term means; ``source`` says whose figures they are.

    ``rain_mm`` (all precipitation, as water) and ``temperature_c`` hold twelve monthly means, January first.
    ``frost_depth_m`` is how deep frost goes in a hard winter, ``snow_depth_m`` the usual deepest snow.
    ``postcode_prefixes`` says which houses it is for: the longest prefix that fits decides, and a region with none is
    for every house that no other fits.
    """

    name = models.CharField(max_length=80, unique=True)
    postcode_prefixes = models.JSONField(default=list, blank=True)
    latitude_deg = models.FloatField()
    rain_mm = models.JSONField()
    temperature_c = models.JSONField()
    frost_depth_m = models.FloatField()
    snow_depth_m = models.FloatField()
    ordinary_outage_h = models.FloatField()
    storm_outage_h = models.FloatField()
    source = models.TextField()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "climate normals"

    def __str__(self) -> str:
        return self.name
