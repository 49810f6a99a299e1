"""Stock as JSON and as texts: parts rounded so that what is shown closes, too."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.services.stocking.scales import FEWEST
from records.units import factor

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.services.calibrating import Line
    from records.services.ports import Json
    from records.services.stocking.lots import LotLine
    from records.services.stocking.shelf import Stock, StockLine

EXACT = 9  # decimals in JSON
NAMED = 4  # products with a gap in the first line
PARTS = ("bought", "used", "disposed", "in_mixes", "on_hand", "gap")


def figures(line: StockLine, places: int | None = None) -> dict[str, str]:
    """Return the parts of an account as numbers in its unit; what is shown closes to its last digit.

    Args:
        line: the account.
        places: decimals; None: those of a screen.
    """
    places = line.places if places is None else places
    one = line.balance.rounded(line.unit, places)
    values = (one.came, one.used, one.disposed, one.passed, one.on_hand, one.gap)
    return {name: decimal_text(value, places) for name, value in zip(PARTS, values, strict=True)}


def known(line: StockLine) -> str:
    """Return how it is known what is on hand."""
    return "never counted" if line.counted is None else f"counted {line.counted.day} ({line.counted.serial})"


def gap_text(line: StockLine) -> str:
    """Return the gap for a screen: a dash where nothing was counted that could show one."""
    gap = figures(line)["gap"]
    if not line.has_gap:
        return "-" if line.counted is None else "0"
    return f"< {decimal_text(Fraction(1, 10**line.places), line.places)}" if gap == "0" else gap


def containers(line: StockLine) -> str:
    """Return what became of the containers, and what nobody said of them."""
    said = [f"{line.rinsed} of them rinsed"]
    said += [f"{line.not_rinsed} not rinsed"] if line.not_rinsed else []
    unsaid = line.emptied - line.rinsed - line.not_rinsed
    said += [f"{unsaid} not said"] if unsaid else []
    return f"{line.packs} bought, {line.emptied} emptied, {', '.join(said)}"


def lot_name(lot: LotLine) -> str:
    """Return a lot for a table: without one by its purchase."""
    return lot.lot or (f"(none) {lot.serial}" if lot.serial else "(none)")


def verdict(found: Stock) -> str:
    """Return in one line whether stock, mixes, disposals and records add up."""
    gaps = [line.product for line in found.lines if line.has_gap]
    counted = sum(line.counted is not None for line in found.lines)
    total = len(found.lines)
    said = f"{counted} of {total} product{'' if total == 1 else 's'} counted"
    if gaps:
        few = ", ".join(gaps[:NAMED]) + (f" and {len(gaps) - NAMED} more" if len(gaps) > NAMED else "")
        return f"does not add up: {few} ({said})"
    if found.uncounted:
        return f"not everything could be counted ({said})"
    if not counted:  # what nobody counted can only not be contradicted
        return f"nothing contradicts the use records ({said})"
    return f"adds up with the use records ({said})"


def stock_document(found: Stock) -> Json:
    """Return the stock as JSON; amounts are exact to nine decimals of their unit."""
    return {
        "day": found.day.isoformat(),
        # Where nothing was counted nobody knows
        "adds_up": found.adds_up if any(line.counted for line in found.lines) or not found.adds_up else None,
        "products": [line_document(line) for line in found.lines],
        "not_counted": list(found.uncounted),
    }


def line_document(line: StockLine) -> Json:
    """Return the account of one product as JSON."""
    return {
        "product": line.product,
        "name": line.name,
        "unit": line.unit,
        **figures(line, EXACT),
        "has_gap": line.has_gap,
        "closes": line.closes,
        "counted": None if line.counted is None else {"serial": line.counted.serial, "at": line.counted.data["at"]},
        "applications": line.uses,
        "containers": {
            "bought": line.packs,
            "emptied": line.emptied,
            "rinsed": line.rinsed,
            "not_rinsed": line.not_rinsed,
        },
        "lots": [_lot(lot, line.unit) for lot in line.lots],
        "notes": list(line.notes),
    }


def _lot(lot: LotLine, unit: str) -> Json:
    return {
        "lot": lot.lot or None,
        "purchase": lot.serial or None,
        "labels": list(lot.labels),
        "bought": in_unit(lot.bought, unit, EXACT),
        "used": in_unit(lot.used, unit, EXACT),
        "disposed": in_unit(lot.disposed, unit, EXACT),
        "left": in_unit(lot.left, unit, EXACT),
        "expires": None if lot.expires is None else lot.expires.isoformat(),
        "is_bought": lot.is_bought,
    }


def in_unit(base: Fraction, unit: str, places: int = FEWEST) -> str:
    """Return an amount given in base units as a number in a unit."""
    return decimal_text(base / factor(unit), places)


def calibration_words(lines: Iterable[Line]) -> str:
    """Return in one line which equipment was calibrated in time; "" where there is none."""
    states: dict[str, dict[str, str]] = {"fresh": {}, "stale": {}, "missing": {}}
    seen: set[str] = set()
    for line in lines:  # the newest of each first
        if line.equipment not in seen:
            seen.add(line.equipment)
            why = f" ({line.why})" if line.state == "stale" else ""
            states[line.state][line.equipment] = f"{line.equipment}{why}"
    return "; ".join(f"{state}: {', '.join(found.values())}" for state, found in states.items() if found)
