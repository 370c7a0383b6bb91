"""After a restore from a backup: makes every tablet offer again what it still keeps."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from contractor.core import clock
from contractor.tablet.actions.epoch import new_epoch


class Command(BaseCommand):
    help = (
        "Begins a new epoch of this database. Run it once after every restore from a backup: tablets that hear of it "
        "offer again all that they still keep, and what was lost since the backup comes back."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--because", default="Restored from a backup.", help="What happened, for the record.")

    def handle(self, *args: Any, **options: Any) -> None:
        began = new_epoch(because=options["because"], at=clock.now())
        self.stdout.write(f"Epoch {began.epoch} has begun. Tablets offer their work again as they are heard.")
