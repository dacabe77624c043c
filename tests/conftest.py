"""What every test runs under: test mode, its own database, its own folder for files, guards lifted for flush."""

from __future__ import annotations

import os

# Before Django reads its settings; that is why they are named here and not in pyproject.toml, which is read earlier.
os.environ["BARESPOT_MODE"] = "test"
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

from collections.abc import Iterator
from pathlib import Path

import django
import pytest
from django.conf import settings
from django.test import TransactionTestCase

# A run of one folder or file loads that folder's conftest before pytest-django would set Django up.
django.setup()

_flush = TransactionTestCase._fixture_teardown


def _flush_without_guards(case: TransactionTestCase) -> None:
    """A flush deletes, which the guards refuse; the flush's own post_migrate puts them back."""
    from accounts import guards

    guards.remove()
    _flush(case)


@pytest.fixture(scope="session", autouse=True)
def _guards_lifted_for_flush() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", _flush_without_guards)
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    tmp_path_factory: pytest.TempPathFactory, django_db_modify_db_settings_parallel_suffix: None
) -> None:
    """SQLite: a file in the folder of this run and worker. PostgreSQL: test_<name>, with the worker's suffix."""
    from django.db import connections

    if connections["default"].vendor == "sqlite":
        # The settings of the open connection count, not only those in the settings module.
        connections["default"].settings_dict["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


@pytest.fixture(autouse=True)
def files(tmp_path: Path) -> Iterator[Path]:
    """The folder where this test's evidence files lie."""
    folder = tmp_path / "files"
    before, settings.MEDIA_ROOT = settings.MEDIA_ROOT, folder
    yield folder
    settings.MEDIA_ROOT = before
