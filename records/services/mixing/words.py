"""A load's account as JSON and as texts: parts rounded so that what is shown closes, too."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text, format_number
from records.services.occasions import local, shown_moment

if TYPE_CHECKING:
    from records.domain.quantities import Quantity
    from records.domain.stock import Balance
    from records.services.logbook import Logged
    from records.services.mixing.ledger import InTank, Ledger
    from records.services.ports import Json

EXACT = 9  # decimals in JSON
SHOWN = 3  # decimals on a screen
PARTS = ("made", "used", "disposed", "carried", "left", "unaccounted")


def figures(balance: Balance, unit: str, places: int) -> dict[str, str]:
    """Return the parts of an account as texts with their unit; what is shown closes to its last digit.

    Args:
        balance: in base units.
        unit: to show it in.
        places: decimals.
    """
    one = balance.rounded(unit, places)
    values = (one.came, one.used, one.disposed, one.passed, one.on_hand, one.gap)
    return {name: f"{decimal_text(value, places)} {unit}" for name, value in zip(PARTS, values, strict=True)}


def amount(value: Quantity | None, places: int = SHOWN) -> str:
    """Return an amount for a screen; one that rounds away keeps its first digits."""
    if value is None:
        return "?"
    text = decimal_text(value.value, places)
    return f"{format_number(value.value) if value.value and text == '0' else text} {value.unit}"


def known(told: Ledger) -> str:
    """Return how it is known what is left."""
    anchor = told.anchor
    if anchor is None:
        return "by the records; not counted"
    what = "rinsed" if anchor.kind == "rinse" else "counted"
    return f"{what} {anchor.at:%Y-%m-%d %H:%M} ({anchor.serial})"


def left_in(told: Ledger) -> str:
    """Return what is left of a load, in the unit that it was made up in."""
    return figures(told.balance, told.mix.water.unit, SHOWN)["left"]


def ledger_document(told: Ledger) -> Json:
    """Return the account of a load as JSON; amounts are exact to nine decimals."""
    unit = told.mix.water.unit
    return {
        "mix": told.mix.id,
        "equipment": told.mix.equipment or None,
        "made_at": local(told.made_at),
        "spray": figures(told.balance, unit, EXACT),
        "left_known": known(told),
        "products": [
            {
                "product": one.product,
                "lot": one.lot or None,
                **(figures(one.balance, one.unit, EXACT) if one.made is not None and one.unit != "oz" else {}),
            }
            for one in told.products
        ],
        "stops": [
            {
                "serial": stop.serial,
                "site": stop.site or None,
                "address": stop.address or None,
                "started": None if stop.at is None else local(stop.at),
                "spray": str(stop.spray),
                "shares": {
                    part.product: amount(share, EXACT)
                    for part, share in zip(told.parts, stop.shares, strict=True)
                    if share is not None
                },
            }
            for stop in told.stops
        ],
        "carried_from": [{"mix": one.mix, "spray": str(one.spray)} for one in told.mix.carried],
        "carried_into": [{"mix": mix, "spray": str(spray)} for mix, spray in told.carried],
        "log": [_entry(one) for one in told.log],
    }


def _entry(entry: Logged) -> Json:
    return {"serial": entry.serial, "kind": entry.kind, "at": entry.data["at"], "words": entry.data["words"]}


def tank_document(load: InTank) -> Json:
    """Return a line of the list as JSON."""
    document = ledger_document(load.ledger)
    kept = {name: document[name] for name in ("mix", "equipment", "made_at", "spray", "left_known")}
    return {
        **kept,
        "in_tank": load.is_in_tank,
        "rinsed": None if load.rinsed is None else load.rinsed.serial,
        "products": [part.product for part in load.ledger.parts],
        "stops": len(load.ledger.stops),
        "notes": list(load.notes),
    }


def where(load: InTank) -> str:
    """Return where a load is."""
    mix = load.ledger.mix
    if not mix.equipment:
        return "-"
    if load.is_in_tank:
        return f"in {mix.equipment}"
    return f"{mix.equipment}, rinsed" if load.rinsed is not None else f"was in {mix.equipment}"


def when(told: Ledger) -> str:
    """Return when a load was made up, for the screen."""
    return shown_moment(told.made_at)
