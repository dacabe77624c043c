"""Collects every sentence marked for translation and keeps the catalogues in step: `make words`.

New sentences are added empty, for a person to translate; those that are gone are dropped. The binary catalogues, which
the site reads, are made anew from the written ones.
"""

from __future__ import annotations

import ast
import json
import re
import tokenize
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from io import BytesIO, StringIO
from pathlib import Path
from typing import NamedTuple

from babel.messages import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parent.parent
LOCALE = ROOT / "accounts" / "locale"
APPS = ("accounts", "config", "inspections", "mapping", "repairs")
SINGLE = {"say", "say_later", "tell", "noted", "_", "gettext", "gettext_lazy"}
COMMENT = re.compile(r"{% comment.*?endcomment %}|{#.*?#}", re.DOTALL)
STAMP = datetime(2026, 1, 1, tzinfo=UTC)  # a date of our own, so that the same words make the same file
MANY = {"say_many", "ngettext", "ngettext_lazy"}


class Marked(NamedTuple):
    """A sentence, the form for more than one of it ("" when it has none), and the file it stands in."""

    sentence: str
    many: str
    where: str


def marked() -> list[Marked]:
    """Every sentence of the project, in the order of its files."""
    return [*_in_python(), *_in_rules(), *_in_templates()]


def _in_python() -> Iterator[Marked]:
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" not in path.parts:
                yield from sentences_of(path.read_text(), str(path.relative_to(ROOT)))


def sentences_of(source: str, where: str) -> Iterator[Marked]:
    """The sentences in a module. What is handed to `say` must stand there, or be noted elsewhere."""
    tree = ast.parse(source)
    yield from (Marked(each, "", where) for each in _of_actions(tree))
    calls = (node for node in ast.walk(tree) if isinstance(node, ast.Call))
    for call in sorted(calls, key=lambda each: (each.lineno, each.col_offset)):
        name = getattr(call.func, "id", getattr(call.func, "attr", ""))
        given = [_written_out(each) for each in call.args]
        if name in SINGLE and given:
            yield from (Marked(sentence, "", where) for sentence in given[0])
        elif name in MANY and len(given) > 1:
            yield from (Marked(one, many, where) for one, many in zip(given[0], given[1], strict=True))


def _of_actions(tree: ast.Module) -> Iterator[str]:
    """What each action does: the first line of its function's words is shown above its form and in the record."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and any(
            isinstance(each, ast.Call) and getattr(each.func, "id", "") == "action" for each in node.decorator_list
        ):
            yield (ast.get_docstring(node) or "").split("\n")[0]


def _written_out(node: ast.expr) -> list[str]:
    """The sentences that stand there, each of those that a condition chooses from."""
    if isinstance(node, ast.IfExp):
        return [*_written_out(node.body), *_written_out(node.orelse)]
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


def _in_rules() -> Iterator[Marked]:
    """Names and remarks of the shipped voltage rules: they are copied as data and said when they are shown."""
    for path in sorted((ROOT / "inspections" / "rules").glob("*.json")):
        body = json.loads(path.read_text())
        name = f"{body['document']}, {body['edition']}" if body.get("edition") else body["document"]
        for sentence in (name, body.get("note", ""), body.get("doubt", "")):
            if sentence:
                yield Marked(sentence, "", str(path.relative_to(ROOT)))


def _in_templates() -> Iterator[Marked]:
    for path in sorted((ROOT / "templates").rglob("*")):
        if path.suffix in {".html", ".txt"}:
            yield from _of_template(path.read_text(), str(path.relative_to(ROOT)))


def _of_template(text: str, where: str) -> Iterator[Marked]:
    # The framework writes a template as a program whose only names are lookups; its own layout means nothing. A comment
    # would hide what stands after it.
    program = " ".join(line.strip() for line in templatize(COMMENT.sub("", text)).splitlines())
    tokens = list(tokenize.generate_tokens(StringIO(program).readline))
    for at, token in enumerate(tokens):
        if token.string in SINGLE | MANY and tokens[at + 1].string == "(":
            given = [
                ast.literal_eval(each.string) for each in tokens[at + 2 : at + 5 : 2] if each.type == tokenize.STRING
            ]
            yield Marked(given[0], given[1] if token.string in MANY else "", where)


def written(language: str) -> str:
    return (LOCALE / language / "LC_MESSAGES" / "django.po").read_text()


def read(text: str, language: str) -> Catalog:
    return read_po(StringIO(text), locale=language)


def languages() -> list[str]:
    return sorted(path.name for path in LOCALE.iterdir() if path.is_dir())


def renewed(old: Catalog, found: Iterable[Marked]) -> Catalog:
    """The catalogue with exactly the sentences found, what was translated kept."""
    new = Catalog(locale=old.locale)
    for each in found:
        new.add((each.sentence, each.many) if each.many else each.sentence, locations=[(each.where, 1)])
    for message in new:
        before = old.get(message.id[0] if isinstance(message.id, tuple) else message.id)
        if message.id and before is not None and isinstance(before.id, tuple) == isinstance(message.id, tuple):
            message.string = before.string
    return new


def untranslated(catalogue: Catalog) -> list[str]:
    """The sentences with an empty form."""
    return [first(each.id) for each in catalogue if each.id and not all(forms(each.string))]


def forms(string: str | Sequence[str]) -> Sequence[str]:
    return [string] if isinstance(string, str) or not string else string


def first(sentence: str | Sequence[str]) -> str:
    return sentence if isinstance(sentence, str) else sentence[0]


def as_text(head: str, catalogue: Catalog) -> str:
    """The written catalogue: its head (glossary, plural rule) as it stands, then the sentences without line numbers."""
    body = BytesIO()
    write_po(body, catalogue, width=110, include_lineno=False, omit_header=True)
    return f"{head}\n\n{body.getvalue().decode()}"


def as_binary(text: str, language: str) -> bytes:
    """The binary catalogue, the same bytes for the same text."""
    catalogue = read(text, language)
    catalogue.creation_date = catalogue.revision_date = STAMP
    file = BytesIO()
    write_mo(file, catalogue)
    return file.getvalue()


def main() -> None:
    found = [each for each in marked() if each.sentence]
    for language in languages():
        before = written(language)
        catalogue = renewed(read(before, language), found)
        text = as_text(before.split("\n\n", 1)[0].rstrip(), catalogue)
        folder = LOCALE / language / "LC_MESSAGES"
        (folder / "django.po").write_text(text)
        (folder / "django.mo").write_bytes(as_binary(text, language))
        print(f"{language}: {len(catalogue)} sentences, {len(untranslated(catalogue))} to translate")


if __name__ == "__main__":
    settings.configure(USE_I18N=True)
    main()
