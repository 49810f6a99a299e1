"""The stock of every product: bought - used - disposed - in mixes - on hand = gap.

What is used is what sealed records say (the latest revision of each, none that was voided). What was poured into a load
and has not been sprayed, carried on or disposed of stands in mixes; a tank that was rinsed holds nothing any more, so
what nobody accounted for is a gap from then on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import Form, decimal_text
from records.domain.stock import Balance
from records.errors import NotFoundError
from records.services.closing.entry import nearest
from records.services.directory import Directory
from records.services.logbook import entries
from records.services.mixing import MixLog
from records.services.stocking.entries import counted_amount, disposed_amount, purchases
from records.services.stocking.lots import LotLine, lot_lines, lot_notes
from records.services.stocking.revisions import against_book
from records.services.stocking.scales import places_for, unit_for
from records.services.stocking.tanks import Tanks
from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from records.domain.product import Product
    from records.services.account_ports import LotUse, Used
    from records.services.logbook import Logged
    from records.services.ports import UnitOfWork
    from records.services.stocking.entries import Purchase

NANO = 10**9
ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class StockLine:
    """The account of one product, in its base unit (fl oz or lb)."""

    product: str
    name: str
    unit: str  # to show it in
    balance: Balance
    counted: Logged | None
    packs: int  # bought
    emptied: int  # containers
    rinsed: int  # containers
    lots: tuple[LotLine, ...]
    notes: tuple[str, ...]
    uses: int = 0  # applications that count
    tolerance: Fraction = ZERO  # what the rounding of sealed shares may come to
    not_rinsed: int = 0  # containers, as somebody said
    places: int = 2  # decimals to show it with
    short: Fraction = ZERO  # how much less than nothing would be on hand: more went out than was ever there

    @property
    def has_gap(self) -> bool:
        """Tell whether more is missing, or there, than rounding explains."""
        return abs(self.balance.gap) > self.tolerance

    @property
    def closes(self) -> bool:
        """Tell whether what went out can have been there: else a purchase, a record or a count is wrong."""
        return self.short <= self.tolerance


@dataclass(frozen=True, slots=True)
class Stock:
    """The stock of all products, and what could not be counted."""

    lines: tuple[StockLine, ...]
    uncounted: tuple[str, ...]
    day: date

    @property
    def closes(self) -> bool:
        """Tell whether no product has less than nothing on hand."""
        return all(line.closes for line in self.lines)

    @property
    def adds_up(self) -> bool:
        """Tell whether nothing is missing and everything could be counted."""
        return not self.uncounted and not any(line.has_gap for line in self.lines)


@dataclass(slots=True)
class _Shelf:
    """What is gathered of one product."""

    bought: list[Purchase] = field(default_factory=list)
    used: list[tuple[Used, Fraction]] = field(default_factory=list)  # with the amount in the base unit
    disposed: list[Logged] = field(default_factory=list)
    counted: list[Logged] = field(default_factory=list)
    containers: list[Logged] = field(default_factory=list)


def stock(work: UnitOfWork, now: datetime, product: str | None = None) -> Stock:
    """Return the stock.

    Args:
        work: a unit of work.
        now: the present moment.
        product: id of the only product asked for; None: all that was ever bought, used or counted.

    Raises:
        NotFoundError: no such product.
    """
    directory = Directory(work.catalogue)
    if product is not None and directory.product(product) is None:
        raise NotFoundError(
            f"no product {product[:40]!r} in the catalogue{nearest(product, directory.ids('product'))}",
            "Name it by its id",
        )
    shelves, uncounted = _shelves(work, directory, product)
    tanks = Tanks.of(work, directory, MixLog.of(work))
    keys = sorted({*shelves, *tanks.products()} if product is None else {product})
    today = now.date()
    lines = [_line(work, directory, key, shelves.get(key, _Shelf()), tanks, today) for key in keys]
    return Stock(tuple(lines), tuple(uncounted), today)


def _shelves(work: UnitOfWork, directory: Directory, only: str | None) -> tuple[dict[str, _Shelf], list[str]]:
    shelves: dict[str, _Shelf] = {}
    for one in purchases(work, only):
        shelves.setdefault(one.product, _Shelf()).bought.append(one)
    for entry in entries(work, "disposal", "count", "rinse"):
        key = entry.data.get("product")
        if key and only in {None, key}:
            shelf = shelves.setdefault(key, _Shelf())
            {"disposal": shelf.disposed, "count": shelf.counted, "rinse": shelf.containers}[entry.kind].append(entry)
    identify = Identifier(directory)
    uncounted: dict[str, int] = {}
    for row in work.account.used(only):
        key = identify.product(row.product, row.registration)
        why = identify.problem(key, row.unit)
        if not why:
            amount = Fraction(row.amount_nano, NANO) * factor(row.unit or "")
            shelves.setdefault(key, _Shelf()).used.append((row, amount))
        missing = row.no_amount if not why else row.uses
        if missing:
            name = key or row.registration or row.name or "a product without a name"
            told = why if why and row.unit else "no amount is recorded"
            uncounted[f"{name}: {told}"] = uncounted.get(f"{name}: {told}", 0) + missing
    return shelves, [f"{count} application{'' if count == 1 else 's'} of {what}" for what, count in uncounted.items()]


class Identifier:
    """Finds the product of the catalogue that an application stands for, and why its amount cannot be counted."""

    def __init__(self, directory: Directory) -> None:
        """Look products up in this directory."""
        self._directory = directory
        self._numbers: dict[str, list[str]] | None = None
        self._kinds: dict[str, Kind | None] = {}

    def product(self, key: str | None, registration: str | None) -> str:
        """Return the id; what was imported is known by its registration, where one product alone carries it."""
        if key:
            return key
        if not registration:
            return ""
        if self._numbers is None:
            self._numbers = {}
            for one in self._directory.products():
                if one.registration:
                    self._numbers.setdefault(one.registration, []).append(one.id)
        found = self._numbers.get(registration, [])
        return found[0] if len(found) == 1 else ""

    def problem(self, key: str, unit: str | None) -> str:
        """Return why an amount in a unit cannot be counted for a product; "" where it can."""
        if not key:
            return "the catalogue has no product, or several, with that registration"
        if unit is None:
            return "no amount is recorded"
        kind = UNITS[unit].kind if unit in UNITS else Kind.OUNCE
        if kind is Kind.OUNCE:
            return "its ounces may be by volume or by weight"
        if key not in self._kinds:
            product = self._directory.product(key)
            self._kinds[key] = None if product is None or product.form is Form.UNKNOWN else product.form.kind
        wanted = self._kinds[key]
        return f"it is recorded by {kind}, and measured by {wanted}" if wanted not in {None, kind} else ""


def _line(work: UnitOfWork, directory: Directory, key: str, shelf: _Shelf, tanks: Tanks, today: date) -> StockLine:
    product = directory.product(key)
    came = sum((one.amount for one in shelf.bought), ZERO)
    used = sum((amount for _, amount in shelf.used), ZERO)
    thrown = sum((disposed_amount(one) for one in shelf.disposed), ZERO)
    tank = tanks.product(key)
    # What left the jugs: what was poured into loads, and what went out without a load
    books = came - (used - tank.sealed) - tank.poured - thrown
    counted = max(shelf.counted, key=lambda one: (one.at, one.serial), default=None)
    # Less than nothing is on no shelf: where that is what the books say, it is a gap, counted or not
    on_hand = (
        max(books, ZERO)
        if counted is None
        else counted_amount(counted) + _since(work, key, shelf, tanks, counted, Identifier(directory))
    )
    balance = Balance(came, used, thrown + tank.disposed, tank.held, on_hand)
    short = -min(books if counted is None else on_hand, ZERO)
    lots = lot_lines(shelf.bought, shelf.used, shelf.disposed)
    parts = _shown_parts(balance, lots, tank.tolerance)
    unit = _unit(shelf, parts, product)
    return StockLine(
        product=key,
        name=key if product is None else product.name,
        unit=unit,
        balance=balance,
        counted=counted,
        packs=sum(one.packs for one in shelf.bought),
        emptied=sum(int(one.data["containers"]) for one in shelf.containers),
        rinsed=_containers(shelf, is_rinsed=True),
        lots=lots,
        notes=(*_short_notes(shelf, short, tank.tolerance, unit), *_notes(work, product, shelf, lots, today)),
        uses=sum(row.uses for row, _ in shelf.used),
        tolerance=tank.tolerance,
        not_rinsed=_containers(shelf, is_rinsed=False),
        places=places_for(unit, parts),
        short=short,
    )


def _containers(shelf: _Shelf, *, is_rinsed: bool) -> int:
    return sum(int(one.data["containers"]) for one in shelf.containers if one.data.get("rinsed") is is_rinsed)


def _shown_parts(balance: Balance, lots: Iterable[LotLine], tolerance: Fraction) -> list[Fraction]:
    """Return the figures of an account that say something: neither nothing nor what rounding leaves."""
    parts = [balance.came, balance.used, balance.disposed, balance.passed, balance.on_hand, balance.gap]
    parts += [part for lot in lots for part in (lot.bought, lot.used, lot.disposed, lot.left)]
    return [part for part in parts if abs(part) > tolerance]


def _unit(shelf: _Shelf, parts: list[Fraction], product: Product | None) -> str:
    """Return the unit to show: metric where most of it was bought (or else used) so, the size by the figures."""
    written = [(one.size.unit, one.amount) for one in shelf.bought]
    written = written or [(row.unit, amount) for row, amount in shelf.used if row.unit]
    return unit_for(written, parts, "fl oz" if product is None or product.form is Form.LIQUID else "lb")


def _since(work: UnitOfWork, key: str, shelf: _Shelf, tanks: Tanks, counted: Logged, identify: Identifier) -> Fraction:
    """Return what has changed in the jugs since they were counted: below zero where there is less."""
    mark = counted.at.timestamp()
    change = sum((one.amount for one in shelf.bought if one.at.timestamp() > mark), ZERO)
    change -= sum((disposed_amount(one) for one in shelf.disposed if one.at.timestamp() > mark), ZERO)
    change -= tanks.poured_after(key, counted.at)
    for use in work.account.lot_uses(key, (), counted.day.isoformat()):
        is_poured = (use.mix or "", key) in tanks.shares  # it left the jug when the load was made up
        if not is_poured and use.unit and not identify.problem(key, use.unit) and _is_later(use, counted):
            change -= Fraction(use.amount_nano, NANO) * factor(use.unit)
    return change


def _is_later(use: LotUse, counted: Logged) -> bool:
    if use.started is None:
        return use.day > counted.day.isoformat()
    return datetime.fromisoformat(use.started).timestamp() > counted.at.timestamp()


def _short_notes(shelf: _Shelf, short: Fraction, tolerance: Fraction, unit: str) -> Iterable[str]:
    """Say why an account cannot close."""
    if shelf.used and not shelf.bought:
        yield "used, but no purchase is logged"
    elif short > tolerance:
        much = decimal_text(short / factor(unit), places_for(unit, [short]))
        yield f"{much} {unit} more went out than can have been there: a purchase, a record or a count is wrong"


def _notes(
    work: UnitOfWork,
    product: Product | None,
    shelf: _Shelf,
    lots: Iterable[LotLine],
    today: date,
) -> Iterable[str]:
    yield from lot_notes(work, shelf.bought, shelf.used, lots, today)
    newest = shelf.bought[-1] if shelf.bought else None
    label = product.label.revision if product is not None and product.label is not None else ""
    if newest is not None and newest.label and label and (told := against_book(newest.label, label)):
        yield f"bought last with label {newest.label}; the book checks by {label}: {told}"
