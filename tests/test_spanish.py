"""Spanish for whoever reads it: pages, documents and answers of the API; what is recorded stays the same in any language."""

from __future__ import annotations

import copy
import html
import json
import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, cast
from zoneinfo import ZoneInfo

import pypdfium2 as pdfium
import pytest
from django.db import models
from django.test import Client
from django.utils import translation

from accounts import guards
from accounts.acting import perform
from accounts.people import Person
from accounts.record import Entry
from accounts.wording import say
from inspections.cautions import Method, cautions
from repairs.dossier import Reader, dossier_of
from repairs.dossier.asset import asset_dossier
from tests.scenes import Scene, pipe_scene, releasable_scene
from tests.test_proof_order import taken_back

pytestmark = [pytest.mark.django_db, pytest.mark.once]
ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
CLOCK = re.compile(r"20\d\d-\d\d-\d\d[T ][\d:.]+(?:Z|[+-]\d\d:\d\d)")
DIGEST = re.compile(r"\b[0-9a-f]{64}\b")
PRINTED_AT = datetime(2025, 4, 1, 15, 0, tzinfo=UTC)
READER = Reader("Noor Falk", "si", ZoneInfo("America/Denver"))


def a_day(scene: Scene) -> None:
    """Nearly everything people do, and much of what is said to them for it."""
    scene.do("add_landmark", scene.crew, scene.asset, kind="girth weld", name="GW 17", at="1+006.00")
    scene.do("record_atmosphere", scene.crew, scene.coating, air="18 °C", humidity="60 %", steel=["17 °C"])
    scene.do("record_spot", scene.crew, scene.sheet, place="1+003.00 @ 3:00", readings=["400 µm", "410 µm", "420 µm"])
    refused = scene.do("draw_exclusion", scene.crew, scene.zone, place="1+019.00 to 1+020.00", reason="at the saddle")
    scene.do("decide_exclusion", scene.owner, refused, accepted=False, why="It can be lifted.")
    mistaken = scene.survey("1+000.00 to 1+002.00")
    scene.do("strike_run", scene.lead, mistaken, why="wrong electrode noted")
    scene.survey(flaws=["1+004.00 @ 3:00", "1+012.00 @ 9:00"])
    doubtful = scene.open_run()
    scene.sweep(doubtful, "1+000.00 to 1+001.00")
    scene.do("report_event", scene.crew, doubtful, kind="battery")
    scene.check(doubtful, measured=3500)
    scene.sweep(doubtful, "1+001.00 to 1+002.00")
    scene.check(doubtful, measured=1500, phase="end")
    scene.do("close_run", scene.crew, doubtful)
    scene.do("decide_held", scene.owner, doubtful, decision="lost", why="Nobody knows how it was set.")
    again, repaired = scene.issue()
    scene.repair(repaired)
    scene.retest(repaired)
    scene.repair(again)
    scene.settle(again, scene.retest_swath(again), "failed")
    scene.repair(again)
    scene.retest(again)
    scene.hand_in()
    scene.check(doubtful)  # late, on a closed run of a sheet that was handed in: recorded and flagged


def a_release(scene: Scene) -> None:
    scene.release("Backfill with sand.")
    scene.do("withdraw_release", scene.owner, scene.coating, why="The pipe was struck.")


class Names:
    """Ids, clock times and hashes by the order in which they first appear, so that two days can be laid side by side."""

    def __init__(self) -> None:
        self.ids: dict[str, str] = {}

    def in_order(self, text: str) -> str:
        text = ID.sub(lambda found: self.ids.setdefault(found[0], f"id {len(self.ids)}"), text)
        return DIGEST.sub("a hash", CLOCK.sub("a time", text))


def kept_of(scene: Scene) -> tuple[list[str], dict[str, list[str]]]:
    """The bodies of the record's entries, and every row of every table that the record is about."""
    names = Names()
    entries = Entry.objects.filter(record_id=scene.asset.pk).order_by("seq")
    bodies = [names.in_order(entry.body) for entry in entries]
    rows: dict[str, list[str]] = {}
    for model in guards.recorded_models():
        images = [json.dumps(_columns(row), sort_keys=True, default=str) for row in model._base_manager.order_by("pk")]
        rows[model.__name__] = sorted(map(names.in_order, images))
    return bodies, rows


def _columns(row: models.Model) -> dict[str, Any]:
    return {field.attname: field.value_from_object(row) for field in row._meta.concrete_fields}


@pytest.mark.parametrize(("begun", "what_is_done"), [(pipe_scene, a_day), (releasable_scene, a_release)])
def test_what_is_recorded_in_spanish_is_what_is_recorded_in_english(
    begun: Callable[[], Scene], what_is_done: Callable[[Scene], None]
) -> None:
    scene, kept = begun(), []
    for language in ("en", "es"):
        with taken_back(), translation.override(language):
            what_is_done(copy.copy(scene))
            kept.append(kept_of(scene))
    english, spanish = kept
    assert spanish[0] == english[0]
    assert spanish[1] == english[1]


def test_what_a_press_tells_is_said_in_the_person_s_language_and_kept_in_english() -> None:
    scene = pipe_scene()
    run = scene.survey()
    with translation.override("es"):
        done = perform("verify", scene.crew, run.pk, {"phase": "during", "measured": 2500, "alarm_seen": True})
    assert "se cerró antes" in " ".join(map(str, done.said))
    assert "was closed before" in done.entry.body


def words_of(document: bytes) -> str:
    return " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in pdfium.PdfDocument(document))


def test_the_dossier_of_a_zone_is_printed_in_spanish() -> None:
    scene = releasable_scene()
    with translation.override("es"):
        said = words_of(dossier_of(scene.coating, READER, PRINTED_AT))
    for words in (
        "Expediente de una zona",
        "Condiciones de liberación",
        "Ensayos",
        "Precauciones",
        "1 de abril de 2025",
    ):
        assert words in said
    for words in ("Gates", "Test runs", "Struck out", "Whoever applied", "swath", "tested"):
        assert words not in said


def test_the_document_of_an_asset_is_printed_in_spanish() -> None:
    scene = releasable_scene()
    with translation.override("es"), asset_dossier(scene.asset, READER, PRINTED_AT) as file:
        said = words_of(file.read())
        for words in ("Contents", "The asset as one sees it", "Instruments", "Limits"):
            assert say(words) in said
    for words in ("Contents", "Instruments", "Limits", "tested", "flaws"):
        assert words not in said


def test_the_cautions_of_an_open_run_are_read_in_spanish() -> None:
    scene = pipe_scene()
    run = scene.open_run()
    client = Client()
    client.force_login(scene.crew)
    page = html.unescape(client.get(f"/runs/{run.pk}/", HTTP_ACCEPT_LANGUAGE="es").content.decode())
    for caution in cautions(cast(Method, run.method)).short:
        with translation.override("es"):
            assert say(caution) in page
        assert caution not in page


def test_positions_and_figures_are_printed_alike_in_every_language() -> None:
    """Positions are spoken with the decimal point, so figures beside them keep it too."""
    scene = releasable_scene()
    printed = [words_of(dossier_of(scene.coating, READER, PRINTED_AT))]
    with translation.override("es"):
        printed.append(words_of(dossier_of(scene.coating, READER, PRINTED_AT)))
    english, spanish = (set(re.findall(r"\d\+\d{3}\.\d\d @ [\d:]+|\d+\.\d+ m²", said)) for said in printed)
    assert english == spanish != set()


def refusal(person: Person, scene: Scene, **headers: str) -> dict[str, Any]:
    """What the API answers to a permit without its number."""
    client = Client()
    client.force_login(person)
    address = f"/api/v1/coatings/{scene.coating.pk}/record_permit/"
    answer = client.post(address, {}, content_type="application/json", **headers)  # type: ignore[arg-type]
    assert answer.status_code == 400
    return answer.json()


def test_the_api_refuses_in_the_language_that_is_asked_for() -> None:
    scene = pipe_scene()
    english = refusal(scene.crew, scene)
    spanish = refusal(scene.crew, scene, HTTP_ACCEPT_LANGUAGE="es-CL,es;q=0.9")
    assert english["title"] != spanish["title"]
    assert [problem["field"] for problem in english["errors"]] == [problem["field"] for problem in spanish["errors"]]


def test_the_language_a_person_has_chosen_goes_before_the_one_the_browser_asks_for() -> None:
    scene = pipe_scene()
    asked = refusal(scene.crew, scene, HTTP_ACCEPT_LANGUAGE="es")
    perform("amend_my_language", scene.crew, scene.crew.pk, {"language": "es"})
    assert refusal(scene.crew, scene, HTTP_ACCEPT_LANGUAGE="en") == asked


def test_the_page_says_which_language_it_is_in_and_offers_the_others() -> None:
    page = Client().get("/", HTTP_ACCEPT_LANGUAGE="es").content.decode()
    assert '<html lang="es"' in page
    assert 'value="en" lang="en">English' in page
    assert 'value="es" lang="es">Español' in Client().get("/").content.decode()
