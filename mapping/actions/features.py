"""Features of a zone: added one by one, from its landmarks and plates, or from a table; struck out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from shapely import Point

from accounts.acting import Acting, action
from accounts.assets import Asset
from accounts.ids import named_id
from accounts.people import Person, Role
from accounts.tablefile import Problem, TableError
from accounts.units import LengthField
from accounts.wording import say
from mapping import axes, lines
from mapping.actions.tables import (
    TableGiven,
    check_may_look,
    content_of,
    keep_table,
    refuse_nothing_new,
    refuse_rows,
)
from mapping.actions.zones import Why
from mapping.featurefile import read_features
from mapping.features import LINES, Feature
from mapping.landmarks import Landmark, landmarks_near
from mapping.surfaces import Surface
from mapping.surfaces.strake import Strake
from mapping.zones import Zone

ROLES = frozenset({Role.CREW, Role.OWNER})
LARGEST_SIZE = 20.0  # m


# Kind of landmark: the source it is offered under, and the kind of feature it stands for.
_STAND_FOR: dict[str, tuple[str, str]] = {
    Landmark.Kind.GIRTH_WELD: ("girth weld", Feature.Kind.WELD),
    Landmark.Kind.SEAM: ("seam", Feature.Kind.WELD),
    Landmark.Kind.LINE: ("seam", Feature.Kind.WELD),
    Landmark.Kind.NOZZLE: ("nozzle", Feature.Kind.NOZZLE),
    Landmark.Kind.BRACKET: ("bracket", Feature.Kind.BRACKET),
}


class FeaturePlan(NamedTuple):
    """What recording a table would do: features to make, how many are there already, and what cannot be taken."""

    new: tuple[Feature, ...]
    same: int
    problems: tuple[Problem, ...]


class Proposed(NamedTuple):
    """A feature that a landmark or a plate of the zone stands for."""

    kind: str
    name: str
    said: str
    landmark: Landmark | None = None


class AddFeature(serializers.Serializer):
    kind = serializers.ChoiceField(choices=Feature.Kind.choices, label=_("What"))
    name = serializers.CharField(max_length=60, label=_("Name"), help_text=_("As it is marked there, such as W-012."))
    place = serializers.CharField(
        max_length=200,
        label=_("Where"),
        help_text=_(
            'A weld or edge: places joined by "to", a ring ("..., all around") or "outline". A nozzle or bracket: its '
            "middle, as spoken on this zone."
        ),
    )
    size = LengthField(
        required=False,
        min_value=0.0,
        max_value=LARGEST_SIZE,
        page_unit="mm",
        page_unit_us="in",
        label=_("Size across"),
        help_text=_("Of a nozzle or bracket, where it is known: later work inside it spoils its test."),
    )


@action("add_feature", takes=AddFeature, roles=ROLES, on=Zone, title=_("Add a weld, edge, nozzle or bracket"))
def add_feature(act: Acting, zone: Zone, given: dict[str, Any]) -> Feature:
    """Add a weld, edge, nozzle or bracket whose test is counted beside that of the area."""
    try:
        feature = feature_row(
            zone, act.id, given["kind"], given["name"], given["place"], given["size"].value if "size" in given else 0.0
        )
    except ValueError as problem:
        act.refuse("place", str(problem))
    if _there(zone).get((feature.kind, feature.name.casefold())):
        act.refuse("name", say('There is a {kind} named "{name}" already.', kind=given["kind"], name=given["name"]))
    return act.insert(feature)


def feature_row(
    zone: Zone, pk: UUID, kind: str, name: str, said: str, size: float = 0.0, landmark: Landmark | None = None
) -> Feature:
    """A feature as a row, not yet stored. Raises ValueError when its place cannot be read."""
    surface, said = zone.surface, said.strip()
    row = Feature(id=pk, zone=zone, kind=kind, name=name.strip(), said=said, landmark=landmark)
    if kind in LINES:
        row.shape = lines.read_line(surface, said)
        row.length = lines.length(surface, row.shape)
    else:
        row.shape, row.size = Point(surface.read_place(said)), size
    return row


class AddSeams(serializers.Serializer):
    SOURCES = {
        "girth weld": _("girth welds of the asset"),
        "plates": _("vertical seams of its plates"),
        "seam": _("seams and lines among its landmarks"),
        "nozzle": _("nozzles among its landmarks"),
        "bracket": _("brackets among its landmarks"),
    }
    sources = serializers.MultipleChoiceField(
        choices=list(SOURCES.items()), allow_empty=False, label=_("What to take over")
    )


@action("add_seams", takes=AddSeams, roles=ROLES, on=Zone, title=_("Take over welds, seams, nozzles, brackets"))
def add_seams(act: Acting, zone: Zone, given: dict[str, Any]) -> list[Feature]:
    """Take over what is known of the zone already: its landmarks and plates become features to be tested."""
    there = _there(zone)
    new = []
    for each in proposals(zone, given["sources"]):
        if (each.kind, each.name.casefold()) in there:
            continue
        pk = _named(zone, each.kind, each.name)
        new.append(feature_row(zone, pk, each.kind, each.name, each.said, landmark=each.landmark))
    if not new:
        act.refuse("sources", say("This zone has none of them that is not a feature already."))
    act.tell("{count} features taken over.", count=len(new))
    return list(act.insert_many(new))


def proposals(zone: Zone, sources: Iterable[str]) -> Iterator[Proposed]:
    """The features that landmarks and plates of a zone stand for, by kind of source."""
    wanted = set(sources)
    surface = zone.surface
    if "plates" in wanted and isinstance(surface, Strake):
        for number, azimuth in enumerate(surface.plates, 1):
            x = azimuth / 360 * surface.period
            strake = f"strake {surface.number}, "
            ends = (surface.print_place(x, y).removeprefix(strake) for y in (0.0, surface.height))
            yield Proposed(Feature.Kind.WELD, f"V{surface.number}.{number}", " to ".join(ends))
    for mark in landmarks_near(zone):
        said = _said(surface, mark)
        if said is None:
            continue
        source, kind = _STAND_FOR.get(mark.kind, ("", ""))
        if source in wanted:
            yield Proposed(kind, mark.name, said, mark)


def _said(surface: Surface, mark: Landmark) -> str | None:
    """The landmark's place as a line or a middle of this zone; None where it has none there."""
    if mark.kind in (Landmark.Kind.NOZZLE, Landmark.Kind.BRACKET):
        return surface.print_place(mark.x, mark.y) if mark.y is not None else None
    line = mark.gridline_on(surface)
    way = axes.as_way(surface, line) if line else mark.said
    try:
        lines.read_line(surface, way)
    except ValueError:
        return None
    return way


@action("import_features", takes=TableGiven, roles=ROLES, on=Asset, title=_("Import welds, edges, nozzles, brackets"))
def import_features(act: Acting, asset: Asset, given: dict[str, Any]) -> list[Feature]:
    """Record welds, edges, nozzles and brackets from a table: all rows, or none and every bad one named."""
    content, name = content_of(given["file"], given["text"])
    try:
        plan = feature_plan(asset, content, name)
    except TableError as problem:
        act.refuse("file", str(problem))
    refuse_rows(plan.problems)
    if not plan.new:
        words = say("All {count} features are recorded already; nothing changes.", count=plan.same)
        refuse_nothing_new(act, asset, say("This table has no features."), words)
    keep_table(act, asset, content, name)
    return list(act.insert_many(plan.new))


def look_at_features(person: Person, asset: Asset, content: bytes, name: str) -> FeaturePlan:
    """The dry run, for whoever may import. Writes nothing; raises as `look_at_joints` does."""
    check_may_look(person, "import_features", asset)
    return feature_plan(asset, content, name)


def feature_plan(asset: Asset, content: bytes, name: str) -> FeaturePlan:
    """Compare a table with the features there are: the same name and place is the same, another place is refused."""
    listed = read_features(content, name)
    problems = list(listed.problems)
    zones = {zone.name.casefold(): zone for zone in asset.zones.all()}
    there = {zone.pk: _there(zone) for zone in zones.values()}
    new, same = [], 0
    for each in listed.features:
        zone = zones.get(each.zone.casefold())
        if zone is None:
            told = say(
                "is no zone of this asset; there are: {names}.", names=_few(zone.name for zone in zones.values())
            )
            problems.append(Problem(each.row, "zone", each.zone, told))
            continue
        found = there[zone.pk].get((each.kind, each.name.casefold()))
        if found is not None and found.said == each.place:
            same += 1
        elif found is not None:
            told = say(
                "is recorded at {said}; what is recorded does not change: strike it out and import again.",
                said=found.said,
            )
            problems.append(Problem(each.row, "place", each.place, told))
        else:
            try:
                pk = _named(zone, each.kind, each.name)
                new.append(feature_row(zone, pk, each.kind, each.name, each.place, each.size))
            except ValueError as problem:
                problems.append(Problem(each.row, "place", each.place, str(problem)))
    return FeaturePlan(tuple(new), same, tuple(sorted(problems)))


def _few(names: Iterable[str], most: int = 20) -> str:
    listed = sorted(names)
    return ", ".join(listed[:most]) + (" ..." if len(listed) > most else "")


def _there(zone: Zone) -> dict[tuple[str, str], Feature]:
    return {(row.kind, row.name.casefold()): row for row in Feature.objects.filter(zone=zone, struck_at=None)}


def _named(zone: Zone, kind: str, name: str) -> UUID:
    """The id of a feature that comes by its name; one that was struck out before leaves the next id."""
    struck = Feature.objects.filter(zone=zone, kind=kind, name__iexact=name, struck_at__isnull=False).count()
    return named_id(zone.pk, "feature", kind, name.casefold(), str(struck))


@action("strike_feature", takes=Why, roles={Role.LEAD, Role.OWNER}, on=Feature, title=_("Strike out"))
def strike_feature(act: Acting, feature: Feature, given: dict[str, Any]) -> Feature:
    """Strike out a feature that is not there or was said wrongly; what was swept on it counts no more."""
    return act.strike(feature, given["why"])
