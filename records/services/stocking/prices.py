"""What a product costs: by its lot where the record names one, else the weighted average of what was bought so far."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from records.domain.stock import FirstInFirstOut, Layer, average
from records.services.stocking.entries import purchases

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date
    from fractions import Fraction

    from records.services.ports import UnitOfWork
    from records.services.stocking.entries import Purchase

BY_LOT, BY_AVERAGE = "lot", "average"


@dataclass(frozen=True, slots=True)
class Price:
    """The price of a base unit of a product, and how it is known."""

    each: Fraction
    basis: str  # BY_LOT or BY_AVERAGE


@dataclass(slots=True)
class PriceList:
    """Prices of everything that was bought with a price; lots that were bought at several are told apart."""

    averages: dict[str, tuple[list[str], list[Fraction]]]  # days and the average from each of them on
    lots: dict[tuple[str, str], list[Purchase]]
    _known: dict[tuple[str, str, str], Price | None] = field(default_factory=dict)
    _made: dict[tuple[str, str, int], Price] = field(default_factory=dict)

    @classmethod
    def of(cls, bought: Iterable[Purchase]) -> PriceList:
        """Return the prices of some purchases, oldest first."""
        layers: dict[str, list[Layer]] = {}
        averages: dict[str, tuple[list[str], list[Fraction]]] = {}
        lots: dict[tuple[str, str], list[Purchase]] = {}
        for one in bought:
            if one.price is None:
                continue
            found = layers.setdefault(one.product, [])
            found.append(Layer(one.amount, one.price))
            days, prices = averages.setdefault(one.product, ([], []))
            price = average(found)
            if price is not None:
                days.append(one.day.isoformat())
                prices.append(price)
            if one.lot:
                lots.setdefault((one.product, one.lot), []).append(one)
        return cls(averages, lots)

    def has_layers(self, product: str, lot: str) -> bool:
        """Tell whether a lot was bought at several prices, so that the order of use counts."""
        return len({one.price for one in self.lots.get((product, lot), ())}) > 1

    def layers(self, product: str, lot: str) -> FirstInFirstOut:
        """Return the packs of a lot, to be used up in the order in which they were bought."""
        return FirstInFirstOut(Layer(one.amount, one.price) for one in self.lots[product, lot] if one.price is not None)

    def price(self, product: str, lot: str | None, day: str) -> Price | None:
        """Return the price of a base unit on a day; None where none was paid until then.

        Args:
            product: its id.
            lot: that the record names; not one with `has_layers`.
            day: of use, or its month.
        """
        place = (product, lot or "", day)
        if place not in self._known:
            self._known[place] = self._price(product, lot or "", day)
        return self._known[place]

    def _price(self, product: str, lot: str, day: str) -> Price | None:
        own = self.lots.get((product, lot)) if lot else None
        if own and own[0].price is not None:
            return self._same(product, lot, 0, Price(own[0].price, BY_LOT))
        days, prices = self.averages.get(product, ([], []))
        # A month's total is priced by what was bought until its end
        place = bisect_right(days, day if len(day) > len("2026-05") else f"{day}-99")
        return self._same(product, "", place, Price(prices[place - 1], BY_AVERAGE)) if place else None

    def _same(self, product: str, lot: str, place: int, price: Price) -> Price:
        """Return the one object that stands for a price: sums are kept for each of them."""
        return self._made.setdefault((product, lot, place), price)


def unit_price(work: UnitOfWork, product_id: str, day: date) -> Fraction | None:
    """Return what a base unit (fl oz or lb) cost on average of all bought until a day; None where nothing was.

    Args:
        work: a unit of work.
        product_id: of the product.
        day: the last day that counts.
    """
    price = PriceList.of(purchases(work, product_id)).price(product_id, None, day.isoformat())
    return None if price is None else price.each
