"""Looks at what is loaded: the documents of a kind, or one of them in one of its versions."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

from records.errors import NotFoundError, UsageError
from records.services.loading import BUSINESS, KINDS

if TYPE_CHECKING:
    from records.services.ports import CatalogueEntry, OpenBook

SECTIONS = {kind: section for section, (kind, _) in KINDS.items()}  # kind in the catalogue -> key of a file


def section_of(word: str) -> str:
    """Return the key of a file for a kind written in one number or the other: `site` and `sites` are the same.

    Raises:
        UsageError: nothing of that name is loaded.
    """
    text = word.strip().lower()
    section = SECTIONS.get(text, text)
    if section not in KINDS:
        raise UsageError(f"there are no {word[:40]!r} in a book", f"One of: {', '.join(KINDS)}")
    return section


def counts(book: OpenBook) -> dict[str, int]:
    """Return how many documents of each kind are loaded, by the key of a file."""
    with book.read() as work:
        return {section: len(work.catalogue.every(kind)) for section, (kind, _) in KINDS.items()}


def documents(book: OpenBook, section: str, text: str | None = None) -> list[CatalogueEntry]:
    """Return the newest version of every document of a kind, or of those that hold a text.

    Args:
        book: where they are.
        section: key of a file, such as `sites`.
        text: an id, which then is the only one, or a part of any text of the document, whatever its case.

    Raises:
        NotFoundError: there is a text, and no document holds it.
    """
    with book.read() as work:
        every = work.catalogue.every(KINDS[section][0])
    if text is None:
        return every
    exact = [entry for entry in every if entry.id == text]
    wanted = text.casefold()
    found = exact or [entry for entry in every if any(wanted in part.casefold() for part in _texts(entry.body))]
    if not found:
        near = difflib.get_close_matches(text, [entry.id for entry in every], 2, 0.5)
        hint = f"Did you mean {' or '.join(near)}?" if near else f"swathbook catalogue {section} lists them"
        raise NotFoundError(f"no {KINDS[section][0]} {text[:40]!r} in the book", hint)
    return found


def document(book: OpenBook, section: str, key: str, version: int) -> CatalogueEntry:
    """Return one version of one document.

    Raises:
        NotFoundError: there is no such document or version.
    """
    kind = KINDS[section][0]
    with book.read() as work:
        found = work.catalogue.version(kind, BUSINESS if kind == BUSINESS else key, version)
        latest = work.catalogue.latest(kind, BUSINESS if kind == BUSINESS else key)
    if found is None:
        known = f"Its versions are 1 to {latest.version}" if latest else f"swathbook catalogue {section} lists them"
        raise NotFoundError(f"no version {version} of the {kind} {key[:40]!r} in the book", known)
    return found


def _texts(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else []
    return [text for part in parts for text in _texts(part)]
