"""The record's promises hold for the tables of every app: no raw change gets in, and none would go unnamed."""

from __future__ import annotations

import pytest

from accounts import evidence, guards
from accounts.rows import Row
from accounts.verify import verify
from inspections.coatings import Coating
from repairs.tallies import catch_up
from tests.api.conftest import World, own, worlds
from tests.factories import recorded
from tests.proofs import unnamed_changes, unrefused
from tests.scenes import releasable_scene

__all__ = ["own", "worlds"]  # fixtures: rows of nearly every table, told through the real actions


@pytest.fixture
def rows(own: World) -> dict[str, Row]:
    """The last row of every recorded table; rows put in without an action get the entry and the tally they lack."""
    releasable_scene()
    evidence.keep(b"%PDF-1.7")
    lacking = {(problem.table, problem.row) for problem in verify() if problem.column == "id"}
    stored = [row for model in guards.recorded_models() for row in model._base_manager.order_by("pk")]
    recorded(*(row for row in stored if (row._meta.db_table, str(row.pk)) in lacking))
    catch_up(Coating.objects.all())
    return {row._meta.label: row for row in stored}


def _all_good(rows: dict[str, Row]) -> dict[str, list[str]]:
    return {label: [] for label in rows}


def test_there_is_a_row_of_every_recorded_table(rows: dict[str, Row]) -> None:
    assert set(rows) == {model._meta.label for model in guards.recorded_models()}


def test_the_record_of_all_apps_proves_whole(rows: dict[str, Row]) -> None:
    assert list(verify()) == []


def test_no_raw_statement_changes_facts_or_deletes_rows_of_any_app(rows: dict[str, Row]) -> None:
    assert {label: unrefused(row, ("id", *row.facts, *row.placed)) for label, row in rows.items()} == _all_good(rows)


def test_one_changed_byte_in_any_column_of_any_app_is_named_exactly(rows: dict[str, Row]) -> None:
    assert unnamed_changes(*rows.values()) == []
