"""The voltage a zone's readings ask for, as the Thickness page shows it, with the way into a run."""

from __future__ import annotations

from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.urls import reverse

from accounts.units import show
from accounts.wording import noted, say, say_many
from inspections.coatings import FieldSheet
from inspections.vocabulary import PROVENANCES
from inspections.voltage_formulas import Given
from inspections.voltage_split import SOURCE, Part, VoltageProposal
from repairs.film import FilmPicture
from repairs.film_voltage import along_said, voltage_of

MOST_PARTS = 30
MOST_NAMED = 60
"""Spots named in an address; a part of more rests on every spot of the stage."""
PERCENTILES = {5: noted("5th percentile"), 50: noted("50th percentile"), 95: noted("95th percentile")}


class AskedRow(NamedTuple):
    """What is asked for at a percentile: the voltage and its band, by which document, or why there is none."""

    name: str
    film: str
    volts: str
    band: str
    why: str


class PartRow(NamedTuple):
    """A part of the zone with its setting, and the address that opens a run with it filled in ("" without a sheet)."""

    where: str
    volts: str
    between: str
    film: str
    readings: int
    run: str


def voltage_shown(film: FilmPicture, units: str, sheet: FieldSheet | None) -> dict[str, Any] | None:
    """Everything the page says of the voltage; None where there is nothing to say."""
    found = voltage_of(film)
    if found is None:
        return None
    said = {str(spot.id): spot.said for spot in film.spots}
    return {
        "sentence": _sentence(found),
        "asked": [
            AskedRow(
                say(PERCENTILES[each.percent]),
                _film(each.thickness, units),
                "–" if each.asked.volts is None else show(each.asked.volts, "volts", units),
                "–" if each.asked.band is None else _between(each.asked.band.low, each.asked.band.high, units),
                say(
                    "{document}: {form} ({known})",
                    document=say(each.asked.document),
                    form=each.asked.form,
                    known=say(PROVENANCES[each.asked.provenance]),
                )
                if each.asked.volts is not None and each.asked.form
                else each.asked.why,
            )
            for each in found.asked
        ],
        "along": [_row(part, _stretch(part, film), units, film, sheet) for part in found.along[:MOST_PARTS]],
        "more": max(0, len(found.along) - MOST_PARTS),
        "by_area": [
            _row(part, say("area {area}", area=each.area), units, film, sheet)
            for each in found.by_area
            for part in each.parts
        ][:MOST_PARTS],
        "straddles": _straddles(found),
        "straddling": [said[pk] for pk in found.straddling],
        "unserved": list(dict.fromkeys(f"{said[pk]}: {each.why}" for pk, each in found.unserved))[:12],
        "source": say(SOURCE),
    }


def _sentence(found: VoltageProposal) -> str:
    """How many settings the film needs, at all and along the zone."""
    settings, parts = len(found.plan.settings), len(found.along)
    if not settings:
        return say("The documents of the specification give no voltage for any of the readings. Ask the specifier.")
    if settings == 1:
        volts = found.plan.settings[0].volts
        return say("One setting serves every reading that has a voltage: {volts} V.", volts=volts)
    words = say_many(
        "No single setting serves every reading: {count} setting is needed.",
        "No single setting serves every reading: {count} settings are needed.",
        settings,
    )
    along = say_many(
        "Along the zone, {count} part in a row can be set alike.",
        "Along the zone, {count} parts in a row can each be set alike.",
        parts,
    )
    return f"{words} {along}"


def _straddles(found: VoltageProposal) -> list[str]:
    """That a border of the document runs through the film, and how many readings lie on either side of it."""
    if not found.straddles:
        return []
    lines = [
        say_many(
            "{count} reading by {document}, {form}.",
            "{count} readings by {document}, {form}.",
            each.readings,
            document=say(each.document),
            form=each.form,
        )
        for each in found.ruled
    ]
    if found.unserved:
        lines.append(
            say_many(
                "{count} reading lies where no figure is given. Nothing is interpolated: ask the specifier.",
                "{count} readings lie where no figure is given. Nothing is interpolated: ask the specifier.",
                len(found.unserved),
            )
        )
    return lines


def _stretch(part: Part, film: FilmPicture) -> str:
    if part.starts is None and part.ends is None:
        return say("whole zone")
    if part.starts is None:
        return say("from the start to {end}", end=along_said(film, part.ends or 0.0))
    if part.ends is None:
        return say("from {start} to the end", start=along_said(film, part.starts))
    return say("from {start} to {end}", start=along_said(film, part.starts), end=along_said(film, part.ends))


def _row(part: Part, where: str, units: str, film: FilmPicture, sheet: FieldSheet | None) -> PartRow:
    thin, thick = _film(part.thinnest, units), _film(part.thickest, units)
    return PartRow(
        where,
        show(part.volts, "volts", units),
        _between(part.low, part.high, units),
        thin if thin == thick else say("{thin} to {thick}", thin=thin, thick=thick),
        part.readings,
        _run(part, film, sheet),
    )


def _run(part: Part, film: FilmPicture, sheet: FieldSheet | None) -> str:
    """The run form with the voltage and the reading it rests on."""
    if sheet is None:
        return ""
    query = {
        "stage": film.stage.name,
        "thickness": str(part.at),
        "thickness_basis": part.at.basis,
        "set_volts": f"{part.volts} V",
    }
    if len(part.spots) <= MOST_NAMED:
        query["basis_spots"] = "; ".join(part.spots)
    return f"{reverse('open_run', args=[sheet.pk])}?{urlencode(query)}"


def _between(low: int, high: int, units: str) -> str:
    if low == high:
        return show(low, "volts", units)
    return say("{low} to {high}", low=show(low, "volts", units), high=show(high, "volts", units))


def _film(given: Given, units: str) -> str:
    """A thickness in the reader's unit, as given where that is theirs."""
    return show(float(given.um), "film", units, 1)
