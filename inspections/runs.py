"""Test runs: the parameters used, what proves them, and the swaths they cover."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from accounts.languages import spoken
from accounts.rows import Row, Strikeable
from accounts.wording import say
from inspections.causes import causes_in_words
from inspections.coatings import FieldSheet, Permit
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.ruled import Ruling
from inspections.run_notes import RunNote
from inspections.sensitivity import Sensitivity
from inspections.terms import METHODS, THICKNESS_BASES
from inspections.vocabulary import MEDIA, PROVENANCES
from mapping.features import Feature
from mapping.intervals import Intervals
from mapping.line_coverage import ONE
from mapping.shapes import ShapeField

PERSON = settings.AUTH_USER_MODEL
RUN_PATH = "run__sheet__coating__zone__asset"


class Standing(models.TextChoices):
    PENDING = "pending", _("pending")
    STANDS = "stands", _("stands")
    HELD = "held", _("held")
    LOST = "lost", _("lost")


class Run(Row, Strikeable):
    """One test run. Its coating comes through the sheet, so they cannot disagree. Voltages in V, thickness in um.

    basis_spots, basis_gauges: ids of the thickness spots its voltage rests on, and serial numbers of their gauges, as they
    were when it was opened; empty where it rests on no measured film.
    """

    record_path = "sheet__coating__zone__asset"
    facts = (
        "sheet", "number", "stage", "purpose", "method", "instrument", "electrode", "ruling_document", "rule", "rule_edition",
        "rule_provenance", "rule_unit", "thickness_basis",
        "thickness", "thickness_said", "basis_spots", "basis_gauges", "asked_volts", "set_volts", "band_low", "band_high", "check_interval_min",
        "check_tolerance_volts", "check_ohm", "check_tolerance_ohm", "medium", "surface_state", "sweeper", "swept_by", "recorder", "witness", "permit", "cautions_by", "cautions_at",
        "opened_at",
    )  # fmt: skip

    class Purpose(models.TextChoices):
        SURVEY = "survey", _("survey")
        RETEST = "retest", _("retest")
        AUDIT = "audit", _("audit")
        VISUAL = "visual", _("visual")

    class SurfaceState(models.TextChoices):
        DRY = "dry", _("dry and clean")
        DAMP = "damp", _("damp or salty")
        UNCURED = "uncured", _("film not cured")
        NOT_WETTED = "not wetted", _("sponge not wetted")
        PUDDLES = "puddles", _("sponge left runs or puddles")

    sheet = models.ForeignKey(FieldSheet, models.PROTECT, related_name="runs")
    number = models.PositiveIntegerField()
    stage = models.CharField(max_length=60)
    purpose = models.CharField(max_length=8, choices=Purpose)
    method = models.CharField(max_length=20, choices=spoken(METHODS))
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="runs")
    electrode = models.ForeignKey(Electrode, models.PROTECT, null=True, blank=True, related_name="runs")
    ruling_document = models.CharField(max_length=200, blank=True)
    rule = models.CharField(max_length=60, blank=True, help_text="Id of the rule that gave the voltage.")
    rule_edition = models.CharField(max_length=200, blank=True)
    rule_provenance = models.CharField(max_length=20, choices=spoken(PROVENANCES), blank=True)
    rule_unit = models.CharField(max_length=3, blank=True, help_text="Unit of the rule's form that was used.")
    thickness_basis = models.CharField(max_length=20, choices=spoken(THICKNESS_BASES), blank=True)
    thickness = models.FloatField(null=True, blank=True, help_text="µm")
    thickness_said = models.CharField(max_length=40, blank=True)
    basis_spots = models.JSONField(default=list, blank=True)
    basis_gauges = models.JSONField(default=list, blank=True)
    asked_volts = models.PositiveIntegerField(null=True, blank=True)
    set_volts = models.PositiveIntegerField(null=True, blank=True)
    band_low = models.PositiveIntegerField(null=True, blank=True)
    band_high = models.PositiveIntegerField(null=True, blank=True)
    check_interval_min = models.FloatField(null=True, blank=True)
    check_tolerance_volts = models.PositiveIntegerField(null=True, blank=True)
    check_ohm = models.PositiveIntegerField(null=True, blank=True, help_text="Ω at which a wet sponge has to alarm")
    check_tolerance_ohm = models.PositiveIntegerField(null=True, blank=True)
    medium = models.CharField(max_length=30, choices=spoken(MEDIA), blank=True)
    surface_state = models.CharField(max_length=12, choices=SurfaceState, default=SurfaceState.DRY)
    sweeper = models.CharField(max_length=120)
    swept_by = models.ForeignKey(PERSON, models.PROTECT, null=True, blank=True, related_name="+")
    recorder = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    witness = models.ForeignKey(PERSON, models.PROTECT, null=True, blank=True, related_name="+")
    permit = models.ForeignKey(Permit, models.PROTECT, null=True, blank=True, related_name="runs")
    cautions_by = models.ForeignKey(PERSON, models.PROTECT, null=True, blank=True, related_name="+")
    cautions_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    notes: tuple[RunNote, ...] = ()  # what is to be said of it, where inspections.noted_runs.with_notes has looked

    class Meta(Strikeable.Meta):
        abstract = False
        constraints = [
            *Strikeable.Meta.constraints,
            models.UniqueConstraint(fields=["sheet", "number"], name="run_number_once"),
        ]

    def __str__(self) -> str:
        return say("Run {label}", label=self.label)

    @property
    def label(self) -> str:
        return f"{self.sheet.letter}-{self.number}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None and self.struck_at is None

    @property
    def is_checked(self) -> bool:
        """Whether its instrument is checked: its output in volts, or a wet sponge against a known resistor."""
        return self.set_volts is not None or self.check_ohm is not None

    @property
    def sensitivity(self) -> Sensitivity | None:
        """Where a wet sponge has to alarm, as it was fixed when the run was opened."""
        if self.check_ohm is None or self.check_tolerance_ohm is None:
            return None
        return Sensitivity(self.check_ohm, self.check_tolerance_ohm)

    @property
    def lacks_voltage(self) -> bool:
        """Whether it was swept by the specified method where the specification gives no voltage for the film."""
        return self.set_volts is not None and self.band_low is None and self.method == self.sheet.coating.terms.method

    @property
    def certificate(self) -> Certificate | None:
        """The instrument's certificate in force on the day of opening, by the asset's calendar."""
        if self.instrument is None:
            return None
        return self.instrument.certificate_at(self.opened_at.astimezone(self.sheet.coating.zone.asset.zone_info))


class ReturnProof(Row, Strikeable):
    """The return was proven for one electrical island, best at its far end."""

    record_path = RUN_PATH
    facts = ("run", "island", "said", "at", "sheet_seq", "by")

    run = models.ForeignKey(Run, models.PROTECT, related_name="return_proofs")
    island = models.CharField(max_length=60, blank=True)
    said = models.CharField(max_length=200)
    at = models.DateTimeField()
    sheet_seq = models.PositiveIntegerField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False


class TouchTest(Row, Strikeable):
    """On concrete: bare concrete touched some metres from the return. No alarm: too dry for this test."""

    record_path = RUN_PATH
    facts = ("run", "island", "said", "distance", "volts", "alarm", "at", "sheet_seq", "by")

    run = models.ForeignKey(Run, models.PROTECT, related_name="touch_tests")
    island = models.CharField(max_length=60, blank=True)
    said = models.CharField(max_length=200)
    distance = models.FloatField(help_text="m from the return")
    volts = models.PositiveIntegerField()
    alarm = models.BooleanField()
    at = models.DateTimeField()
    sheet_seq = models.PositiveIntegerField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False


class Verification(Row, Strikeable):
    """A typed reading with its tolerance: the output in whole volts; of a wet sponge the known resistor, in whole ohms.

    hand_timed : its time was typed in, not that of the press: it was written down afterwards.
    """

    record_path = RUN_PATH
    facts = (
        "run",
        "at",
        "sheet_seq",
        "phase",
        "expected",
        "measured",
        "tolerance",
        "outcome",
        "alarm_seen",
        "by",
        "note",
        "voltmeter",
        "unit",
        "hand_timed",
    )

    class Phase(models.TextChoices):
        START = "start", _("opening")
        DURING = "during", _("between")
        EVENT = "event", _("after an event")
        END = "end", _("closing")

    class Unit(models.TextChoices):
        VOLT = "V", _("output in volts")
        OHM = "Ω", _("sensitivity in ohms")

    class Outcome(models.TextChoices):
        LOW = "low", _("low")
        GOOD = "good", _("good")
        HIGH = "high", _("high")

    run = models.ForeignKey(Run, models.PROTECT, related_name="verifications")
    at = models.DateTimeField()
    sheet_seq = models.PositiveIntegerField()
    phase = models.CharField(max_length=8, choices=Phase)
    expected = models.PositiveIntegerField()
    measured = models.PositiveIntegerField()
    tolerance = models.PositiveIntegerField()
    unit = models.CharField(max_length=1, choices=Unit, default=Unit.VOLT)
    outcome = models.CharField(max_length=4, choices=Outcome)
    alarm_seen = models.BooleanField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    voltmeter = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="verifications")
    hand_timed = models.BooleanField(default=False)

    class Meta(Strikeable.Meta):
        abstract = False

    @property
    def kind(self) -> str:
        """What of the instrument was checked, as a key of accounts.units.KINDS."""
        return "ohms" if self.unit == self.Unit.OHM else "volts"

    @property
    def voltmeter_certificate(self) -> Certificate | None:
        """The crest voltmeter's certificate in force on the day, by the asset's calendar."""
        if self.voltmeter is None:
            return None
        return self.voltmeter.certificate_at(self.at.astimezone(self.run.sheet.coating.zone.asset.zone_info))


class CheckEvent(Row, Strikeable):
    """Something after which the output has to be checked before work goes on."""

    record_path = RUN_PATH
    facts = ("run", "kind", "at", "sheet_seq", "by")

    class Kind(models.TextChoices):
        BATTERY = "battery", _("battery changed")
        ELECTRODE = "electrode", _("electrode changed")
        LEAD = "lead", _("lead changed")
        SETTING = "setting", _("setting changed")
        OPERATOR = "operator", _("operator changed")
        DROP = "drop", _("dropped or knocked")

    run = models.ForeignKey(Run, models.PROTECT, related_name="events")
    kind = models.CharField(max_length=10, choices=Kind)
    at = models.DateTimeField()
    sheet_seq = models.PositiveIntegerField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")

    class Meta(Strikeable.Meta):
        abstract = False


class Swath(Row, Strikeable):
    """What was marked as swept: ground, or a weld, edge, nozzle or bracket (`feature`, then without area).

    `along` are the metres of a weld or edge, in pairs. `standing` and `cause` are derived by inspections.tested from the
    run's facts.
    """

    record_path = RUN_PATH
    facts = (
        "run",
        "lane",
        "said",
        "feature",
        "island",
        "started_at",
        "ended_at",
        "start_seq",
        "sheet_seq",
        "hand_timed",
    )
    placed = ("shape", "area", "along", "stretch_low", "stretch_high")
    derived = ("standing", "cause")

    run = models.ForeignKey(Run, models.PROTECT, related_name="swaths")
    lane = models.CharField(max_length=60, blank=True)
    said = models.CharField(max_length=200)
    shape = ShapeField()
    area = models.FloatField(help_text="m²")
    feature = models.ForeignKey(Feature, models.PROTECT, null=True, blank=True, related_name="swaths")
    along = models.JSONField(default=list, blank=True)
    stretch_low = models.PositiveIntegerField(default=0)
    stretch_high = models.PositiveIntegerField(default=0)
    island = models.CharField(max_length=60, blank=True)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    start_seq = models.PositiveIntegerField()
    sheet_seq = models.PositiveIntegerField()
    hand_timed = models.BooleanField(default=False)
    standing = models.CharField(max_length=8, choices=Standing, default=Standing.PENDING)
    cause = models.CharField(max_length=400, blank=True)

    @property
    def cause_words(self) -> str:
        return causes_in_words(self.cause)

    class Meta(Strikeable.Meta):
        abstract = False
        # Recomputing one stretch asks for the swaths of a coating's runs that reach it.
        indexes = [models.Index(fields=["run", "stretch_high", "stretch_low"])]

    @property
    def parts(self) -> Intervals:
        """What of its feature was swept, in metres along it; a counted feature is measured as 1."""
        return tuple((low, high) for low, high in self.along) or ONE


class Reinstatement(Ruling):
    """A decision on lost or held ground: by whom, on what evidence. It rules on the causes known then, by their keys."""

    record_path = RUN_PATH
    facts = (
        "run",
        "swaths",
        "causes",
        "decision",
        "grounds",
        "why",
        "evidence",
        "by",
        "at",
    )

    class Decision(models.TextChoices):
        STANDS = "stands", _("stands again")
        LOST = "lost", _("is lost")

    class Grounds(models.TextChoices):
        LATE_CHECK = "late check", _("a late check made before any adjustment")
        CERTIFICATE = "certificate", _("the certificate's as-found value in tolerance")
        OWNER = "owner", _("the owner's decision with a reason")

    run = models.ForeignKey(Run, models.PROTECT, related_name="reinstatements")
    swaths = models.JSONField()
    causes = models.JSONField()
    decision = models.CharField(max_length=6, choices=Decision)
    grounds = models.CharField(max_length=12, choices=Grounds)

    class Meta(Ruling.Meta):
        abstract = False


class BasisAnswer(Row, Strikeable):
    """What was decided of a run whose readings are in question since: by whom and why. It answers what was asked then."""

    record_path = RUN_PATH
    facts = ("run", "questions", "why", "by", "at")

    run = models.ForeignKey(Run, models.PROTECT, related_name="basis_answers")
    questions = models.JSONField()
    why = models.TextField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta(Strikeable.Meta):
        abstract = False
