"""Entries that are still held and may belong to what an inspection asks for: they are not sealed, and that is said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.report_model import one_line

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.services.inspecting.request import Found
    from records.services.ports import HeldEntry, UnitOfWork

_MOST = 400  # characters of what keeps an entry from being sealed
_BLOCKING = frozenset({"stop", "ask"})


def held_gaps(work: UnitOfWork, found: Found) -> list[tuple[str, ...]]:
    """Return the entries that are still held, as rows of what is not complete.

    An entry is left out only where it names another site, person or day than was asked for: one that cannot be read is
    told rather than passed over. Products are not looked at, since a held entry may have them wrong.

    Args:
        work: a unit of work.
        found: what was asked.
    """
    return [_row(entry) for entry in work.held.open() if _may_belong(entry, found)]


def _may_belong(entry: HeldEntry, found: Found) -> bool:
    request, document = found.request, entry.document
    if request.serials and not (request.site or request.since or request.until):
        return False
    site, day = document.get("site"), _day(entry)
    sites = {key for key, _ in found.sites}
    if sites and isinstance(site, str) and site and site not in sites and not _is_like(site, request.site):
        return False
    if request.person and isinstance(document.get("applicator"), str) and document["applicator"]:
        if not _is_like(document["applicator"], request.person):
            return False
    after = request.since is not None and day and day < request.since.isoformat()
    before = request.until is not None and day and day > request.until.isoformat()
    return not (after or before)


def _is_like(written: str, asked: str | None) -> bool:
    return asked is None or asked.casefold() in written.casefold() or written.casefold() in asked.casefold()


def _day(entry: HeldEntry) -> str:
    """Return the day an entry seems to be about; "" where that cannot be read."""
    for key in ("started", "finished", "date"):
        value = entry.document.get(key)
        if isinstance(value, str) and len(value) >= 10 and value[4:5] == value[7:8] == "-":
            return one_line(value[:10])
    return ""


def _row(entry: HeldEntry) -> tuple[str, ...]:
    site = entry.document.get("site")
    where = f" at {one_line(site)}" if isinstance(site, str) and site else ""
    told = list(_reasons(entry))
    sources = dict.fromkeys(
        one_line(part.get("source"), _MOST) for part in entry.findings if part.get("severity") in _BLOCKING
    )
    what = f"held, not sealed{where}: {'; '.join(told) or 'not yet asked about'}"
    return entry.number, _day(entry), one_line(what, _MOST), "; ".join(filter(None, sources)) or "-"


def _reasons(entry: HeldEntry) -> Iterator[str]:
    for part in entry.findings:
        if part.get("severity") in _BLOCKING:
            yield one_line(part.get("message"), _MOST)
