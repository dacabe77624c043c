"""A coating is the life of one film on one zone; runs, flaws, patches and release hang on it. Field sheets bring the work in."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from accounts.evidence import Evidence
from accounts.people import Organisation
from accounts.rows import Row, Strikeable
from accounts.units import FILM, read, to_si
from accounts.wording import say
from inspections.instruments import Instrument
from inspections.permits import PermitFact
from inspections.specifications import Specification
from inspections.terms import Terms
from mapping.shapes import ShapeField
from mapping.zones import Zone


class Coating(Row):
    record_path = "zone__asset"
    facts = ("zone", "number", "specification", "begun_at")

    zone = models.ForeignKey(Zone, models.PROTECT, related_name="coatings")
    number = models.PositiveIntegerField()
    specification = models.ForeignKey(Specification, models.PROTECT, related_name="coatings")
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.TextField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["zone", "number"], name="coating_number_once"),
            models.UniqueConstraint(fields=["zone"], condition=Q(ended_at=None), name="coating_current_once"),
        ]

    def __str__(self) -> str:
        return say("Coating {number}", number=self.number)

    @property
    def terms(self) -> Terms:
        return self.specification.terms


class FieldSheet(Row):
    """Who recorded: every run and flaw comes through one. Tags are its letters and a counter."""

    record_path = "coating__zone__asset"
    facts = (
        "coating",
        "person",
        "organisation",
        "letter",
        "taken_at",
        "base_seq",
        "source",
    )
    derived = ("last_seq",)

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="sheets")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    letter = models.CharField(max_length=4)
    taken_at = models.DateTimeField()
    base_seq = models.PositiveBigIntegerField(help_text=_("Head of the asset's record when the sheet was taken."))
    handed_in_at = models.DateTimeField(null=True, blank=True)
    given_up_why = models.TextField(null=True, blank=True)
    last_seq = models.PositiveIntegerField(default=0, editable=False, help_text=_("Highest order of recording so far."))
    source = models.ForeignKey(Evidence, models.PROTECT, null=True, blank=True, related_name="sheets")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["coating", "letter"], name="sheet_letter_once")]

    def __str__(self) -> str:
        return say("Sheet {letter}", letter=self.letter)

    @property
    def is_out(self) -> bool:
        return self.handed_in_at is None and self.given_up_why is None


class Permit(Row, Strikeable):
    """A permit as it was shown; a renewal is a row of its own that names the one before. The permit permits, not this row."""

    record_path = "coating__zone__asset"
    private = ("tester",)
    facts = (
        "coating",
        "number",
        "kind",
        "gas_reading",
        "gas_limits",
        "tester",
        "valid_from",
        "expires_at",
        "renews",
        "for_run",
        "recorded_at",
        "by",
    )

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="permits")
    number = models.CharField(max_length=60)
    kind = models.CharField(max_length=60, default="hot work")
    gas_reading = models.CharField(max_length=120)
    gas_limits = models.CharField(max_length=120, blank=True, help_text=_("As the permit states them."))
    tester = models.CharField(max_length=120)
    valid_from = models.DateTimeField(null=True, blank=True)
    expires_at = models.DateTimeField()
    renews = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="renewals")
    for_run = models.ForeignKey("inspections.Run", models.PROTECT, null=True, blank=True, related_name="later_permits")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False

    def __str__(self) -> str:
        return say("{kind} permit {number}", kind=self.kind, number=self.number)

    @property
    def begins_at(self) -> datetime:
        """From when it holds: as it states, else from when it was recorded."""
        return self.valid_from or self.recorded_at

    @property
    def fact(self) -> PermitFact:
        return PermitFact(self.pk, self.number, self.begins_at, self.expires_at, self.renews_id)


class Atmosphere(Row, Strikeable):
    """Air and steel as measured; temperatures in degC, humidity in %."""

    record_path = "coating__zone__asset"
    facts = ("coating", "at", "air", "humidity", "wet_bulb", "steel", "steel_at", "hygrometer", "thermometer", "by")

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="atmospheres")
    at = models.DateTimeField()
    air = models.FloatField()
    humidity = models.FloatField(null=True, blank=True)
    wet_bulb = models.FloatField(null=True, blank=True)
    steel = models.JSONField(default=list)
    steel_at = models.JSONField(
        default=list, blank=True, help_text="Where each was read, in the same order; may be empty."
    )
    hygrometer = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="airs")
    thermometer = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="steels")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False


class Disturbance(Row, Strikeable):
    """Later work that spoils what was tested there: welding, grinding, a scaffold strike."""

    record_path = "coating__zone__asset"
    facts = ("coating", "said", "at", "kind", "by")
    placed = ("shape",)

    class Kind(models.TextChoices):
        WELD = "weld", _("welding")
        GRIND = "grind", _("grinding")
        SCAFFOLD = "scaffold strike", _("scaffold strike")
        COATING = "coating", _("later coating")
        OTHER = "other", _("other damage")

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="disturbances")
    said = models.CharField(max_length=200)
    shape = ShapeField()
    at = models.DateTimeField()
    kind = models.CharField(max_length=16, choices=Kind)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False


class Spot(Row, Strikeable):
    """One thickness spot. Readings are kept in the unit they were given in; the mean is in um, less the correction.

    area: the area measurement it belongs to; shift: when the film was put on there, a day or a word. correction: what the
    surface profile adds to each reading, um. unit_confirmed: somebody said that the unit is right, though it was asked.
    """

    record_path = "coating__zone__asset"
    facts = (
        "coating",
        "sheet",
        "gauge",
        "stage",
        "said",
        "readings",
        "unit",
        "mean",
        "correction",
        "correction_said",
        "area",
        "shift",
        "purpose",
        "at",
    )
    placed = ("x", "y")

    class Purpose(models.TextChoices):
        MEASUREMENT = "measurement", _("area measurement")
        BOUNDING = "bounding", _("bounding a failed area")

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="spots")
    sheet = models.ForeignKey(FieldSheet, models.PROTECT, related_name="spots")
    gauge = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="spots")
    stage = models.CharField(max_length=60)
    said = models.CharField(max_length=120)
    x = models.FloatField()
    y = models.FloatField()
    readings = models.JSONField()
    unit = models.CharField(max_length=4)
    mean = models.FloatField(help_text="µm")
    correction = models.FloatField(default=0.0, help_text="µm")
    correction_said = models.CharField(max_length=40, blank=True)
    area = models.CharField(max_length=60, blank=True)
    shift = models.CharField(max_length=60, blank=True)
    purpose = models.CharField(max_length=12, choices=Purpose, default=Purpose.MEASUREMENT)
    unit_confirmed = models.BooleanField(default=False)
    at = models.DateTimeField()

    class Meta(Strikeable.Meta):
        abstract = False

    def __str__(self) -> str:
        return say("thickness spot at {place}", place=self.said)

    @property
    def readings_um(self) -> tuple[float, ...]:
        """The readings in um, as the gauge showed them."""
        return tuple(_micrometres(str(said)) for said in self.readings)


def _micrometres(said: str) -> float:
    number, unit = read(said, FILM)
    return float(to_si(number, unit or FILM.si))


class Coverage(models.Model):
    """Stored derivation: the divided ground of one stretch at one stage, written only by inspections.tested."""

    coating = models.ForeignKey(Coating, models.PROTECT, related_name="coverage")
    stage = models.CharField(max_length=60)
    stretch = models.PositiveIntegerField()
    found = ShapeField(null=True)
    held = ShapeField(null=True)
    pending = ShapeField(null=True)
    lost = ShapeField(null=True)
    found_area = models.FloatField(default=0.0)
    held_area = models.FloatField(default=0.0)
    pending_area = models.FloatField(default=0.0)
    lost_area = models.FloatField(default=0.0)
    days = models.JSONField(default=dict, help_text="m² of what stands, by the asset's day on which it was first swept")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["coating", "stage", "stretch"], name="coverage_stretch_once")]
