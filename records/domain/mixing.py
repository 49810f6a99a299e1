"""A load made up once and used over several sites."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.numerals import QuantityError
from records.domain.quantities import Quantity, parse_amount

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from records.domain.quantities import Form

MOST_CARRIED = 50  # leftovers behind leftovers that are followed


@dataclass(frozen=True, slots=True)
class MixLine:
    """One product of a load; its amount stays text until the product, and so its form, is looked up."""

    product: str
    amount: str
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Carried:
    """Leftover of an earlier load that went into this one."""

    mix: str
    spray: Quantity


@dataclass(frozen=True, slots=True)
class Mix:
    """A load: when and in what it was made up, how much finished spray it is, and what went in."""

    id: str
    made_at: str  # ISO text; local to the firm where it has no offset
    water: Quantity  # finished spray in the tank when it was made up, leftovers included
    products: tuple[MixLine, ...]
    equipment: str = ""
    carried: tuple[Carried, ...] = ()


@dataclass(frozen=True, slots=True)
class Taken:
    """Spray that left a load: by which record, or where it went."""

    name: str
    spray: Quantity


@dataclass(frozen=True, slots=True)
class Ended:
    """From when on a load was no longer in its tank, and how that is known."""

    at: datetime
    words: str


@dataclass(frozen=True, slots=True)
class LoadPast:
    """What became of a load so far, as a stop that takes its share is checked against it."""

    made: Quantity
    made_at: datetime
    taken: tuple[Taken, ...] = ()  # by sealed records, in the order of work
    gone: tuple[Taken, ...] = ()  # carried on, rinsed or disposed of
    equipment: str = ""  # id of the tank
    ended: Ended | None = None  # the first rinse after it, or the next load in its tank; None: it is still there


@dataclass(frozen=True, slots=True)
class Part:
    """All of one product in a load: what was poured in and what came with leftovers."""

    product: str
    amount: Quantity | None  # None where a text cannot be read
    lot: str = ""  # all of them, where several came together
    problem: str = ""  # why it cannot be read
    poured: Fraction = Fraction(0)  # base unit: what was measured into this load itself


def share(mix_amount: Quantity, used: Quantity, made: Quantity) -> Quantity:
    """Return the part of a product in a load that went out with some of its spray; exact.

    Args:
        mix_amount: the product in the whole load.
        used: finished spray put out, a volume.
        made: finished spray in the whole load, a volume above zero.

    Returns:
        The share in the unit of `mix_amount`; the half-width of its reading reaches down to the lowest share that the
        three written numbers allow.

    Raises:
        ValueError: the load holds no spray.
    """
    if made.base <= 0:
        msg = "a load of no spray has no shares"
        raise ValueError(msg)
    value = mix_amount.value * used.base / made.base
    zero = Fraction(0)
    lowest = (
        max(mix_amount.value - mix_amount.half, zero)
        * max(used.base - used.base_half, zero)
        / (made.base + made.base_half)
    )
    return Quantity(value, mix_amount.unit, value - lowest)


def contents(mix: Mix, mix_of: Callable[[str], Mix | None], form_of: Callable[[str], Form | None]) -> tuple[Part, ...]:
    """Return what a load holds, product by product: its own lines, and the products of leftovers by their share.

    A product that comes both ways, or from two lots, is one part, since it is one application when it is sprayed.

    Args:
        mix: the load.
        mix_of: finds the loads whose leftovers it took; one that is not found brings nothing.
        form_of: finds the form of a product; without one its amounts cannot be read.
    """
    return tuple(_contents(mix, mix_of, form_of, frozenset({mix.id})).values())


def _contents(
    mix: Mix, mix_of: Callable[[str], Mix | None], form_of: Callable[[str], Form | None], seen: frozenset[str]
) -> dict[str, Part]:
    found: dict[str, Part] = {}
    for line in mix.products:
        _join(found, _poured(line, form_of(line.product)))
    for leftover in mix.carried:
        earlier = mix_of(leftover.mix)
        if earlier is None or leftover.mix in seen or len(seen) > MOST_CARRIED or not earlier.water.base:
            continue
        for part in _contents(earlier, mix_of, form_of, seen | {leftover.mix}).values():
            amount = None if part.amount is None else share(part.amount, leftover.spray, earlier.water)
            _join(found, Part(part.product, amount, part.lot, part.problem))
    return found


def _poured(line: MixLine, form: Form | None) -> Part:
    if form is None:
        return Part(line.product, None, line.lot, "not in the catalogue")
    try:
        amount = parse_amount(line.amount, form)
    except QuantityError as error:
        return Part(line.product, None, line.lot, str(error))
    return Part(line.product, amount, line.lot, poured=Fraction(0) if amount.unit == "oz" else amount.base)


def _join(found: dict[str, Part], part: Part) -> None:
    before = found.get(part.product)
    if before is None:
        found[part.product] = part
        return
    lots = dict.fromkeys(lot for text in (before.lot, part.lot) for lot in text.split(", ") if lot)
    amount = None
    if before.amount is not None and part.amount is not None and before.amount.kind is part.amount.kind:
        unit = before.amount.unit
        half = Quantity(part.amount.half, part.amount.unit).to(unit)
        amount = Quantity(before.amount.value + part.amount.to(unit), unit, before.amount.half + half)
    problem = before.problem or part.problem or ("" if amount is not None else "its amounts are of two kinds")
    found[part.product] = Part(part.product, amount, ", ".join(lots), problem, before.poured + part.poured)
