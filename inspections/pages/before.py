"""What a crew is told before it sweeps at high voltage where another run did: by lane, by place, by stage."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.text import capfirst

from accounts.units import show
from accounts.wording import say
from inspections.coatings import Coating
from inspections.passes import earlier_passes, high_voltage_swaths, runs_words, warning_words
from inspections.runs import Run
from inspections.tested import stretch_range
from inspections.vocabulary import HIGH_VOLTAGE
from mapping.bays import Strip
from mapping.surfaces import Surface


def before_by_place(run: Run, surface: Surface, strips: Iterable[Strip]) -> dict[str, str]:
    """For each strip that another run swept at high voltage: by which, and when. Empty for a run of another method."""
    if run.method not in HIGH_VOLTAGE:
        return {}
    shapes = {strip.said: surface.read_region(strip.said) for strip in strips}
    if not shapes:
        return {}
    ranges = [stretch_range(surface, shape) for shape in shapes.values()]
    reached = (min(low for low, _ in ranges), max(high for _, high in ranges))
    over = earlier_passes(run.sheet.coating, run.stage, but=run, stretches=reached)
    return {
        said: say("at high voltage before: {runs}", runs=runs_words(found))
        for said, shape in shapes.items()
        if (found := over.runs(shape))
    }


def before_by_stage(coating: Coating, units: str) -> list[str]:
    """A sentence for each coat stage that was swept at high voltage: what another run there would be."""
    told = []
    for stage in coating.terms.stages:
        if not high_voltage_swaths(coating, stage.name).exists():
            continue
        found = earlier_passes(coating, stage.name).everywhere
        told.append(
            say(
                "{stage}: swept at high voltage before, {runs}, {area} in the largest of them. Another run over the same "
                "place is another pass at full voltage and strains the film (common practice, no source).",
                stage=capfirst(stage.name),
                runs=runs_words(found),
                area=show(max(each.area_m2 for each in found), "area", units),
            )
        )
    return told


def before_in_place(run: Run, place: str, units: str) -> str:
    """The warning for a place that is asked for by its words; nothing where they cannot be read yet."""
    surface = run.sheet.coating.zone.surface
    if run.method not in HIGH_VOLTAGE or not place:
        return ""
    try:
        shape = surface.read_region(place)
    except ValueError:
        return ""
    over = earlier_passes(run.sheet.coating, run.stage, but=run, stretches=stretch_range(surface, shape))
    return warning_words(over.runs(shape), units)
