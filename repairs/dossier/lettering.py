"""The dossier's letters: a font that travels inside the document, and text made fit for it.

The fonts every PDF reader knows lack most letters outside western Europe, and names are part of the proof. What this font
cannot set as it is written (right to left, ideographs, control characters) is printed by its Unicode numbers.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from mapping.paint import Fonts

FOLDER = Path(__file__).parent / "vendor" / "dejavu-fonts-ttf"
FONTS = Fonts("DejaVuCondensed", "DejaVuCondensed-Bold")
_OTHER_WAY = frozenset({"R", "AL", "AN"})
_SPACES = re.compile(r"\s+")


def _register() -> frozenset[int]:
    """Make the faces known; the letters that both have, as Unicode numbers."""
    faces = (
        TTFont(FONTS.regular, str(FOLDER / "DejaVuSansCondensed.ttf")),
        TTFont(FONTS.bold, str(FOLDER / "DejaVuSansCondensed-Bold.ttf")),
    )
    for face in faces:
        pdfmetrics.registerFont(face)
    pdfmetrics.registerFontFamily(FONTS.regular, FONTS.regular, FONTS.bold, FONTS.regular, FONTS.bold)
    return frozenset(faces[0].face.charToGlyph) & frozenset(faces[1].face.charToGlyph)


_GLYPHS = _register()


def printable(text: object) -> str:
    """The text on one line in letters the font has; others as their numbers.

    >>> printable("Łukasz 李明")
    'Łukasz [U+674E U+660E]'
    """
    words = _SPACES.sub(" ", unicodedata.normalize("NFC", str(text))).strip()
    if words.isascii() and words.isprintable():
        return words
    if all(map(_can_be_set, words)):
        return words
    shown: list[str] = []
    numbers: list[str] = []
    for letter in words:
        if _can_be_set(letter):
            if numbers:
                shown.append(f"[{' '.join(numbers)}]")
                numbers = []
            shown.append(letter)
        else:
            numbers.append(f"U+{ord(letter):04X}")
    if numbers:
        shown.append(f"[{' '.join(numbers)}]")
    return "".join(shown)


@lru_cache(maxsize=4096)
def _can_be_set(letter: str) -> bool:
    return (
        ord(letter) in _GLYPHS
        and unicodedata.category(letter)[0] != "C"
        and unicodedata.bidirectional(letter) not in _OTHER_WAY
    )


def markup(text: object) -> str:
    """The text for a paragraph: printable, with nothing in it that a paragraph would take for its own marks."""
    return escape(printable(text))


def markup_lines(text: object) -> str:
    """The same with the line breaks that were typed."""
    return "<br/>".join(markup(line) for line in str(text).splitlines())
