"""The cost of products that sealed records say were put out, adjuvants included.

A lot that was bought at one price costs that; one that was bought at several is used up in the order in which its packs
were bought. What names no lot, or one that was never bought, costs the weighted average of what was bought until that
day. The database adds up by product, lot and day; prices are multiplied in once for each sum.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import TYPE_CHECKING

from records.domain.product import ProductKind
from records.errors import UsageError
from records.services.directory import Directory
from records.services.logbook import entries
from records.services.stocking.entries import disposed_amount, purchases
from records.services.stocking.prices import BY_LOT, PriceList
from records.services.stocking.shelf import Identifier
from records.units import factor

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from records.services.account_ports import Laid, LotUse, Spent
    from records.services.ports import UnitOfWork
    from records.services.stocking.prices import Price

PER = ("visit", "product", "site", "month")
NANO = 10**9
ACRE = 43_560  # sq ft
UNKNOWN = "(not known)"


@dataclass(slots=True)
class CostRow:
    """What one visit, product, site or month costs.

    Money is kept as a whole number over one bottom that all rows of a report share: adding up as fractions would take
    most of the time.
    """

    key: str
    words: str = ""
    applications: int = 0
    area: int = 0  # billionths of a sq ft
    ground: int = 0  # of the treatments whose first product is in this row: summed up, each treated area counts once
    unpriced_area: int = 0  # of `area`, that on which nothing has a price: no cost per area counts it
    unpriced_ground: int = 0  # the same of `ground`
    no_area: int = 0  # applications
    paid: int = 0
    paid_adjuvants: int = 0
    bottom: int = 1
    by_lot: int = 0  # applications priced by their lot
    by_average: int = 0
    unpriced: int = 0  # applications without a price, or without an amount to price

    @property
    def cost(self) -> Fraction:
        """Return what it costs, as far as prices are known."""
        return Fraction(self.paid, self.bottom)

    @property
    def adjuvants(self) -> Fraction:
        """Return what the adjuvants of it cost."""
        return Fraction(self.paid_adjuvants, self.bottom)

    @property
    def is_priced(self) -> bool:
        """Tell whether anything in it has a price: what has none costs not nothing, but nobody knows what."""
        return bool(self.by_lot or self.by_average)

    @property
    def priced_area(self) -> int:
        """Return the ground on which anything has a price: what the cost is divided by."""
        return self.area - self.unpriced_area

    @property
    def has_area_cost(self) -> bool:
        """Tell whether a cost per area can be told."""
        return self.is_priced and self.priced_area > 0

    @property
    def per_thousand(self) -> Fraction | None:
        """Return the cost per 1,000 sq ft of ground with a price; None where no area or no price is known."""
        return self.cost * 1000 * NANO / self.priced_area if self.has_area_cost else None

    @property
    def per_acre(self) -> Fraction | None:
        """Return the cost per acre of ground with a price; None where no area or no price is known."""
        return self.cost * ACRE * NANO / self.priced_area if self.has_area_cost else None


@dataclass(frozen=True, slots=True)
class CostReport:
    """The rows and their sum."""

    per: str
    since: date
    until: date
    rows: tuple[CostRow, ...]
    total: CostRow


def cost(work: UnitOfWork, per: str, since: date, until: date) -> CostReport:
    """Return what the work of a span of days cost.

    Args:
        work: a unit of work.
        per: one of `PER`.
        since: first day.
        until: last day.

    Raises:
        UsageError: no such way of telling it.
    """
    if per not in PER:
        raise UsageError(f"--per {per[:20]!r} is not known", f"Write one of: {', '.join(PER)}")
    directory = Directory(work.catalogue)
    prices, identify = PriceList.of(purchases(work)), Identifier(directory)
    span = since.isoformat(), until.isoformat()
    layered = {place for place in prices.lots if prices.has_layers(*place)}
    sums = _Sums(per, prices, identify, layered)
    for row in work.account.spent(per, *span):
        sums.add(row)
    sums.charge(directory, list(_layered(work, per, span, prices, layered, identify)))
    if any(row.unpriced for row in sums.rows.values()) and any(row.is_priced for row in sums.rows.values()):
        sums.lay(work.account.laid(per, *span))
    addresses = work.account.addresses(*span) if per == "site" else {}
    total = CostRow("total")
    for found in sums.rows.values():
        if addresses:
            found.words = addresses.get(found.key, "")
        _into(total, found)
    return CostReport(per, since, until, tuple(_sorted(per, sums.rows)), total)


def _sorted(per: str, rows: dict[str, CostRow]) -> list[CostRow]:
    if per in {"visit", "month"}:
        return [rows[key] for key in sorted(rows)]
    return sorted(rows.values(), key=lambda one: (-one.paid, one.key))


class _Sums:
    """Amounts by row, product, unit and price; the prices are multiplied in at the end."""

    def __init__(self, per: str, prices: PriceList, identify: Identifier, layered: set[tuple[str, str]]) -> None:
        """Begin with no rows."""
        self.rows: dict[str, CostRow] = {}
        self._is_product, self._is_visit = per == "product", per == "visit"
        self._prices, self._identify, self._layered = prices, identify, layered
        self._amounts: dict[tuple[str, str, str, int], int] = {}
        self._marks: dict[int, Price] = {}
        self._known: dict[tuple[str | None, str | None, str | None], tuple[str, str]] = {}

    def add(self, row: Spent) -> None:
        """Take in one row of the database."""
        # Written out here what `_place` and `_key` say: a year has a hundred thousand rows.
        place = self._known.get((row.product, row.registration, row.unit)) or self._place(row)
        product, problem = place
        key = (product or row.registration or UNKNOWN) if self._is_product else row.key or UNKNOWN
        found = self.rows.get(key)
        if found is None:
            found = self.rows[key] = CostRow(key, f"{row.day} {row.address or ''}" if self._is_visit else "")
        found.applications += row.uses
        found.area += row.area_nano if self._is_product else row.ground_nano
        found.ground += row.ground_nano
        found.no_area += row.no_area
        if problem:
            found.unpriced += row.uses
            return
        known = row.uses - row.no_amount
        found.unpriced += row.no_amount
        if (product, row.lot or "") in self._layered:
            found.by_lot += known
            return
        price = self._prices.price(product, row.lot, row.day)
        if price is None:
            found.unpriced += known
            return
        if price.basis == BY_LOT:
            found.by_lot += known
        else:
            found.by_average += known
        mark = id(price)
        if mark not in self._marks:
            self._marks[mark] = price
        amount = (key, product, row.unit or "", mark)
        self._amounts[amount] = self._amounts.get(amount, 0) + row.amount_nano

    def _place(self, row: Spent | Laid) -> tuple[str, str]:
        """Return whose product it is, and why it has no price whatever was bought; "" where that does not follow."""
        place = (row.product, row.registration, row.unit)
        if place not in self._known:
            one = row.product or self._identify.product(None, row.registration)
            self._known[place] = one, self._identify.problem(one, row.unit)
        return self._known[place]

    def _key(self, row: Spent | Laid, product: str) -> str:
        return product or row.registration or UNKNOWN if self._is_product else row.key or UNKNOWN

    def _is_priced(self, row: Laid, product: str, problem: str) -> bool:
        if problem or row.no_amount:
            return False
        is_layered = (product, row.lot or "") in self._layered
        return is_layered or self._prices.price(product, row.lot, row.day) is not None

    def lay(self, rows: list[Laid]) -> None:
        """Find the ground on which nothing has a price: of products each for itself, else of whole treatments."""
        priced: set[tuple[int, int]] = set()
        first: list[tuple[tuple[int, int], str, int]] = []
        for row in rows:
            product, problem = self._place(row)
            key, treatment = self._key(row, product), (row.revision, row.treatment)
            if self._is_priced(row, product, problem):
                priced.add(treatment)
            elif self._is_product:
                self.rows[key].unpriced_area += row.area_nano
            if row.line == 0:
                first.append((treatment, key, row.area_nano))
        for treatment, key, ground in first:
            if treatment not in priced:
                found = self.rows[key]
                found.unpriced_ground += ground
                if not self._is_product:
                    found.unpriced_area += ground

    def charge(self, directory: Directory, more: list[tuple[str, str, Fraction]]) -> None:
        """Multiply the prices in, and add what was worked out one by one."""
        each: dict[tuple[str, int], Fraction] = {}
        for _, _, unit, mark in self._amounts:
            if (unit, mark) not in each:
                each[unit, mark] = self._marks[mark].each * factor(unit) / NANO
        bottom = lcm(*{one.denominator for one in each.values()}, *{paid.denominator for _, _, paid in more})
        tops = {place: one.numerator * (bottom // one.denominator) for place, one in each.items()}
        for row in self.rows.values():
            row.bottom = bottom
        products = {product for _, product, _, _ in self._amounts} | {product for _, product, _ in more}
        adjuvants = {key for key in products if _is_adjuvant(directory, key)}
        for (key, product, unit, mark), amount in self._amounts.items():
            _charge(self.rows[key], amount * tops[unit, mark], is_adjuvant=product in adjuvants)
        for key, product, paid in more:
            top = paid.numerator * (bottom // paid.denominator)
            _charge(self.rows[key], top, is_adjuvant=product in adjuvants)


def _is_adjuvant(directory: Directory, key: str) -> bool:
    product = directory.product(key)
    return product is not None and product.kind is ProductKind.ADJUVANT


def _charge(row: CostRow, top: int, *, is_adjuvant: bool) -> None:
    row.paid += top
    if is_adjuvant:
        row.paid_adjuvants += top


def _into(total: CostRow, row: CostRow) -> None:
    total.applications += row.applications
    total.area += row.ground
    total.unpriced_area += row.unpriced_ground
    total.no_area += row.no_area
    total.bottom = row.bottom
    total.paid += row.paid
    total.paid_adjuvants += row.paid_adjuvants
    total.by_lot += row.by_lot
    total.by_average += row.by_average
    total.unpriced += row.unpriced


def _layered(
    work: UnitOfWork,
    per: str,
    span: tuple[str, str],
    prices: PriceList,
    layered: set[tuple[str, str]],
    identify: Identifier,
) -> Iterator[tuple[str, str, Fraction]]:
    """Yield key, product and cost of what was used of lots bought at several prices, first in, first out.

    All that was ever used or disposed of such a lot uses its packs up, whenever it was; what lies in the span is told.
    """
    if not layered:
        return
    disposed = entries(work, "disposal")
    for product in dict.fromkeys(product for product, _ in sorted(layered)):
        lots = [lot for one, lot in layered if one == product]
        packs = {lot: prices.layers(product, lot) for lot in lots}
        gone = [one for one in disposed if one.data.get("product") == product and one.data.get("lot") in packs]
        for use in work.account.lot_uses(product, lots, ""):
            while gone and gone[0].day.isoformat() < use.day:
                entry = gone.pop(0)
                packs[entry.data["lot"]].take(disposed_amount(entry))
            if use.lot is None or use.unit is None or identify.problem(product, use.unit):
                continue
            paid = packs[use.lot].take(Fraction(use.amount_nano, NANO) * factor(use.unit))
            if span[0] <= (use.day if len(use.day) > len("2026-05") else f"{use.day}-01") <= span[1]:
                yield _key_of(use, per, product), product, paid


def _key_of(use: LotUse, per: str, product: str) -> str:
    key = {"visit": use.serial, "product": product, "site": use.site, "month": use.day[:7]}[per]
    return key or UNKNOWN
