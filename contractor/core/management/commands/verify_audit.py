"""Proves that the audit trail holds: every entry follows from the one before it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from contractor.core import audit
from contractor.core.models import AuditEntry


class Command(BaseCommand):
    help = "Checks the hash chain of every stream of the audit trail."

    def handle(self, *args: Any, **options: Any) -> None:
        streams = AuditEntry.objects.order_by("stream").values_list("stream", flat=True).distinct()
        broken = {stream: numbers for stream in streams if (numbers := audit.breaks(stream))}
        for stream, numbers in broken.items():
            self.stdout.write(f"{stream}: entry {', '.join(map(str, numbers))} does not follow from the one before.")
        if broken:
            raise CommandError(f"{len(broken)} of {len(streams)} streams are broken. Compare them with a backup.")
        self.stdout.write(f"All {len(streams)} streams hold.")
