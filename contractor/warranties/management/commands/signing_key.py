"""Makes, replaces, takes over, shows and distrusts the key that signs certificates."""

import os
from datetime import date
from getpass import getpass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.warranties.check_upload import signed_since
from contractor.warranties.frozen_facts import fingerprint
from contractor.warranties.signing_keys import (
    SigningKey,
    anchors,
    distrust_key,
    distrusted,
    fingerprint_of,
    import_key,
    make_key,
    stored_key,
)

PASSPHRASE = "SIGNING_KEY_PASSPHRASE"  # noqa: S105  # the name of a variable


class Command(BaseCommand):
    help = "The key that signs certificates: make the first one, rotate, import one from an authority, distrust, show."

    def add_arguments(self, parser: CommandParser) -> None:
        verbs = parser.add_subparsers(dest="verb", required=True)
        made = verbs.add_parser("make", help="make the first key, under a root of its own")
        rotated = verbs.add_parser("rotate", help="put a new key in the place of the present one; its root stays known")
        for verb in (made, rotated):
            verb.add_argument("--organisation", help="whose name the key bears; without it the company's legal name")
        taken = verbs.add_parser("import", help="take a key that a certificate authority issued (PKCS#12)")
        taken.add_argument("file", type=Path, help=f"its passphrase is asked for, or read from {PASSPHRASE}")
        leaked = verbs.add_parser("distrust", help="write down that a key leaked, and from which day it isn't trusted")
        leaked.add_argument("fingerprint", help="as signing_key show prints it; its first sixteen digits are enough")
        leaked.add_argument(
            "--from", dest="from_on", type=date.fromisoformat, required=True, metavar="YYYY-MM-DD",
            help="the first day on which it may have been in strange hands",
        )  # fmt: skip
        verbs.add_parser("show", help="show the present key and every root that is still known")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["verb"] == "show":
                self._show(stored_key())
                return
            if options["verb"] == "distrust":
                self._distrust(options["fingerprint"], options["from_on"])
                return
            if options["verb"] == "import":
                key = self._take(options["file"])
            else:
                key = self._make(options["verb"], options["organisation"] or self._company())
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        self._show(key)
        self.stdout.write(f"Back up {settings.SIGNING_KEY_DIR}, apart from the database, and let nobody else read it.")

    def _company(self) -> str:
        company = the_company()
        if company.pk is None:
            raise CommandError("Enter the company first (python manage.py set_up), or say --organisation NAME.")
        return company.legal_name or company.name

    def _make(self, verb: str, organisation: str) -> SigningKey:
        present = stored_key()
        if verb == "rotate" and present is None:
            raise CommandError("There is no key to rotate. Run python manage.py signing_key make.")
        # A toy that was made while trying out gives way to the first real key.
        gives_way = present is not None and present.is_development
        return make_key(organisation=organisation, at=clock.now(), replaces=verb == "rotate" or gives_way)

    def _take(self, path: Path) -> SigningKey:
        try:
            content = path.read_bytes()
        except OSError as problem:
            raise CommandError(f"{path} can't be opened: {problem.strerror}.") from problem
        passphrase = os.environ.get(PASSPHRASE)
        if passphrase is None:
            passphrase = getpass("Passphrase of the file: ")
        return import_key(content=content, passphrase=passphrase, at=clock.now())

    def _distrust(self, typed: str, from_on: date) -> None:
        whole = distrust_key(fingerprint=typed, from_on=from_on, today=clock.today())
        self.stdout.write(f"Not trusted from {from_on} on: {fingerprint(whole)}  {whole}")
        key = stored_key()
        if key is not None and key.fingerprint == whole:
            self.stdout.write("It is the present key. Nothing is signed until you run: signing_key rotate (or import).")
        numbers = signed_since(whole, from_on=from_on)
        if numbers:
            self.stdout.write("The check page answers no longer for the files of these certificates. Issue each anew:")
            for number in numbers:
                self.stdout.write(f"  {number}")
        else:
            self.stdout.write("No certificate on record was signed with it since.")
        self.stdout.write("What it signed before that day stays good, and the check page says so.")

    def _show(self, key: SigningKey | None) -> None:
        if key is None:
            self.stdout.write("There is no signing key. Run python manage.py signing_key make.")
        else:
            certificate = key.certificate
            self.stdout.write(f"Signs as: {certificate.subject.rfc4514_string()}")
            self.stdout.write(f"Issued by: {certificate.issuer.rfc4514_string()}")
            self.stdout.write(
                f"From {certificate.not_valid_before_utc:%Y-%m-%d} to {certificate.not_valid_after_utc:%Y-%m-%d}"
            )
        leaked = distrusted()
        for anchor in anchors():
            whole = fingerprint_of(anchor)
            present = " (present)" if key is not None and key.anchor == anchor else ""
            since = f" (not trusted from {leaked[whole]} on)" if whole in leaked else ""
            self.stdout.write(f"Known by: {fingerprint(whole)}  {whole}{present}{since}")
