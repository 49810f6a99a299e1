"""How much spray an area takes, how many loads that is, and how much product goes into each; exact.

Everything follows from three sums: spray = area x output, loads = spray / tank, product = rate x area (or rate x spray,
for rates per spray). Adding water does not change the product per area.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import Per, Quantity, Rate

if TYPE_CHECKING:
    from collections.abc import Sequence

_GALLON = 128  # fl oz


def spray_for(area: Quantity, output: Rate) -> Quantity:
    """Return the finished spray that an area takes, in gallons."""
    return Quantity(area.base * output.base / _GALLON, "gal")


def area_of(spray: Quantity, output: Rate) -> Quantity:
    """Return the area that so much finished spray covers, in sq ft.

    Raises:
        ValueError: the output is zero.
    """
    if not output.base:
        msg = "an output of nothing covers no area"
        raise ValueError(msg)
    return Quantity(spray.base / output.base, "sq ft")


@dataclass(frozen=True, slots=True)
class Split:
    """A whole divided into full loads and the last partial one."""

    full: int
    size: Quantity  # of a full load
    rest: Quantity | None  # of the last one; None where the full ones are all

    @property
    def count(self) -> int:
        """Return the number of loads."""
        return self.full + (self.rest is not None)

    def sizes(self) -> tuple[Quantity, ...]:
        """Return the sizes that occur: that of a full load, then that of the last one."""
        return (*((self.size,) if self.full else ()), *((self.rest,) if self.rest is not None else ()))


def split(whole: Quantity, tank: Quantity | None) -> Split:
    """Divide a whole (spray, or granules) into loads.

    Args:
        whole: above zero.
        tank: what the tank or hopper holds, of the same kind; None: not known, so it is one load.

    Raises:
        ValueError: the tank holds nothing, or something else than the whole is.
    """
    if tank is None:
        return Split(0, whole, whole)
    if not tank.base or tank.kind is not whole.kind:
        msg = f"a tank of {tank} holds no part of {whole}"
        raise ValueError(msg)
    full = int(whole.base / tank.base)
    rest = whole.base - full * tank.base
    unit = whole.unit
    scale = whole.base / whole.value if whole.value else Fraction(1)
    return Split(full, Quantity(tank.base / scale, unit, number=""), Quantity(rest / scale, unit) if rest else None)


def per_spray(rate: Rate, output: Rate | None) -> Fraction | None:
    """Return the product in each fl oz of finished spray, in base units; None where that needs an output."""
    if rate.per is Per.SPRAY:
        return rate.base
    return None if output is None or not output.base else rate.base / output.base


def dose(rate: Rate, output: Rate | None) -> Rate | None:
    """Return a rate as a dose per gallon of finished spray; None where that needs an output."""
    base = per_spray(rate, output)
    unit = "fl oz" if rate.unit == "%" else rate.unit
    return None if base is None else Rate(_scaled(base * _GALLON, unit), unit, Per.SPRAY, "gal")


def strength(rate: Rate, output: Rate | None) -> Fraction | None:
    """Return per cent by volume of a liquid in the spray; None for a weight, or where that needs an output."""
    base = per_spray(rate, output)
    return None if base is None or rate.kind.value != "volume" else base * 100


def _scaled(base: Fraction, unit: str) -> Fraction:
    return base / Quantity(Fraction(1), unit).base


def in_load(rate: Rate, load: Quantity, output: Rate | None) -> Quantity | None:
    """Return the product for a load of finished spray, in the rate's own amount unit; None where that needs an output.

    Args:
        rate: per area or per spray.
        load: finished spray.
        output: spray per area.
    """
    if rate.per is Per.SPRAY:
        return rate.amount(load)
    return None if output is None or not output.base else rate.amount(area_of(load, output))


def loads_of(starts: Sequence[Fraction], ends: Sequence[Fraction], size: Fraction) -> list[tuple[int, int]]:
    """Return the first and last load, counted from 1, that each part of a day draws on, in order.

    Args:
        starts: spray used before each part, in the unit of `size`.
        ends: spray used after it.
        size: of a full load.
    """
    found = []
    for start, end in zip(starts, ends, strict=True):
        first = int(start / size) + 1
        whole, rest = divmod(end.numerator * size.denominator, end.denominator * size.numerator)
        found.append((first, max(first, whole + bool(rest))))
    return found
