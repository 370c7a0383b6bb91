"""Proves that every stored standing is the one derived from the facts."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from contractor.warranties.standing_rows import wrong_standings


class Command(BaseCommand):
    help = "Compares every stored standing with a new derivation; fails when one differs."

    def handle(self, *args: Any, **options: Any) -> None:
        after: int | None = 0
        wrong = 0
        while after is not None:
            problems, after = wrong_standings(after=after)
            wrong += len(problems)
            for problem in problems:
                self.stdout.write(problem)
        if wrong:
            raise CommandError(
                f"{wrong} stored standings differ. The nightly renewal puts them right; "
                "look for what changed facts without saying so."
            )
        self.stdout.write("Every stored standing is the derived one.")
