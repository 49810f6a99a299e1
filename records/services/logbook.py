"""The shop log: calibrations, purchases, disposals, rinses and counts, each a sealed event, and their withdrawal.

Nothing sealed is changed. What was logged wrongly is withdrawn by another sealed event that names it and says why; what
is withdrawn counts nowhere and stays readable.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.errors import NotFoundError, UsageError
from records.services.directory import Directory
from records.services.events import FOLLOWED, LOGGED, append_event
from records.services.finding import normal_serial
from records.services.occasions import firm_of, local, moment_of, person_of, words_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.clock import Clock
    from records.services.ports import Json, OpenBook, StoredRevision, UnitOfWork

__all__ = ["LOGGED", "Logged", "Withdrawal", "entries", "log", "withdraw"]


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """That an entry counts no more: by which event, when, by whom and why."""

    serial: str
    at: datetime
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Logged:
    """One entry of the shop log."""

    serial: str
    kind: str  # one of `LOGGED` or `FOLLOWED`
    at: datetime  # aware, local: when it happened
    by: str  # name; "" where nobody is named
    person: str  # id; "" where nobody is named
    data: Json
    sealed_at: str
    withdrawn: Withdrawal | None = None

    @property
    def day(self) -> date:
        """Return the local day on which it happened."""
        return self.at.date()


def log(
    work: UnitOfWork, kind: str, data: Json, now: datetime, *, at: str | None = None, by: str | None = None
) -> StoredRevision:
    """Seal an entry of the shop log; the caller commits.

    Args:
        work: a writing unit of work.
        kind: one of `LOGGED` or `FOLLOWED`.
        data: what it is about, plain JSON without fractions; `at` is added.
        now: the moment of entry.
        at: when it happened, as typed, in the firm's zone; None: now.
        by: id of who did it; None: nobody is named.

    Raises:
        UsageError: no moment, or one in the future.
        NotFoundError: no such person.
        InputError: the book has no firm yet.
    """
    directory = Directory(work.catalogue)
    business, firm = firm_of(directory)
    zone = ZoneInfo(business.timezone)
    moment = moment_of(at, "--at", zone, now)
    return append_event(
        work,
        kind,
        {**data, "at": local(moment)},
        now,
        day=moment.date(),
        timezone=zone.key,
        business=firm,
        person=person_of(directory, by, moment.date(), business.state),
    )


def entries(
    work: UnitOfWork,
    *kinds: str,
    since: date | None = None,
    until: date | None = None,
    site: str | None = None,
    withdrawn: bool = False,
) -> list[Logged]:
    """Return what was logged, by day, then by order of sealing.

    Args:
        work: a unit of work.
        kinds: of entries; none: all of the shop log.
        since: first day on which it happened.
        until: last day.
        site: id of the site they are about; None: any, or none.
        withdrawn: whether those that were withdrawn are told as well.
    """
    gone = {event.body["data"]["of"]: event for event in work.records.events("withdrawal")}
    found: list[Logged] = []
    for kind in kinds or LOGGED:
        found += _read(work.records.events(kind, since=since, until=until, site=site), gone)
    found.sort(key=lambda one: (one.day, one.serial))
    return [one for one in found if withdrawn or one.withdrawn is None]


def _read(events: Iterable[StoredRevision], gone: dict[str, StoredRevision]) -> list[Logged]:
    return [
        Logged(
            serial=event.serial,
            kind=event.body["origin"]["kind"],
            at=_moment(event),
            by=(event.body["applicator"] or {}).get("name") or "",
            person=(event.body["applicator"] or {}).get("id") or "",
            data=event.body["data"],
            sealed_at=event.sealed_at,
            withdrawn=_withdrawal(gone[event.serial]) if event.serial in gone else None,
        )
        for event in events
    ]


def _moment(event: StoredRevision) -> datetime:
    return datetime.fromisoformat(event.body["data"]["at"]).astimezone(ZoneInfo(event.body["timezone"]))


def _withdrawal(event: StoredRevision) -> Withdrawal:
    by = (event.body["applicator"] or {}).get("name") or ""
    return Withdrawal(event.serial, _moment(event), by, event.body["data"]["reason"])


def withdraw(book: OpenBook, clock: Clock, serial: str, reason: str | None, by: str | None = None) -> StoredRevision:
    """Seal that an entry of the shop log counts no more; return the withdrawal.

    Args:
        book: that holds it.
        clock: for the present moment.
        serial: of the entry, such as E-000012 or E-12.
        reason: why, in a few words.
        by: id of who withdraws it; None: nobody is named.

    Raises:
        UsageError: no reason, or what it names is no entry of the shop log, or was withdrawn before.
        NotFoundError: no such entry or person.
    """
    words = words_of(reason, "--reason")
    if not words:
        raise UsageError("--reason is missing", "Say in a few words what was wrong with the entry")
    number = normal_serial(serial)
    with book.write() as work:
        found = work.records.revisions(number)
        if not found:
            raise NotFoundError(f"no entry {serial[:20]!r} in this book", "swathbook log lists what was logged")
        kind = found[0].body["origin"]["kind"]
        if found[0].body["kind"] != "event" or kind not in (*LOGGED, *FOLLOWED):
            raise _other(number, kind, is_event=found[0].body["kind"] == "event")
        before = next((one for one in work.records.events("withdrawal") if one.body["data"]["of"] == number), None)
        if before is not None:
            raise UsageError(f"{number} was withdrawn before, by {before.serial}", "Nothing is left to do")
        done = _seal(work, number, words, clock.now(), by)
        work.commit()
    return done


# What stands in the chain beside the shop log, and what to do where it was wrong
_OTHER = {
    "delivery": ("a delivery", "It stays as it was sealed; what was really handed over is logged anew: deliver"),
    "contact": ("a contact", "It stays as it was sealed; what really happened is logged anew: swathbook contact"),
    "production": ("a packet for an inspector", "It stays as it was sealed; another one is made: swathbook inspect"),
    "report": ("a report that was filed", "It stays as it was sealed; a later filing is logged anew"),
    "removal": ("the removal of a year", "It cannot be taken back"),
    "sign": ("a sign that was taken down", "It stays as it was sealed; the right day is logged anew"),
    "withdrawal": ("a withdrawal", "Log the entry that it names anew, where that was right after all"),
}


def _other(number: str, kind: str, *, is_event: bool) -> UsageError:
    """Return what something sealed is that cannot be withdrawn, and which command is the right one."""
    if not is_event:
        return UsageError(
            f"{number} is the record of a visit, no entry of the shop log",
            f"swathbook void {number} --reason WORDS takes it out; swathbook amend {number} corrects it",
        )
    what, do = _OTHER.get(kind, (f"another kind of event ({kind})", "It stays as it was sealed"))
    return UsageError(f"{number} is {what}, no entry of the shop log", do)


def _seal(work: UnitOfWork, number: str, reason: str, now: datetime, by: str | None) -> StoredRevision:
    directory = Directory(work.catalogue)
    business, firm = firm_of(directory)
    moment = now.astimezone(ZoneInfo(business.timezone)).replace(microsecond=0)
    return append_event(
        work,
        "withdrawal",
        {"of": number, "reason": reason, "at": local(moment)},
        now,
        day=moment.date(),
        timezone=business.timezone,
        business=firm,
        person=person_of(directory, by, moment.date(), business.state),
    )
