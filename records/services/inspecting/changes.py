"""What an amendment changed: two sealed texts of a record compared, fact by fact, in the words of the packet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.packet_model import Change, RevisionPart
from records.domain.report_model import one_line
from records.services.inspecting.facts import READINGS, Facts, read_facts
from records.services.inspecting.words import LONG, instant, person_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.ports import Json, StoredRevision

# What differs between any two revisions without anything having been said anew
_BOOKKEEPING = frozenset({"entered", "late", "ref", "confirmed"})


def revisions_told(revisions: Sequence[StoredRevision]) -> tuple[RevisionPart, ...]:
    """Return every sealed text of a record, oldest first, each with what it changed.

    Args:
        revisions: all of them, oldest first.
    """
    told: list[RevisionPart] = []
    before: Facts | None = None
    for revision in revisions:
        after = read_facts(revision.body) if len(revisions) > 1 else None
        changes = () if before is None or after is None else compare(before, after)
        told.append(_revision(revision, changes))
        before = after
    return tuple(told)


def _revision(revision: StoredRevision, changes: tuple[Change, ...]) -> RevisionPart:
    change: Json = revision.body.get("change") or {}
    by = change.get("by")
    # Without an id it was nobody of the book, but an account of a computer
    name = by.get("name") if isinstance(by, dict) else by
    who = person_words(by) if isinstance(by, dict) and by.get("id") else one_line(name)
    reason = one_line(change.get("reason"), LONG)
    return RevisionPart(
        revision.revision, revision.action, instant(revision.sealed_at), who, reason, revision.seal, changes
    )


def compare(before: Facts, after: Facts) -> tuple[Change, ...]:
    """Return the facts that two texts of a record tell differently."""
    return tuple(
        Change(reading.title, old or "not recorded", new or "not recorded")
        for reading in READINGS
        if reading.key not in _BOOKKEEPING
        for old, new in (before.differing(after, reading.key),)
        if old != new
    )


def change_words(revision: RevisionPart) -> str:
    """Return what a revision changed in one line."""
    return "; ".join(f"{change.what}: {change.before} -> {change.after}" for change in revision.changes)
