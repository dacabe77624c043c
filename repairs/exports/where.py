"""Tables of the ground: zones, landmarks, exclusions with the owner's word."""

from __future__ import annotations

import json
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery

from accounts.wording import noted
from mapping.features import Feature
from mapping.landmarks import Landmark
from mapping.zones import Exclusion, ExclusionDecision, Zone
from repairs.exports.scope import Column, Scope, Table

ZONE = Column("zone", noted("Name of the zone."), "zone__name")
SAID = Column("place", noted("As it was said."), "said")
X = Column("x (m)", noted("Along the zone's first axis, in the plane of its unrolled surface."), "x")
Y = Column("y (m)", noted("Along the zone's second axis, in the plane of its unrolled surface."), "y")
ID = Column("id", noted("Identity of the row in the record and in the API."), "pk")
STRUCK = (
    Column("struck out", noted("When the row was struck out; empty while it counts."), "struck_at"),
    Column("struck out by", noted("Who struck it out."), "struck_by__name"),
    Column("struck out why", noted("The reason."), "struck_why"),
)


def _zones(scope: Scope) -> QuerySet[Any]:
    rows = Zone.objects.filter(asset=scope.asset).order_by("order", "name")
    return rows.filter(pk=scope.zone.pk) if scope.zone else rows


def landmarks_of(scope: Scope) -> QuerySet[Landmark]:
    """The asset's landmarks; for a zone, its own and those of no zone between its ends."""
    rows = Landmark.objects.filter(asset=scope.asset)
    if scope.zone is not None:
        low, _, high, _ = scope.zone.surface.outline.bounds
        rows = rows.filter(Q(zone=scope.zone) | Q(zone=None, x__gte=low, x__lte=high))
    return rows.order_by("x", "name", "pk")


def _exclusions(scope: Scope) -> QuerySet[Any]:
    last = ExclusionDecision.objects.filter(exclusion=OuterRef("pk")).order_by("-at", "-pk")
    rows = scope.of_zone(Exclusion.objects.all(), "zone").order_by("drawn_at", "pk")
    return rows.annotate(
        word=Subquery(last.values("accepted")[:1]),
        word_by=Subquery(last.values("by__name")[:1]),
        word_at=Subquery(last.values("at")[:1]),
        word_why=Subquery(last.values("why")[:1]),
    )


def _features(scope: Scope) -> QuerySet[Any]:
    rows = scope.of_zone(Feature.objects.all(), "zone")
    return rows.order_by("zone__order", "zone__name", "kind", "name", "pk")


def _word(accepted: bool | None) -> str:
    return "undecided" if accepted is None else "accepted" if accepted else "refused"


ZONES = Table(
    "zones",
    noted("The pieces of surface that are swept, repaired and released as a whole."),
    (
        Column("zone", noted("Name of the zone."), "name"),
        Column("order", noted("Place among the zones of the asset."), "order"),
        Column("surface", noted("Kind of surface."), "surface_kind"),
        Column("face", noted("Outside or inside."), "face"),
        Column("sizes", noted("Sizes of the surface as JSON, in metres."), "surface_json",
               lambda sizes: json.dumps(sizes, ensure_ascii=False, sort_keys=True)),
        Column("true area (m2)", noted("Area of the whole surface."), "true_area"),
        ID,
    ),
    _zones,
)  # fmt: skip
LANDMARKS = Table(
    "landmarks",
    noted("What painters measure from, because they can see it."),
    (
        ZONE,
        Column("kind", noted("Kind of landmark."), "kind"),
        Column("name", noted("As it is called."), "name"),
        SAID,
        X,
        Y._replace(what=noted("Second axis; empty where it goes all the way across.")),
        Column("line", noted("first or second: the axis that stays the same along it; empty for a point."), "line"),
        *STRUCK,
        ID,
    ),
    landmarks_of,
)
EXCLUSIONS = Table(
    "exclusions",
    noted("Ground proposed to be left out, with the owner's last word; it is left out only once accepted."),
    (
        ZONE,
        SAID,
        Column("reason", noted("Why it is not tested."), "reason"),
        Column("drawn by", noted("Who proposed it."), "drawn_by__name"),
        Column("organisation", noted("For whom."), "organisation__name"),
        Column("drawn at", noted("When it was proposed."), "drawn_at"),
        Column("decision", noted("accepted, refused or undecided."), "word", _word),
        Column("decided by", noted("The owner who decided."), "word_by"),
        Column("decided at", noted("When it was decided."), "word_at"),
        Column("decision why", noted("What the owner said."), "word_why"),
        *STRUCK,
        ID,
    ),
    _exclusions,
)
FEATURES = Table(
    "features",
    noted(
        "Welds and edges, measured in metres, and nozzles and brackets, counted: their coverage is kept beside the area's."
    ),
    (
        ZONE,
        Column("kind", noted("weld, edge, nozzle or bracket."), "kind"),
        Column("name", noted("As it is called."), "name"),
        SAID,
        Column("length (m)", noted("Length of the line; empty where it is counted."), "length"),
        Column("size (m)", noted("Across, of what is counted; 0 where it was not stated."), "size"),
        Column("landmark", noted("The landmark it was made from."), "landmark__name"),
        *STRUCK,
        ID,
    ),
    _features,
)
TABLES = (ZONES, LANDMARKS, FEATURES, EXCLUSIONS)
