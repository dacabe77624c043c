"""Words that want to be markup, and the policy every answer carries."""

from __future__ import annotations

from html import escape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.people import Role
from tests.api.conftest import NOWHERE, World, foreign, own, worlds
from tests.test_pages_access import row_of, table

pytestmark = pytest.mark.once

__all__ = ["foreign", "own", "worlds"]
HOSTILE = '"><script>alert(1)</script>'
STRICT = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "connect-src": "'self'",
    "base-uri": "'none'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
}


@pytest.fixture
def client_of_everything(own: World) -> Client:
    client = Client()
    client.force_login(own.everything)
    return client


def policy(answer: Any) -> dict[str, str]:
    """The directives of the policy, without the nonce that is new in every answer."""
    directives = (part.strip().partition(" ") for part in answer["Content-Security-Policy"].split(";") if part.strip())
    return {
        name: " ".join(source for source in value.split() if "nonce-" not in source) for name, _, value in directives
    }


def addresses(world: World) -> list[str]:
    return [line.address(row_of(line, world, "nobody")) for line in table() if line.method == "GET"]


def test_every_answer_carries_the_strict_policy(own: World, client_of_everything: Client) -> None:
    asked = [*addresses(own), "/nowhere/", reverse("zone", args=[NOWHERE]), reverse("api_index")]
    for address in asked:
        answer = client_of_everything.get(address)
        given = policy(answer)
        assert {name: given.get(name) for name in STRICT} == STRICT, address
        assert answer["X-Content-Type-Options"] == "nosniff", address
        assert answer["X-Frame-Options"] == "DENY", address


def test_a_refusal_carries_the_strict_policy_too(own: World) -> None:
    client = Client()
    client.force_login(own.people[Role.OBSERVER])
    answer = client.post(reverse("do", args=["release_zone", own.scene.coating.pk]))
    assert answer.status_code == 403
    assert policy(answer)["default-src"] == "'none'"


def test_no_page_has_a_script_or_a_style_within_it(own: World, client_of_everything: Client) -> None:
    for address in addresses(own):
        answer = client_of_everything.get(address)
        if answer.get("Content-Type", "").startswith("text/html"):
            body = answer.content.decode()
            assert " style=" not in body, address
            assert " onclick=" not in body, address
            assert "<style" not in body, address


def test_hostile_words_are_escaped_on_every_page_that_shows_them(own: World, client_of_everything: Client) -> None:
    scene = own.scene
    run = scene.runs[0]
    flaw = scene.flaw(run, "1+003.00 @ 6:00", note=HOSTILE)
    scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name=HOSTILE, at="1+003.50")
    surface = {"diameter": 1.0, "start": 1020.0, "end": 1040.0}
    zone = scene.do(
        "add_zone", scene.owner, scene.asset, name=HOSTILE, surface_kind="pipe", surface=surface, face="outside"
    )
    scene.do("draw_exclusion", scene.crew, scene.zone, place="1+010.00 to 1+011.00", reason=HOSTILE)
    scene.check(run, note=HOSTILE)
    (patch,) = scene.issue(flaw)
    scene.step(patch, "prepared", note=HOSTILE, batch=HOSTILE)
    shown = [reverse("flaw", args=[flaw.pk]), reverse("patch", args=[patch.pk]), reverse("zone", args=[zone.pk])]
    showing = []
    for address in [*addresses(own), *shown]:
        answer = client_of_everything.get(address)
        if answer.get("Content-Type", "").startswith("text/html"):
            body = answer.content.decode()
            assert HOSTILE not in body, address
            assert "<script>alert" not in body, address
            if escape(HOSTILE) in body:
                showing.append(address)
    assert set(shown) <= set(showing)
    assert len(showing) >= 6


def test_hostile_words_in_a_refused_form_are_escaped(own: World, client_of_everything: Client) -> None:
    address = reverse("report_flaw", args=[own.scene.runs[0].pk])
    answer = client_of_everything.post(address, {"place": HOSTILE, "note": HOSTILE})
    assert answer.status_code == 422
    assert HOSTILE not in answer.content.decode()
    assert escape(HOSTILE) in answer.content.decode()


def test_a_hostile_place_to_go_to_leads_to_the_front_page(own: World, client_of_everything: Client) -> None:
    for to in ("https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"):
        address = f"{reverse('do', args=['record_permit', own.scene.coating.pk])}?to={to}"
        given = {
            "number": "1",
            "kind": "hot work",
            "gas_reading": "0 % LEL",
            "tester": "A",
            "expires_at": "2031-01-01T00:00",
        }
        assert client_of_everything.post(address, given)["Location"] == "/"
