"""What a calibration cannot be, and what it hardly is: refused, or noted and kept.

A piece that is known for one kind alone, a spreader or a sprayer, takes no calibration of the other: its output would
count as what it is not. What is only unlikely is noted, because a number may be odd and right.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.numerals import QuantityError, shown
from records.domain.quantities import Form, decimal_text, parse_amount
from records.errors import UsageError
from records.units import Kind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.place import Equipment
    from records.services.calibration_methods import Found, Typed

# Common practice, without a published line: a walk with a wand is 1 to 4 mph, a lawn rig at most about 10; lawns take
# from under half a gallon to five gallons per 1,000 sq ft.
SLOWEST, FASTEST = Fraction(1, 2), Fraction(15)  # mph
LEAST, MOST = Fraction(1, 10), Fraction(10)  # gal per 1,000 sq ft
_SPRAYS = re.compile(r"spray|tank|can\b|backpack|knapsack|skid|boom|wand|hose|mister", re.IGNORECASE)
_PRESSURE = re.compile(
    r"\d{1,4}(?:\.\d{1,2})?(?:\s*(?:-|to)\s*\d{1,4}(?:\.\d{1,2})?)?\s*(?:psi|bar|kpa)\b.*", re.IGNORECASE
)


def kinds_of(piece: Equipment) -> frozenset[Kind]:
    """Return what some equipment can put out, spray or granules; both where that is not known."""
    found = set()
    if "spread" in piece.kind.lower() or (piece.tank is not None and piece.tank.kind is Kind.WEIGHT):
        found.add(Kind.WEIGHT)
    if _SPRAYS.search(piece.kind) or (piece.tank is not None and piece.tank.kind is Kind.VOLUME):
        found.add(Kind.VOLUME)
    if piece.output is not None:
        found.add(piece.output.kind)
    return frozenset(found or (Kind.WEIGHT, Kind.VOLUME))


def check_kind(piece: Equipment, method: str, found: Found) -> None:
    """Refuse a calibration of what the equipment does not put out.

    Raises:
        UsageError: spray on a spreader, or granules on a sprayer.
    """
    if found.kind in kinds_of(piece):
        return
    what = f" ({piece.kind})" if piece.kind else ""
    if found.is_spray:
        told, hint = "puts out granules; {} measures spray", "A spreader is calibrated by catch or coverage, by weight"
    else:
        told = "puts out spray; {} measures granules by weight"
        hint = "A sprayer is calibrated by ounces, refill, boom, boomless or timed"
    raise UsageError(f"{piece.id}{what} {told.format(method)}", hint)


def check_pressure(text: str) -> str:
    """Return a pressure as typed, "" for none.

    Raises:
        UsageError: it is no number with its unit.
    """
    if text and not _PRESSURE.fullmatch(text):
        raise UsageError(f"--pressure {shown(text)} is no pressure with its unit", "Write it like 40 psi or 2.8 bar")
    return text


def unlikely(piece: Equipment, typed: Typed, found: Found) -> Iterator[str]:
    """Yield what is hardly so, in words; it is kept."""
    if found.speed is not None and not SLOWEST <= found.speed <= FASTEST:
        told = f"{decimal_text(found.speed, 2)} mph"
        yield f"{told} is hardly a speed of work on the ground (0.5 to 15 mph, common practice)"
    yield from _over_tank(piece, typed, Form.LIQUID if found.is_spray else Form.DRY)
    if found.is_spray and not LEAST <= (each := found.base * 1000 / 128) <= MOST:
        yield (
            f"{decimal_text(each, 3 if each >= 1 else 4)} gal/1,000 sq ft is hardly an output on a lawn "
            "(0.1 to 10 gal, common practice)"
        )


def _over_tank(piece: Equipment, typed: Typed, form: Form) -> Iterator[str]:
    texts = [(text, "caught") for text in typed.caught]
    texts += [(text, what) for text, what in ((typed.used, "used"), (typed.before, "at first")) if text]
    for text, what in texts:
        try:
            amount = parse_amount(text, form)
        except QuantityError:
            continue  # told where it is read
        if piece.tank is not None and piece.tank.kind is amount.kind and amount.base > piece.tank.base:
            yield f"{amount} {what} is more than {piece.id} holds, {piece.tank}"
