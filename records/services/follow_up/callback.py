"""A call-back: the weeds are still there. What was done, what it did, when a repeat is lawful, what else there is."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.follow_up import due_looks
from records.errors import NotFoundError, UsageError
from records.rules.label_match import fold
from records.rules.looks import look_of
from records.services.actives import history_of
from records.services.directory import Directory
from records.services.finding import normal_serial, read_day, revisions_of
from records.services.follow_up.causes import Case, Cause, causes_of
from records.services.follow_up.others import Others, others_of
from records.services.follow_up.ratings import ratings
from records.services.follow_up.repeating import Repeat, repeat_of
from records.services.follow_up.telling import control_percent, percent
from records.services.follow_up.treated import Treated, treated_since, treatments_of
from records.services.occasions import firm_of, site_of, zone_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.clock import Clock
    from records.domain.follow_up import DueLook, Look, Rating
    from records.domain.place import Site
    from records.services.ports import Json, OpenBook, UnitOfWork

WANT = 80  # per cent control below which a treatment falls short, unless another is asked for
_SERIAL = re.compile(r"\s*\d{4}-\d{1,9}\s*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Short:
    """How one target of a treatment stands."""

    target: str
    rating: Rating | None  # the last with a control; None: it was not rated
    is_short: bool  # below what is wanted, or not rated

    @property
    def words(self) -> str:
        """Return it in one line."""
        one = self.rating
        if one is None or one.control is None:
            return f"{self.target}: not rated"
        rater = f", by {one.rater}" if one.rater else ""
        return f"{self.target}: {control_percent(one.control)} control {one.days} days after{rater} ({one.day})"


@dataclass(frozen=True, slots=True)
class Called:
    """One treatment that is asked about."""

    treated: Treated
    body: Json
    shorts: tuple[Short, ...]  # every target that was asked for
    injury: Rating | None  # the last look at the turf itself
    look: Look
    looks: tuple[DueLook, ...]
    repeat: Repeat
    others: Others
    causes: tuple[Cause, ...]

    @property
    def days(self) -> int:
        """Return the days after treatment on the day asked for."""
        return (self.repeat.asked - self.treated.day).days

    @property
    def is_early(self) -> bool:
        """Tell whether it is too early to judge: the first look is not due yet."""
        return self.days < self.look.days[0]


@dataclass(frozen=True, slots=True)
class CallBack:
    """The answer to a call-back."""

    site: str
    address: str
    day: date
    want: Fraction | int
    called: tuple[Called, ...]
    promised: date | None  # the day that a record promises to look again
    note: str  # "" or why this treatment is shown


def call_back(
    book: OpenBook,
    clock: Clock,
    of: str,
    *,
    target: str | None = None,
    on: str | None = None,
    want: Fraction | int = WANT,
) -> CallBack:
    """Return the newest treatment of a site whose control falls short, or those of a record, with what can be done.

    Args:
        book: to read.
        clock: for today.
        of: serial of a record, or a site.
        target: a weed; None: all that were treated against.
        on: the day that a repeat is thought of; None: today.
        want: per cent control that is wanted.

    Raises:
        NotFoundError: no such record or site, or nothing was treated there against that weed.
        UsageError: the record was voided, or the day cannot be read.
    """
    now = clock.now()
    with book.read() as work:
        directory = Directory(work.catalogue)
        serial, site = _place(work, directory, of)
        zone = zone_at(site, firm_of(directory)[0])
        day = read_day(on) or now.astimezone(zone).date()
        past = treated_since(work, date.min, day, site.id)
        wanted = _wanted(past, serial, target, of)
        rated = [one.rating for one in ratings(work, site=site.id, until=day)]
        chosen, note = _chosen(wanted, rated, target, want, is_named=bool(serial))
        history = history_of(work, site, day)
        called = []
        for treated in chosen:
            revision = work.records.revisions(treated.serial)[-1]
            own = [one for one in rated if (one.record, one.treatment) == (treated.serial, treated.index)]
            shorts = _shorts(treated, own, target, want)
            hit = tuple(one.target for one in shorts if one.is_short) or tuple(one.target for one in shorts)
            look = look_of(treated.groups)
            until = tuple(one for one in past if one.day <= treated.day)
            case = Case(treated, revision.body, hit, tuple(own), until, look, day)
            called.append(
                Called(
                    treated=treated,
                    body=revision.body,
                    shorts=shorts,
                    injury=next((one for one in reversed(own) if one.injury is not None), None),
                    look=look,
                    looks=tuple(due_looks(treated.day, look.days, own)),
                    repeat=repeat_of(work, directory, site, treated, day, history),
                    others=others_of(work, directory, site, treated, hit, day, now, history),
                    causes=causes_of(work, directory, case),
                )
            )
    promised = max((one.treated.follow_up for one in called if one.treated.follow_up), default=None)
    return CallBack(site.id, site.address, day, want, tuple(called), promised, note)


def _place(work: UnitOfWork, directory: Directory, of: str) -> tuple[str, Site]:
    """Return the record named, or "", and the site it is about."""
    if not _SERIAL.fullmatch(of):
        return "", site_of(directory, of)[0]
    serial = normal_serial(of)
    record = revisions_of(work.records.revisions(serial), of)[-1]
    if record.action == "voided":
        raise UsageError(f"{serial} was voided", "Name the record that stands in its place")
    key = (record.body["site"] or {}).get("id")
    found = directory.site(key) if key else None
    if found is None:
        raise NotFoundError(
            f"the site of {serial} is not in the book", "Load it: what labels allow depends on its turf"
        )
    if not any(True for _ in treatments_of(record)):
        raise NotFoundError(f"{serial} holds no treatment of a day", "swathbook find lists the visits")
    return serial, found[0]


def _wanted(past: Sequence[Treated], serial: str, target: str | None, of: str) -> list[Treated]:
    found = [one for one in past if one.killers and (not serial or one.serial == serial)]
    if not found:
        raise NotFoundError(
            f"no weed was treated at {of[:40]!r} until that day", "swathbook find --site SITE shows what was done"
        )
    fits = [one for one in found if target is None or any(_is(target, name) for name in one.targets)]
    if not fits:
        told = ", ".join(dict.fromkeys(name for one in reversed(found) for name in one.targets))
        raise NotFoundError(f"nothing was treated there against {(target or '')[:40]!r}", f"It was against: {told}")
    return fits


def _is(wanted: str, name: str) -> bool:
    return fold(wanted) == fold(name) or fold(wanted) in fold(name)


def _shorts(treated: Treated, own: Sequence[Rating], target: str | None, want: Fraction | int) -> tuple[Short, ...]:
    """Return every target asked for with its last rating."""
    found = []
    for name in treated.targets or ("",):
        if target is not None and not _is(target, name):
            continue
        last = next((one for one in reversed(own) if one.control is not None and fold(one.target) == fold(name)), None)
        is_short = last is None or last.control is None or last.control < want
        found.append(Short(name or "what grew there", last, is_short))
    return tuple(found)


def _chosen(
    wanted: list[Treated], rated: Sequence[Rating], target: str | None, want: Fraction | int, *, is_named: bool
) -> tuple[list[Treated], str]:
    """Return the treatments to tell of, and what has to be said of the choice."""

    def short(one: Treated) -> bool:
        own = [r for r in rated if (r.record, r.treatment) == (one.serial, one.index)]
        return any(part.is_short for part in _shorts(one, own, target, want))

    if is_named:
        return wanted, "" if any(short(one) for one in wanted) else _enough(want)
    falling = [one for one in wanted if short(one)]
    if not falling:
        last = wanted[-1].serial
        return [one for one in wanted if one.serial == last], _enough(want)
    last = falling[-1].serial
    return [one for one in falling if one.serial == last], ""


def _enough(want: Fraction | int) -> str:
    return f"control reached {percent(Fraction(want))} or more wherever it was rated last"
