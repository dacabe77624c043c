"""Adding many zones from a table. All of them are recorded, or none."""

from __future__ import annotations

from typing import Any, NamedTuple

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.ids import named_id
from accounts.people import Person, Role
from accounts.rows import LARGEST
from accounts.tablefile import Problem, TableError
from accounts.wording import say
from mapping.actions.tables import (
    TableGiven,
    check_may_look,
    content_of,
    keep_table,
    refuse_nothing_new,
    refuse_rows,
)
from mapping.actions.zones import surface_given, zone_row
from mapping.positions import Chainage
from mapping.surface_forms import FORMS
from mapping.surfaces import Surface
from mapping.zonefile import Listed, read_zones
from mapping.zones import Zone, chainage_of


class ZonePlan(NamedTuple):
    """What recording a table would do: zones to make, how many are there already, and what cannot be taken."""

    new: tuple[Zone, ...]
    same: int
    problems: tuple[Problem, ...]


@action("import_zones", takes=TableGiven, roles={Role.OWNER, Role.LEAD}, on=Asset, title=_("Add zones from a table"))
def import_zones(act: Acting, asset: Asset, given: dict[str, Any]) -> list[Zone]:
    """Add every zone of a table: all of them, or none and every bad row named."""
    content, name = content_of(given["file"], given["text"])
    try:
        plan = zone_plan(asset, content, name)
    except TableError as problem:
        act.refuse("file", str(problem))
    refuse_rows(plan.problems)
    if not plan.new:
        words = say("All {count} zones are there already; nothing changes.", count=plan.same)
        refuse_nothing_new(act, asset, say("This table has no zones."), words)
    keep_table(act, asset, content, name)
    return list(act.insert_many(plan.new))


def look_at_zones(person: Person, asset: Asset, content: bytes, name: str) -> ZonePlan:
    """The dry run, for whoever may import. Writes nothing; raises as `look_at_joints` does."""
    check_may_look(person, "import_zones", asset)
    return zone_plan(asset, content, name)


def zone_plan(asset: Asset, content: bytes, name: str) -> ZonePlan:
    """Compare a table with the zones there are: same name and surface is the same, same name otherwise is refused."""
    chainage = chainage_of(asset)
    listed = read_zones(content, name, chainage)
    problems = list(listed.problems)
    there = {zone.name.casefold(): zone for zone in asset.zones.all()}
    first = max((zone.order for zone in there.values()), default=0) + 1
    new, same = [], 0
    for place, item in enumerate(listed.zones):
        surface = _surface(item, chainage, problems)
        order = _order(item, first + place, problems)
        found = there.get(item.name.casefold())
        if surface is None or order is None:
            continue
        if found is None:
            new.append(zone_row(asset, item.name, surface, order, pk=named_id(asset.pk, "zone", item.name.casefold())))
        elif found.surface == surface:
            same += 1
        else:
            told = say(
                "is a zone of this asset with another surface; correct it on its own page, or choose another name."
            )
            problems.append(Problem(item.row, "zone", item.name, told))
    return ZonePlan(tuple(new), same, tuple(sorted(problems)))


def _surface(item: Listed, chainage: Chainage, problems: list[Problem]) -> Surface | None:
    if item.kind not in FORMS:
        told = say("is no kind of surface; there are: {there}.", there=", ".join(FORMS))
        problems.append(Problem(item.row, "kind", item.kind, told))
        return None
    face = item.face or FORMS[item.kind].face
    if face not in Zone.Face.values:
        told = say("is no face; there are: {there}.", there=", ".join(Zone.Face.values))
        problems.append(Problem(item.row, "face", item.face, told))
        return None
    try:
        return surface_given({"surface_kind": item.kind, "surface": item.sizes, "face": face}, chainage)
    except serializers.ValidationError as refused:
        problems += [_told(item, name, told) for name, told in _by_name(refused.detail)]
        return None


def _order(item: Listed, otherwise: int, problems: list[Problem]) -> int | None:
    if not item.order:
        return min(otherwise, LARGEST)
    if item.order.isdecimal() and len(item.order) < 10:
        return int(item.order)
    problems.append(Problem(item.row, "order", item.order, say("is no place in lists; write 1, 2, 3 …")))
    return None


def _told(item: Listed, name: str, told: str) -> Problem:
    value = item.sizes.get(name, "")
    text = " ".join(map(str, value)) if isinstance(value, list) else str(value)
    return Problem(item.row, item.columns.get(name, name), text, told)


def _by_name(detail: Any) -> list[tuple[str, str]]:
    """Each message of the refusal with the name of the size it is about."""
    sizes = detail["surface"] if isinstance(detail, dict) else detail
    if not isinstance(sizes, dict):
        return [("kind", text) for text in _texts(sizes)]
    return [(name, text) for name, inner in sizes.items() for text in _texts(inner)]


def _texts(detail: Any) -> list[str]:
    if isinstance(detail, dict):
        return [text for inner in detail.values() for text in _texts(inner)]
    if isinstance(detail, list | tuple):
        return [text for inner in detail for text in _texts(inner)]
    return [str(detail)]
