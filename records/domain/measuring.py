"""How an amount is measured in the vessel at hand: the nearest practical mark, and the error it makes.

A weight is never measured in a cup or a spoon, and a volume never on a scale: powders differ in density, and so do
liquids. A mark never passes the most that the label allows.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text, format_number
from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.domain.quantities import Quantity

_MOST_PLACES = 12
_METRIC_UNITS = frozenset({"mL", "L"})
_LEAST_OUNCE = Fraction(1, 10)  # fl oz; less is measured in mL
GOOD = Fraction(1, 100)  # an error that nobody measures better in a yard
FAIR = Fraction(2, 100)  # more than this is told only where nothing does better


@dataclass(frozen=True, slots=True)
class Vessel:
    """What is measured with: the unit and step of its marks, the least and the most it is good for, in steps."""

    id: str
    words: str  # "in a cup marked every 1/2 fl oz"
    unit: str
    step: Fraction  # in `unit`
    least: int
    most: int
    pieces: tuple[tuple[str, int], ...] = ()  # larger measures made of so many steps, the largest first
    places: int = 0  # decimals shown always; 0: as a whole number with a common fraction

    @property
    def kind(self) -> Kind:
        """Return what it measures."""
        return UNITS[self.unit].kind

    @property
    def size(self) -> Fraction:
        """Return one step in the base unit."""
        return self.step * factor(self.unit)


# Common practice: what is sold with these marks.
VESSELS: tuple[Vessel, ...] = (
    Vessel("spoons", "with measuring spoons", "tsp", Fraction(1, 4), 1, 24, (("tbsp", 12),)),
    Vessel("tbsp", "with measuring spoons", "tsp", Fraction(1, 4), 25, 96, (("tbsp", 12),)),
    Vessel("fl oz", "in a cup marked every 1/2 fl oz", "fl oz", Fraction(1, 2), 1, 32),
    Vessel("cup", "in a cup marked every 1/4 cup", "cup", Fraction(1, 4), 1, 16),
    Vessel("jug", "in a jug marked every fl oz", "fl oz", Fraction(1), 4, 64),
    Vessel("gal", "by the gallon, the rest in a jug", "fl oz", Fraction(1), 64, 12_800, (("gal", 128), ("qt", 32))),
    Vessel("syringe", "in a syringe marked every 0.2 mL", "mL", Fraction(1, 5), 1, 100, places=1),
    Vessel("mL", "in a cylinder marked every 1 mL", "mL", Fraction(1), 5, 500, places=0),
    Vessel("L", "in a jug marked every 10 mL", "mL", Fraction(10), 10, 500, places=0),
    Vessel("scale", "on a scale that shows 0.01 g", "g", Fraction(1, 100), 1, 20_000, places=3),
    Vessel("kitchen scale", "on a scale that shows 1 g", "g", Fraction(1), 100, 5_000, places=3),
    Vessel(
        "oz scale", "on a scale that shows 0.1 oz wt", "oz wt", Fraction(1, 10), 20, 1_600, (("lb", 160),), places=1
    ),
    Vessel("lb scale", "on a scale that shows 0.1 lb", "lb", Fraction(1, 10), 10, 20_000, places=1),
)
BY_ID = {vessel.id: vessel for vessel in VESSELS}
_CUSTOMARY = ("spoons", "fl oz", "jug", "gal", "cup", "tbsp")
_METRIC = ("syringe", "mL", "L")
_SCALES = ("scale", "kitchen scale", "oz scale", "lb scale")


class WrongVesselError(ValueError):
    """A weight in a cup, or a volume on a scale."""


@dataclass(frozen=True, slots=True)
class Mark:
    """The nearest practical mark for an amount."""

    words: str  # "4 1/2 fl oz"
    vessel: Vessel
    base: Fraction  # what the mark holds, in base units
    error: Fraction  # of the mark against the exact amount: 1/100 is 1 % too much

    @property
    def error_words(self) -> str:
        """Return the error in words: by how many per cent it is over or under."""
        if not self.error:
            return "exact"
        text = decimal_text(abs(self.error) * 100, 1)
        return f"{text}% {'over' if self.error > 0 else 'under'}" if text != "0" else "within 0.1%"

    def __str__(self) -> str:
        """Return the hint as a line: the mark, what it is measured with, and the error."""
        return f"{self.words} {self.vessel.words} ({self.error_words})"


def mark_in(amount: Quantity, vessel: Vessel, most: Fraction | None = None) -> Mark | None:
    """Return the nearest mark of a vessel; None where the amount is too little or too much for it.

    Args:
        amount: undiluted product.
        vessel: to measure it with.
        most: of the product that the label allows, in base units: the mark is not above it. None: no limit is known.

    Raises:
        WrongVesselError: a weight in a cup, or a volume on a scale.
    """
    if amount.kind is not vessel.kind:
        what = "a weight is measured on a scale" if amount.kind is Kind.WEIGHT else "a volume is measured in a vessel"
        msg = f"{amount} {vessel.words}: {what}"
        raise WrongVesselError(msg)
    count = _nearest(amount.base / vessel.size)
    if most is not None and count * vessel.size > most:
        count = int(most / vessel.size)
    if not vessel.least <= count <= vessel.most or not amount.base:
        return None
    base = count * vessel.size
    return Mark(_words(count, vessel), vessel, base, (base - amount.base) / amount.base)


def marks(amount: Quantity, most: Fraction | None = None, at_hand: Iterable[str] = ()) -> tuple[Mark, ...]:
    """Return how an amount is best measured: with customary measures and with metric ones, or on a scale.

    Args:
        amount: undiluted product.
        most: of it that the label allows, in base units.
        at_hand: ids of the vessels that are there; none: all of them.
    """
    wanted = frozenset(at_hand)
    wanted |= {"tbsp"} if "spoons" in wanted else frozenset()  # the same spoons, used often
    groups = (_CUSTOMARY, _METRIC) if amount.kind is Kind.VOLUME else (_SCALES,)
    best = (_best(amount, most, [key for key in group if not wanted or key in wanted]) for group in groups)
    found = [mark for mark in best if mark is not None]
    fair = [mark for mark in found if abs(mark.error) <= FAIR]
    return tuple(fair or sorted(found, key=lambda mark: abs(mark.error))[:1])


def _best(amount: Quantity, most: Fraction | None, keys: list[str]) -> Mark | None:
    """Return the first mark that is good enough, else the one with the smallest error."""
    found = [mark for key in keys if (mark := mark_in(amount, BY_ID[key], most)) is not None]
    good = [mark for mark in found if abs(mark.error) <= GOOD]
    return good[0] if good else min(found, key=lambda mark: abs(mark.error), default=None)


def _nearest(count: Fraction) -> int:
    """Return the nearest whole number of steps, the lower one of two that are as near."""
    whole, rest = divmod(count.numerator, count.denominator)
    return whole + (2 * rest > count.denominator)


def _words(count: int, vessel: Vessel) -> str:
    parts = []
    for unit, steps in vessel.pieces:
        whole, count = divmod(count, steps)
        if whole:
            parts.append(f"{whole:,} {unit}")
    if count or not parts:
        value = count * vessel.step
        text = _fixed(value, vessel.places) if vessel.places else mixed(value)
        parts.append(f"{text} {vessel.unit}")
    return " + ".join(parts)


def _fixed(value: Fraction, places: int) -> str:
    text = format_number(value, places)
    whole, _, rest = text.partition(".")
    return f"{int(whole):,}.{rest.ljust(places, '0')}"


def mixed(value: Fraction) -> str:
    """Write a number as a whole number and a common fraction: `2 1/4`."""
    whole, rest = divmod(value.numerator, value.denominator)
    part = f"{rest}/{value.denominator}" if rest else ""
    return " ".join(text for text in (f"{whole:,}" if whole or not part else "", part) if text)


def significant(value: Fraction, digits: int = 3) -> str:
    """Write a number with so many significant digits, the whole part never rounded to tens."""
    size, places = abs(value), digits - 1
    while size >= 10 and places:
        size, places = size / 10, places - 1
    while 0 < size < 1 and places < _MOST_PLACES:
        size, places = size * 10, places + 1
    return decimal_text(value, places)


def exact_words(amount: Quantity) -> str:
    """Write an amount for measuring: at least three decimals of a gram where it is a weight under a pound."""
    if amount.kind is not Kind.WEIGHT or amount.base >= 1:
        text = decimal_text(amount.value, 3) if amount.value >= 1 else significant(amount.value, 4)
        return f"{text} {amount.unit}"
    grams = amount.to("g")
    own = "" if amount.unit == "g" else f" ({significant(amount.value)} {amount.unit})"
    return f"{_fixed(grams, 3)} g{own}"


def handy(unit: str, value: Fraction) -> tuple[Fraction, str]:
    """Return an amount in the unit it is measured in: fl oz or mL in place of a part of a pint, g in place of an ounce.

    Args:
        unit: as the rate has it.
        value: in that unit.
    """
    base = value * factor(unit)
    if UNITS[unit].kind is Kind.WEIGHT:
        small = "g" if base < Fraction(1, 4) and unit != "g" else unit
    elif unit in _METRIC_UNITS:
        small = "mL" if unit == "L" and value < 1 else unit
    elif base < _LEAST_OUNCE:
        small = "mL"
    else:
        small = "fl oz" if value < 1 else unit
    return base / factor(small), small
