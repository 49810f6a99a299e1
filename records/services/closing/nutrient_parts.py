"""Reads the parts of a treatment that fertilizer rules ask about: water, spreader, soil test, turf and ground."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from records.domain.quantities import parse_length
from records.rules.fertilizer import GROUNDS, STAGES
from records.services.closing.entry import shown

if TYPE_CHECKING:
    from records.services.closing.entry import Reader

_SAID = {"true": True, "yes": True, "false": False, "no": False}  # as a correction of a held entry is typed
OPEN, ESTABLISHED = "open", "established"


def read_nutrient_parts(values: dict[str, Any], at: str, reader: Reader) -> dict[str, Any]:
    """Return the parts of a treatment by their names; what cannot be read becomes a finding.

    Args:
        values: the treatment as typed.
        at: its place in the entry.
        reader: of the entry.
    """
    return {
        "water_distance": reader.quantity(parse_length, values.get("water_distance"), f"{at}.water_distance"),
        "deflector": _flag(values.get("deflector"), f"{at}.deflector", reader),
        "soil_test": reader.day(values.get("soil_test"), f"{at}.soil_test", "the day of the soil test"),
        "turf_stage": _choice(values, "turf_stage", (ESTABLISHED, *STAGES), at, reader),
        "ground": _choice(values, "ground", (OPEN, *GROUNDS), at, reader),
    }


def _flag(value: object, at: str, reader: Reader) -> bool | None:
    if value is None or isinstance(value, bool):
        return value
    said = _SAID.get(value.strip().lower()) if isinstance(value, str) else None
    if said is None and value != "":
        reader.not_understood(at, "whether a deflector or drop spreader was used: write true or false", value)
    return said


def _choice(values: dict[str, Any], key: str, known: tuple[str, ...], at: str, reader: Reader) -> str:
    text = reader.text(values.get(key), f"{at}.{key}", f"the {key.replace('_', ' ')}").lower()
    if text and text not in known:
        told = f"{shown(text)} is not known; write one of: {', '.join(known)}"
        reader.not_understood(f"{at}.{key}", told, text)
        return ""
    return text
