"""Which language a page, a mail and a script speak: the person's own, else what the browser asks for.

What is stored or hashed is English whoever acts: nothing here touches it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.functional import lazy

from accounts.wording import noted, say

# What the scripts say: each of their sentences stands here, so that the page can hand it over in the reader's language.
SAID_BY_SCRIPTS = (
    noted("Saving…"),
    noted("What you typed here before is back; it was not sent yet."),
    noted("Start afresh"),
    noted("in {}"),
    noted("now"),
)


class PersonsLanguage:
    """Middleware, after the one that knows the person: whoever has chosen a language reads it on every page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if speak_to(request.user):
            request.LANGUAGE_CODE = translation.get_language()  # type: ignore[attr-defined]
        return self.get_response(request)


def speak_to(person: Any) -> bool:
    """Speak the language a person has chosen for the rest of this request; False where none was chosen."""
    chosen = getattr(person, "language", "")
    if chosen:
        translation.activate(chosen)
    return bool(chosen)


def spoken(words: Mapping[str, str]) -> list[tuple[str, Any]]:
    """A vocabulary as choices, in the reader's language when they are shown."""
    return [(key, say_later(text)) for key, text in words.items()]


# A sentence put into words when it is shown or kept, each time in the language of that moment.
say_later = lazy(say, str)


def day_words(day: date) -> str:
    """ "14 May 2031", in the reader's language."""
    return date_format(day, say("j F Y"))


def moment_words(moment: datetime) -> str:
    """ "14 May, 16:40" on the clock of the moment's own zone; the year is added when it is not this one."""
    this_year = moment.year == timezone.now().astimezone(moment.tzinfo).year
    return date_format(moment, say("j F, H:i") if this_year else say("j F Y, H:i"))


def kept_in_english() -> Any:
    """A context for words that are stored or hashed: they are the same whoever acts."""
    return translation.override(settings.LANGUAGE_CODE)


def spoken_to(person: Any) -> Any:
    """A context in which `say` speaks the person's language; whoever chose none is spoken to as the one who acts."""
    return translation.override(person.language or translation.get_language())


def language_of_page() -> dict[str, Any]:
    """What the frame of every page needs: the languages to choose from, and the words of its scripts."""
    here = translation.get_language()
    words = {} if here == settings.LANGUAGE_CODE else {each: say(each) for each in SAID_BY_SCRIPTS}
    return {"language": here, "languages": settings.LANGUAGES, "script_words": words}
