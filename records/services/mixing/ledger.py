"""The ledger of a load, and all loads with what is left of each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.mixing import share
from records.domain.stock import Balance, kept
from records.errors import NotFoundError
from records.services.closing.amounts import contents_of
from records.services.directory import Directory
from records.services.mixing.past import MixLog, moment_made, spray_of, stops_of

if TYPE_CHECKING:
    from records.domain.mixing import Carried, Mix, Part
    from records.domain.quantities import Quantity
    from records.services.logbook import Logged
    from records.services.mixing.past import StopUse
    from records.services.ports import UnitOfWork

LISTED = 20  # loads in a list, unless all are asked for


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop's share of a load."""

    serial: str
    site: str
    address: str
    at: datetime | None  # local
    spray: Quantity
    shares: tuple[Quantity | None, ...]  # one for each product of the load, exact


@dataclass(frozen=True, slots=True)
class Share:
    """The account of one product of a load, in its base unit."""

    product: str
    lot: str
    unit: str  # that it was measured in
    made: Quantity | None  # None: not readable
    balance: Balance


@dataclass(frozen=True, slots=True)
class Ledger:
    """The account of one load; `balance` is of its finished spray, in fl oz."""

    mix: Mix
    made_at: datetime
    parts: tuple[Part, ...]
    stops: tuple[Stop, ...]  # in the order of work
    carried: tuple[tuple[str, Quantity], ...]  # into which later loads
    log: tuple[Logged, ...]  # what the shop log says of it: left, rinsed, discarded
    anchor: Logged | None  # the entry that says last how much was left
    balance: Balance

    @property
    def is_empty(self) -> bool:
        """Tell whether nothing is left by what was counted or rinsed, or else by the records."""
        return self.balance.on_hand <= 0

    @property
    def products(self) -> tuple[Share, ...]:
        """Return the account of each product: its share of every part of the spray's account."""
        made = self.mix.water.base
        found = []
        for part in self.parts:
            amount = part.amount
            each = Fraction(0) if amount is None or amount.unit == "oz" else amount.base / made
            one = self.balance
            balance = Balance(
                one.came * each, one.used * each, one.disposed * each, one.passed * each, one.on_hand * each
            )
            found.append(Share(part.product, part.lot, "" if amount is None else amount.unit, amount, balance))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class InTank:
    """A load in the list: what it is, where it is, how much is left."""

    ledger: Ledger
    is_in_tank: bool  # the last load made up in its tank, which was not rinsed since
    rinsed: Logged | None  # the tank, after the load
    notes: tuple[str, ...] = ()


def ledger(work: UnitOfWork, mix_id: str) -> Ledger:
    """Return the account of a load.

    Args:
        work: a unit of work.
        mix_id: id of the load.

    Raises:
        NotFoundError: no such load.
    """
    directory = Directory(work.catalogue)
    return ledger_of(work, directory, find_mix(directory, mix_id), MixLog.of(work))


def find_mix(directory: Directory, mix_id: str) -> Mix:
    """Return a load by its id.

    Raises:
        NotFoundError: no such load.
    """
    found = directory.mix(mix_id.strip()) if mix_id.strip() else None
    if found is None:
        raise NotFoundError(f"no mix {mix_id[:40]!r} in this book", "swathbook mix list --all lists them")
    return found[0]


def ledger_of(work: UnitOfWork, directory: Directory, mix: Mix, log: MixLog) -> Ledger:
    """Return the account of a load that is at hand."""
    parts = contents_of(mix, directory)
    stops = stops_of(work, mix.id)
    carried = log.carried.get(mix.id, [])
    entries = log.of_mix.get(mix.id, [])
    anchor = max((one for one in entries if _says_left(one)), key=lambda one: (one.at, one.serial), default=None)
    made_at = moment_made(mix, directory)
    return Ledger(
        mix=mix,
        made_at=made_at,
        parts=parts,
        stops=tuple(_stop(one, mix, parts, made_at) for one in stops),
        carried=tuple((later.id, one.spray) for later, one in carried),
        log=tuple(entries),
        anchor=anchor,
        balance=_balance(mix, stops, [(moment_made(later, directory), one) for later, one in carried], entries, anchor),
    )


def left_at(work: UnitOfWork, directory: Directory, mix: Mix, log: MixLog, moment: datetime) -> Fraction:
    """Return what was left of a load at a moment by all that is recorded of it until then, in fl oz."""
    mark = moment.timestamp()
    stops = [one for one in stops_of(work, mix.id) if (begun := _started(one)) is None or begun <= mark]
    every = [(moment_made(later, directory), one) for later, one in log.carried.get(mix.id, [])]
    carried = [one for one in every if one[0] <= moment]
    entries = [one for one in log.of_mix.get(mix.id, []) if one.at <= moment]
    anchor = max((one for one in entries if _says_left(one)), key=lambda one: (one.at, one.serial), default=None)
    return _balance(mix, stops, carried, entries, anchor).on_hand


def _says_left(entry: Logged) -> bool:
    """Tell whether an entry says how much is left: it was counted, or the tank was rinsed, and nothing is."""
    return entry.kind in {"count", "rinse"}


def _balance(
    mix: Mix,
    stops: list[StopUse],
    carried: list[tuple[datetime, Carried]],
    entries: list[Logged],
    anchor: Logged | None,
) -> Balance:
    gone = [(one.at, spray.base) for one in entries if one.kind != "count" and (spray := spray_of(one)) is not None]
    passed = [(at, one.spray.base) for at, one in carried]
    used = sum((one.spray.base for one in stops), Fraction(0))
    disposed = sum((amount for _, amount in gone), Fraction(0))
    on = sum((amount for _, amount in passed), Fraction(0))
    counted = None
    if anchor is not None:
        spray = spray_of(anchor) if anchor.kind == "count" else None
        there = Fraction(0) if spray is None else spray.base
        mark = anchor.at.timestamp()
        since = sum(
            (one.spray.base for one in stops if (at := _started(one)) is not None and at > mark), Fraction(0)
        ) + sum((amount for at, amount in (*gone, *passed) if at.timestamp() > mark), Fraction(0))
        counted = (there, -since)
    return kept(mix.water.base, used, disposed, on, counted)


def _started(stop: StopUse) -> float | None:
    return None if stop.use.started is None else _instant(stop.use.started).timestamp()


_instant = datetime.fromisoformat


def _stop(stop: StopUse, mix: Mix, parts: tuple[Part, ...], made_at: datetime) -> Stop:
    use = stop.use
    shares = tuple(None if part.amount is None else share(part.amount, stop.spray, mix.water) for part in parts)
    at = None if use.started is None else _instant(use.started).astimezone(made_at.tzinfo)
    return Stop(use.serial, use.site or "", use.address or "", at, stop.spray, shares)


def loads(work: UnitOfWork, *, equipment: str | None = None, limit: int | None = LISTED) -> list[InTank]:
    """Return the loads, newest first, with what is left of each, and which is in which tank.

    Args:
        work: a unit of work.
        equipment: only those made up in it.
        limit: at most so many; None: all.
    """
    directory, log = Directory(work.catalogue), MixLog.of(work)
    after: dict[str, datetime] = {}  # when the load after this one was made up in the same tank
    every = made_since(directory)
    found: list[InTank] = []
    for mix, made_at in every:
        following, after[mix.equipment] = after.get(mix.equipment), made_at
        if equipment is not None and mix.equipment != equipment:
            continue
        if limit is not None and len(found) >= limit:
            break
        rinsed = rinsed_after(log, mix.equipment, made_at, following)
        is_last = bool(mix.equipment) and following is None
        told = ledger_of(work, directory, mix, log)
        in_tank = is_last and rinsed is None
        note = carry_over(directory, log, mix, made_at, every) if in_tank else ""
        found.append(InTank(told, in_tank, rinsed, (note,) if note else ()))
    return found


def made_since(directory: Directory) -> list[tuple[Mix, datetime]]:
    """Return every load with the moment in which it was made up, newest first."""
    found = [mix[0] for key in directory.ids("mix") if (mix := directory.mix(key)) is not None]
    return sorted(((mix, moment_made(mix, directory)) for mix in found), key=lambda one: one[1], reverse=True)


def rinsed_after(log: MixLog, equipment: str, moment: datetime, until: datetime | None = None) -> Logged | None:
    """Return the first rinse of a tank after a moment, up to another; None where none is logged."""
    if not equipment:
        return None
    return next(
        (one for one in log.of_tank.get(equipment, []) if one.at > moment and (until is None or one.at <= until)), None
    )


def carry_over(
    directory: Directory, log: MixLog, mix: Mix, made_at: datetime, every: list[tuple[Mix, datetime]]
) -> str:
    """Return a note where a tank was used after a load with other products, and no rinse is logged in between."""
    if not mix.equipment:
        return ""
    before = next((one for one in every if one[0].equipment == mix.equipment and one[1] < made_at), None)
    if before is None or rinsed_after(log, mix.equipment, before[1], made_at) is not None:
        return ""
    has = {part.product for part in contents_of(mix, directory)}
    other = [part.product for part in contents_of(before[0], directory) if part.product not in has]
    if not other:
        return ""
    return (
        f"{mix.equipment} held {', '.join(other)} before ({before[0].id}), and no rinse is logged in between: what"
        f" clings to the tank goes out with {mix.id}; look at which turf the label spares"
    )
