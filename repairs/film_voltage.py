"""The test voltage that a coating's thickness readings ask for, by the documents of its specification."""

from __future__ import annotations

from collections.abc import Sequence

from accounts.units import FILM, read
from inspections.asked_voltage import asked_voltage
from inspections.voltage_formulas import Unit
from inspections.voltage_split import SpotFilm, VoltageProposal, in_unit, propose
from mapping.axes import Gridline, print_gridline, spoken
from repairs.film import FilmPicture, FilmSpot

_UNITS: dict[str, Unit] = {"µm": "um", "mm": "mm", "mil": "mil"}


def voltage_of(film: FilmPicture) -> VoltageProposal | None:
    """What the readings that count ask for; None without one, and where nothing is tested with a voltage."""
    spots = [spot for spot in film.spots if spot.counts and spot.readings]
    if not spots or film.terms.method == "visual":
        return None
    unit = unit_of(spots, film)
    return propose(
        [
            SpotFilm(
                str(spot.id),
                spoken(film.zone.surface, spot.x, spot.y)[0],
                spot.area,
                tuple(in_unit(um, unit) for um in spot.corrected_um),
            )
            for spot in spots
        ],
        lambda thickness: asked_voltage(film.terms, thickness),
    )


def unit_of(spots: Sequence[FilmSpot], film: FilmPicture) -> Unit:
    """The unit all readings were given in; the specification's where they were given in several.

    A document has a form for a unit, and metric and mil forms are not the same number.
    """
    given = {unit.name if (unit := read(said, FILM)[1]) else FILM.si.name for spot in spots for said in spot.readings}
    if len(given) == 1:
        return _UNITS[given.pop()]
    found: Unit = film.terms.thickness_unit  # type: ignore[assignment]
    return found


def along_said(film: FilmPicture, along: float) -> str:
    """A place along the zone as its first axis is spoken."""
    return print_gridline(film.zone.surface, Gridline(0, along))
