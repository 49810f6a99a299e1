"""Entries that are still held and may belong to what an inspection asks for: they are not sealed, and that is said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.services.directory import Directory

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
    directory = Directory(work.catalogue)
    return [_row(entry) for entry in work.held.open() if _may_belong(entry, found, directory)]


def _may_belong(entry: HeldEntry, found: Found, directory: Directory) -> bool:
    request = found.request
    if request.serials and not (request.site or request.since or request.until):
        return False
    site, person, day = site_of(entry), _text(entry, "applicator"), day_of(entry)
    sites = {key for key, _ in found.sites}
    if sites and site and site not in sites and not _is_like(site, request.site):
        return False
    if person and not _is_person(directory, person, request.person):
        return False
    if request.customer and site and not _is_customer(directory, site, request.customer):
        return False
    after = request.since is not None and day and day < request.since.isoformat()
    before = request.until is not None and day and day > request.until.isoformat()
    return not (after or before)


def _text(entry: HeldEntry, key: str) -> str:
    value = entry.document.get(key)
    return value if isinstance(value, str) else ""


def site_of(entry: HeldEntry) -> str:
    """Return the site that a held entry names, as typed; "" where it names none."""
    return _text(entry, "site")


def _is_person(directory: Directory, written: str, asked: str | None) -> bool:
    known = directory.person(written)
    return _is_like(written, asked) or (known is not None and _is_like(known[0].name, asked))


def _is_customer(directory: Directory, site: str, asked: str) -> bool:
    place = directory.site(site)
    key = place[0].customer if place is not None else None
    if key is None:
        return True  # nobody knows whose it is
    known = directory.customer(key)
    return key == asked or (known is not None and _is_like(known[0].name, asked))


def _is_like(written: str, asked: str | None) -> bool:
    return asked is None or asked.casefold() in written.casefold() or written.casefold() in asked.casefold()


def day_of(entry: HeldEntry) -> str:
    """Return the day an entry seems to be about; "" where that cannot be read."""
    for key in ("started", "finished", "date"):
        value = entry.document.get(key)
        if isinstance(value, str) and len(value) >= 10 and value[4:5] == value[7:8] == "-":
            return one_line(value[:10])
    return ""


def _row(entry: HeldEntry) -> tuple[str, ...]:
    where = f" at {one_line(site_of(entry))}" if site_of(entry) else ""
    told = list(_reasons(entry))
    sources = dict.fromkeys(
        one_line(part.get("source"), _MOST) for part in entry.findings if part.get("severity") in _BLOCKING
    )
    what = f"held, not sealed{where}: {'; '.join(told) or 'not yet asked about'}"
    return entry.number, day_of(entry), one_line(what, None), "; ".join(filter(None, sources)) or "-"


def _reasons(entry: HeldEntry) -> Iterator[str]:
    for part in entry.findings:
        if part.get("severity") in _BLOCKING:
            yield one_line(part.get("message"), None)


def products_of(entry: HeldEntry) -> list[tuple[str, str]]:
    """Return the products that a held entry names, as typed, each with its amount or rate ("" where it tells none)."""
    told = []
    for treatment in _dicts(entry.document.get("treatments")):
        for line in _dicts(treatment.get("products")):
            much = line.get("amount") or line.get("rate")
            shown = one_line(much) if isinstance(much, str) else ""
            told.append((one_line(line.get("product")) or "a product without a name", shown))
    return list(dict.fromkeys(told))


def _dicts(value: object) -> list[dict[str, object]]:
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []
