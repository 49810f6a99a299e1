"""What came in, what went out and what is there: the sum that has to close, to the last digit.

    in - used - disposed - passed on - on hand = gap

Of a product, what is passed on stands in mixes that are made and not sprayed out; of a load, it was carried into a
later one. What is on hand is what was counted last, brought forward by what came and went since; where nothing was ever
counted, it is what the books say, and the gap is zero by that.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text, scaled_text
from records.units import factor

if TYPE_CHECKING:
    from collections.abc import Iterable

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Balance:
    """One account; every part in one unit, exact."""

    came: Fraction  # bought, or made
    used: Fraction  # by sealed records
    disposed: Fraction
    passed: Fraction  # in mixes, or carried on
    on_hand: Fraction

    @property
    def gap(self) -> Fraction:
        """Return what no entry accounts for: above zero it is missing, below zero more is there than should be."""
        return self.came - self.used - self.disposed - self.passed - self.on_hand

    def rounded(self, unit: str, places: int) -> Balance:
        """Return it in a unit, each part rounded to so many decimals; the gap is that of the rounded parts.

        Args:
            unit: of the kind that the account is kept in; what it is kept in is the kind's base unit.
            places: decimals.
        """
        size = factor(unit)
        parts = (self.came, self.used, self.disposed, self.passed, self.on_hand)
        return Balance(*(Fraction(decimal_text(part / size, places)) for part in parts))


def total(balances: Iterable[Balance]) -> Balance:
    """Return the sum of several accounts, part by part."""
    came = used = disposed = passed = on_hand = ZERO
    for one in balances:
        came, used, disposed = came + one.came, used + one.used, disposed + one.disposed
        passed, on_hand = passed + one.passed, on_hand + one.on_hand
    return Balance(came, used, disposed, passed, on_hand)


def kept(
    came: Fraction, used: Fraction, disposed: Fraction, passed: Fraction, counted: tuple[Fraction, Fraction] | None
) -> Balance:
    """Return an account, what is on hand being what was counted and what has changed since.

    Args:
        came: all that came in.
        used: all that was used.
        disposed: all that was disposed of.
        passed: all that was passed on.
        counted: what was there when it was counted last, and the change since (below zero: less); None: never counted.
    """
    if counted is None:
        return Balance(came, used, disposed, passed, came - used - disposed - passed)
    return Balance(came, used, disposed, passed, counted[0] + counted[1])


def ratio_text(top: int, bottom: int, places: int) -> str:
    """Return a fraction rounded half-even to so many decimals; quicker than making it a `Fraction` first.

    Args:
        top: any whole number.
        bottom: above zero.
        places: decimals.
    """
    if not top:
        return "0"
    whole, rest = divmod(top * 10**places, bottom)
    if 2 * rest > bottom or (2 * rest == bottom and whole % 2):
        whole += 1
    return scaled_text(whole, places) if places else str(whole)


@dataclass(frozen=True, slots=True)
class Layer:
    """What was bought once: how much, and what a base unit of it cost."""

    amount: Fraction
    price: Fraction


def average(layers: Iterable[Layer]) -> Fraction | None:
    """Return the weighted average price of what was bought; None where nothing was."""
    amount = cost = ZERO
    for layer in layers:
        amount, cost = amount + layer.amount, cost + layer.amount * layer.price
    return cost / amount if amount else None


class FirstInFirstOut:
    """The packs of one lot in the order in which they were bought, used up in that order."""

    def __init__(self, layers: Iterable[Layer]) -> None:
        """Begin with all of them whole."""
        self._layers = [layer for layer in layers if layer.amount > 0]
        self._place = 0
        self._taken = ZERO  # out of the present one

    def take(self, amount: Fraction) -> Fraction:
        """Return what an amount costs; what is more than was bought costs what the last pack did.

        Raises:
            ValueError: nothing was bought.
        """
        if not self._layers:
            msg = "nothing was bought"
            raise ValueError(msg)
        cost = ZERO
        while amount > 0:
            layer = self._layers[self._place]
            is_last = self._place == len(self._layers) - 1
            part = amount if is_last else min(amount, layer.amount - self._taken)
            cost += part * layer.price
            amount -= part
            self._taken += part
            if not is_last and self._taken == layer.amount:
                self._place, self._taken = self._place + 1, ZERO
        return cost
