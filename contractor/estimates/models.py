"""The stored copy of life estimates, behind lists and pages."""

from django.db import models

from contractor.systems.models import Component


class LifeEstimate(models.Model):
    """By when a battery or pump should be replaced, as last computed; ``inputs_sha256`` proves it is not stale.

    ``inputs`` is a list of ``{"name", "value", "unit", "origin"}`` with origin "measured", "declared by the
    maker", "on record" or "assumed"; ``cautions`` a list of sentences.
    """

    component = models.OneToOneField(Component, on_delete=models.PROTECT, related_name="estimate")
    replace_by = models.DateField()
    earliest = models.DateField()
    latest = models.DateField()
    governing = models.CharField(max_length=40)
    reason = models.TextField()
    inputs = models.JSONField(default=list)
    cautions = models.JSONField(default=list)
    inputs_sha256 = models.CharField(max_length=64)
    made_on = models.DateField()

    class Meta:
        ordering = ["replace_by"]
        indexes = [models.Index(fields=["replace_by"], name="estimate_replace_by")]

    def __str__(self) -> str:
        return f"estimate of component {self.component_id}"
