"""Pages about people as a browser shows them: accessible at both widths and schemes, and nothing typed is lost."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from tests.accounts.conftest import Firm, founded
from tests.browser import WIDTHS, assert_accessible, sign_in

PASSWORD = "paper-ink-steel-9"
# Presses the form's button twice, stops what would be sent, and says what the button showed and how often it was sent.
# The form has a field named as one of its own properties, as the form that opens a run has.
PRESS_TWICE = """() => {
  let sent = 0;
  document.addEventListener("submit", (event) => {
    if (!event.defaultPrevented) sent += 1;
    event.preventDefault();
  });
  const button = document.querySelector("main form button");
  const field = document.createElement("input");
  field.name = "method";
  button.form.append(field);
  button.click();
  button.click();
  return [button.textContent, button.getAttribute("aria-busy"), sent];
}"""


@pytest.fixture
def founding(transactional_db: None) -> Firm:
    firm = founded()
    firm.admin.set_password(PASSWORD)
    firm.admin.save()
    return firm


def _addresses(firm: Firm) -> list[str]:
    organisation, asset = {"pk": firm.organisation.pk}, {"pk": firm.asset.pk}
    return [
        reverse("settings"),
        reverse("own_units"),
        reverse("organisation", kwargs=organisation),
        reverse("create_organisation", kwargs=organisation),
        reverse("create_asset", kwargs=organisation),
        reverse("asset_people", kwargs=asset),
        reverse("appoint", kwargs=asset),
        reverse("end_appointment", kwargs={"pk": firm.appointment.pk}),
        reverse("account_change_password"),
        reverse("mfa_index"),
        reverse("mfa_activate_totp"),
        reverse("problem_types"),
        "/nothing/here/",
    ]


@pytest.mark.parametrize(("width", "scheme"), [("desktop", "light"), ("phone", "light"), ("phone", "dark")])
def test_every_page_about_people_is_accessible(
    browser: Browser, live_server: LiveServer, founding: Firm, width: str, scheme: str
) -> None:
    across, down = WIDTHS[width]
    context = browser.new_context(viewport={"width": across, "height": down}, color_scheme=scheme)
    shown = context.new_page()
    for path in ("/", reverse("account_login"), reverse("account_reset_password"), reverse("account_signup")):
        shown.goto(f"{live_server.url}{path}")
        assert_accessible(shown)
    sign_in(shown, live_server.url, founding.admin.email, PASSWORD)
    for path in _addresses(founding):
        shown.goto(f"{live_server.url}{path}")
        assert_accessible(shown)
    context.close()


def test_high_contrast_is_accessible(page: Page, live_server: LiveServer, founding: Firm) -> None:
    sign_in(page, live_server.url, founding.admin.email, PASSWORD)
    page.goto(f"{live_server.url}{reverse('settings')}")
    page.get_by_role("button", name="High contrast").click()
    expect(page.locator("html")).to_have_attribute("data-contrast", "more")
    assert_accessible(page)


def test_refused_input_is_told_on_top_and_leads_to_its_field(
    page: Page, live_server: LiveServer, founding: Firm
) -> None:
    sign_in(page, live_server.url, founding.admin.email, PASSWORD)
    page.goto(f"{live_server.url}{reverse('create_asset', kwargs={'pk': founding.organisation.pk})}")
    page.get_by_label("Name").fill("North main")
    page.get_by_label("Station equations").fill("12 back 14")
    page.get_by_role("button", name="Create asset").click()
    expect(page.locator(".told")).to_be_focused()
    assert_accessible(page)
    page.get_by_role("link", name='"12 back 14" is no station equation').click()
    expect(page.get_by_label("Station equations")).to_have_value("12 back 14")
    expect(page.get_by_label("Name")).to_have_value("North main")


def test_what_was_typed_is_back_after_leaving_the_page(page: Page, live_server: LiveServer, founding: Firm) -> None:
    sign_in(page, live_server.url, founding.admin.email, PASSWORD)
    address = f"{live_server.url}{reverse('organisation', kwargs={'pk': founding.organisation.pk})}"
    page.goto(address)
    page.get_by_label("Name").fill("Una Holt")
    page.goto(f"{live_server.url}{reverse('settings')}")
    page.goto(address)
    expect(page.get_by_label("Name")).to_have_value("Una Holt")
    expect(page.get_by_text("What you typed here before is back")).to_be_visible()


def test_what_was_recorded_is_not_put_back(page: Page, live_server: LiveServer, founding: Firm) -> None:
    sign_in(page, live_server.url, founding.admin.email, PASSWORD)
    page.goto(f"{live_server.url}{reverse('organisation', kwargs={'pk': founding.organisation.pk})}")
    page.get_by_label("Name").fill("Una Holt")
    page.get_by_label("Email address").fill("una@sill.example")
    page.get_by_role("button", name="Invite", exact=True).click()
    expect(page.locator("#messages")).to_contain_text("Una Holt is invited")
    expect(page.get_by_label("Name")).to_have_value("")


def test_what_one_person_typed_is_not_shown_to_the_next(page: Page, live_server: LiveServer, founding: Firm) -> None:
    sign_in(page, live_server.url, founding.admin.email, PASSWORD)
    page.goto(f"{live_server.url}{reverse('settings')}")
    page.get_by_label("What is it for?").fill("van 2")
    page.locator("details.menu summary").click()
    page.get_by_role("button", name="Sign out").click()
    founding.crew.set_password(PASSWORD)
    founding.crew.save()
    sign_in(page, live_server.url, founding.crew.email, PASSWORD)
    page.goto(f"{live_server.url}{reverse('settings')}")
    expect(page.get_by_label("What is it for?")).to_have_value("")


def test_a_press_is_answered_at_once_and_sent_once(page: Page, live_server: LiveServer, founding: Firm) -> None:
    sign_in(page, live_server.url, founding.admin.email, PASSWORD)
    address = reverse("create_organisation", kwargs={"pk": founding.organisation.pk})
    page.goto(f"{live_server.url}{address}")
    page.get_by_label("Name of the organisation").fill("Osk Painting")
    words, busy, sent = page.evaluate(PRESS_TWICE)
    assert (words, busy, sent) == ("Saving…", "true", 1)


def test_the_menu_closes_by_escape(page: Page, live_server: LiveServer, founding: Firm) -> None:
    sign_in(page, live_server.url, founding.admin.email, PASSWORD)
    page.goto(f"{live_server.url}{reverse('settings')}")
    page.locator("details.menu summary").click()
    assert_accessible(page)
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Sign out")).to_be_hidden()
