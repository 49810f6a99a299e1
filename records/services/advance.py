"""Advance notice: whom to tell before a site is treated, by when, what to say, and every try logged."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from records.domain.contacts import HOWS, POSTPONED, RESULTS, Contact, counts_as_told
from records.errors import NotFoundError, UsageError
from records.rules.advance_checks import NEAR, first_moment, owed_contacts, packs_of_state, to_tell
from records.services.closing.entry import Reader
from records.services.directory import Directory
from records.services.events import append_event
from records.services.finding import read_day
from records.services.notice_content import zone_of
from records.services.occasions import firm_of, local, moment_of, person_of, site_body, site_of, words_of, zone_at
from records.services.rulebook import Rulebook

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from zoneinfo import ZoneInfo

    from records.clock import Clock
    from records.domain.people import Business
    from records.domain.place import Site, ToNotify
    from records.domain.product import Product
    from records.rules.advance_checks import Told
    from records.rules.pack import AdvanceNotice, Duty, Pack
    from records.services.ports import Json, OpenBook, StoredRevision, UnitOfWork

__all__ = ["Logged", "Plan", "contacts_of", "log_contact", "owed_contacts", "plan", "postpone", "state_packs"]

_OF_NEIGHBOURS = re.compile(r"\b(?:neighbou?rs?|abutting|adjoining|registry)\b", re.ASCII)  # other duties about them


@dataclass(frozen=True, slots=True)
class Plan:
    """Whom to tell of the work of one day at one site, and what."""

    site: Site
    business: Business
    day: date
    start: datetime  # aware, local; the first moment of the day where no time is known
    is_timed: bool
    told: tuple[Told, ...]  # everyone listed on that day
    unlisted: tuple[ToNotify, ...]  # on the list, but not on that day
    rules: tuple[tuple[str, AdvanceNotice], ...]  # pack and fact, of the site's own state
    products: tuple[Product, ...]
    now: datetime
    duties: tuple[tuple[str, Duty], ...] = ()  # pack and what else it says about those who are told

    def good_from(self, told: Told) -> datetime | None:
        """Return from which start on someone was told early enough; None where the start is known or nothing counts."""
        return None if self.is_timed else told.good_from

    @property
    def left(self) -> tuple[Told, ...]:
        """Return who has still to be told."""
        return tuple(one for one in self.told if one.in_time is None and self.good_from(one) is None)

    @property
    def missed(self) -> tuple[Told, ...]:
        """Return who was not told and cannot be told early enough any more."""
        return tuple(one for one in self.left if one.latest.timestamp() < self.now.timestamp())

    def shorter(self, told: Told) -> str:
        """Return the rule that asks for a longer lead than the list has for someone; "" where none does."""
        for pack, rule in self.rules:
            if rule.lead is not None and rule.lead.start_before(self.start).timestamp() < told.latest.timestamp():
                return f"{pack} asks {rule.lead} for {rule.who}"
        return ""


@dataclass(frozen=True, slots=True)
class Logged:
    """One entry of the log, and who has still to be told of the day."""

    event: str
    contact: Contact
    name: str
    plan: Plan


def contacts_of(events: Iterable[StoredRevision]) -> list[Contact]:
    """Return the contacts that sealed events tell of, oldest entry first.

    Entries about a postponed visit are none; what was told of that day before it was put off counts no more.
    """
    found, put_off = [], []
    for event in events:
        data = event.body["data"]
        if data["result"] == POSTPONED:
            put_off.append((date.fromisoformat(data["for"]), datetime.fromisoformat(data["at"]).timestamp()))
            continue
        at = datetime.fromisoformat(data["at"]).astimezone(zone_of(event.body))
        told = counts_as_told(data["how"], data["result"])
        day = date.fromisoformat(data["for"])
        found.append(Contact(data["notify"], day, at, told, data["how"], data["result"], data["note"]))
    return [
        replace(one, undone=any(day == one.day and one.at.timestamp() < moment for day, moment in put_off))
        for one in found
    ]


def state_packs(rulebook: Rulebook, business: Business, state: str, day: date) -> tuple[Pack, ...]:
    """Return the packs of a site's own state in force on a day, and the firm's own that hold there."""
    own = (rulebook.overlay_on(key, day) for key in business.packs)
    return (*packs_of_state(state, day), *(pack for pack in own if pack is not None and pack.state in {"", state}))


def plan(
    book: OpenBook,
    clock: Clock,
    site: str,
    on: str,
    *,
    at: str | None = None,
    products: Sequence[str] = (),
) -> Plan:
    """Return whom to tell of the work of a day.

    Args:
        book: that holds the site.
        clock: for the present moment.
        site: id, or a part of id or address that fits one site.
        on: day of the work.
        at: time of day at which it begins, like 09:10; None: not known, so that leads count from midnight.
        products: ids of what will be used.

    Raises:
        UsageError: no day, or no time of day.
        NotFoundError: no such site or product.
    """
    day = _day(on, "--on")
    with book.read() as work:
        found = site_of(Directory(work.catalogue), site)[0]
        return _plan(work, found, day, clock.now(), at=at, products=products)


def _day(text: str, option: str) -> date:
    if len(text.strip()) != len("2026-05-14"):
        raise UsageError(f"{option} {text[:20]!r} is no day", "Write it like 2026-05-14")
    day = read_day(text)
    assert day is not None  # noqa: S101 - a text was given
    return day


def _start(day: date, at: str | None, zone: ZoneInfo) -> datetime:
    if at is None:
        return first_moment(day, zone)
    reader = Reader()
    moment = reader.moment(f"{day}T{at.strip().zfill(5)}", "--at", "the start", zone)
    if moment is None:
        raise UsageError(f"--at {at[:20]!r} is no time of day", "Write it like 09:10")
    return moment


def _plan(
    work: UnitOfWork, site: Site, day: date, now: datetime, *, at: str | None = None, products: Sequence[str] = ()
) -> Plan:
    directory = Directory(work.catalogue)
    business, _ = firm_of(directory)
    start = _start(day, at, zone_at(site, business))
    packs = state_packs(Rulebook(work.catalogue), business, site.state, day)
    contacts = contacts_of(work.records.events("contact", site=site.id))
    near = {one.day for one in contacts if abs((one.day - day).days) <= NEAR}
    worked = {one for one in near if work.records.on_site(site.id, one)}
    return Plan(
        site=site,
        business=business,
        day=day,
        start=start,
        is_timed=at is not None,
        told=to_tell(site, day, start, contacts, packs, worked),
        unlisted=tuple(one for one in site.notify if not one.is_listed_on(day)),
        rules=tuple((pack.id, one) for pack in packs for one in pack.advance),
        products=tuple(_product(directory, key) for key in products),
        now=now,
        duties=tuple((pack.id, one) for pack in packs for one in pack.duties if _OF_NEIGHBOURS.search(one.text)),
    )


def _product(directory: Directory, key: str) -> Product:
    product = directory.product(key)
    if product is None:
        near = difflib.get_close_matches(key, directory.ids("product"), 2, 0.5)
        hint = f"Did you mean {' or '.join(near)}?" if near else "swathbook catalogue products lists them"
        raise NotFoundError(f"no product {key[:40]!r} in the book", hint)
    return product


def _listed(site: Site, text: str) -> ToNotify:
    """Return someone on a site's list, by id or by a part of the name."""
    wanted = " ".join(text.casefold().split())
    exact = [one for one in site.notify if one.id == text.strip()]
    fits = exact or [one for one in site.notify if wanted and wanted in one.name.casefold()]
    if len(fits) == 1:
        return fits[0]
    known = ", ".join(f"{one.id} ({one.name})" for one in site.notify) or "nobody"
    what = f"{text[:40]!r} fits several people" if fits else f"{text[:40]!r} is not on the list of {site.id}"
    raise NotFoundError(what, f"On it: {known}. Load the site with its notify list to add someone")


def log_contact(
    book: OpenBook,
    clock: Clock,
    site: str,
    who: str,
    *,
    day: str,
    how: str,
    result: str | None,
    at: str | None = None,
    by: str | None = None,
    note: str | None = None,
) -> Logged:
    """Log a try to tell someone of the work of a day.

    Args:
        book: that holds the site.
        clock: for the present moment.
        site: id, or a part of id or address that fits one site.
        who: id on the site's list, or a part of the name.
        day: of the work that was told of.
        how: one of `HOWS`.
        result: one of `RESULTS`; may be left out for a letter, which was left then.
        at: when, as typed; None: now.
        by: id of who tried.
        note: free words.

    Raises:
        UsageError: the words make no sense.
        NotFoundError: no such site or person.
    """
    if how not in HOWS:
        raise UsageError(f"--how {how[:20]!r} is no way to tell someone", f"One of: {', '.join(HOWS)}")
    became = result or ("left-note" if how == "letter" else "")
    if became not in RESULTS:
        raise UsageError(f"--result {became[:20]!r} is no result", f"One of: {', '.join(RESULTS)}")
    wanted, words, now = _day(day, "--for"), words_of(note, "--note"), clock.now()
    with book.write() as work:
        directory = Directory(work.catalogue)
        found, _ = site_of(directory, site)
        listed = _listed(found, who)
        tried = {"notify": listed.id, "name": listed.name, "for": wanted.isoformat(), "how": how, "result": became}
        event = _log(work, directory, site, tried, now, at=at, by=by, note=words)
        after = _plan(work, found, wanted, now)
        work.commit()
    return Logged(event.serial, contacts_of([event])[0], listed.name, after)


def _log(
    work: UnitOfWork,
    directory: Directory,
    site: str,
    told: Json,
    now: datetime,
    *,
    at: str | None = None,
    by: str | None = None,
    note: str = "",
) -> StoredRevision:
    """Seal a try to tell someone, or that nobody need be told of a day any more."""
    found, version = site_of(directory, site)
    business, firm = firm_of(directory)
    zone = zone_at(found, business)
    moment = moment_of(at, "--at", zone, now)
    return append_event(
        work,
        "contact",
        {"site": found.id, **told, "at": local(moment), "note": note},
        now,
        day=moment.date(),
        timezone=zone.key,
        business=firm,
        site=site_body(found, version),
        person=person_of(directory, by, moment.date(), found.state),
    )


def postpone(
    book: OpenBook,
    clock: Clock,
    site: str,
    *,
    day: str,
    to: str,
    reason: str,
    by: str | None = None,
) -> tuple[str, Plan]:
    """Log that the work of a day was put off; return the event's serial and whom to tell of the new day.

    Args:
        book: that holds the site.
        clock: for the present moment.
        site: id, or a part of id or address that fits one site.
        day: that was planned.
        to: the new day.
        reason: why.
        by: id of who decided.

    Raises:
        UsageError: no days, the same day twice, or no reason.
        NotFoundError: no such site or person.
    """
    before, after, words = _day(day, "--from"), _day(to, "--to"), words_of(reason, "--reason")
    if before == after:
        raise UsageError(f"--from and --to are both {before}", "Name the new day")
    if not words:
        raise UsageError("--reason is empty", "Say in a few words why, such as: wind")
    now = clock.now()
    with book.write() as work:
        directory = Directory(work.catalogue)
        found, _ = site_of(directory, site)
        put_off = {"notify": "", "name": "", "for": before.isoformat(), "to": after.isoformat(), "how": ""}
        event = _log(work, directory, site, put_off | {"result": POSTPONED}, now, by=by, note=words)
        anew = _plan(work, found, after, now)
        work.commit()
    return event.serial, anew
