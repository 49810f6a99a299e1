"""Bodies as a page for people reads them: the firm of the book where it names none, whole square feet."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from records.domain.people import Business

    Body = dict[str, Any]

_BROKEN = re.compile(r"(\d[\d,]*\.\d+) sq ft")
_NOTHING = frozenset({"", "none", "no", "nothing", "n/a", "na", "-", "ninguno", "ninguna", "nada"})
_SOURCES = (
    (re.compile(r"carried from an earlier stop"), "carried from an earlier stop"),
    (re.compile(r"(?:weather )?station\b"), "station"),
    (re.compile(r"(?:hand-?held |wind )?(?:meter|anemometer)\b"), "meter"),
    (re.compile(r"estimated?\b"), "estimate"),
)


def readable(body: Body, business: Business | None) -> Body:
    """Return a body with the firm's own name and phone where an imported record has none, and whole square feet."""
    firm = body.get("business") or {}
    if business is not None:
        own = {key: getattr(business, key) for key in ("name", "address", "phone", "licence")}
        firm = {**firm, **{key: firm.get(key) or value for key, value in own.items()}}
    return {**body, "business": firm, "treatments": [_treatment(one) for one in body.get("treatments") or []]}


def _treatment(treatment: Body) -> Body:
    lines = [{**line, "area": _whole(line.get("area"))} for line in treatment.get("applications") or []]
    return {**treatment, "area": _whole(treatment.get("area")), "applications": lines}


def _whole(area: object) -> object:
    found = _BROKEN.fullmatch(area) if isinstance(area, str) else None
    if found is None:
        return area
    number = round(Fraction(found[1].replace(",", "")))
    return f"{number} sq ft" if number else area


def is_unusual(body: Body) -> bool:
    """Tell whether something out of the ordinary is written down for a visit."""
    return str(body.get("incident") or "").strip(" .!\n").casefold() not in _NOTHING


def source_word(source: object) -> str:
    """Return what weather was measured with as a word of the template; "" of what is in somebody's own words.

    Where readings were carried from an earlier stop, the words name that stop: another customer's.
    """
    text = str(source or "").strip().casefold()
    return next((word for pattern, word in _SOURCES if pattern.match(text)), "")
