"""Patches and the work on them: cycles, steps and retests. A retest is a swath; losing it reopens the patch."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from accounts.people import Organisation
from accounts.rows import Row, Strikeable
from accounts.wording import say
from inspections.coatings import Coating
from inspections.flaws import Flaw
from inspections.runs import Swath
from mapping.shapes import ShapeField

PERSON = settings.AUTH_USER_MODEL


class Patch(Row, Strikeable):
    """Ground to be repaired as one, issued with a number. Once work has begun it is never reshaped."""

    record_path = "coating__zone__asset"
    facts = ("coating", "number", "contractor", "issued_by", "issued_at")
    placed = ("shape", "area", "said")

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="patches")
    number = models.PositiveIntegerField()
    shape = ShapeField()
    area = models.FloatField(help_text="m²")
    said = models.CharField(max_length=200)
    contractor = models.ForeignKey(Organisation, models.PROTECT, related_name="patches")
    issued_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    issued_at = models.DateTimeField()

    class Meta(Strikeable.Meta):
        abstract = False
        constraints = [
            *Strikeable.Meta.constraints,
            models.UniqueConstraint(fields=["coating", "number"], name="patch_number_once"),
        ]

    def __str__(self) -> str:
        return say("Patch {number}", number=self.number)


class PatchFlaw(Row, Strikeable):
    """A flaw repaired by a patch: one patch a flaw, unless that one is struck out."""

    record_path = "patch__coating__zone__asset"
    facts = ("patch", "flaw")

    patch = models.ForeignKey(Patch, models.PROTECT, related_name="patch_flaws")
    flaw = models.ForeignKey(Flaw, models.PROTECT, related_name="patch_flaws")

    class Meta(Strikeable.Meta):
        abstract = False
        constraints = [
            *Strikeable.Meta.constraints,
            models.UniqueConstraint(fields=["flaw"], condition=Q(struck_at=None), name="flaw_in_one_patch"),
        ]


class Cycle(Row):
    """One round of repair and retest. Passing or failing needs a retester from elsewhere, or a witness."""

    record_path = "patch__coating__zone__asset"
    facts = ("patch", "number", "worker_org", "opened_at")

    class Outcome(models.TextChoices):
        PASSED = "passed", _("passed")
        FAILED = "failed", _("failed")
        ABANDONED = "abandoned", _("abandoned")

    patch = models.ForeignKey(Patch, models.PROTECT, related_name="cycles")
    number = models.PositiveIntegerField()
    worker_org = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    outcome = models.CharField(max_length=10, choices=Outcome, null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    retester = models.ForeignKey(PERSON, models.PROTECT, null=True, blank=True, related_name="+")
    retester_org = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="+")
    witness = models.ForeignKey(PERSON, models.PROTECT, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["patch", "number"], name="cycle_number_once"),
            models.UniqueConstraint(fields=["patch"], condition=Q(outcome=None), name="cycle_open_once"),
            models.CheckConstraint(
                name="cycle_settled_whole",
                condition=Q(outcome=None, settled_at=None) | Q(outcome__isnull=False, settled_at__isnull=False),
            ),
            # `retester_org <> worker_org` alone would be NULL (and pass) without a retester, so both are asked for.
            models.CheckConstraint(
                name="cycle_not_passed_by_its_worker",
                condition=~Q(outcome__in=["passed", "failed"])
                | Q(retester__isnull=False, retester_org__isnull=False)
                & (~Q(retester_org=F("worker_org")) | Q(witness__isnull=False)),
            ),
        ]

    def __str__(self) -> str:
        return say("{patch}, cycle {number}", patch=self.patch, number=self.number)


class Step(Row, Strikeable):
    """One recorded step of the work; films in um."""

    record_path = "cycle__patch__coating__zone__asset"
    facts = ("cycle", "kind", "coat", "at", "by", "organisation", "product", "batch", "mixed_at", "wet", "dry", "note")

    class Kind(models.TextChoices):
        PREPARED = "prepared", _("prepared")
        COATED = "coated", _("coated")
        CURED = "cured", _("cured")
        HANDED_OVER = "handed over", _("handed over for retest")

    cycle = models.ForeignKey(Cycle, models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=12, choices=Kind)
    coat = models.PositiveSmallIntegerField(null=True, blank=True, help_text=_("1 is the first repair coat."))
    at = models.DateTimeField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    product = models.CharField(max_length=120, blank=True)
    batch = models.CharField(max_length=80, blank=True)
    mixed_at = models.DateTimeField(null=True, blank=True)
    wet = models.FloatField(null=True, blank=True)
    dry = models.FloatField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta(Strikeable.Meta):
        abstract = False


class Retest(Row):
    """The swath of a retest run that settled a cycle."""

    record_path = "cycle__patch__coating__zone__asset"
    facts = ("cycle", "swath")

    cycle = models.OneToOneField(Cycle, models.PROTECT, related_name="retest")
    swath = models.ForeignKey(Swath, models.PROTECT, related_name="retests")
