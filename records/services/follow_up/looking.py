"""Which treatments want to be looked at, and when: by mode of action, and on the day that was promised."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta
from shlex import quote
from typing import TYPE_CHECKING

from records.domain.follow_up import Look, due_looks
from records.rules.looks import AFTER_LAST, look_of, looks
from records.services.follow_up.ratings import ratings
from records.services.follow_up.treated import Treated, treated_since

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from records.domain.follow_up import Rating
    from records.services.ports import Json, UnitOfWork

GRACE = AFTER_LAST  # days after its last look in which a treatment is still worth looking at
AHEAD = 7  # days that a list looks ahead
NEAR = 3  # days from a promised day within which a rating keeps the promise


@dataclass(frozen=True, slots=True)
class LookDue:
    """One look that is due, or will be soon."""

    treated: Treated
    targets: tuple[str, ...]  # those that are still to be rated
    day: date
    days: int  # after treatment, on that day
    is_promised: bool  # the day the record itself names
    missed: int  # earlier looks of it that nobody took
    look: Look
    last: Rating | None  # the newest rating of one of its targets
    repeats: tuple[str, ...] = ()  # serials of earlier treatments whose looks are dropped for this one
    is_alone: bool = True  # whether no other treatment of the visit is against one of its targets

    @property
    def is_last(self) -> bool:
        """Tell whether it is the last look of the table."""
        return self.days >= self.look.days[-1]


def looks_due(work: UnitOfWork, day: date, ahead: int = AHEAD, site: str | None = None) -> list[LookDue]:
    """Return the looks that are due on a day or were before, and those of some days ahead, overdue first.

    Of a treatment one look is told: the newest that is due, or the next. One that was repeated on the same ground
    against the same target is not looked at any more; the repeat is.

    Args:
        work: a unit of work.
        day: local.
        ahead: days.
        site: id; None: any.
    """
    longest = max(line.days[-1] for line in looks().values())
    past = treated_since(work, day - timedelta(days=longest + GRACE), day, site)
    taken: defaultdict[tuple[str, int], list[Rating]] = defaultdict(list)
    for one in ratings(work, since=day - timedelta(days=longest + GRACE), until=day, site=site):
        taken[one.rating.record, one.rating.treatment].append(one.rating)
    found = []
    standing = list(current(past))
    kept = {(one.serial, one.index): {target.casefold() for target in targets} for one, targets in standing}
    for treated, targets in standing:
        due = _due(treated, targets, taken[treated.serial, treated.index], day, ahead)
        if due is not None:
            others = {
                target.casefold()
                for one in past
                if one.serial == treated.serial and one.index != treated.index
                for target in one.targets
            }
            is_alone = not any(target.casefold() in others for target in due.targets)
            found.append(replace(due, repeats=_repeated(treated, due.targets, past, kept), is_alone=is_alone))
    return sorted(found, key=lambda one: (one.day, one.treated.serial, one.treated.index))


def current(past: Sequence[Treated]) -> Iterable[tuple[Treated, tuple[str, ...]]]:
    """Yield the treatments against weeds that no later one repeats, each with the targets that are its own still.

    Args:
        past: by day.
    """
    newest: dict[tuple[str, str, str], tuple[str, int]] = {}
    for one in past:
        if one.killers:
            for target in one.targets:
                for zone in one.zones:
                    newest[one.site, zone, target.casefold()] = one.serial, one.index
    for one in past:
        if not one.killers:
            continue
        own = tuple(
            target
            for target in one.targets
            if any(newest[one.site, zone, target.casefold()] == (one.serial, one.index) for zone in one.zones)
        )
        if own:
            yield one, own


def _repeated(
    treated: Treated, targets: tuple[str, ...], past: Sequence[Treated], kept: dict[tuple[str, int], set[str]]
) -> tuple[str, ...]:
    """Return the records whose looks at one of these weeds are dropped because a treatment repeats them.

    Args:
        treated: the treatment.
        targets: that are to be rated now.
        past: all treatments, by day.
        kept: by treatment the targets that are still looked at.
    """
    mine = {target.casefold() for target in targets}
    place = past.index(treated)
    return tuple(
        dict.fromkeys(
            one.serial
            for one in past[:place]
            if one.killers
            and (one.site, one.serial != treated.serial) == (treated.site, True)
            and set(one.zones) & set(treated.zones)
            and (mine & {target.casefold() for target in one.targets}) - kept.get((one.serial, one.index), set())
        )
    )


def _due(treated: Treated, targets: tuple[str, ...], taken: list[Rating], day: date, ahead: int) -> LookDue | None:
    look, until = look_of(treated.groups), day + timedelta(days=ahead)
    if (day - treated.day).days > look.days[-1] + GRACE:
        return None
    mine = [one for one in taken if one.target in targets]
    last = max(mine, key=lambda one: (one.days, one.serial), default=None)
    unmet: list[tuple[date, int, tuple[str, ...]]] = []
    for number, days in enumerate(look.days):
        on = treated.day + timedelta(days=days)
        open_for = tuple(
            target
            for target in targets
            if due_looks(treated.day, look.days, [one for one in mine if one.target == target])[number].taken is None
        )
        if open_for and on <= until:
            unmet.append((on, days, open_for))
        elif not open_for:
            unmet.clear()  # a later look was taken: what came before it is past
    promised = _promised(treated, mine, until)
    if promised is not None and (not unmet or promised <= unmet[-1][0]):
        days = (promised - treated.day).days
        return LookDue(treated, targets, promised, days, is_promised=True, missed=len(unmet), look=look, last=last)
    if not unmet:
        return None
    # The newest that is due already stands for those before it; where none is, the next.
    present = [one for one in unmet if one[0] <= day] or unmet[:1]
    on, days, open_for = present[-1]
    return LookDue(treated, open_for, on, days, is_promised=False, missed=len(present) - 1, look=look, last=last)


def _promised(treated: Treated, mine: list[Rating], until: date) -> date | None:
    """Return the day that the record promises, unless somebody looked about then or later."""
    promised = treated.follow_up
    if promised is None or promised > until or promised <= treated.day:
        return None
    return None if any(one.day >= promised - timedelta(days=NEAR) for one in mine) else promised


def rate_command(one: LookDue) -> str:
    """Return the command that rates it, ready to type a per cent into."""
    if one.treated.plot:
        trial, _, plot = one.treated.plot.partition("/")
        return f"swathbook trial rate {quote(trial)} {quote(plot)}="
    marks = " ".join(f"{quote(target)}=" if quote(target) == target else quote(f"{target}=") for target in one.targets)
    which = "" if one.is_alone else f" --treatment {one.treated.index + 1}"
    return f"swathbook rate {one.treated.serial} {marks}{which}"


def look_words(one: LookDue) -> str:
    """Return a look in one short line: when, where, at what."""
    place, when = one.treated.address or one.treated.site, f"day {(one.day - one.treated.day).days}"
    why = f"{when}, promised" if one.is_promised else when
    plot = f", plot {one.treated.plot}" if one.treated.plot else ""
    return f"{one.day:%m-%d}  {place}{plot}: {', '.join(one.targets)} ({one.treated.name}, {why})"


def expect_words(one: LookDue, today: date) -> str:
    """Return what can be seen by now, with how that is known."""
    look, days = one.look, (today - one.treated.day).days
    group = f"group {look.group}, {look.name}" if look.group else "no group in the table"
    said = next((text for line in one.treated.killers if (text := (line.label or {}).get("results") or "")), "")
    told = f"label: {said.rstrip('. ')}" if said else f"{look.first.words}; {look.dead.words}"
    again = f"; takes the place of the look at {', '.join(one.repeats)}" if one.repeats else ""
    return f"day {days} now; {group}; {told}{again}"


def look_document(one: LookDue, day: date) -> Json:
    """Return a look as JSON."""
    return {
        "day": one.day.isoformat(),
        "overdue": one.day < day,
        "days_after": one.days,
        "promised": one.is_promised,
        "missed": one.missed,
        "repeats": list(one.repeats),
        "record": one.treated.serial,
        "treatment": one.treated.index + 1,
        "site": one.treated.site,
        "address": one.treated.address,
        "targets": list(one.targets),
        "plot": one.treated.plot or None,
        "products": one.treated.name,
        "treated_on": one.treated.day.isoformat(),
        "group": one.look.group or None,
        "first": one.look.first.words,
        "judge": one.look.dead.words,
        "rate": rate_command(one),
    }
