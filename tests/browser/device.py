"""A person at a phone or a desk, who works through the pages alone: presses, follows links, types, reads."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from playwright.sync_api import Browser, ConsoleMessage, Locator, Page, expect

from tests.browser import WIDTHS

PASSWORD = "paper-ink-steel-9"
PATIENCE = 60_000  # ms; two cores share the browser, the server and the other worker
ASSET_ZONE = ZoneInfo("America/Denver")
expect.set_options(timeout=PATIENCE)
# A page answering 403, 404 or 422 is told on the console too; that is its status and no fault.
REFUSAL = re.compile(r"Failed to load resource: the server responded with a status of 4(03|04|09|22)")


def ago(*, hours: float = 0.0, minutes: float = 0.0) -> str:
    """That long before now, as a date-and-time box takes it, on the asset's clock."""
    at = datetime.now(UTC) - timedelta(hours=hours, minutes=minutes)
    return at.astimezone(ASSET_ZONE).strftime("%Y-%m-%dT%H:%M")


@dataclass
class Device:
    """A browser window of its own; `complaints` gathers what its console called an error."""

    page: Page
    base: str
    touch: bool
    complaints: list[str] = field(default_factory=list)

    @classmethod
    def opened(cls, browser: Browser, base: str, kind: str, **context: Any) -> Device:
        across, down = WIDTHS[kind]
        touch = kind == "phone"
        window = browser.new_context(
            viewport={"width": across, "height": down},
            has_touch=touch,
            is_mobile=touch,
            reduced_motion="reduce",  # colours are read at once, not on their way
            **context,
        )
        window.set_default_timeout(PATIENCE)
        device = cls(window.new_page(), base, touch)
        device.page.on("pageerror", lambda error: device.complaints.append(f"{device.page.url}: {error}"))
        device.page.on("console", device._heard)
        return device

    def _heard(self, message: ConsoleMessage) -> None:
        ours = "/static/" in message.location.get("url", "")
        if message.type == "error" and (ours or not REFUSAL.match(message.text)):
            self.complaints.append(f"{self.page.url}: {message.text}")

    def open(self, path: str) -> None:
        self.page.goto(f"{self.base}{path}")

    @property
    def path(self) -> str:
        return self.page.url.removeprefix(self.base)

    def sign_in(self, email: str) -> None:
        self.open("/accounts/login/")
        self.page.get_by_label("Email").fill(email)
        self.page.get_by_label("Password", exact=True).fill(PASSWORD)
        self.press("Sign in")
        self.page.wait_for_url(lambda url: "/accounts/login/" not in url)

    def put_down(self, what: Locator) -> None:
        """One finger, or the pointer."""
        if self.touch:
            what.tap()
        else:
            what.click()

    def press(self, name: str, *, exact: bool = True) -> None:
        """Press a button and wait for the page that follows."""
        with self.page.expect_navigation():
            self.put_down(self.page.locator("main, header").get_by_role("button", name=name, exact=exact).first)

    def follow(self, name: str, *, exact: bool = True, within: str = "main, header") -> None:
        """Follow a link to the page it leads to."""
        with self.page.expect_navigation():
            self.put_down(self.page.locator(within).get_by_role("link", name=name, exact=exact).first)

    def touch_at(self, where: str, across: float, down: float) -> None:
        """Put a finger on a share of an element."""
        what = self.page.locator(where)
        what.scroll_into_view_if_needed()
        box = what.bounding_box()
        assert box is not None
        at = {"x": box["width"] * across, "y": box["height"] * down}
        if self.touch:
            what.tap(position=at)  # type: ignore[arg-type]
        else:
            what.click(position=at)  # type: ignore[arg-type]

    def type(self, label: str, text: str) -> None:
        self.page.locator("main").get_by_label(re.compile(rf"^{re.escape(label)}")).first.fill(text)

    def choose(self, question: str, answer: str) -> None:
        """Choose a tile, or an entry of a list, by the beginning of its words."""
        group = self.page.get_by_role("group", name=re.compile(rf"^{re.escape(question)}"))
        if group.count():
            self.put_down(group.locator("label").filter(has_text=re.compile(rf"^\s*{re.escape(answer)}")).first)
            return
        box = self.page.get_by_label(re.compile(rf"^{re.escape(question)}"))
        entry = box.locator("option").filter(has_text=re.compile(rf"^{re.escape(answer)}")).first
        box.select_option(value=entry.get_attribute("value"))

    def tick(self, label: str) -> None:
        box = self.page.get_by_label(label)
        self.put_down(self.page.locator("label.tile").filter(has=box))
        expect(box).to_be_checked()

    def unfold(self, name: str) -> None:
        self.put_down(self.page.locator("summary").filter(has_text=name).first)

    def reads(self, *words: str) -> None:
        """All of these words stand on the page."""
        for each in words:
            expect(self.page.locator("body")).to_contain_text(each)

    def lacks(self, *words: str) -> None:
        for each in words:
            expect(self.page.locator("main")).not_to_contain_text(each)

    def told(self, *words: str) -> None:
        """The answer to a press says these words."""
        for each in words:
            expect(self.page.locator("#messages")).to_contain_text(each)

    def figure(self, name: str) -> str:
        """The value on the tile of this name."""
        tile = self.page.locator(".figures a").filter(has=self.page.get_by_text(name, exact=True))
        return tile.locator("b").inner_text()
