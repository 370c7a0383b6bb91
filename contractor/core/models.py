"""The audit trail: one row per write, chained by hash per house."""

from django.db import models


class AuditEntry(models.Model):
    """Who did what to which thing, when, with the values before and after.

    ``stream`` is the house the thing belongs to ("property:12"), or the thing's own name when it belongs to none.
    ``body`` is hashed together with the entry before it, so that a changed or missing row shows; ``personal``
    holds names and addresses beside the chain, so that a person can be erased on request without breaking it.
    """

    stream = models.CharField(max_length=60)
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    actor = models.CharField(max_length=60)
    verb = models.CharField(max_length=80)
    subject = models.CharField(max_length=80)
    body = models.JSONField()
    personal = models.JSONField(default=dict, blank=True)
    previous_hash = models.CharField(max_length=64)
    own_hash = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["stream", "number"], name="audit_number_once_per_stream"),
        ]
        indexes = [models.Index(fields=["subject"], name="audit_subject")]
        verbose_name_plural = "audit entries"

    def __str__(self) -> str:
        return f"{self.stream} {self.number}: {self.verb}"
