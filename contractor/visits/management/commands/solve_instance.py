"""Plans a published routing instance with the planner of visits, to measure it against the best-known value."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from contractor.visits.routing.checking import check
from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.instances import gap_per_cent, read_instance
from contractor.visits.routing.planning import plan


class Command(BaseCommand):
    help = "Plans a Solomon or VRPLIB instance with time windows and tells its distance, vehicles and gap."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        budget = parser.add_mutually_exclusive_group(required=True)
        budget.add_argument("--iterations", type=int)
        budget.add_argument("--seconds", type=float)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--best", type=float, help="best-known distance, truncated to one decimal as here")

    def handle(self, *, file: Path, best: float | None, **options: Any) -> None:
        if best is not None and best <= 0:
            raise CommandError("The best-known distance must be above nothing.")
        try:
            problem = read_instance(file)
            found = plan(
                problem, iterations=options["iterations"], seconds=options["seconds"], seed=options["seed"]
            )
        except OSError as unreadable:
            raise CommandError(f"{file} can't be read. Give the path of an instance file.") from unreadable
        except NotAPlan as refusal:
            raise CommandError(refusal.sentence) from refusal
        if wrong := check(problem, found):
            raise CommandError("The plan can't be driven: " + " ".join(wrong))
        self.stdout.write(f"distance {found.travel_minutes:.1f}")
        self.stdout.write(f"vehicles {len(found.rounds)}")
        self.stdout.write(f"left out {len(found.unplanned)}")
        if best is not None:
            self.stdout.write(f"gap {gap_per_cent(found.travel_minutes, best):.2f} %")
