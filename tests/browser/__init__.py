"""What tests ask of a page in a browser: axe-core's accessibility rules, no overflow, and signing in by typing.

The browser itself, one a run, is a fixture of tests/conftest.py.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playwright.sync_api import Page

AXE = Path(__file__).parent.parent / "vendor" / "axe-core" / "axe.min.js"
WIDTHS = {"desktop": (1280, 900), "phone": (390, 844)}
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
RUN_AXE = """async (only) => {
  const found = await axe.run(document, { runOnly: only });
  return found.violations.map((each) => `${each.id}: ${each.help}: ` +
    each.nodes.slice(0, 3).map((node) => `${node.target.join(" ")} (${node.failureSummary})`).join("; "));
}"""
TOO_WIDE = "() => document.documentElement.scrollWidth > document.documentElement.clientWidth + 1"


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
