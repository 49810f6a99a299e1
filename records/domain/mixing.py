"""A load made up once and used over several sites."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from records.domain.quantities import Quantity


@dataclass(frozen=True, slots=True)
class MixLine:
    """One product of a load; its amount stays text until the product, and so its form, is looked up."""

    product: str
    amount: str
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Mix:
    """A load: when and in what it was made up, how much finished spray it is, and what went in."""

    id: str
    made_at: str  # ISO text; local to the firm where it has no offset
    water: Quantity  # finished spray made
    products: tuple[MixLine, ...]
    equipment: str = ""


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
