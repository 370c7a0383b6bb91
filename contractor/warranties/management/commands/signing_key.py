"""Makes, replaces, takes over and shows the key that signs certificates."""

import os
from getpass import getpass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.warranties.frozen_facts import fingerprint
from contractor.warranties.signing_keys import (
    SigningKey,
    anchors,
    fingerprint_of,
    import_key,
    make_key,
    stored_key,
)

PASSPHRASE = "SIGNING_KEY_PASSPHRASE"  # noqa: S105  # the name of a variable


class Command(BaseCommand):
    help = "The key that signs certificates: make the first one, rotate it, import one from an authority, or show it."

    def add_arguments(self, parser: CommandParser) -> None:
        verbs = parser.add_subparsers(dest="verb", required=True)
        made = verbs.add_parser("make", help="make the first key, under a root of its own")
        rotated = verbs.add_parser("rotate", help="put a new key in the place of the present one; its root stays known")
        for verb in (made, rotated):
            verb.add_argument("--organisation", help="whose name the key bears; without it the company's legal name")
        taken = verbs.add_parser("import", help="take a key that a certificate authority issued (PKCS#12)")
        taken.add_argument("file", type=Path, help=f"its passphrase is asked for, or read from {PASSPHRASE}")
        verbs.add_parser("show", help="show the present key and every root that is still known")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["verb"] == "show":
                self._show(stored_key())
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
        for anchor in anchors():
            present = " (present)" if key is not None and key.anchor == anchor else ""
            self.stdout.write(f"Known by: {fingerprint(fingerprint_of(anchor))}  {fingerprint_of(anchor)}{present}")
