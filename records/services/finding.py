"""Finds sealed records, and reads what was asked for from loose words."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING

from records.domain.ceilings import add_months
from records.errors import NotFoundError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.services.ports import Criteria, Json, OpenBook, StoredRevision


def find(book: OpenBook, criteria: Criteria) -> list[StoredRevision]:
    """Return the latest revision of each matching record, newest application first."""
    with book.read() as work:
        return work.records.search(criteria)


def revisions(book: OpenBook, serial: str) -> list[StoredRevision]:
    """Return all revisions of a record, oldest first.

    Raises:
        NotFoundError: no such record.
    """
    number = normal_serial(serial)
    with book.read() as work:
        found = work.records.revisions(number)
        gone = next((row for row in work.records.removed() if row.serial == number), None) if not found else None
    if gone is not None:
        raise NotFoundError(
            f"{number} was removed with its year, after its time to be kept",
            f"swathbook show {gone.event} tells when, by whom and why",
        )
    return revisions_of(found, serial)


def revisions_of(found: list[StoredRevision], serial: str) -> list[StoredRevision]:
    """Return what was found, or say that nothing was.

    Raises:
        NotFoundError: nothing was found.
    """
    if not found:
        is_event = serial.strip()[:2].upper() == "E-"
        what, where = (
            ("event", "swathbook log, deliveries and inspect --log list")
            if is_event
            else ("record", "swathbook find lists")
        )
        raise NotFoundError(f"no {what} {serial[:20]!r} in this book", f"{where} what there is")
    return found


def normal_serial(serial: str) -> str:
    """Return a serial with its zeros: `2026-41` is `2026-000041`, and `e-7` the event `E-000007`."""
    if event := re.fullmatch(r"\s*[Ee]-(\d{1,9})\s*", serial, re.ASCII):
        return f"E-{int(event[1]):06d}"
    found = re.fullmatch(r"\s*(\d{4})-(\d{1,9})\s*", serial, re.ASCII)
    return f"{found[1]}-{int(found[2]):06d}" if found else serial.strip()


def read_day(text: str | None, *, last: bool = False) -> date | None:
    """Read a day, a month (`2026-05`) or a year; a span gives its first day, or its last.

    Raises:
        UsageError: no day of the calendar.
    """
    if text is None:
        return None
    found = re.fullmatch(r"\s*(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?\s*", text, re.ASCII)
    wrong = UsageError(
        f"{text[:20]!r} is no day",
        "Write 2026-05-01, 2026-05 or 2026; an option takes today, tomorrow and yesterday too",
    )
    if found is None:
        raise wrong
    year, month, day = int(found[1]), found[2], found[3]
    try:
        first = date(year, int(month or 1), int(day or 1))
    except ValueError as error:
        raise wrong from error
    if not last or day:
        return first
    return date.fromordinal(add_months(first, 1 if month else 12).toordinal() - 1)


FROM_TO = ("--from", "--to")


def read_days(
    since: str | None, until: str | None, options: tuple[str, str] = FROM_TO
) -> tuple[date | None, date | None]:
    """Read the ends of a span of days, each a day, a month or a year.

    Args:
        since: the first end.
        until: the last end.
        options: what they are called where they are given.

    Raises:
        UsageError: no days of the calendar, or the last comes before the first.
    """
    first, last = read_day(since), read_day(until, last=True)
    in_order(first, last, options)
    return first, last


def in_order(first: date | None, last: date | None, options: tuple[str, str] = FROM_TO) -> None:
    """Refuse a span that ends before it begins.

    Raises:
        UsageError: it does.
    """
    if first is not None and last is not None and last < first:
        hint = f"Give the first day with {options[0]}, the last with {options[1]}"
        raise UsageError(f"{first} is after {last}: no day lies between", hint)


def asked_first(lines: list[Json], product: str | None) -> list[tuple[Json, Json]]:
    """Return the lines of a record, those of a product that was asked for first, each with whether it is one.

    Args:
        lines: of `short`.
        product: as asked: id, part of the name, or registration number; None: none was.
    """
    if product is None:
        return [(line, {}) for line in lines]
    wanted = product.strip().casefold()

    def is_asked(line: Json) -> bool:
        number = (line["registration"] or "").casefold()
        names = (line["product_id"] or "").casefold(), number, "-".join(number.split("-")[:2])
        return wanted in names or wanted in (line["product"] or "").casefold()

    asked = [is_asked(line) for line in lines]
    marked = [(line, {"matches": one}) for line, one in zip(lines, asked, strict=True)]
    return sorted(marked, key=lambda one: not one[1]["matches"]) if any(asked) else [(line, {}) for line in lines]


def short(revision: StoredRevision) -> Iterator[Json]:
    """Yield one short entry for each application of a record."""
    body = revision.body
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            yield {
                "serial": revision.serial,
                "voided": revision.action == "voided",
                "date": body["date"],
                "period": body["period"],
                "site": (body["site"] or {}).get("id"),
                "address": (body["site"] or {}).get("address"),
                "customer": (body["customer"] or {}).get("name"),
                "applicator": (body["applicator"] or {}).get("name"),
                "zones": [zone["id"] for zone in treatment["zones"]],
                "method": treatment["method"],
                "targets": line["targets"] or treatment["targets"],
                "product_id": line["product"]["id"],
                "product": line["product"]["name"],
                "registration": line["product"]["registration"] or None,
                "rate": line["rate"],
                "amount": line["amount"],
                "area": line["area"],
                "deviation": body["deviation"] is not None,
                "incomplete": any(finding["code"] == "missing" for finding in body["findings"]),
            }
