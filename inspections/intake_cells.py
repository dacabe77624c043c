"""What the cells of a field sheet's line mean: moments, names of people and things, yes and no, the input of an action."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime, tzinfo
from typing import Any, NoReturn

from django.db.models import Q
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from accounts.acting import FAR_AHEAD
from accounts.people import Appointment, Organisation, Person
from accounts.problems import allowed
from accounts.tablefile import Problem
from accounts.wording import say
from inspections.coatings import FieldSheet
from inspections.intake_fields import FIELDS, choice_of, leaves_of
from inspections.sheetfile import Line, SheetFile

YES, NO = {"yes", "y", "sí", "si", "x", "✓", "true"}, {"no", "n", "-", "false"}


class Skip(Exception):
    """The line cannot be taken; what is wrong with it is among the problems."""


class Cells:
    """Reads cells in the words of the sheet's asset and firm, and notes every one that cannot be taken."""

    forms: Mapping[str, serializers.Serializer]

    def __init__(
        self,
        sheet: FieldSheet,
        organisation: Organisation,
        source: SheetFile,
        now: datetime,
        problems: list[Problem],
    ) -> None:
        self.sheet = sheet
        self.problems = problems
        self.zone: tzinfo = sheet.coating.zone.asset.zone_info
        self.now = now
        self.spoiled = set(source.spoiled)
        self.people = self._people(organisation)

    def moment(self, line: Line, column: str) -> datetime:
        """The row's time (or end) in the asset's time zone."""
        at = line.until if column in ("until", "valid until") else line.at
        assert at is not None, say("sheetfile lets no {what} through without {column}", what=line.what, column=column)
        local = at.replace(tzinfo=self.zone)
        if local > self.now + FAR_AHEAD and column != "valid until":
            self._refuse(
                line, column, say("({local:%Y-%m-%d %H:%M}) lies in the future; give a time up to now.", local=local)
            )
        return local

    def _given(self, line: Line, **known: Any) -> dict[str, Any]:
        """The line's cells through the input type of the action that a crew would press. `known` stands for a cell."""
        form = self.forms[line.what]
        given: dict[str, Any] = {}
        for name, column in FIELDS[line.what].items():
            text = line.cell(column)
            if name in known:
                given[name] = known.pop(name)
            elif column in line.listed:
                given[name] = list(line.listed[column])
            elif text:
                given[name] = choice_of(form.fields[name], text)
        return form.run_validation({**given, **known})

    def _note(self, line: Line, refused: ValidationError) -> NoReturn:
        fields = self.forms[line.what].fields
        detail = refused.detail if isinstance(refused.detail, dict) else {"what": refused.detail}
        for name, told in detail.items():
            column = "time" if name == "started_at" else FIELDS[line.what].get(name, name)
            words = " ".join(leaves_of(told))
            if isinstance(fields.get(name), serializers.ChoiceField):
                words = say("is not known here. {allowed}", allowed=allowed(fields[name]))
            self.problems.append(Problem(line.row, column, line.cell(column), words))
        raise Skip

    def _refuse(self, line: Line, column: str, message: str) -> NoReturn:
        self.problems.append(Problem(line.row, column, line.cell(column), message))
        raise Skip

    def _number(self, line: Line, column: str, form: re.Pattern[str]) -> int:
        found = form.fullmatch(line.cell(column))
        if found is None or int(found[form.groups]) == 0:
            self._refuse(line, column, say("is no number; write 1, 2, 3 ..."))
        return int(found[form.groups])

    def _yes(self, line: Line, column: str) -> bool:
        text = line.cell(column).casefold()
        if text and text not in YES | NO:
            self._refuse(line, column, say("is neither yes nor no."))
        return text in YES

    def _one_of(self, line: Line, column: str, known: Mapping[str, Any]) -> Any:
        text = line.cell(column)
        if (column, text.lower()) in self.spoiled:
            raise Skip
        if text and text.casefold() not in known:
            there = ", ".join(
                sorted(getattr(row, "serial", "") or getattr(row, "number", "") or row.name for row in known.values())
            )
            self._refuse(line, column, say("is not known here; there are: {there}.", there=there or "none"))
        return known[text.casefold()] if text else None

    def _people(self, organisation: Organisation) -> dict[str, list[Person]]:
        """Whom a name may mean: the importer's own firm, and whoever is appointed on the asset."""
        here = Appointment.objects.filter(asset=self.sheet.coating.zone.asset_id).values("person")
        found: dict[str, list[Person]] = defaultdict(list)
        for person in Person.objects.filter(Q(organisation=organisation) | Q(pk__in=here), is_active=True):
            found[" ".join(person.name.casefold().split())].append(person)
        return found

    def _person(self, line: Line, column: str) -> Person | None:
        name = line.cell(column)
        if not name:
            return None
        found = self.people.get(" ".join(name.casefold().split()), [])
        if len(found) != 1:
            why = (
                say("is the name of several people here")
                if found
                else say("is nobody of your firm or appointed on this asset")
            )
            self.problems.append(
                Problem(line.row, column, name, say("{why}; write the name as it is registered.", why=why))
            )
            return None
        return found[0]
