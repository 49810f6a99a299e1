"""The bundled fonts: registered once, every string measured and checked glyph by glyph before it is drawn.

ReportLab draws nothing, or a box, for a character that a font lacks, and says nothing. Here such a character is an
error that names it.
"""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from records.errors import GlyphError, TemplateError
from records.resources import report_templates

if TYPE_CHECKING:
    from pathlib import Path

REGULAR = "Swathbook-Regular"
BOLD = "Swathbook-Bold"
FILES = {REGULAR: "NotoSans-Regular.ttf", BOLD: "NotoSans-Bold.ttf"}


class Face(NamedTuple):
    """One registered font: advance widths by character, in 1/1000 of the size."""

    name: str
    widths: dict[str, int]


@cache
def face(name: str) -> Face:
    """Register a bundled font with ReportLab and return its widths.

    Raises:
        TemplateError: the font file is missing or not a TrueType font.
    """
    file = fonts_folder() / FILES[name]
    try:
        font = TTFont(name, str(file))
    except (TTFError, OSError) as error:
        raise TemplateError(
            f"report font {file.name} is missing or is not a TrueType font",
            f"Put it into {file.parent}",
        ) from error
    pdfmetrics.registerFont(font)
    advances = font.face.charWidths
    # ReportLab's own `charWidths` are whole thousandths already rounded from the font's units.
    return Face(name, {chr(code): round(advances[code]) for code in font.face.charToGlyph if code in advances})


def fonts_folder() -> Path:
    """Return the folder of the bundled fonts."""
    return report_templates() / "fonts"


@lru_cache(maxsize=65536)
def width(text: str, name: str = REGULAR) -> int:
    """Return how wide a string is, in 1/1000 of the font size; every character of it is checked on the way.

    Raises:
        GlyphError: the fonts lack a character of it.
    """
    widths = face(name).widths
    try:
        return sum([widths[character] for character in text])
    except KeyError:
        raise _lacking(text, widths) from None


@lru_cache(maxsize=4096)
def drawable(text: str) -> str:
    """Return a text that can be drawn: a character that the fonts lack becomes its code, such as `[U+1F331]`."""
    if text.isascii() and text.isprintable():
        return text
    regular, bold = face(REGULAR).widths, face(BOLD).widths
    return "".join(c if c in regular and c in bold else f"[U+{ord(c):04X}]" for c in text)


def check_glyphs(text: str) -> None:
    """Refuse text that the bundled fonts cannot draw; what was checked once is remembered.

    Raises:
        GlyphError: naming the first character that is missing, its code point and its name.
    """
    width(text, REGULAR)
    width(text, BOLD)


def _lacking(text: str, widths: dict[str, int]) -> GlyphError:
    index = next(i for i, character in enumerate(text) if character not in widths)
    character = text[index]
    name = unicodedata.name(character, "a character without a name")
    shown = character if character.isprintable() else "?"
    start = max(0, index - 12)
    around = "".join(c if c.isprintable() else "?" for c in text[start : index + 13])
    return GlyphError(
        f"the report fonts have no {shown} (U+{ord(character):04X}, {name}), found in {around!r}",
        f"Write it in letters the fonts have, or put a font that has it in place of {FILES[REGULAR]} and {FILES[BOLD]}",
    )
