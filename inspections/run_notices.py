"""What a crew is told of a run when it is opened or imported, and of a check: sentences that refuse nothing."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.text import capfirst

from accounts.wording import say
from inspections.asked_voltage import asked_voltage, stage_thickness
from inspections.given_thickness import thickness_said
from inspections.passes import high_voltage_swaths
from inspections.plausible_film import unit_question
from inspections.runs import Run, Verification
from inspections.sensitivity import REACH_SOURCE, REACHES_UM, too_thick
from inspections.terms import METHODS
from inspections.vocabulary import HIGH_VOLTAGE, MEDIA
from inspections.voltage_formulas import Given


def outside_band(run: Run) -> str:
    """A sentence where the voltage set lies outside the allowed band, else nothing."""
    if run.set_volts is None or run.band_low is None or run.band_high is None:
        return ""
    if run.band_low <= run.set_volts <= run.band_high:
        return ""
    return say(
        "Set to {set_volts} V, outside the allowed {band_low} to {band_high} V.",
        set_volts=run.set_volts,
        band_low=run.band_low,
        band_high=run.band_high,
    )


def other_method(run: Run) -> str:
    """A sentence where the ground of the run does not count because of its method, else nothing."""
    asked = run.sheet.coating.terms.method
    if run.method == asked or run.purpose not in (Run.Purpose.SURVEY, Run.Purpose.RETEST):
        return ""
    return say(
        "{method} is specified: ground of this run does not count as tested.", method=capfirst(say(METHODS[asked]))
    )


def beyond_range(run: Run) -> str:
    """A sentence where the voltage set lies beyond what the instrument is registered for, else nothing."""
    if run.set_volts is None or run.instrument is None or run.instrument.gives(run.set_volts):
        return ""
    return say(
        "{volts} V is beyond {instrument}: {allowed}. Read the dial again; if another instrument was used, strike out "
        "this run and open it with that one; if its range is registered wrongly, the lead inspector corrects it.",
        volts=run.set_volts,
        instrument=run.instrument,
        allowed=_volts(run.instrument.volts_min, run.instrument.volts_max),
    )


def beyond_certificate(run: Run) -> str:
    """A sentence where the detector was calibrated over a range without the voltage set, else nothing."""
    if run.set_volts is None or run.instrument is None:
        return ""
    paper = run.instrument.certificate_at(run.opened_at.astimezone(run.sheet.coating.zone.asset.zone_info))
    if paper is None or paper.covers(run.set_volts):
        return ""
    return say(
        "{volts} V is beyond what certificate {number} of {instrument} covers: {allowed}. Set it within that range, use "
        "another detector, or have it calibrated there and add the certificate.",
        volts=run.set_volts,
        number=paper.number,
        instrument=run.instrument,
        allowed=_volts(paper.range_min, paper.range_max),
    )


def voltmeter_beyond(check: Verification) -> str:
    """A sentence where a voltmeter is said to have read what it cannot, or what it was not calibrated for, else nothing."""
    voltmeter = check.voltmeter
    if voltmeter is None:
        return ""
    if not voltmeter.gives(check.measured):
        return say(
            "{volts} V is beyond {voltmeter}: {allowed}. Read it again, and its unit; if another voltmeter was used, "
            "strike out this check and record it with that one.",
            volts=check.measured,
            voltmeter=voltmeter,
            allowed=_volts(voltmeter.volts_min, voltmeter.volts_max),
        )
    paper = check.voltmeter_certificate
    if paper is None or paper.covers(check.measured):
        return ""
    return say(
        "{volts} V is beyond what certificate {number} of {voltmeter} covers: {allowed}. What it read there proves little: "
        "check again with one that is calibrated for it.",
        volts=check.measured,
        number=paper.number,
        voltmeter=voltmeter,
        allowed=_volts(paper.range_min, paper.range_max),
    )


def _volts(low: float | None, high: float | None) -> str:
    if high is None:
        return say("{low:g} V or more", low=low or 0)
    return say("{low:g} to {high:g} V", low=low or 0, high=high)


def other_unit(run: Run) -> str:
    """The question whether the film was given in another unit, and what to do if it was; else nothing."""
    given = film_of(run)
    stage = run.sheet.coating.terms.stage(run.stage)
    asked = unit_question([float(given.um)], given.unit, stage.dft_nominal or stage.dft_minimum)
    if asked is None:
        return ""
    return say(
        "{question} The voltage follows from it: if it was, strike out this run and open it with that unit.",
        question=asked,
    )


def no_figure(run: Run) -> str:
    """A sentence where the specification gives no voltage for the film, with the reason, else nothing."""
    if not run.lacks_voltage:
        return ""
    asked = asked_voltage(run.sheet.coating.terms, film_of(run))
    return say("The specification gives no voltage here: {why} The ground is held for the owner.", why=asked.why)


def film_too_thick(run: Run) -> str:
    """A sentence where the film is thicker than a wet sponge reaches through, else nothing."""
    if run.method != "wet_sponge" or not too_thick(run.thickness, run.medium):
        return ""
    return say(
        "The film, {film:.0f} µm, is thicker than a wet sponge reaches through with {medium}: {limit:.0f} µm ({source}). The "
        "ground is held for the owner.",
        film=run.thickness,
        medium=say(MEDIA[run.medium]),
        limit=REACHES_UM[run.medium],
        source=say(REACH_SOURCE),
    )


def film_of(run: Run) -> Given:
    """The film thickness of the run as it was said; the stage's own where nothing was said."""
    terms = run.sheet.coating.terms
    try:
        return thickness_said(run.thickness_said, basis=run.thickness_basis)
    except ValueError:
        return stage_thickness(terms, terms.stage(run.stage))


def another_pass(run: Run) -> str:
    """A sentence where other runs swept this stage at high voltage before, else nothing."""
    if run.method not in HIGH_VOLTAGE:
        return ""
    rows = high_voltage_swaths(run.sheet.coating, run.stage).exclude(run=run.pk)
    labels = sorted({each.label for each in Run.objects.filter(swaths__in=rows).select_related("sheet").distinct()})
    if not labels:
        return ""
    return say(
        "{stage} was swept at high voltage before, in run {labels}: sweep the same place again only where it has to be.",
        stage=capfirst(run.stage),
        labels=", ".join(labels),
    )


NOTICES: tuple[Callable[[Run], str], ...] = (
    outside_band,
    beyond_range,
    beyond_certificate,
    other_unit,
    no_figure,
    other_method,
    another_pass,
    film_too_thick,
)
"""What is said of a run when it is opened or imported; nothing is refused for it."""
