"""Entries of the shop log in one line of words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import UsageError
from records.services.events import LOGGED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.logbook import Logged


def check_kinds(kinds: Sequence[str]) -> tuple[str, ...]:
    """Return kinds of entries as asked for.

    Raises:
        UsageError: there is no such kind.
    """
    for kind in kinds:
        if kind not in LOGGED:
            raise UsageError(f"--kind {kind[:20]!r} is no kind of entry", f"One of: {', '.join(LOGGED)}")
    return tuple(kinds)


def told(entry: Logged) -> str:
    """Return what an entry says, in one line; every kind puts its own words under `words` when it is logged."""
    return str(entry.data.get("words") or "")
