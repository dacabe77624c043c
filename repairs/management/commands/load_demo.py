"""`manage.py load_demo`: fill an empty database with the demo, and print who can sign in."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from accounts.assets import Asset
from accounts.people import Organisation
from inspections.coatings import Coating
from repairs.demo.deck import DECK, build_deck
from repairs.demo.people import brief_everybody, hand_in_cards
from repairs.demo.setting import ADMIN, MAIN, OWNER, PASSWORD, PEOPLE, set_up
from repairs.demo.story import tell
from repairs.demo.tank import TANK, build_tank
from repairs.tallies import catch_up


class Command(BaseCommand):
    help = "Load the demo (an invented water main, a tank and a bridge deck) into an empty database. Twice is once."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--address", default="http://127.0.0.1:8000/", help="where the site is served")

    def handle(self, *args: Any, address: str, **options: Any) -> None:
        if Asset.objects.filter(name=MAIN, organisation__name=OWNER).exists():
            self.stdout.write(f"The demo is here already: {MAIN}.")
        elif Organisation.objects.exists():
            raise CommandError("There are organisations here already; the demo is loaded into an empty database only.")
        else:
            with transaction.atomic():
                main = set_up(timezone.now())
                tell(main)
                hand_in_cards(main)
                brief_everybody(main, main.asset)
                brief_everybody(main, build_tank(main).asset)
                brief_everybody(main, build_deck(main).asset)
                catch_up(Coating.objects.all())
            self.stdout.write(f"Loaded {MAIN}, {TANK} and {DECK}: everything on them is invented.")
        self.stdout.write(f"\n  {address}\n\n  Password of all: {PASSWORD}\n")
        for person in (*PEOPLE, ADMIN):
            self.stdout.write(f"  {person.email:<26} {person.name}, {person.firm}: {person.does}")
        self.stdout.write("")
