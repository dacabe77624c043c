"""Flaws: an indication first, classified later. Positions are kept as said and as plane metres."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.rows import Row, Strikeable
from inspections.coatings import FieldSheet, Spot
from inspections.runs import Run


class FlawKind(models.TextChoices):
    INDICATION = "indication", _("indication (not yet looked at)")
    PINHOLE = "pinhole", _("pinhole")
    MISS = "miss", _("miss (no film)")
    VOID = "void", _("void")
    CRATER = "crater", _("crater")
    CRACK = "crack", _("crack")
    BLISTER = "blister", _("blister")
    SAG = "sag or run", _("sag or run")
    DRY_SPRAY = "dry spray", _("dry spray")
    INCLUSION = "inclusion", _("inclusion")
    DAMAGE = "mechanical damage", _("mechanical damage")
    THIN = "thin spot", _("thin spot")
    DELAMINATION = "delamination", _("delamination")
    STEEL = "steel defect", _("steel defect")
    BURNED = "burned by test", _("burned by test")
    DESTRUCTIVE = "destructive test spot", _("destructive test spot")
    FALSE = "false indication", _("false indication")


NEVER_COUNT = frozenset({FlawKind.FALSE, FlawKind.DESTRUCTIVE, FlawKind.BURNED})


class Flaw(Row, Strikeable):
    """Sizes along x and across (along y) in m, depth in um, give_or_take (position uncertainty) in m."""

    record_path = "sheet__coating__zone__asset"
    facts = ("run", "sheet", "number", "found_by", "said", "give_or_take", "found_at",
             "sheet_seq", "by", "note", "spot")  # fmt: skip
    placed = ("x", "y")

    class FoundBy(models.TextChoices):
        ELECTRICAL = "electrical", _("electrical")
        VISUAL = "visual", _("visual")
        GAUGE = "gauge", _("gauge")

    sheet = models.ForeignKey(FieldSheet, models.PROTECT, related_name="flaws")
    run = models.ForeignKey(Run, models.PROTECT, related_name="flaws")
    number = models.PositiveIntegerField()
    found_by = models.CharField(max_length=10, choices=FoundBy, default=FoundBy.ELECTRICAL)
    said = models.CharField(max_length=120)
    x = models.FloatField()
    y = models.FloatField()
    give_or_take = models.FloatField(default=0.05)
    size_x = models.FloatField(default=0.0)
    size_y = models.FloatField(default=0.0)
    depth = models.FloatField(null=True, blank=True)
    found_at = models.DateTimeField()
    sheet_seq = models.PositiveIntegerField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    wet_run_reached = models.BooleanField(
        null=True, blank=True, help_text="Whether a wet run of the sponge reached it; null: nobody said."
    )
    # A thickness spot that was too thin and is repaired as this flaw.
    spot = models.ForeignKey(Spot, models.PROTECT, null=True, blank=True, related_name="flaws")
    same_as = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="repeats")

    class Meta(Strikeable.Meta):
        abstract = False
        constraints = [
            *Strikeable.Meta.constraints,
            models.UniqueConstraint(fields=["sheet", "number"], name="flaw_tag_once"),
            models.UniqueConstraint(fields=["spot"], condition=models.Q(struck_at=None), name="flaw_of_spot_once"),
        ]

    def __str__(self) -> str:
        return self.tag

    @property
    def tag(self) -> str:
        return f"{self.sheet.letter}{self.number:02d}"

    @property
    def kind(self) -> str:
        """The latest classification's kind; an indication until somebody has looked."""
        standing = [row for row in self.classifications.all() if row.struck_at is None]
        return max(standing, key=lambda row: (row.at, row.pk)).kind if standing else FlawKind.INDICATION


class Classification(Row, Strikeable):
    record_path = "flaw__sheet__coating__zone__asset"
    facts = ("flaw", "kind", "by", "at")

    flaw = models.ForeignKey(Flaw, models.PROTECT, related_name="classifications")
    kind = models.CharField(max_length=24, choices=FlawKind)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta(Strikeable.Meta):
        abstract = False
