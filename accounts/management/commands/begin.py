"""`manage.py begin`: make the first organisation and its administrator."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from accounts.beginning import AlreadyBegun, begin_with
from accounts.signing_in import invitation_link


class Command(BaseCommand):
    help = "Make the first organisation and its administrator, who also owns its assets."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--organisation", required=True, help="name of the organisation that owns the assets")
        parser.add_argument("--name", required=True, help="name of the first administrator")
        parser.add_argument("--email", required=True, help="the administrator's email address, to sign in with")
        parser.add_argument(
            "--address", default="", help="where the site is served, such as https://barespot.example.org"
        )
        parser.add_argument("--password", help="without it, a link is printed where the password is set")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            begun = begin_with(
                organisation=options["organisation"],
                name=options["name"],
                email=options["email"],
                password=options["password"],
            )
        except AlreadyBegun as refused:
            raise CommandError(str(refused)) from None
        except ValidationError as refused:
            raise CommandError(" ".join(refused.messages)) from None
        self.stdout.write(f"{begun.person.name} administers {begun.organisation.name}.")
        if options["password"] is None:
            address = options["address"].rstrip("/") or next(iter(settings.CSRF_TRUSTED_ORIGINS), "")
            self.stdout.write(f"Set the password at: {address}{invitation_link(begun.person)}")
        self.stdout.write("Sign in, then begin with an asset.")
