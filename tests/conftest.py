"""What every test runs under: test mode, its own database, its own folder for files, guards lifted for flush, one browser."""

from __future__ import annotations

import os

# Before Django reads its settings; that is why they are named here and not in pyproject.toml, which is read earlier.
os.environ["BARESPOT_MODE"] = "test"
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import django
import hypothesis
import pytest
from django.conf import settings
from django.test import TransactionTestCase

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

# A run of one folder or file loads that folder's conftest before pytest-django would set Django up.
django.setup()

CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
]
NEEDS_DATABASE = {"db", "transactional_db", "live_server", "client", "admin_client", "worlds"}
NEEDS_BROWSER = {"browser", "page"}


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On PostgreSQL what the database could decide runs again: no pages and papers (`once`), of browser tests the smoke."""
    sqlite = settings.DATABASES["default"]["ENGINE"].endswith("sqlite3")
    runs = _runs_on_sqlite if sqlite else _runs_on_postgresql
    config.hook.pytest_deselected(items=[item for item in items if not runs(item)])
    items[:] = [item for item in items if runs(item)]


def _runs_on_sqlite(item: pytest.Item) -> bool:
    return item.get_closest_marker("postgresql") is None


def _runs_on_postgresql(item: pytest.Item) -> bool:
    needs = set(getattr(item, "fixturenames", ()))
    if item.get_closest_marker("once") is not None:
        return False
    if needs & NEEDS_BROWSER:
        return item.get_closest_marker("smoke") is not None
    return bool(needs & NEEDS_DATABASE) or item.get_closest_marker("django_db") is not None


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    """Where CI is set nothing is skipped: what cannot run there is a failure."""
    report = yield
    if os.environ.get("CI") and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and on CI nothing may be: {call.excinfo.value}"
    return report


# A deadline would be a timed assertion: flaky on a busy machine.
hypothesis.settings.register_profile("patient", deadline=None)
hypothesis.settings.load_profile("patient")

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


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, one a run. Playwright's event loop makes Django think it is async code, hence the variable."""
    from playwright.sync_api import sync_playwright

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        path = shutil.which("chromium")
        if path is None:
            pytest.skip("chromium is not installed: apt-get install chromium")
        with sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=path, args=CHROMIUM_FLAGS, timeout=120_000)
            yield chromium
            chromium.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A fresh desktop page that fails the test on any script error."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    errors: list[str] = []
    opened.on("pageerror", lambda error: errors.append(str(error)))
    yield opened
    context.close()
    assert errors == []
