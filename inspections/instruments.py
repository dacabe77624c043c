"""Instruments, their certificates, and electrodes. They belong to an organisation."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.evidence import Evidence
from accounts.people import Organisation
from accounts.rows import Row, Strikeable
from accounts.wording import say

DUE_SOON = timedelta(days=30)


class Instrument(Row):
    record_path = "organisation"
    facts = ("organisation", "kind", "serial")

    class Kind(models.TextChoices):
        DETECTOR = "detector", _("detector")
        CREST_VOLTMETER = "crest voltmeter", _("crest voltmeter")
        GAUGE = "gauge", _("thickness gauge")
        HYGROMETER = "hygrometer", _("hygrometer")
        THERMOMETER = "thermometer", _("surface thermometer")

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="instruments")
    kind = models.CharField(max_length=16, choices=Kind)
    name = models.CharField(max_length=80)
    serial = models.CharField(max_length=60)
    volts_min = models.PositiveIntegerField(null=True, blank=True)
    volts_max = models.PositiveIntegerField(null=True, blank=True)
    reads = models.CharField(max_length=120, blank=True, help_text="What it reads and over which range, in words.")
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_why = models.TextField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["organisation", "serial"], name="instrument_serial_once")]

    def __str__(self) -> str:
        return say("{name}, serial {serial}", name=self.name, serial=self.serial)

    def gives(self, volts: float) -> bool:
        """Whether a voltage lies in the registered range; what is not registered does not bound it."""
        return _within(volts, self.volts_min, self.volts_max)

    def certificate_at(self, at: datetime) -> Certificate | None:
        """The certificate in force on that day, by the calendar of the time zone `at` is told in."""
        held = [
            paper
            for paper in self.certificates.all()
            if paper.struck_at is None and paper.issued <= at.date() <= paper.due
        ]
        # Calibrated again before it was due: the later word on the instrument counts.
        return max(held, key=lambda paper: (paper.issued, paper.due, paper.pk), default=None)


class Certificate(Row, Strikeable):
    record_path = "instrument__organisation"
    facts = (
        "instrument",
        "number",
        "issued",
        "due",
        "range_min",
        "range_max",
        "as_found",
        "as_left",
        "evidence",
    )

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=60)
    issued = models.DateField()
    due = models.DateField()
    range_min = models.FloatField(null=True, blank=True)
    range_max = models.FloatField(null=True, blank=True)
    as_found = models.CharField(max_length=120, blank=True)
    as_left = models.CharField(max_length=120, blank=True)
    evidence = models.ForeignKey(Evidence, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False

    def __str__(self) -> str:
        return say("certificate {number}", number=self.number)

    def covers(self, value: float) -> bool:
        """Whether it was calibrated at a value, in the instrument's own unit; a bound that is not stated bounds nothing."""
        return _within(value, self.range_min, self.range_max)

    def due_within(self, today: date) -> int | None:
        """Days left, from today on, where it falls due soon; None otherwise."""
        left = self.due - today
        return left.days if timedelta(0) <= left <= DUE_SOON else None


def _within(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)


class Electrode(Row):
    """An electrode with its effective width in m."""

    record_path = "organisation"
    facts = ("organisation", "kind", "width", "name")

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="electrodes")
    kind = models.CharField(max_length=40)
    width = models.FloatField(help_text="m")
    name = models.CharField(max_length=80)
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_why = models.TextField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["organisation", "name"], name="electrode_name_once")]

    def __str__(self) -> str:
        return self.name
