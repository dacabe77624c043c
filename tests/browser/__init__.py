"""The browser for tests: Debian's Chromium through Playwright, and axe-core's accessibility rules on what it shows.

In a test module elsewhere: `from tests.browser import assert_accessible, browser, page, sign_in` (fixtures come by import);
in this folder conftest.py brings them.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

AXE = Path(__file__).parent.parent / "vendor" / "axe-core" / "axe.min.js"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
]
WIDTHS = {"desktop": (1280, 900), "phone": (390, 844)}
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
RUN_AXE = """async (only) => {
  const found = await axe.run(document, { runOnly: only });
  return found.violations.map((each) => `${each.id}: ${each.help}: ` +
    each.nodes.slice(0, 3).map((node) => `${node.target.join(" ")} (${node.failureSummary})`).join("; "));
}"""
TOO_WIDE = "() => document.documentElement.scrollWidth > document.documentElement.clientWidth + 1"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One Chromium a run. Playwright's event loop makes Django think it is async code, hence the variable."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        path = shutil.which("chromium")
        if path is None:
            pytest.skip("chromium is not installed: apt-get install chromium")
        with sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=path, args=FLAGS)
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


def sign_in(page: Page, base: str, email: str, password: str) -> None:
    page.goto(f"{base}/accounts/login/")
    page.get_by_label("Email").fill(email)
    page.get_by_label("Password", exact=True).fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "/accounts/login/" not in url)


def assert_accessible(page: Page) -> None:
    """No violation of WCAG 2.2 A and AA that axe-core can see, and nothing wider than the window."""
    page.evaluate(AXE.read_text())  # evaluated, not added as a script: the page's policy allows none
    _assert_no_violation(page, {"type": "tag", "values": WCAG})
    assert not page.evaluate(TOO_WIDE), f"{page.url} is wider than its window"


def assert_contrast(page: Page) -> None:
    """The colours alone, on a page that was found accessible before, for example in the other colour scheme."""
    _assert_no_violation(page, {"type": "rule", "values": ["color-contrast"]})


def _assert_no_violation(page: Page, rules: dict[str, Any]) -> None:
    violations = page.evaluate(RUN_AXE, rules)
    assert violations == [], f"{page.url}: " + "\n".join(violations)
