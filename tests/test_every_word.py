"""No page shows a word that is not marked for translation: the demo, read by each role in a language made for it.

The made-up language writes every letter wide, so that what still stands in plain letters was not looked up: it has to be
data (names, free text, codes, places as they are spoken, units), or it was forgotten.
"""

from __future__ import annotations

import io
import re
from collections import defaultdict, deque
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from zoneinfo import available_timezones

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import models
from django.test import Client
from django.urls import Resolver404, ResolverMatch, resolve
from django.utils import translation
from django.utils.safestring import SafeData, mark_safe
from django.utils.translation import trans_real

from accounts.people import Person, Role
from repairs.exports.tables import TABLES

pytestmark = [pytest.mark.django_db, pytest.mark.once]
GAP = re.compile(r"%\(\w+\)[sd]|%%|%s|\{[^{}]*\}|</?\w[^>]*>|&\w+;")
DAY_FORMAT = re.compile(r"[a-zA-Z](\W+[a-zA-Z])*")
WORD = re.compile(r"[A-Za-z0-9À-ÿ]+")
READ_ALOUD = ("title", "aria-label", "data-label", "placeholder", "alt")
# What is the same in every language: how places are spoken, units, names of documents and formats, the product's name.
SAME = {
    "Barespot", "English", "Español", "API", "CSV", "XLSX", "GeoJSON", "JSON", "PDF", "UTC", "CET", "CEST", "csv", "xlsx",
    "deg", "mil", "min", "gal", "kPa", "ppm", "LEL", "strake", "slant", "lane", "bay", "plate", "wide", "around", "all", "whole", "zone",
    "Garwood", "Biometrika", "Seber", "Jeffreys", "Kuffel", "NACE", "SSPC", "ISO", "ASTM", "AWWA", "NIST", "IMO", "MSC", "ASHRAE",
    "Hyndman", "Fan", "sha", "SHA", "RFC", "EXIF", "UUID",
}  # fmt: skip
# The page whose words are the record's own, kept in English.
LEFT_OUT = {"record"}
# Names that are chosen or fetched by: time zones of the IANA database, files that are taken along.
NAMES = available_timezones() | {f"{table}.csv" for table in TABLES}
TWICE = 1  # pages of one kind that are read, whoever reads them
COPIED = {"points"}  # columns that keep sentences of ours: on a page these are marked like any other
OWN = {"today", "zone", "asset", "run", "patch", "gates"}  # each role reads its own


def wide(message: Any) -> str:
    """The message in the made-up language; what no catalogue holds stays as it is."""
    said = _wide(str(message)) if _translated(str(message)) else str(message)
    return mark_safe(said) if isinstance(message, SafeData) else said


def wide_for(one: Any, many: Any, count: int) -> str:
    """As `wide`, of the form that fits a count."""
    form = str(one if count == 1 else many)
    return _wide(form) if _translated(str(one)) else form


def _wide(text: str) -> str:
    parts, at = [], 0
    for gap in GAP.finditer(text):
        parts += [_widened(text[at : gap.start()]), gap.group()]
        at = gap.end()
    return "".join([*parts, _widened(text[at:])])


def _translated(text: str) -> bool:
    spanish = trans_real.translation("es")._catalog
    return bool(spanish.get(text) or spanish.get((text, 0))) and not DAY_FORMAT.fullmatch(text)


def _widened(text: str) -> str:
    return "".join(chr(ord(letter) + 0xFEE0) if letter.isascii() and letter.isalpha() else letter for letter in text)


@pytest.fixture
def made_up_language(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(translation._trans, "gettext", wide)
    monkeypatch.setattr(translation._trans, "ngettext", wide_for)
    monkeypatch.setattr(translation._trans, "pgettext", lambda context, message: wide(message))
    monkeypatch.setattr(translation._trans, "npgettext", lambda context, one, many, count: wide_for(one, many, count))


@pytest.fixture
def demo(db: None) -> None:
    call_command("load_demo", "--address", "http://127.0.0.1:8000/", stdout=io.StringIO())


class Kept:
    """Words that the rows hold: whole texts, so that a word of ours that somebody also typed is still seen."""

    def __init__(self) -> None:
        self.texts: dict[str, set[tuple[str, ...]]] = defaultdict(set)
        for model in apps.get_models():
            if model._meta.app_label in ("accounts", "mapping", "inspections", "repairs") and model.__name__ != "Entry":
                self._learn_rows(model)

    def _learn_rows(self, model: type[models.Model]) -> None:
        for field in model._meta.concrete_fields:
            if field.name in COPIED:
                continue
            if isinstance(field, models.CharField | models.TextField | models.JSONField) and not field.choices:
                for value in model._base_manager.values_list(field.attname, flat=True).distinct():
                    for text in _leaves(value):
                        for line in {text, *text.splitlines(), *re.split(r"[;,:] ", text)}:
                            self._learn(line)

    def _learn(self, text: str) -> None:
        words = tuple(word.casefold() for word in WORD.findall(text))
        if words:
            self.texts[words[0]].add(words)

    def others(self, text: str) -> list[str]:
        """Plain words of a text that are none of these, nor the same in every language."""
        words, found, at = WORD.findall(text), [], 0
        low = [word.casefold() for word in words]
        while at < len(words):
            known = max(
                (len(each) for each in self.texts.get(low[at], ()) if tuple(low[at : at + len(each)]) == each),
                default=0,
            )
            if not known and words[at] not in SAME and re.fullmatch(r"[A-Za-z]{3,}", words[at]):
                found.append(words[at])
            at += known or 1
        return found


def _leaves(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _leaves(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _leaves(inner)


class Page(HTMLParser):
    """What a page shows or has read aloud, and where it leads."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.links: list[str] = []
        self._inside: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in ("script", "style", "pre", "code", "kbd", "textarea"):
            self._inside.append(tag)
        self.texts += [text for name in READ_ALOUD if (text := given.get(name))]
        if tag == "a" and (link := given.get("href")):
            self.links.append(link.split("#")[0])

    def handle_endtag(self, tag: str) -> None:
        if self._inside and self._inside[-1] == tag:
            self._inside.pop()

    def handle_data(self, data: str) -> None:
        if not self._inside and data.strip():
            self.texts.append(data)


def _match(address: str) -> ResolverMatch | None:
    try:
        return resolve(address.split("?")[0])
    except Resolver404:
        return None


def test_no_page_shows_a_word_that_is_not_marked(demo: None, made_up_language: None) -> None:
    kept, forgotten, read = Kept(), dict[str, str](), defaultdict[tuple[str, ...], int](int)
    for role in Role:
        person = Person.objects.filter(appointments__role=role).order_by("email")[0]
        client = Client()
        client.force_login(person)
        waiting, seen = deque(["/"]), {"/"}
        while waiting:
            address = waiting.popleft()
            match = _match(address)
            if match is None or match.view_name in LEFT_OUT or "logout" in address or address.startswith("/api/"):
                continue
            kind = (match.view_name, str(match.kwargs.get("name", "")), role.value if match.view_name in OWN else "")
            if read[kind] >= TWICE:
                continue
            read[kind] += 1
            answer = client.get(address)
            if answer.status_code in (301, 302):
                waiting.append(answer["Location"])
                continue
            if "html" not in answer.get("Content-Type", "") or answer.streaming:
                continue
            page = Page(answer.content.decode())
            for text in page.texts:
                if text.strip() not in NAMES and (others := kept.others(text)):
                    forgotten.setdefault(" ".join(text.split())[:120], f"{match.view_name}: {', '.join(others[:5])}")
            for link in page.links:
                if link.startswith("/") and link not in seen:
                    seen.add(link)
                    waiting.append(link)
    assert len(read) > 60
    assert not forgotten, "\n".join(f"{where} in {text!r}" for text, where in forgotten.items())
