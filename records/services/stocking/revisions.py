"""Which of two label revisions is the newer one, where both read as dates."""

from __future__ import annotations

import re

_DATED = re.compile(r"(\d{4})-(0[1-9]|1[0-2])(?:-(0[1-9]|[12]\d|3[01]))?", re.ASCII)


def is_dated(revision: str) -> bool:
    """Tell whether a revision reads as a month or a day, such as 2025-11."""
    return _DATED.fullmatch(revision.strip()) is not None


def order(one: str, other: str) -> int | None:
    """Return 1 where the first revision is the newer one, -1 where the other is, 0 where they are the same.

    Returns:
        None where they cannot be put in order: one is no date, or one is a day of the other's month.
    """
    if one.strip() == other.strip():
        return 0
    first, second = _DATED.fullmatch(one.strip()), _DATED.fullmatch(other.strip())
    if first is None or second is None:
        return None
    a, b = ([int(part) for part in found.groups() if part] for found in (first, second))
    length = min(len(a), len(b))
    if a[:length] == b[:length]:
        return None
    return 1 if a[:length] > b[:length] else -1


def against_book(revision: str, book: str) -> str:
    """Return what is to be done where a container has another label revision than the book checks by; "" = the same.

    Args:
        revision: on the container.
        book: of the label in the book.
    """
    found = order(revision, book)
    if found == 0:
        return ""
    if found == 1:
        return "the container's is newer: load it before it is used (swathbook load)"
    if found == -1:
        return "the book's is newer; what is in the container goes by the label on it"
    return "which is newer cannot be told (YYYY-MM can); load the label that is on the container (swathbook load)"
