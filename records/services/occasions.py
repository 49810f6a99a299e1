"""What everything logged beside visits shares: the site by name, the moment in its zone, the person as frozen."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.errors import InputError, NotFoundError, UsageError
from records.rules.people_checks import licence_on
from records.services.closing.body import business_body, licence_body
from records.services.closing.entry import Reader, unprintable

if TYPE_CHECKING:
    from datetime import date, datetime

    from records.domain.people import Business
    from records.domain.place import Site
    from records.domain.product import Product
    from records.services.directory import Directory
    from records.services.ports import Json

MAX_NOTE = 2_000


def firm_of(directory: Directory) -> tuple[Business, Json]:
    """Return the firm, and the firm as frozen in what is sealed.

    Raises:
        InputError: the book has no firm yet.
    """
    found = directory.business()
    if found is None:
        raise InputError("the book has no firm yet", "Load a document with a [business] table: swathbook load FILE")
    return found[0], business_body(*found)


def site_of(directory: Directory, text: str) -> tuple[Site, int]:
    """Return a site by its id, or by a part of id or address that fits one site only.

    Raises:
        NotFoundError: none fits, or several do.
    """
    found = directory.site(text)
    if found is not None:
        return found
    ids, wanted = directory.ids("site"), " ".join(text.casefold().split())
    fits = []
    for key in ids if wanted else []:
        site = directory.site(key)
        if site is not None and (wanted in key.casefold() or wanted in site[0].address.casefold()):
            fits.append(site)
    if len(fits) == 1:
        return fits[0]
    if fits:
        told = ", ".join(site.id for site, _ in fits[:6]) + (" ..." if len(fits) > 6 else "")
        raise NotFoundError(f"{text[:40]!r} fits {len(fits)} sites: {told}", "Name one by its id")
    near = difflib.get_close_matches(text, ids, 2, 0.5)
    hint = f"Did you mean {' or '.join(near)}?" if near else "swathbook catalogue sites lists them"
    raise NotFoundError(f"no site {text[:40]!r} in the book", hint)


def product_of(directory: Directory, text: str) -> Product:
    """Return a product by its id, registration or name, or by a part of id or name that fits one product only.

    Raises:
        NotFoundError: none fits, or several do.
    """
    every = directory.products()
    wanted = " ".join(text.casefold().split())
    exact = [one for one in every if wanted in {one.id.casefold(), one.registration.casefold(), one.name.casefold()}]
    fits = exact or [one for one in every if wanted and wanted in f"{one.id} {one.name}".casefold()]
    if len(fits) == 1:
        return fits[0]
    if fits:
        raise NotFoundError(
            f"{text[:40]!r} fits {len(fits)} products: {', '.join(one.id for one in fits[:6])}", "Name one"
        )
    names = [one.name.casefold() for one in every] + [one.id for one in every]
    near = difflib.get_close_matches(wanted, names, 1, 0.6)
    hint = f"Did you mean {near[0]}?" if near else "swathbook catalogue products lists them"
    raise NotFoundError(f"no product {text[:40]!r} in the book", hint)


def site_body(site: Site, version: int) -> Json:
    """Return a site as frozen in what is sealed."""
    return {
        "id": site.id,
        "address": site.address,
        "city": site.city,
        "county": site.county,
        "state": site.state,
        "zip": site.zip,
        "version": version,
    }


def zone_at(site: Site, business: Business) -> ZoneInfo:
    """Return the zone of a site, which is the firm's where it has none of its own."""
    return ZoneInfo(site.timezone or business.timezone)


def person_of(directory: Directory, key: str | None, day: date, state: str) -> Json | None:
    """Return a person as frozen in what is sealed, with the licence of the day; None where none is named.

    Raises:
        NotFoundError: no such person.
    """
    if not key:
        return None
    found = directory.person(key)
    if found is None:
        near = difflib.get_close_matches(key, directory.ids("person"), 2, 0.5)
        hint = f"Did you mean {' or '.join(near)}?" if near else "swathbook catalogue people lists them"
        raise NotFoundError(f"no person {key[:40]!r} in the book", hint)
    person, version = found
    licence = licence_on(person, day, state)
    return {"id": person.id, "name": person.name, "licence": licence_body(licence), "version": version}


def moment_of(text: str | None, option: str, zone: ZoneInfo, now: datetime) -> datetime:
    """Return a moment written by hand, in the zone of the place; the present one where none is written.

    Args:
        text: like 2026-05-14T09:40, with an offset where the clocks change; a time of day alone is of today.
        option: that it was given by.
        zone: of the place.
        now: the present moment.

    Raises:
        UsageError: it is no moment, or lies in the future.
    """
    present = now.astimezone(zone)
    if text is None:
        return present.replace(microsecond=0)
    written = text.strip()
    if len(written) in {4, 5} and ":" in written:
        written = f"{present:%Y-%m-%d}T{written.zfill(5)}"
    reader = Reader()
    moment = reader.moment(written, option, option, zone)
    if moment is None:
        told = reader.findings[0].message if reader.findings else f"{option} is empty"
        raise UsageError(told)
    if moment.timestamp() > now.timestamp() + 60:
        raise UsageError(
            f"{option} {moment:%Y-%m-%d %H:%M} lies in the future", f"It is {present:%Y-%m-%d %H:%M} there"
        )
    return moment


def day_or_moment(text: str | None, option: str, zone: ZoneInfo, now: datetime) -> datetime:
    """Return a moment as `moment_of` does; a day alone is its noon, or the present moment where noon is yet to come.

    Raises:
        UsageError: it is neither, or lies in the future.
    """
    written = (text or "").strip()
    if len(written) == len("2026-05-14") and written[:4].isdigit():
        present = now.astimezone(zone)
        noon = f"{written}T12:00"
        if written == present.date().isoformat() and present.hour < 12:
            return present.replace(microsecond=0)
        return moment_of(noon, option, zone, now)
    return moment_of(text, option, zone, now)


def words_of(text: str | None, option: str, longest: int = MAX_NOTE) -> str:
    """Return free words as one line; "" where there are none.

    Raises:
        UsageError: too long, or with characters that cannot be printed.
    """
    line = " ".join((text or "").split())
    if len(line) > longest or unprintable(line):
        raise UsageError(f"{option} cannot be printed", f"Write at most {longest:,} plain characters")
    return line


def local(moment: datetime) -> str:
    """Return a moment as it is sealed and shown to programs: local, with its offset."""
    return moment.isoformat(timespec="seconds" if moment.second else "minutes")


def shown_moment(moment: datetime) -> str:
    """Return a moment for the screen, with the distance from UTC."""
    offset = moment.isoformat()[-6:]
    return f"{moment:%Y-%m-%d %H:%M} (UTC{offset})"
