"""The catalogues: every sentence of the project in every language, with the same gaps, and nothing that is not marked."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from tests import words
from tests.words import ROOT, Marked

HELD = re.compile(r"%\(\w+\)\w|%%|\{[^{}]*\}|</?\w[^>]*>|&\w+;")
MARKED_PART = re.compile(r"{% blocktranslate.*?endblocktranslate %}|{% comment.*?endcomment %}|{#.*?#}", re.DOTALL)
TAG = re.compile(r"{% block main_class %}.*?{% endblock %}|{%.*?%}|{{.*?}}", re.DOTALL)
UNREAD = re.compile(r"<(script|style|pre|code|svg)\b.*?</\1>", re.DOTALL)
READ_ALOUD = re.compile(r'\b(?:aria-label|data-label|placeholder|title|alt|data-tell|data-failed)="([^"]*)"')
# The product's name, formats and units are the same in every language.
NO_WORDS = {"Barespot", "CSV", "XLSX", "PDF", "UTC", "csv"}


@pytest.fixture(scope="module")
def found() -> list[Marked]:
    return [each for each in words.marked() if each.sentence]


@pytest.mark.parametrize("language", words.languages())
def test_the_catalogue_holds_exactly_the_sentences_of_the_project(language: str, found: list[Marked]) -> None:
    """`make words` collects them."""
    there = {words.first(each.id) for each in words.read(words.written(language), language) if each.id}
    assert there == {each.sentence for each in found}


@pytest.mark.parametrize("language", words.languages())
def test_every_sentence_is_translated(language: str, found: list[Marked]) -> None:
    catalogue = words.renewed(words.read(words.written(language), language), found)
    assert words.untranslated(catalogue) == []


@pytest.mark.parametrize("language", words.languages())
def test_a_translation_has_the_gaps_and_tags_of_its_sentence(language: str) -> None:
    differ = []
    for message in words.read(words.written(language), language):
        for sentence, said in zip(words.forms(message.id), words.forms(message.string), strict=True):
            if message.id and Counter(HELD.findall(sentence)) != Counter(HELD.findall(said)):
                differ.append(f"{sentence} -> {said}")
    assert not differ, "\n".join(differ)


@pytest.mark.parametrize("language", words.languages())
def test_the_catalogue_that_is_read_is_made_of_the_one_that_is_written(language: str) -> None:
    """`make words` makes it anew."""
    read = words.LOCALE / language / "LC_MESSAGES" / "django.mo"
    assert read.read_bytes() == words.as_binary(words.written(language), language)


def test_a_sentence_is_found_in_each_form_a_condition_chooses_from() -> None:
    source = 'say("{a} kept" if kept else "{a} lost" if lost else "{a} held", a=a)\nsay_many("{count} run", "{count} runs", 2)'
    assert [(each.sentence, each.many) for each in words.sentences_of(source, "x.py")] == [
        ("{a} kept", ""),
        ("{a} lost", ""),
        ("{a} held", ""),
        ("{count} run", "{count} runs"),
    ]


def unmarked(template: str) -> list[str]:
    """Words of a template that are not marked for translation: of its text, and of what is read aloud or shown by a script."""
    text = TAG.sub("", UNREAD.sub("", MARKED_PART.sub("", template)))
    parts = [*READ_ALOUD.findall(text), *re.sub(r"<[^>]*>", "\n", text).split("\n")]
    return [part.strip() for part in parts if set(re.findall(r"[^\W\d_]{2,}", re.sub(r"&\w+;", "", part))) - NO_WORDS]


@pytest.mark.parametrize(
    "template", sorted((ROOT / "templates").rglob("*.*")), ids=lambda path: str(path.relative_to(ROOT / "templates"))
)
def test_all_words_of_a_template_are_marked(template: Path) -> None:
    assert unmarked(template.read_text()) == []


def test_words_that_are_not_marked_are_named() -> None:
    assert unmarked('<h1>{% translate "Runs" %}</h1><a title="Open it">{{ run }} is open</a>') == ["Open it", "is open"]
