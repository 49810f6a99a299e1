"""Which place and which visit somebody asks about, from whatever they say: a serial, an address, a name, a site."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import TYPE_CHECKING

from records.errors import NotFoundError, UsageError
from records.services.finding import normal_serial, revisions_of
from records.services.ports import Criteria, Packet
from records.services.sealing import proved

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.directory import Directory
    from records.services.ports import Json, StoredRevision, UnitOfWork

NAMED = 6  # candidates in one line
_NEAR = 0.75  # how alike a name has to be to be offered in place of one that fits nothing
_WAYS = {  # how kinds of streets are shortened
    short: whole
    for whole, shorts in {
        "street": "st",
        "avenue": "ave av",
        "road": "rd",
        "lane": "ln",
        "drive": "dr",
        "court": "ct",
        "boulevard": "blvd",
        "place": "pl",
        "circle": "cir",
        "terrace": "ter",
        "highway": "hwy",
        "parkway": "pkwy",
    }.items()
    for short in shorts.split()
}
_SERIAL = re.compile(r"\s*\d{4}-\d{1,9}\s*", re.ASCII)
# Letters that no decomposition of Unicode takes apart.
_PLAIN = str.maketrans(
    {
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ð": "d",
        "æ": "ae",
        "œ": "oe",
        "þ": "th",
        "\N{LATIN SMALL LETTER DOTLESS I}": "i",
        "ħ": "h",
    }
)


def plain(text: str) -> str:
    """Return a text as names are compared: no case, no accents, words alone."""
    folded = unicodedata.normalize("NFKD", text.casefold()).translate(_PLAIN)
    bare = "".join(char for char in folded if not unicodedata.combining(char))
    return " ".join(re.sub(r"[^\w]+", " ", bare).split())


@dataclass(frozen=True, slots=True)
class Asked:
    """The visits that somebody asks about."""

    records: list[StoredRevision]  # of one day, in the order of the work
    earlier: list[StoredRevision]  # of the same year and the same customer
    is_former: bool = False  # done for an earlier customer of the place, and asked for by place or name


def owner_of(directory: Directory, body: Json) -> str:
    """Return whose the site of a record is now; "" where the book does not say."""
    site = directory.site((body["site"] or {}).get("id") or "")
    return "" if site is None else site[0].customer or ""


def _who(body: Json) -> str:
    customer = body["customer"] or {}
    return customer.get("id") or plain(customer.get("name") or "")


def _is_former(directory: Directory, body: Json) -> bool:
    owner = owner_of(directory, body)
    return bool(owner and _who(body)) and _who(body) not in _names(directory, owner)


def _names(directory: Directory, customer: str) -> set[str]:
    found = directory.customer(customer)
    return {customer, *(() if found is None else (plain(found[0].name),))}


def visits_asked(work: UnitOfWork, directory: Directory, text: str, on: date | None, today: date) -> Asked:
    """Return the visits of the day asked for, and the earlier ones of its year; voided records are none.

    Asked for by its serial, a record is told as it stands. By place or name, what was done for an earlier customer of
    the place is marked as that, and no visit of another customer than the one who is told is among the earlier ones.

    Args:
        work: a unit of work.
        directory: of it.
        text: a serial, a site's id, or part of an address or a customer's name.
        on: the day; None: the newest one.
        today: visits later than this are not there yet.

    Raises:
        NotFoundError: nothing fits, or several places do.
        UsageError: the record named was voided.
    """
    if _SERIAL.fullmatch(text):
        record = proved(revisions_of(work.records.revisions(normal_serial(text)), text)[-1])
        if record.action == "voided":
            raise UsageError(
                f"{record.serial} was voided: it does not stand, so there is nothing to tell of it",
                f"swathbook show {record.serial} tells why",
            )
        if record.body["kind"] != "visit" or not record.body["date"]:
            raise NotFoundError(f"{record.serial} is no visit of a day", "swathbook find lists the visits")
        site = (record.body["site"] or {}).get("id")
        every = _visits(work, site, date.fromisoformat(record.body["date"])) if site else []
        return Asked([record], [one for one in _earlier(every, record) if _who(one.body) == _who(record.body)])
    site = _site_of(work, directory, text)
    every = (
        _visits(work, site, today if on is None else on) if site else _loose(work, text, today if on is None else on)
    )
    if not every:
        raise NotFoundError(
            f"nothing was done at {(site or text)[:40]!r} until {on or today}",
            "swathbook find --site SITE shows its past",
        )
    day = every[-1].body["date"]
    if on is not None and day != on.isoformat():
        days = ", ".join(dict.fromkeys(str(one.body["date"]) for one in every[-NAMED:]))
        raise NotFoundError(f"nothing was done at {(site or text)[:40]!r} on {on}", f"Days before: {days}")
    found = [proved(one) for one in every if one.body["date"] == day]
    is_former = any(_is_former(directory, one.body) for one in found)
    owner = owner_of(directory, found[-1].body)
    told = _names(directory, owner) if is_former else {_who(found[-1].body)}
    return Asked(found, [one for one in _earlier(every, found[0]) if _who(one.body) in told], is_former)


def _earlier(every: Sequence[StoredRevision], record: StoredRevision) -> list[StoredRevision]:
    day = str(record.body["date"])
    return [one for one in every if one.body["date"] < day and one.body["date"][:4] == day[:4]]


def _visits(work: UnitOfWork, site: str, until: date) -> list[StoredRevision]:
    orders = [match.order for match in work.records.matching(Packet(until=until, sites=frozenset({site})))]
    return _standing(list(work.records.bodies(orders)))


def _standing(found: Sequence[StoredRevision]) -> list[StoredRevision]:
    kept = [one for one in found if one.action != "voided" and one.body["kind"] == "visit" and one.body["date"]]
    return sorted(kept, key=_moment)


def _moment(record: StoredRevision) -> tuple[str, str, str]:
    started = (record.body.get("started") or {}).get("utc") or ""
    return str(record.body["date"]), str(started), record.serial


def _site_of(work: UnitOfWork, directory: Directory, text: str) -> str:
    """Return the one site that fits; "" where none of the catalogue does.

    Raises:
        NotFoundError: several fit.
    """
    if directory.site(text) is not None:
        return text
    wanted = _way(text)
    if not wanted:
        raise NotFoundError("nothing is named", "Give an address, a name, a site or a serial")
    fits: list[tuple[bool, str, str]] = []
    for entry in work.catalogue.every("site"):
        site = directory.site(entry.id)
        if site is None:
            continue
        customer = directory.customer(site[0].customer) if site[0].customer else None
        who = "" if customer is None else f"{customer[0].name} {customer[0].id}"
        told = _way(f"{site[0].id} {site[0].address} {site[0].city} {site[0].zip} {who}")
        if wanted in told or all(word in told.split() for word in wanted.split()):
            whole = wanted in {_way(site[0].id), _way(site[0].address), _way(customer[0].name if customer else "")}
            fits.append((whole, site[0].id, f"{site[0].id} ({site[0].address})"))
    now = {key for _, key, _ in fits}
    is_place = any(wanted in {_way(key), _way(words.partition(" (")[2][:-1])} for _, key, words in fits)
    former = [] if is_place else [one for one in _former(work, directory, text) if one[1] not in now]
    best = [one for one in [*fits, *former] if one[0]] or [*fits, *former]
    if len(best) > 1:
        named = ", ".join(words for _, _, words in best[:NAMED])
        more = f" and {len(best) - NAMED} more" if len(best) > NAMED else ""
        hint = "Name one by its id or address" + ("; an earlier customer's visit by its serial" if former else "")
        raise NotFoundError(f"{text[:40]!r} fits {len(best)} places: {named}{more}", hint)
    if best and best[0] in former:
        raise NotFoundError(
            f"no place is {text[:40]!r}'s now, but one was: {best[0][2]}", "Name the visit by its serial, or the place"
        )
    return best[0][1] if best else ""


def _way(text: str) -> str:
    """Return a text as addresses are compared: as names are, and the kinds of streets written out."""
    first, *rest = plain(text).split() or [""]
    return " ".join([first, *(_WAYS.get(word, word) for word in rest)])


def _former(work: UnitOfWork, directory: Directory, text: str) -> list[tuple[bool, str, str]]:
    """Return places of the book that were a customer's of that name, but are another's now."""
    wanted = plain(text)

    def named(name: str, key: str) -> bool:
        told = plain(f"{name} {key}")
        return wanted in told or all(word in told.split() for word in wanted.split())

    keys = {
        entry.id
        for entry in work.catalogue.every("customer")
        if (one := directory.customer(entry.id)) is not None and named(one[0].name, entry.id)
    }
    found: dict[str, tuple[bool, str, str]] = {}
    for record in [one for key in (*sorted(keys), text) for one in work.records.search(Criteria(customer=key))]:
        customer, site = record.body["customer"] or {}, record.body["site"] or {}
        name, key = customer.get("name") or "", site.get("id") or ""
        if key in found or record.action == "voided" or record.body["kind"] != "visit":
            continue
        if named(name, customer.get("id") or "") and _is_former(directory, record.body):
            words = f"{key} ({site.get('address')}, another customer's now; {record.serial})"
            found[key] = (wanted == plain(name), key, words)
    return list(found.values())


def _loose(work: UnitOfWork, text: str, until: date) -> list[StoredRevision]:
    """Return visits of a place that only records know, by its address or customer.

    Raises:
        NotFoundError: none fits, or records of several places do.
    """
    found = work.records.search(Criteria(site=text, until=until)) or work.records.search(
        Criteria(customer=text, until=until)
    )
    places = {_place(one.body): one for one in found}
    if len(places) > 1:
        named = ", ".join(filter(None, list(places)[:NAMED]))
        raise NotFoundError(f"{text[:40]!r} fits {len(places)} places: {named}", "Name one by its address")
    if not found:
        near = _near(work, text)
        hint = f"Did you mean {near}?" if near else "swathbook catalogue sites lists the places"
        raise NotFoundError(f"no place, customer or record fits {text[:40]!r}", hint)
    return _standing(found)


def _place(body: Json) -> str:
    site = body["site"] or {}
    return " ".join(filter(None, (site.get("id"), site.get("address"))))


def _near(work: UnitOfWork, text: str) -> str:
    """Return names and addresses of the book that are written nearly like it, with "or" between."""
    known: dict[str, str] = {}
    for kind, part in (("customer", "name"), ("site", "address")):
        for entry in work.catalogue.every(kind):
            told = str(entry.body.get(part) or "")
            for words in (told, *(told.split() if kind == "customer" else ())):
                known.setdefault(_way(words), told)
    close = get_close_matches(_way(text[:80]), [key for key in known if key], 3, _NEAR)
    return " or ".join(repr(told) for told in dict.fromkeys(known[key] for key in close))
