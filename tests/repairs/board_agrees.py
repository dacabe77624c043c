"""Compares each zone on the board with the picture that its own page shows."""

from __future__ import annotations

from datetime import datetime

import pytest

from accounts.people import Person
from inspections.coatings import Coating
from mapping.density import Density
from repairs.board import board
from repairs.board_rows import Asked, ZoneRow
from repairs.picture import ZonePicture, zone_picture
from repairs.spoken import SI
from repairs.state import PatchState
from repairs.tallies import judged

PARTS = ("tested", "held", "pending", "lost", "gap")


def rows_of(person: Person, at: datetime, **asked: object) -> list[ZoneRow]:
    return list(board(person, Asked(per_page=1000, **asked), at).zones)  # type: ignore[arg-type]


def check(person: Person, at: datetime) -> int:
    """Assert that the board tells of every zone what its page tells; how many were compared."""
    rows = rows_of(person, at)
    current = Coating.objects.filter(ended_at=None, zone__in=[row.zone.pk for row in rows])
    pictures = {coating.zone_id: zone_picture(coating, at=at) for coating in current}
    for row in rows:
        if row.tally is None:
            assert row.zone.pk not in pictures
        else:
            _same(row, pictures[row.zone.pk])
    return len(pictures)


def _same(row: ZoneRow, picture: ZonePicture) -> None:
    tally = row.tally
    assert tally is not None
    assert row.sentence == picture.sentence
    assert row.turn == picture.turn
    gates = [(gate.code, gate.state, gate.whose, gate.since) for gate in picture.gates]
    assert [(gate.code, gate.state, gate.whose, gate.since) for gate in judged(tally, picture.at, SI)] == gates
    assert row.state == _state(picture)
    assert row.coverage_words == picture.ground.words
    excluded = sum(each.area_m2 for each in picture.excluded)
    assert (tally.true_area, tally.excluded, tally.testable) == pytest.approx(
        (picture.true_m2, excluded, picture.testable_m2)
    )
    assert [getattr(tally, part) for part in PARTS] == pytest.approx(
        [getattr(picture.found, f"{part}_m2") for part in PARTS]
    )
    assert [getattr(tally, f"left_{part}") for part in PARTS] == pytest.approx(
        [getattr(picture.ground, f"{part}_m2") for part in PARTS]
    )
    assert (row.found is None) == (picture.density_found is None)
    if row.found and picture.density_found:
        assert _figures(row.found) == pytest.approx(_figures(picture.density_found))
    assert (row.left.count if row.left else 0) == picture.open_flaws
    assert (row.left.per_100_m2 if row.left else None) == pytest.approx(picture.open_per_100_m2)
    said = picture.contract and (picture.contract.verdict, picture.contract.count, picture.contract.allowed)
    assert (row.contract and (row.contract.verdict, row.contract.count, row.contract.allowed)) == said
    closed = (PatchState.ACCEPTED, PatchState.CONCEDED)
    assert tally.open_repairs == sum(patch.state not in closed for patch in picture.patches)
    assert sum(day[1] for day in tally.days) == pytest.approx(picture.found.tested_m2, abs=1e-6)
    assert sum(day[2] - day[3] for day in tally.days) == picture.open_flaws


def _state(picture: ZonePicture) -> str:
    if picture.release:
        return "undermined" if picture.release.undermined else "released"
    if picture.may_release:
        return "ready"
    if picture.turn and picture.turn.why.startswith("Not swept yet"):
        return "not swept"
    return picture.turn.whose if picture.turn else "curing"


def _figures(found: Density) -> tuple[float, ...]:
    return (found.count, found.area_m2, found.per_m2, *found.interval_per_m2)
