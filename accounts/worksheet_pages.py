"""Worksheets as pages: a form that begins with an example, and the answer under it, also while somebody types.

The same form works without scripts. A script asks for the answer alone (header X-Part) and puts it in place.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.views.decorators.http import require_http_methods, require_safe
from rest_framework.exceptions import ValidationError

from accounts.form_rows import FormRow, form_rows
from accounts.forms import Told, told_of
from accounts.people import Person
from accounts.serving import TooLarge, check_size
from accounts.typed import Reader, given_from_page
from accounts.wording import say
from accounts.worksheet_api import MOST_BYTES, PUBLIC, WorksheetThrottle
from accounts.worksheets import REGISTRY, Answer, Worksheet

LONGEST_LINK = 1500


class Asked(NamedTuple):
    """A worksheet's form as it is shown, its answer where there is one, and what is wrong where there is none."""

    rows: list[FormRow]
    answer: Answer | None
    told: tuple[Told, ...]
    link: str

    @property
    def later(self) -> list[FormRow]:
        """What is seldom needed."""
        return [row for row in self.rows if row.later]


def is_open(request: HttpRequest) -> bool:
    """Whether worksheets are there for whoever asks."""
    return settings.WORKSHEETS == PUBLIC or request.user.is_authenticated


@require_safe
def worksheets(request: HttpRequest) -> HttpResponse:
    """The worksheets by what they are about."""
    if not is_open(request):
        return redirect_to_login(request.get_full_path())
    parts: dict[str, list[Worksheet]] = {}
    for sheet in REGISTRY.values():
        parts.setdefault(str(sheet.part), []).append(sheet)
    return render(request, "worksheets/index.html", {"parts": sorted(parts.items())})


@require_http_methods(["GET", "HEAD", "POST"])
def worksheet(request: HttpRequest, name: str) -> HttpResponse:
    """One worksheet: GET shows its example, or what the address says; POST what was typed."""
    sheet = REGISTRY.get(name)
    if sheet is None:
        raise Http404
    if not is_open(request):
        return redirect_to_login(request.get_full_path())
    waits = WorksheetThrottle()
    if not waits.allow_request(request, None):  # type: ignore[arg-type]
        return _too_many(request, waits.wait())
    try:
        check_size(request, MOST_BYTES)
    except TooLarge as problem:
        return _refused(request, str(problem.detail), 413)
    said = request.POST if request.method == "POST" else request.GET
    units = _units(request, said)
    variant = said.get("variant", "")
    if variant not in sheet.variants:
        variant = sheet.first_variant
    typed = said if request.method == "POST" else _over_example(sheet, variant, units, said)
    asked = ask(sheet, variant, typed, units)
    context = {
        "sheet": sheet,
        "asked": asked,
        "units": units,
        "other_units": "us" if units == "si" else "si",
        "variant": variant,
        "variant_title": sheet.variants.get(variant, ""),
        "variants": sheet.variants.items(),
        "is_example": request.method != "POST" and not set(request.GET) - {"variant", "units"},
        "now": timezone.now(),
    }
    status = 200 if asked.answer is not None else 422
    if request.headers.get("X-Part") == "answer":
        return render(request, "worksheets/part.html", context, status=status)
    return render(request, "worksheets/worksheet.html", context, status=status)


def ask(sheet: Worksheet, variant: str, typed: QueryDict, units: str) -> Asked:
    """Read what was typed, work it out, and show both."""
    reader = Reader(units)
    empty: MultiValueDict[str, Any] = MultiValueDict()
    given = {**given_from_page(sheet.form(variant), typed, empty, reader), **sheet.known(variant), "units": units}
    answer, errors = None, None
    try:
        answer = sheet.answer(sheet.form(data=given, context={"page_units": units}))
    except ValidationError as refused:
        errors = refused.detail
    rows = form_rows(sheet.form(variant), reader=reader, typed=typed, errors=errors, hidden=("units",))
    return Asked(
        [row for row in rows if row.kind != "hidden"],
        answer,
        told_of(rows, errors),
        _link(sheet, variant, typed, units),
    )


def _units(request: HttpRequest, said: QueryDict) -> str:
    asked = said.get("units", "")
    if asked in Person.Units.values:
        return asked
    return str(getattr(request.user, "units", Person.Units.SI))


def _over_example(sheet: Worksheet, variant: str, units: str, said: QueryDict) -> QueryDict:
    """The example as it would be typed, with whatever the address says in its place."""
    typed = QueryDict(mutable=True)
    for row in form_rows(sheet.form(variant), reader=Reader(units), initial=sheet.example_for(variant)):
        chosen = [choice.value for choice in row.choices if choice.chosen]
        if chosen or row.value:
            typed.setlist(row.name, chosen or [row.value])
    for name, values in said.lists():
        if name in typed or name in {row.name for row in form_rows(sheet.form(variant))}:
            typed.setlist(name, values)
    return typed


def _link(sheet: Worksheet, variant: str, typed: QueryDict, units: str) -> str:
    """An address that shows the same again; empty where it would be too long."""
    link = QueryDict(mutable=True)
    for name, values in typed.lists():
        if name != "csrfmiddlewaretoken":
            link.setlist(name, values)
    link["units"] = units
    if variant:
        link["variant"] = variant
    words = link.urlencode()
    return f"{reverse('worksheet', args=[sheet.name])}?{words}" if len(words) <= LONGEST_LINK else ""


def _too_many(request: HttpRequest, wait: float | None) -> HttpResponse:
    seconds = int(wait or 0) + 1
    answer = _refused(
        request, say("Too many questions in one minute. Wait {seconds} s, then go on.", seconds=seconds), 429
    )
    answer["Retry-After"] = str(seconds)
    return answer


def _refused(request: HttpRequest, words: str, status: int) -> HttpResponse:
    """A script gets the words alone."""
    if "X-Part" in request.headers:
        return HttpResponse(words, status=status, content_type="text/plain; charset=utf-8")
    return render(request, "worksheets/refused.html", {"words": words}, status=status)
