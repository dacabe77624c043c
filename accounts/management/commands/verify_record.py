"""`manage.py verify_record`: proves the record and everything stored under it, or names what differs and where."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError, CommandParser

from accounts.record import Record
from accounts.verify import DERIVATIONS, Tally, verify


class Command(BaseCommand):
    help = "Prove chain, rows, derivations, files and guards of the record. Exit code 1 when anything differs."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--record", help="id of one asset or organisation; all of them when left out")

    def handle(self, *args: Any, record: str | None = None, **options: Any) -> None:
        tally = Tally()
        problems = 0
        for problem in verify(_known(record) if record else None, tally):
            problems += 1
            self.stdout.write(str(problem))
        for pk, head in tally.heads.items():
            self.stdout.write(f"{pk} head {head.seq} {head.digest or '(no entry)'}")
        gone_through = (
            f"{len(tally.heads)} records, {tally.entries} entries, {tally.rows} rows, {tally.files} files,"
            f" {len(DERIVATIONS)} derivations"
        )
        if problems:
            raise CommandError(f"{problems} problems in {gone_through}.")
        self.stdout.write(self.style.SUCCESS(f"Proved: {gone_through}. Nothing differs."))


def _known(text: str) -> UUID:
    try:
        return Record.objects.values_list("pk", flat=True).get(pk=UUID(text))
    except (ValueError, Record.DoesNotExist):
        raise CommandError(
            f'--record "{text}": allowed is the id of an asset or organisation that has a record.'
        ) from None
