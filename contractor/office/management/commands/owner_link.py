"""Prints a fresh secret link to a house, for trying the owner's page out without a mailbox."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.properties.actions import make_owner_link
from contractor.properties.models import Ownership


class Command(BaseCommand):
    help = "Prints a fresh secret link for the present owner of a house."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("property_id", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        ownership = Ownership.objects.open_ended().filter(property_id=options["property_id"]).first()
        if ownership is None:
            raise CommandError("This house has no present owner. Give the number at the end of a house file's address.")
        token = make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=clock.now())
        self.stdout.write(settings.SITE_ADDRESS + reverse("portal:link", args=[token]))
