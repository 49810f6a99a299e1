"""The unit and the decimals in which an account is shown: what is small keeps three digits that say something."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from collections.abc import Iterable

METRIC = frozenset({"mL", "L", "mg", "g", "kg"})
_SCALES = {  # larger and smaller unit, by kind and whether it is metric
    (Kind.VOLUME, False): ("gal", "fl oz"),
    (Kind.VOLUME, True): ("L", "mL"),
    (Kind.WEIGHT, False): ("lb", "oz wt"),
    (Kind.WEIGHT, True): ("kg", "g"),
}
_MUCH = 2  # of the larger unit: from here on it is shown in it
_LITTLE = Fraction(1, 4)  # of the larger unit, such as a quart: what is less is shown in the smaller one
FEWEST, MOST = 2, 4  # decimals
_DIGITS = 100  # a figure of so many last decimals has three digits


def unit_for(system: Iterable[tuple[str, Fraction]], parts: Iterable[Fraction], default: str) -> str:
    """Return the unit in which the parts of an account are shown.

    Args:
        system: units that were written, with the amounts (base units) written in them; most of it decides on metric.
        parts: of the account, in the base unit.
        default: a unit of the kind, where nothing was written.
    """
    written = list(system)
    kind = UNITS[written[0][0] if written else default].kind
    metric = sum((amount for unit, amount in written if unit in METRIC), Fraction(0))
    plain = sum((amount for unit, amount in written if unit not in METRIC), Fraction(0))
    large, small = _SCALES[kind, metric > plain or (not written and default in METRIC)]
    sizes = [abs(part) / factor(large) for part in parts if part]
    is_much = bool(sizes) and max(sizes) >= _MUCH
    return large if is_much and min(sizes) >= _LITTLE else small


def places_for(unit: str, parts: Iterable[Fraction]) -> int:
    """Return the decimals with which the smallest part keeps three digits, or is exact; four at most."""
    sizes = [abs(part) / factor(unit) for part in parts if part]
    least = min(sizes, default=Fraction(1))
    for places in range(FEWEST, MOST):
        last = least * 10**places
        if last >= _DIGITS or last.denominator == 1:
            return places
    return MOST
