"""Zones of an asset, and what is drawn on them: exclusions and the owner's word on each."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from typing import Any

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.assets import Asset
from accounts.people import Organisation
from accounts.rows import Row, Strikeable
from mapping.positions import Chainage, StationEquation
from mapping.shapes import ShapeField
from mapping.surface_forms import KIND_WORDS
from mapping.surfaces import Surface, from_json


def chainage_of(asset: Asset) -> Chainage:
    """How chainage is spoken on this asset."""
    return Chainage(
        system=asset.unit_system,
        foot=asset.foot,
        equations=tuple(StationEquation(back, ahead) for back, ahead in asset.station_equations),
        start=asset.chainage_start,
    )


class Zone(Row):
    """One piece of surface that is swept, repaired and released as a whole. The JSON is only read through `surface`."""

    record_path = "asset"
    facts = ("asset",)

    class Face(models.TextChoices):
        OUTSIDE = "outside", _("outside")
        INSIDE = "inside", _("inside")

    asset = models.ForeignKey(Asset, models.PROTECT, related_name="zones")
    name = models.CharField(max_length=80)
    order = models.PositiveIntegerField(default=0)
    surface_kind = models.CharField(max_length=10)
    surface_json = models.JSONField()
    face = models.CharField(max_length=7, choices=Face, default=Face.OUTSIDE)
    true_area = models.FloatField(help_text="m²")

    class Meta:
        ordering = ["order", "name"]
        constraints = [models.UniqueConstraint(fields=["asset", "name"], name="zone_name_once")]

    def __str__(self) -> str:
        return self.name

    def get_surface_kind_display(self) -> str:
        """What its kind of surface is called."""
        return str(KIND_WORDS[self.surface_kind])

    @cached_property
    def surface(self) -> Surface:
        return from_json(self.surface_kind, self.surface_json, self.face, chainage_of(self.asset))


class Exclusion(Row, Strikeable):
    """Ground somebody proposes not to test. It counts as excluded only once the owner has accepted it."""

    record_path = "zone__asset"
    facts = ("zone", "said", "reason", "drawn_by", "organisation", "drawn_at")
    placed = ("shape",)

    zone = models.ForeignKey(Zone, models.PROTECT, related_name="exclusions")
    said = models.CharField(max_length=200)
    shape = ShapeField()
    reason = models.CharField(max_length=200)
    drawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    drawn_at = models.DateTimeField()

    class Meta(Strikeable.Meta):
        abstract = False

    def decision(self) -> ExclusionDecision | None:
        """The owner's last word on it, if there is one."""
        return max(self.decisions.all(), key=lambda decision: (decision.at, decision.pk), default=None)


class ExclusionDecision(Row):
    record_path = "exclusion__zone__asset"
    facts = ("exclusion", "accepted", "by", "at", "why")

    exclusion = models.ForeignKey(Exclusion, models.PROTECT, related_name="decisions")
    accepted = models.BooleanField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    why = models.TextField(blank=True)


def accepted_exclusions(exclusions: Iterable[Exclusion]) -> list[tuple[Exclusion, ExclusionDecision]]:
    """Those of a zone's exclusions that are accepted, in the order of acceptance (overlaps count under the first)."""
    pairs: list[Any] = [
        (exclusion, decision) for exclusion in exclusions if (decision := exclusion.decision()) and decision.accepted
    ]
    return sorted(pairs, key=lambda pair: (pair[1].at, pair[1].pk))
