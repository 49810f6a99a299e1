"""Held entries: list, look, drop with a reason. Correcting one is closing it again."""

from __future__ import annotations

import copy
import json
import re
from typing import TYPE_CHECKING, Any

from records.domain.findings import Code
from records.errors import HeldStateError, NotFoundError, UsageError
from records.services.closing.reading import PRODUCT_KEYS, TREATMENT_KEYS, VISIT_KEYS
from records.services.closing.weather_parts import MEASURED, WEATHER_KEYS

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
        changes: each `PLACE=VALUE`, the place as findings name it, such as `treatments[0].products[0].rate=1 fl oz/M`,
            or its last name alone, such as `rate`, where the entry has one such place; no value takes the part out, a
            list or a group is written as JSON.
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
        steps = _whole(changed, steps)
        new = _value(steps[-1], value.strip())
        if new is not None:
            _known(steps, place.strip())
        _put(changed, steps, new, place.strip())
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


def _whole(document: Json, steps: list[str | int]) -> list[str | int]:
    """Return the whole way to a place that is named by its last name alone, such as `lot`.

    Raises:
        UsageError: the entry has several such places.
    """
    name = steps[0]
    if len(steps) > 1 or name in VISIT_KEYS or name in document:
        return steps
    found: list[list[str | int]] = [["weather", name]] if name in WEATHER_KEYS else []
    for number, treatment in enumerate(_list(document.get("treatments"))):
        way: list[str | int] = ["treatments", number]
        if name in TREATMENT_KEYS:
            found.append([*way, name])
        products = _list(treatment.get("products")) if isinstance(treatment, dict) else []
        if name in PRODUCT_KEYS:
            found += [[*way, "products", line, name] for line in range(len(products))]
    if len(found) > 1:
        raise UsageError(f"{name} stands in {len(found)} places", f"Say which: {' or '.join(map(_place, found))}")
    return found[0] if found else steps


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _place(steps: list[str | int]) -> str:
    """Write a place as findings do."""
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in steps).lstrip(".")


def _names(steps: list[str | int]) -> tuple[str, ...]:
    """Return the names that a visit knows where the last of these steps stands."""
    names = tuple(step for step in steps[:-1] if isinstance(step, str))
    if len(names) == 2 and names[0] == "weather" and names[1] in MEASURED:
        return ("not_measured",)
    return {
        (): VISIT_KEYS,
        ("weather",): WEATHER_KEYS,
        ("weather", "not_measured"): MEASURED,
        ("treatments",): TREATMENT_KEYS,
        ("treatments", "products"): PRODUCT_KEYS,
    }.get(names, ())


def _known(steps: list[str | int], place: str) -> None:
    """Refuse a place that no visit has before it gets into the entry, and say where such a part stands.

    Raises:
        UsageError: no visit has it.
    """
    for count, step in enumerate(steps, 1):
        if not isinstance(step, str) or step in _names(steps[:count]):
            continue
        hint = "Write it as the finding names it"
        for group in ("", "weather.", "treatments[0].", "treatments[0].products[0]."):
            if steps[-1] in _names([*_steps(group), ""]):
                hint += f", such as {group}{steps[-1]}=..."
                break
        raise UsageError(f"a visit has no place {place[:60]!r}", hint)


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
            if value is None and (isinstance(step, int) or step not in _names(steps)):
                del inner[step]  # a line of a list, or what no visit has; an empty part would be found wrong again
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
