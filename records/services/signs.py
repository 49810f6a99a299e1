"""What a lawn sign has to be where the site is, when it may come down, and that it was put up or taken down.

Only packs of the site's own state are ever asked: sign rules of two states contradict each other in colour and wording.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, time
from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.errors import UsageError
from records.rules.pack import STATUS_WORDS
from records.services.advance import state_packs
from records.services.body_parts import PESTICIDES
from records.services.directory import Directory
from records.services.events import append_event
from records.services.finding import normal_serial, read_day, revisions_of
from records.services.notice_content import OutTime, ended, out_time, reentry_end, zone_of
from records.services.notice_words import local_time
from records.services.occasions import (
    firm_of,
    local,
    moment_of,
    person_of,
    shown_moment,
    site_body,
    site_of,
    zone_at,
)
from records.services.rulebook import Rulebook, day_of
from records.services.sign_lines import SignFacts, SignLine, sign_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date
    from zoneinfo import ZoneInfo

    from records.clock import Clock
    from records.domain.people import Business
    from records.rules.pack import Pack, Sign, Source
    from records.services.ports import Json, OpenBook, StoredRevision, UnitOfWork

PUT_UP = {"before": "before the work begins", "start": "when the work begins", "after": "right after the work"}
NOT_KNOWN = "not known to this tool"
NOT_CHECKED = "NOT CHECKED"
NO_SUNSET_BEFORE = time(15)  # nowhere in the 48 states (from memory); the true hour is not reckoned here
_SERIAL = re.compile(r"\s*\d{4}-\d{1,9}\s*", re.ASCII)
_OF_SIGNS = re.compile(r"\b(?:signs?|markers?)\b", re.ASCII)  # other duties that speak of them
CAUTIONS = (
    "The product label is the law and wins over this page; a city or county may ask more.",
    "An aid and not legal advice; confirm with the state's pesticide agency.",
)


@dataclass(frozen=True, slots=True)
class SignRule:
    """The sign rule of one pack, in printable lines."""

    heading: str  # pack, citation and status
    url: str
    is_checked: bool
    rows: tuple[tuple[str, str], ...]  # name and value
    down: OutTime | None  # when it may come down, where the rule and the record tell
    lines: tuple[SignLine, ...] = ()  # what stands on the sign, as one would write it


@dataclass(frozen=True, slots=True)
class SignSheet:
    """The work sheet for the sign at one site."""

    firm: str
    phone: str
    title: str
    place: str
    state: str
    serial: str  # "" before the work
    day: date  # whose rules are told
    rules: tuple[SignRule, ...]
    also: tuple[str, ...]  # other duties that speak of signs, each with its citation
    recorded: str  # when it may come down, as the record says
    log: tuple[str, ...]  # put up and taken down, as logged
    missing: str  # said in place of rules where none is known
    due_out: str  # the latest of what is known; "" where nothing is
    cautions: tuple[str, ...] = CAUTIONS

    def document(self) -> Json:
        """Return it as plain JSON."""
        return {
            "schema": 1,
            "site": self.place,
            "state": self.state,
            "serial": self.serial or None,
            "day": self.day.isoformat(),
            "rules": [
                {
                    "source": rule.heading,
                    "url": rule.url,
                    "checked": rule.is_checked,
                    **{name.replace(" ", "_"): value for name, value in rule.rows},
                    "lines": [{"text": line.text, "note": line.note or None} for line in rule.lines],
                }
                for rule in self.rules
            ],
            "also": list(self.also),
            "recorded_removal": self.recorded or None,
            "due_out": self.due_out or None,
            "log": list(self.log),
            "missing": self.missing or None,
        }


@dataclass(frozen=True, slots=True)
class SignLogged:
    """A sign that was put up or taken down, as logged."""

    event: str
    what: str
    at: datetime
    too_early: str  # why it came down too early; "" where it did not, or nothing is known
    too_late: str = ""  # why it was put up too late; "" where it was not, or nothing is known

    def document(self) -> Json:
        """Return it as plain JSON."""
        return {
            "event": self.event,
            "what": self.what,
            "at": local(self.at),
            "too_early": self.too_early or None,
            "too_late": self.too_late or None,
        }


@dataclass(frozen=True, slots=True)
class _Place:
    """The site that is asked for, with or without a record of work there."""

    site: Json
    zone: ZoneInfo
    day: date
    record: StoredRevision | None
    business: Business
    firm: Json
    packs: tuple[Pack, ...]
    signs: tuple[StoredRevision, ...]  # logged at this site, about this record or this day


def work_sheet(book: OpenBook, clock: Clock, key: str, *, on: str | None = None) -> SignSheet:
    """Return the work sheet for the sign at a site, or for a sealed visit with the time when it may come down.

    Args:
        book: that holds it.
        clock: for the day where none is given.
        key: a serial; or a site's id, or a part of id or address that fits one site.
        on: day of the work; None: that of the record, else today.

    Raises:
        NotFoundError: no such record or site.
        UsageError: no day.
    """
    with book.read() as work:
        return _sheet(_place(work, key, on, clock.now()))


def log_sign(
    book: OpenBook,
    clock: Clock,
    key: str,
    *,
    placed: str | None = None,
    removed: str | None = None,
    by: str | None = None,
) -> list[SignLogged]:
    """Log that a sign was put up, taken down, or both.

    Args:
        book: that holds the site or record.
        clock: for the present moment.
        key: a serial, or a site; before the work there is no record yet.
        placed: when it was put up, as typed.
        removed: when it was taken down, as typed.
        by: id of the person who did it.

    Raises:
        NotFoundError: no such record, site or person.
        UsageError: no moment, or it was down before it was up.
    """
    now = clock.now()
    with book.write() as work:
        place = _place(work, key, None, now)
        directory = Directory(work.catalogue)
        moments = {
            what: moment_of(text, f"--{what}", place.zone, now)
            for what, text in (("placed", placed), ("removed", removed))
            if text is not None
        }
        if len(moments) == 2 and moments["removed"].timestamp() < moments["placed"].timestamp():
            raise UsageError("--removed is before --placed", "Correct one of them")
        done = []
        for what, moment in moments.items():
            serial = None if place.record is None else place.record.serial
            data: Json = {"serial": serial, "site": place.site["id"], "what": what, "at": local(moment)}
            event = append_event(
                work,
                "sign",
                data,
                now,
                day=moment.date(),
                timezone=place.zone.key,
                business=place.firm,
                site=place.site,
                person=person_of(directory, by, moment.date(), str(place.site.get("state") or "")),
            )
            early = _too_early(place, moment) if what == "removed" else ""
            late = _too_late(place, moment) if what == "placed" else ""
            done.append(SignLogged(event.serial, what, moment, early, late))
        work.commit()
    return done


def _place(work: UnitOfWork, key: str, on: str | None, now: datetime) -> _Place:
    directory, record = Directory(work.catalogue), None
    business, firm = firm_of(directory)
    if _SERIAL.fullmatch(key):
        record = revisions_of(work.records.revisions(normal_serial(key)), key)[-1]
        if record.action == "voided":
            raise UsageError(
                f"{record.serial} was voided: it does not stand", f"swathbook show {record.serial} tells why"
            )
        site, zone, day = record.body["site"] or {}, zone_of(record.body), day_of(record.body)
        if not site.get("id"):
            raise UsageError(f"{record.serial} names no site of the book", "Name a site instead")
    else:
        found, version = site_of(directory, key)
        zone = zone_at(found, business)
        site, day = site_body(found, version), now.astimezone(zone).date()
        if on is not None:
            day = read_day(on) or day
    state = str(site.get("state") or "")
    packs = state_packs(Rulebook(work.catalogue), business, state, day)
    events = work.records.events("sign", site=site["id"])
    own = tuple(event for event in events if _belongs(event, record, day))
    return _Place(site, zone, day, record, business, firm, packs, own)


def _belongs(event: StoredRevision, record: StoredRevision | None, day: date) -> bool:
    serial = event.body["data"].get("serial")
    if record is None:
        return not serial and event.body["date"] >= day.isoformat()
    return bool(serial == record.serial or (not serial and event.body["date"] == day.isoformat()))


def _end(place: _Place) -> datetime | None:
    """Return from when the hours count: the end of the work, or when the sign was put up if that was later."""
    if place.record is None:
        return None
    end = ended(place.record.body)
    placed = [at for what, at in _logged(place.signs) if what == "placed"]
    if end is None or not placed:
        return end
    return max(end, placed[-1], key=datetime.timestamp)


def _logged(signs: Iterable[StoredRevision]) -> list[tuple[str, datetime]]:
    found = []
    for event in signs:
        data = event.body["data"]
        found.append((data["what"], datetime.fromisoformat(data["at"]).astimezone(zone_of(event.body))))
    return sorted(found, key=lambda one: one[1].timestamp())


def _rules(place: _Place) -> list[tuple[Pack, Sign, OutTime | None]]:
    end = _end(place)
    again = None if place.record is None else reentry_end(place.record.body)
    return [
        (pack, sign, None if end is None else out_time(sign, end, again)) for pack in place.packs for sign in pack.signs
    ]


def _sheet(place: _Place) -> SignSheet:
    site, record = place.site, place.record
    state, rules = str(site.get("state") or ""), _rules(place)
    where = ", ".join(filter(None, (one_line(site.get("address")), one_line(site.get("city")), state)))
    recorded = None if record is None else local_time(record.body.get("sign_removal"))
    missing = ""
    if not rules:
        missing = (
            f"No sign rule of {state or 'this state'} is known to this tool. That does not mean that there is none: "
            "ask the state's pesticide agency. No size, colour or wording is given here, and no other state's sign may "
            "stand in for it."
        )
    return SignSheet(
        firm=one_line(place.business.name),
        phone=one_line(place.business.phone),
        title="Work sheet: the lawn sign",
        place=f"{where} ({one_line(site['id'])})",
        state=state,
        serial="" if record is None else record.serial,
        day=place.day,
        rules=tuple(_rule(pack, sign, down, place) for pack, sign, down in rules),
        also=_also(place.packs),
        recorded="" if recorded is None else shown_moment(recorded),
        log=tuple(
            f"{'put up' if what == 'placed' else 'taken down'} {shown_moment(at)}" for what, at in _logged(place.signs)
        ),
        missing=missing,
        due_out=_latest([down for _, sign, down in rules if sign.source.status.binds], recorded),
    )


def _rule(pack: Pack, sign: Sign, down: OutTime | None, place: _Place) -> SignRule:
    stays = sign.stays or NOT_KNOWN
    comes_down = told_out(down) or _why_unknown(place)
    rows = (
        ("size", sign.size or NOT_KNOWN),
        ("look", sign.look or NOT_KNOWN),
        *(() if sign.wording else (("wording", NOT_KNOWN),)),
        ("put up", PUT_UP.get(sign.put_up, NOT_KNOWN)),
        ("stays", stays),
        ("may come down", comes_down),
        ("also", sign.words),
    )
    checked = sign.source.status.binds
    return SignRule(
        f"{'' if checked else NOT_CHECKED + ': '}{pack.id}, {_cited(sign.source)}",
        sign.source.url,
        checked,
        tuple((name, one_line(value, 600)) for name, value in rows if value),
        down,
        sign_lines(one_line(sign.wording, 600), _facts_of(place, down)),
    )


def _why_unknown(place: _Place) -> str:
    """Return in plain words why no time is told at which a sign may come down."""
    if place.record is None:
        return "worked out from the end of the work, once the visit is sealed"
    if _end(place) is None:
        return "cannot be worked out from this record because it does not say when the work ended"
    return "cannot be worked out from this record because the rule, as far as it is known here, sets no least time"


def _facts_of(place: _Place, down: OutTime | None) -> SignFacts:
    """Return what can be filled in on a sign: of the firm always, of the work once there is a record."""
    body: Json = {} if place.record is None else place.record.body
    began = local_time(body.get("started"))
    names = [
        one_line(line["product"].get("name"))
        for treatment in body.get("treatments") or []
        for line in treatment.get("applications") or []
        if line["product"].get("kind") in PESTICIDES
    ]
    return SignFacts(
        firm=one_line(place.business.name),
        phone=one_line(place.business.phone),
        date="" if place.record is None else str(body.get("date") or ""),
        time="" if began is None else f"{began:%H:%M}",
        product=", ".join(dict.fromkeys(filter(None, names))),
        removal=told_out(down),
    )


def _cited(source: Source) -> str:
    return f"{source.citation} ({STATUS_WORDS[source.status]}{f'; {source.edition}' if source.edition else ''})"


def told_out(down: OutTime | None) -> str:
    """Return when a sign may come down in plain words; "" where that is not known."""
    if down is None:
        return ""
    if down.moment is not None:
        return shown_moment(down.moment)
    return f"{'at sunset of' if down.sunset else 'on'} {down.day}"


def _latest(downs: Iterable[OutTime | None], recorded: datetime | None) -> str:
    """Return the latest of all times that are known: no rule of the place is broken by leaving it up so long."""
    known = [down for down in downs if down is not None]
    if recorded is not None:
        known.append(OutTime(recorded))
    return told_out(max(known, key=_order, default=None))


def _order(down: OutTime) -> tuple[date, bool, float]:
    if down.moment is not None:
        return down.moment.date(), False, down.moment.timestamp()
    assert down.day is not None  # noqa: S101 - one of the two is always there
    return down.day, down.sunset, 0.0


def _also(packs: Sequence[Pack]) -> tuple[str, ...]:
    return tuple(
        f"{'' if duty.source.status.binds else NOT_CHECKED + ': '}{one_line(duty.text, 600)} "
        f"({pack.id}, {duty.source.cited})"
        for pack in packs
        for duty in pack.duties
        if _OF_SIGNS.search(duty.text)
    )


def _too_early(place: _Place, moment: datetime) -> str:
    """Return which rule a removal breaks, in plain words; "" where none that was read."""
    recorded = None if place.record is None else local_time(place.record.body.get("sign_removal"))
    if recorded is not None and moment.timestamp() < recorded.timestamp():
        return f"the record says that it stays up until {shown_moment(recorded)}"
    for pack, sign, down in _rules(place):
        if down is None or not sign.source.status.binds:
            continue
        if _is_early(down, moment):
            until = told_out(down).removeprefix("at ").removeprefix("on ")
            return f"it had to stay up until {until} ({pack.id}: {sign.source.cited})"
    return ""


def _too_late(place: _Place, moment: datetime) -> str:
    """Return which rule a sign breaks that was put up after the work had begun, or ended; "" where none that was read.

    A sign that has to stand "before" or "at the start" is late once the work has begun; one that goes up "after" it is
    late once the day is over.
    """
    body = None if place.record is None else place.record.body
    began = local_time((body or {}).get("started"))
    for pack, sign, _ in _rules(place):
        if began is None or not sign.source.status.binds or not sign.put_up:
            continue
        is_late = moment.timestamp() > began.timestamp()
        if sign.put_up == "after":
            is_late = moment.date() > began.date()
        if is_late:
            when = "right after the work" if sign.put_up == "after" else "by the start of the work"
            return f"it had to be up {when}, {shown_moment(began)} ({pack.id}: {sign.source.cited})"
    return ""


def _is_early(down: OutTime, moment: datetime) -> bool:
    if down.moment is not None:
        return moment.timestamp() < down.moment.timestamp()
    assert down.day is not None  # noqa: S101 - one of the two is always there
    if down.sunset and moment.date() == down.day:
        return moment.time() < NO_SUNSET_BEFORE
    return moment.date() < down.day
