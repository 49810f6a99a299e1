"""Held entries: list, look, drop with a reason. Correcting one is closing it again."""

from __future__ import annotations

import copy
import json
import re
from typing import TYPE_CHECKING, Any

from records.domain.findings import Code
from records.errors import HeldStateError, NotFoundError, UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.clock import Clock
    from records.services.ports import HeldEntry, Json, OpenBook, UnitOfWork

MAX_STEPS = 8  # a visit is five levels deep
_STEP = re.compile(r"([a-z_]{1,40})|\[(\d{1,3})\]", re.ASCII)
_LISTS = ("zones", "targets", "confirmed")  # their parts may be typed with commas between


def normal_number(number: str) -> str:
    """Return a held number with its zeros: `3`, `h-3` and `H-000003` are the same."""
    found = re.fullmatch(r"\s*(?:[Hh]-?)?(\d{1,9})\s*", number, re.ASCII)
    return f"H-{int(found[1]):06d}" if found else number.strip().upper()


def open_entry(work: UnitOfWork, number: str) -> HeldEntry:
    """Return an entry that is still held.

    Raises:
        NotFoundError: no such entry.
        HeldStateError: it was sealed or dropped already.
    """
    entry = get_entry(work, number)
    if entry.state not in {"held", "corrected"}:
        raise HeldStateError(
            f"{entry.number} was {entry.state}" + (f" as {entry.serial}" if entry.serial else ""),
            "swathbook held lists what is still held",
        )
    return entry


def get_entry(work: UnitOfWork, number: str) -> HeldEntry:
    """Return an entry in whatever state.

    Raises:
        NotFoundError: no such entry.
    """
    entry = work.held.get(normal_number(number))
    if entry is None:
        raise NotFoundError(f"no held entry {number[:20]!r}", "swathbook held lists them")
    return entry


def list_held(book: OpenBook) -> list[HeldEntry]:
    """Return what is still held, oldest first."""
    with book.read() as work:
        return work.held.open()


def show_held(book: OpenBook, number: str) -> HeldEntry:
    """Return one entry in whatever state.

    Raises:
        NotFoundError: no such entry.
    """
    with book.read() as work:
        return get_entry(work, number)


def drop_held(book: OpenBook, number: str, reason: str, clock: Clock) -> HeldEntry:
    """Drop an entry that never was a visit; its text and the reason stay in the book.

    Raises:
        NotFoundError: no such entry.
        HeldStateError: it was sealed or dropped already.
        UsageError: no reason was given.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise UsageError("dropping an entry needs a reason", "Add --reason 'why this never was a visit'")
    with book.write() as work:
        entry = open_entry(work, number)
        work.held.add(
            entry.number,
            "dropped",
            clock.now(),
            document=entry.document,
            findings=entry.findings,
            ref=entry.ref,
            person=entry.person,
            reason=reason,
        )
        work.commit()
        return get_entry(work, number)


def with_changes(document: Json, changes: Sequence[str], confirmed: Sequence[str] = ()) -> Json:
    """Return an entry document with some parts written anew; the document itself stays as it is.

    Args:
        document: as typed.
        changes: each `PLACE=VALUE`, the place as findings name it, such as `treatments[0].products[0].rate=1 fl oz/M`;
            no value takes the part out, a list or a group is written as JSON.
        confirmed: codes of questions that stand as typed.

    Raises:
        UsageError: no such place, or no such code.
    """
    changed = copy.deepcopy(document)
    for change in changes:
        place, equals, value = change.partition("=")
        steps = _steps(place.strip())
        if not equals or not steps:
            raise UsageError(
                f"--set {change[:60]!r} is not PLACE=VALUE",
                "Write the place as the finding names it, then = and the text",
            )
        _put(changed, steps, _value(steps[-1], value.strip()), place.strip())
    known = {code.value for code in Code}
    if unknown := [code for code in confirmed if code not in known]:
        raise UsageError(f"no finding is called {unknown[0][:40]!r}", "Copy the code in [brackets] from the entry")
    if confirmed:
        before = changed.get("confirmed")
        kept = before if isinstance(before, list) else [before] if isinstance(before, str) else []
        changed["confirmed"] = [*kept, *(code for code in confirmed if code not in kept)]
    return changed


def _steps(place: str) -> list[str | int]:
    """Return the steps to a place, names and indexes; nothing where it cannot be read."""
    found = list(_STEP.finditer(place))
    if "".join(step[0] for step in found) != place.replace(".", "") or not 0 < len(found) <= MAX_STEPS:
        return []
    return [step[1] or int(step[2]) for step in found]


def _value(last: str | int, text: str) -> object:
    if text[:1] in {"[", "{"}:
        try:
            return json.loads(text, parse_float=str)
        except (ValueError, RecursionError) as error:
            raise UsageError(f"{text[:40]!r} is not JSON", 'Write a list as ["a", "b"]') from error
    if last in _LISTS:
        return [part.strip() for part in text.split(",") if part.strip()]
    return text or None


def _put(document: Json, steps: list[str | int], value: object, place: str) -> None:
    """Write a value at a place; the group it stands in is made where there is none yet."""
    inner: Any = document
    for step, following in zip(steps, [*steps[1:], None], strict=True):
        if not _fits(inner, step):
            raise UsageError(f"the entry has no place {place[:60]!r}", "Write it as the finding names it")
        if step == _length(inner):
            inner.append(None)
        if following is None:
            inner[step] = value
            return
        after = inner.get(step) if isinstance(step, str) else inner[step]
        if after is None:
            after = inner[step] = [] if isinstance(following, int) else {}
        inner = after


def _length(inner: object) -> int | None:
    return len(inner) if isinstance(inner, list) else None


def _fits(inner: object, step: str | int) -> bool:
    """Tell whether a step leads into a group or a list; one behind the end of a list is a new part."""
    if isinstance(step, str):
        return isinstance(inner, dict)
    length = _length(inner)
    return length is not None and step <= length
