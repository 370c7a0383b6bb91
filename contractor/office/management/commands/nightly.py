"""Does at once what beat does at night: standings, due visits, care plans, estimates, uploads to forget."""

from typing import Any

from django.core.management.base import BaseCommand

from contractor.checkups.actions.repairs import ask_for_all_repairs
from contractor.core import clock
from contractor.estimates.actions import refresh_all_estimates
from contractor.office.actions import forget_expired_registers
from contractor.plans.actions.nightly import follow_the_calendar
from contractor.warranties.actions.care import raise_due_requests
from contractor.warranties.actions.standing import refresh_all_standings
from contractor.warranties.actions.transfer_messages import remind_of_transfers


class Command(BaseCommand):
    help = "Renews standings and estimates and asks for the check-ups that have become due."

    def handle(self, *args: Any, **options: Any) -> None:
        on, at = clock.today(), clock.now()
        refresh_all_standings(on=on)
        raise_due_requests(on=on, at=at)
        ask_for_all_repairs(on=on, at=at)
        remind_of_transfers(on=on, at=at)
        follow_the_calendar(on=on, at=at)
        forget_expired_registers(at=at)
        systems = refresh_all_estimates(on=on, at=at)
        self.stdout.write(f"Renewed {systems} systems as of {on}.")
