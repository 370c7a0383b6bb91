"""Loads the demo scenario into an empty installation and says what to open and who to sign in as."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from contractor.accounts.models import Company, User
from contractor.celery import app
from contractor.core import clock
from contractor.office.demo.cast import PASSWORD
from contractor.office.demo.loading import load
from contractor.properties.models import Property

MAIL_OF_THE_PAST = "django.core.mail.backends.dummy.EmailBackend"


class Command(BaseCommand):
    help = "Loads the demo scenario unless this installation holds data already."

    def handle(self, *args: Any, **options: Any) -> None:
        if Company.objects.exists() or Property.objects.exists():
            self.stdout.write("This installation holds data already; nothing was loaded.")
        else:
            self.stdout.write("Loading the demo scenario (sixty houses with their histories, about a minute)…")
            settings.EMAIL_BACKEND = MAIL_OF_THE_PAST
            settings.TEXT_GATEWAY = "contractor.notices.texting.FileGateway"
            # What each write would begin in the background is left out: the loading does it once for all at the
            # end, and a report is made when it is first opened.
            app.conf.task_always_eager = False
            app.conf.broker_url = "memory://localhost/"
            load(on=clock.today(), at=clock.now())
        self._tell()

    def _tell(self) -> None:
        address = settings.SITE_ADDRESS
        self.stdout.write(f"\nOpen {address}/ and sign in with the password {PASSWORD}\n")
        for person in User.objects.filter(is_active=True).order_by("role", "pk"):
            self.stdout.write(f"  {person.email:<22} {person.get_role_display():<11} {person.name}")
        self.stdout.write(
            f"\nAn owner's page: {address}/home/ask/ (type an owner's e-mail address from a house file; the message\n"
            f"with the link is a file in {settings.EMAIL_FILE_PATH})\n"
            f"Is a certificate real: {address}/check/\n"
        )
