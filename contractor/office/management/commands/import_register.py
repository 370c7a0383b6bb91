"""Takes over a contractor's old spreadsheet: first a dry run, then the good rows."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.office.actions import TakenRow, take_over_register
from contractor.office.register_report import bad_rows_csv, report_csv, report_rows
from contractor.office.register_review import reading_of
from contractor.office.register_rows import Outcome, RegisterReading


class Command(BaseCommand):
    help = "Reads an old register (CSV) and says row by row what is wrong; with --take-over it writes the good rows."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--take-over", metavar="E-MAIL", help="write the good rows, in the name of this member of staff"
        )
        parser.add_argument(
            "--bad-rows", type=Path, metavar="FILE", help="where to write the rows that are to be mended"
        )
        parser.add_argument("--report", type=Path, metavar="FILE", help="where to write the report as CSV")

    def handle(self, *args: Any, **options: Any) -> None:
        reading = self._read(options["file"])
        for line in report_rows(reading):
            if line.outcome is not Outcome.GOOD:
                self.stdout.write(
                    f"line {line.line_number}: {line.outcome}: {line.column}: {line.reason}".replace(": :", ":")
                )
        if options["report"]:
            options["report"].write_text(report_csv(reading), encoding="utf-8-sig")
        if options["bad_rows"]:
            options["bad_rows"].write_text(bad_rows_csv(reading), encoding="utf-8-sig")
        counts = list(reading.outcomes().values())
        self.stdout.write("\n" + ", ".join(f"{counts.count(outcome)} {outcome}" for outcome in Outcome) + ".")
        if not options["take_over"]:
            self.stdout.write(
                "This was a dry run: nothing was written. Add --take-over E-MAIL to take the good rows over."
            )
            return
        self._tell(self._take_over(reading, options["take_over"]))

    def _read(self, path: Path) -> RegisterReading:
        try:
            data = path.read_bytes()
        except OSError as problem:
            raise CommandError(f"{path} can't be read: {problem.strerror}.") from problem
        try:
            return reading_of(data, on=clock.today())
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal

    def _take_over(self, reading: RegisterReading, email: str) -> list[TakenRow]:
        user = User.objects.filter(email=email.strip().lower(), is_active=True).first()
        if user is None:
            raise CommandError(f"Nobody on the staff signs in as {email}. Give the e-mail address of one who does.")
        return take_over_register(rows=reading.rows, by_user=user, at=clock.now())

    def _tell(self, taken: list[TakenRow]) -> None:
        for row in taken:
            if row.outcome == "refused":
                self.stdout.write(f"line {row.line_number}: refused: {row.sentence}")
        for outcome in ("taken over", "already there", "refused"):
            self.stdout.write(f"{sum(row.outcome == outcome for row in taken)} {outcome}")
