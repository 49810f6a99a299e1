"""What customers are owed of a visit, and what was given: pure over sealed delivery events and the packs' copies.

A delivery names its record under `serial` when the record's notice reached the customer. Under `record`, with no
serial, it names the record when it does not count as that: a copy given before the work, one that went to somebody
else, a request. A copy given before there is a record names the site and the days of work that it is about.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from records.domain.spans import LAST
from records.services.notice_content import ended, has_pesticide, told_when, zone_of
from records.services.notice_words import local_time
from records.services.occasions import local, shown_moment
from records.services.rulebook import day_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from records.rules.pack import CustomerCopy, Pack
    from records.services.ports import Json, StoredRevision, UnitOfWork

ASKED = "asked"  # how of a delivery event that only logs a request
ROLES = ("customer", "agent", "occupant", "other")
STATES = ("overdue", "owed", "late", "given", "on request", "none")  # worst first
BEFORE = timedelta(400)  # how long before the work a copy may have been given: with the contract of a season
_OCCUPANT = re.compile(r"\b(?:occupants?|tenants?|residents?)\b", re.ASCII)  # rules that name who lives there


@dataclass(frozen=True, slots=True)
class Delivery:
    """A notice or copy that was given, or asked for."""

    event: str  # serial of the sealed event
    serial: str  # of the record it tells of; "" where there was none yet
    revision: int  # 0 where there was none yet
    how: str  # or `ASKED`
    to: str
    at: datetime  # aware, local
    language: str
    sha256: str  # of the PDF; "" where the tool did not write it
    message_id: str  # "" unless this tool sent it
    role: str = "customer"  # one of `ROLES`: who that is
    is_before: bool = False  # a copy that was owed before the work
    site: str = ""
    first: date | None = None  # days of work that a copy without a record is about
    last: date | None = None
    asked: datetime | None = None  # when the customer asked for it, where known

    @property
    def is_given(self) -> bool:
        """Tell whether anything was handed over at all."""
        return self.how != ASKED

    @property
    def is_notice(self) -> bool:
        """Tell whether it is the record's notice, given to the customer or who acts for the customer."""
        return self.is_given and not self.is_before and self.role in {"customer", "agent"}

    @property
    def whom(self) -> str:
        """Return whom it went to, and who that is where it is not the customer."""
        who = {"customer": "", "agent": "the customer's agent", "occupant": "lives there"}.get(
            self.role, "not the customer"
        )
        return f"{self.to} ({who})" if who else self.to

    @property
    def told(self) -> str:
        """Return how, when and to whom in one line."""
        if not self.is_given:
            return f"asked for {shown_moment(self.at)} by {self.whom}"
        return f"{'by e-mail' if self.how == 'email' else 'on paper'} {shown_moment(self.at)} to {self.whom}"

    def is_about(self, serial: str, site: str, day: date) -> bool:
        """Tell whether it is about a record, by its serial or by the site and day of the work."""
        if self.serial or self.first is None or self.last is None:
            return self.serial == serial
        return self.site == site and self.first <= day <= self.last

    def serves(self, copy: CustomerCopy) -> bool:
        """Tell whether it is what a rule wants given: the right copy, to someone the rule takes."""
        if not self.is_given or self.is_before is not (copy.moment == "before"):
            return False
        return self.role in {"customer", "agent"} or (
            self.role == "occupant" and _OCCUPANT.search(copy.words) is not None
        )

    def document(self) -> Json:
        """Return it as plain JSON."""
        return {
            "event": self.event,
            "serial": self.serial or None,
            "revision": self.revision or None,
            "how": self.how,
            "to": self.to,
            "as": self.role,
            "before": self.is_before,
            "for": self.first and self.first.isoformat(),
            "until": self.last and self.last.isoformat(),
            "asked": self.asked and local(self.asked),
            "at": local(self.at),
            "language": self.language,
            "sha256": self.sha256,
            "message_id": self.message_id,
        }


@dataclass(frozen=True, slots=True)
class OwedCopy:
    """A copy that a pack owes the customer for one visit."""

    pack: str
    copy: CustomerCopy
    due: datetime | None  # None: the rule sets no time, or nobody asked for it
    state: str  # one of `STATES`; "late" was given after it was due, "owed" is not due yet
    given: datetime | None = None

    @property
    def told(self) -> str:
        """Return pack, moment, citation and status in one line."""
        return f"{self.pack}: {self.copy.source.cited}, {told_when(self.copy)}"

    @property
    def is_open(self) -> bool:
        """Tell whether it has still to be given."""
        return self.state in {"overdue", "owed"}


@dataclass(frozen=True, slots=True)
class RecordCopies:
    """What one record owes, and what was given of it."""

    record: StoredRevision
    given: tuple[Delivery, ...]  # and asked for, and what went to others
    owed: tuple[OwedCopy, ...]

    @property
    def state(self) -> str:
        """Return the worst that is to be said of it; "none" where no rule of the place owes a copy.

        "outdated" is what was given in time, while the record was corrected since.
        """
        found = {copy.state for copy in self.owed}
        reached = any(one.is_notice for one in self.given)
        worst = "given" if not found - {"on request"} and reached else min(found or {"none"}, key=STATES.index)
        return "outdated" if self.is_old and worst in {"given", "on request", "none"} else worst

    @property
    def is_old(self) -> bool:
        """Tell whether the notice given last is older than the record's latest revision."""
        notices = [one for one in self.given if one.is_notice]
        return bool(notices) and notices[-1].revision < self.record.revision

    def document(self) -> Json:
        """Return it as plain JSON."""
        body = self.record.body
        return {
            "serial": self.record.serial,
            "revision": self.record.revision,
            "date": body["date"],
            "site": (body["site"] or {}).get("id"),
            "customer": (body["customer"] or {}).get("name"),
            "state": self.state,
            "given": [one.document() for one in self.given],
            "owed": [
                {
                    "pack": one.pack,
                    "when": told_when(one.copy),
                    "due": one.due and local(one.due),
                    "state": one.state,
                    "citation": one.copy.source.citation,
                    "status": one.copy.source.status.value,
                }
                for one in self.owed
            ],
        }


class Copies:
    """The deliveries of a book, by what they are about."""

    def __init__(self, events: Iterable[StoredRevision]) -> None:
        """Sort sealed events by record, and those without one by site."""
        self._records: defaultdict[str, list[Delivery]] = defaultdict(list)
        self._sites: defaultdict[str, list[Delivery]] = defaultdict(list)
        for one in deliveries_of(events):
            (self._records[one.serial] if one.serial else self._sites[one.site]).append(one)

    @classmethod
    def since(cls, work: UnitOfWork, first: date | None) -> Copies:
        """Return those that may be about work from a day on: a copy can be given long before."""
        early = None if first is None else max(first, date.min + BEFORE) - BEFORE
        return cls(work.records.events("delivery", since=early))

    def of(self, serial: str, body: Json) -> list[Delivery]:
        """Return what is about a record, in the order of the moments."""
        site = str((body["site"] or {}).get("id") or "")
        found = [one for one in self._sites.get(site, ()) if one.is_about(serial, site, day_of(body))]
        return sorted([*self._records.get(serial, ()), *found], key=lambda one: one.at.timestamp())


def deliveries_of(events: Iterable[StoredRevision]) -> list[Delivery]:
    """Return the deliveries that sealed events tell of, in their order."""
    found = []
    for event in events:
        data, zone = event.body["data"], zone_of(event.body)
        plain = {key: data[key] for key in ("how", "to", "language", "sha256", "message_id")}
        found.append(
            Delivery(
                event=event.serial,
                serial=data["serial"] or data.get("record") or "",
                revision=data["revision"] or 0,
                at=datetime.fromisoformat(data["at"]).astimezone(zone),
                role=data.get("as") or "customer",
                is_before=bool(data.get("before")),
                site=str((event.body["site"] or {}).get("id") or ""),
                first=_day(data.get("for")),
                last=_day(data.get("until") or data.get("for")),
                asked=datetime.fromisoformat(data["asked"]).astimezone(zone) if data.get("asked") else None,
                **plain,
            )
        )
    return found


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def owed_copies(body: Json, packs: Sequence[Pack], given: Sequence[Delivery], now: datetime) -> tuple[OwedCopy, ...]:
    """Return the copies that rules owe the customer for a visit, each with how it stands.

    Owed at the visit means by the end of its day; owed before the work, until the work begins; on request, once it was
    asked for. Records from elsewhere (imports) are left out: what was given then is not in this book.

    Args:
        body: of the record's latest revision.
        packs: that judge it.
        given: deliveries and requests about that record.
        now: the present moment.
    """
    end = ended(body)
    if end is None or (body.get("origin") or {}).get("kind") == "import" or not has_pesticide(body):
        return ()
    start = local_time(body.get("started")) or end
    return tuple(_owed(pack.id, copy, start, end, given, now) for pack in packs for copy in pack.copies)


def _owed(
    pack: str, copy: CustomerCopy, start: datetime, end: datetime, given: Sequence[Delivery], now: datetime
) -> OwedCopy:
    """Return how one copy stands."""
    times = sorted((one.at for one in given if one.serves(copy)), key=datetime.timestamp)
    due: datetime | None = datetime.combine(end.date(), LAST, tzinfo=end.tzinfo)
    if copy.moment == "before":
        due = start
    elif copy.moment == "days" and copy.within is not None:
        due = copy.within.end_after(end)
    elif copy.moment == "request":
        asked = min((one.asked for one in given if one.asked is not None), key=datetime.timestamp, default=None)
        if asked is None:
            return OwedCopy(pack, copy, None, "on request")
        times = [at for at in times if at.timestamp() >= asked.timestamp()]
        due = None if copy.within is None else copy.within.end_after(asked)
    first = times[0] if times else None
    is_over = due is not None and (first or now).timestamp() > due.timestamp()
    if first is None:
        return OwedCopy(pack, copy, due, "overdue" if is_over else "owed")
    return OwedCopy(pack, copy, due, "late" if is_over else "given", first)
