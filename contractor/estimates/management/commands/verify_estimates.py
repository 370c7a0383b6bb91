"""Proves that every stored estimate is the one computed from the facts."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from contractor.estimates.known_lives import wrong_lives
from contractor.estimates.queries import wrong_estimates


class Command(BaseCommand):
    help = "Computes every stored estimate again; fails when one differs."

    def handle(self, *args: Any, **options: Any) -> None:
        after: int | None = 0
        wrong = 0
        for problem in wrong_lives():
            self.stdout.write(problem)
            wrong += 1
        while after is not None:
            problems, after = wrong_estimates(after=after)
            wrong += len(problems)
            for problem in problems:
                self.stdout.write(problem)
        if wrong:
            raise CommandError(
                f"{wrong} stored estimates differ. The nightly renewal puts them right; "
                "look for what changed facts without saying so."
            )
        self.stdout.write("Every stored estimate is the one computed again.")
