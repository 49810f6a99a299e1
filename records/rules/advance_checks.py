"""Were the people told beforehand who have to be: those on the site's list, each early enough, for this very day?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.rules.packs import pack_ids, pack_on

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence
    from datetime import date, tzinfo

    from records.domain.contacts import Contact
    from records.domain.place import Site, ToNotify
    from records.domain.spans import Span
    from records.domain.visit import Visit
    from records.rules.context import Context
    from records.rules.pack import AdvanceNotice, Pack

NEAR = 45  # days; what was told further away is no put-off visit


@dataclass(frozen=True, slots=True)
class Told:
    """Someone who has to be told of the work of a day, and how that stands."""

    who: ToNotify
    latest: datetime  # the last moment at which telling counts, in the zone of the site
    lead: Span | None  # None: any time before
    rule: str  # pack and citation where the lead is the rule's; "" where it is the list's own
    tried: tuple[Contact, ...]  # for this day, oldest first
    others: tuple[Contact, ...]  # that count, for other days near by on which no work was done: it was put off
    in_writing: bool = False  # the state's rule about neighbours wants it in writing: a call does not count

    @property
    def in_time(self) -> Contact | None:
        """Return the contact that counts and was early enough, if any."""
        return next((one for one in self._counting if one.at.timestamp() <= self.latest.timestamp()), None)

    @property
    def too_late(self) -> Contact | None:
        """Return a contact that would count but came too late, if any."""
        return next(iter(self._counting), None) if self.in_time is None else None

    @property
    def good_from(self) -> datetime | None:
        """Return the earliest start for which the first telling that counts comes early enough.

        None where nobody was told, where that lies after the day, or where the hour of the start makes no difference.
        """
        late = self.too_late
        if late is None or (self.lead is not None and self.lead.unit == "working days"):
            return None
        at = late.at.astimezone(self.latest.tzinfo)
        if self.lead is not None:
            at = self.lead.end_after(at) if self.lead.unit == "hours" else at + timedelta(days=self.lead.amount)
        return at if at.date() <= late.day else None

    @property
    def _counting(self) -> list[Contact]:
        return [one for one in self.tried if self.counts(one)]

    def counts(self, contact: Contact) -> bool:
        """Tell whether a try counts as having told them: it was not undone, and is in writing where it has to be."""
        return contact.told and not contact.undone and (not self.in_writing or is_written(contact))


def is_written(contact: Contact) -> bool:
    """Tell whether a try left something to read: a letter, an e-mail, a text message, or a note at the door."""
    return contact.how in {"letter", "email", "text"} or (contact.how, contact.result) == ("door", "left-note")


@lru_cache(maxsize=256)
def packs_of_state(state: str, day: date) -> tuple[Pack, ...]:
    """Return the packs of one state that come with the tool and are in force on a day, whichever the firm names.

    Signs and neighbours are matters of the place: no other state's rule, nor a common one, is ever among them.

    Args:
        state: two letters.
        day: local day.
    """
    prefix = f"us-{state.lower()}"
    found = [pack_on(key, day) for key in pack_ids() if key == prefix or key.startswith(f"{prefix}-")]
    return tuple(pack for pack in found if pack is not None and pack.state == state and pack.products != "fertilizer")


def strictest_lead(packs: Iterable[Pack], start: datetime) -> tuple[Pack, AdvanceNotice] | None:
    """Return the advance notice of the packs that has to come earliest before a start, of those that set a lead."""
    found = [(pack, advance) for pack in packs for advance in pack.advance if advance.lead is not None]
    return min(found, key=lambda one: _latest(one[1].lead, start).timestamp(), default=None)


def _latest(lead: Span | None, start: datetime) -> datetime:
    return start if lead is None else lead.start_before(start)


def to_tell(
    site: Site,
    day: date,
    start: datetime,
    contacts: Iterable[Contact],
    packs: Sequence[Pack],
    worked: Collection[date] = (),
) -> tuple[Told, ...]:
    """Return everyone on a site's list who has to be told of the work of a day, in the order of the list.

    The lead of the list is the one that counts; where it has none, the strictest of the packs.

    Args:
        site: with its list.
        day: of the work; a listing has to be in force on it.
        start: of the work, aware, in the zone of the site; its first moment where no time is known yet.
        contacts: every try at this site.
        packs: of the site's state.
        worked: days on which the site was treated; what was told of those was for them.
    """
    rule = strictest_lead(packs, start)
    tries = sorted(contacts, key=lambda one: one.at.timestamp())
    found = []
    for who in site.notify:
        if not who.is_listed_on(day):
            continue
        lead, cited = who.lead, ""
        if lead is None and rule is not None:
            pack, advance = rule
            lead, cited = advance.lead, f"{pack.id}: {advance.source.cited}"
        own = [one for one in tries if one.notify == who.id]
        found.append(
            Told(
                who,
                _latest(lead, start),
                lead,
                cited,
                tuple(one for one in own if one.day == day),
                tuple(
                    one for one in own if one.told and one.day not in worked and 0 < abs((one.day - day).days) <= NEAR
                ),
                who.why == "abutting" and any(advance.written for pack in packs for advance in pack.advance),
            )
        )
    return tuple(found)


def owed_contacts(
    site: Site,
    day: date,
    start: datetime,
    contacts: Iterable[Contact],
    packs: Sequence[Pack],
    worked: Collection[date] = (),
) -> list[Told]:
    """Return who was not told of the work of a day, or not early enough; for the arguments see `to_tell`."""
    return [told for told in to_tell(site, day, start, contacts, packs, worked) if told.in_time is None]


def first_moment(day: date, zone: tzinfo) -> datetime:
    """Return the first moment of a day, for work whose time is not known."""
    return datetime.combine(day, time.min, tzinfo=zone)


_HAD = " had to be told "


def untold(message: str) -> str:
    """Return whom a finding of `check_advance` is about; "" for another finding."""
    return message.partition(_HAD)[0] if _HAD in message else ""


def check_advance(visit: Visit, context: Context) -> Iterator[Finding]:
    """Ask when somebody who has to be told of a visit beforehand was not, not early enough, or of another day only."""
    site, day = visit.site, visit.day
    moment = visit.started or visit.finished
    if site is None or not site.notify or day is None or moment is None or not visit.has_pesticide:
        return
    packs = tuple(dict.fromkeys((*packs_of_state(site.state, day), *(p for p in context.packs if p.is_overlay))))
    worked = {use.day for use in context.history}
    for told in owed_contacts(site, day, moment, context.contacts, packs, worked):
        lead = "before the work" if told.lead is None else f"{told.lead} before the work"
        latest = f"{told.latest:%Y-%m-%d %H:%M}"
        yield Finding(
            Code.NOT_NOTIFIED,
            Severity.ASK,
            "site",
            f"{told.who.name} ({told.who.why}){_HAD}{lead}: {_what_is_wrong(told)}",
            latest,
            f"{told.too_late.at.astimezone(moment.tzinfo):%Y-%m-%d %H:%M}" if told.too_late else "nothing that counts",
            told.rule or f"the list of {site.id}",
        )


def _what_is_wrong(told: Told) -> str:
    late = told.too_late
    if late is not None:
        when = late.at.astimezone(told.latest.tzinfo)
        return f"told {when:%Y-%m-%d %H:%M}, the last moment was {told.latest:%Y-%m-%d %H:%M}"
    log = "log it with swathbook contact, or confirm that it was not done"
    if told.in_writing and any(one.told and not one.undone for one in told.tried):
        return f"told, but not in writing, as the state's rule about neighbours asks; {log}"
    if told.others:
        days = ", ".join(dict.fromkeys(str(one.day) for one in told.others[-3:]))
        return f"told of {days} only, and another day needs a new notice; {log}"
    if any(one.told and one.undone for one in told.tried):
        return f"told before the work was put off, and that needs a new notice; {log}"
    if told.tried:
        return f"{len(told.tried)} tr{'y' if len(told.tried) == 1 else 'ies'} logged, none that counts; {log}"
    return f"no contact is logged for this day; {log}"
