"""Makes an empty installation ready for work: the company, a first manager, the default checklist and terms."""

from argparse import ArgumentParser
from getpass import getpass
from typing import Any

from django.contrib.auth import password_validation
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from contractor.accounts.actions import add_staff, describe_company
from contractor.accounts.models import Company, Role, User
from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.office import first_setup


class Command(BaseCommand):
    help = "Makes an empty installation ready for work."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--company", required=True, help="name on pages and letters")
        parser.add_argument("--street", required=True)
        parser.add_argument("--city", required=True)
        parser.add_argument("--state", required=True)
        parser.add_argument("--postcode", required=True)
        parser.add_argument("--phone", required=True)
        parser.add_argument("--email", required=True, help="of the company")
        parser.add_argument("--manager-name", required=True)
        parser.add_argument("--manager-email", required=True)

    def handle(self, *args: Any, **options: Any) -> None:
        if Company.objects.exists():
            raise CommandError("This installation is set up already. Change it on the set-up page.")
        password = getpass("Password for the first manager (twelve characters or more): ")
        try:
            whose = User(email=options["manager_email"], name=options["manager_name"])
            password_validation.validate_password(password, whose)
        except ValidationError as problem:
            raise CommandError(" ".join(problem.messages)) from problem
        at = clock.now()
        with transaction.atomic():
            describe_company(
                name=options["company"],
                legal_name=options["company"],
                street=options["street"],
                city=options["city"],
                state=options["state"],
                postcode=options["postcode"],
                phone=options["phone"],
                email=options["email"],
                by=SYSTEM,
                at=at,
            )
            manager = add_staff(
                email=options["manager_email"],
                name=options["manager_name"],
                role=Role.MANAGER,
                password=password,
                by=SYSTEM,
                at=at,
            )
            first_setup.load_checklist(by=manager, at=at)
            first_setup.load_terms(by=manager, at=at)
        self.stdout.write(
            "Ready. Sign in as the manager, complete the company on the set-up page, have a lawyer read the terms, "
            "and add the models that you install to the catalogue."
        )
