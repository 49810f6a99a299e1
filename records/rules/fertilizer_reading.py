"""Reads the `[fertilizer]` part of a pack."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from records.domain.loaded import PROSE, shown
from records.domain.numerals import QuantityError
from records.domain.nutrients import NUTRIENTS, parse_share
from records.domain.quantities import Form, Per, Quantity, Rate, parse_length, parse_rate
from records.rules.fertilizer import (
    ALLOWED,
    GROUNDS,
    PER,
    PRODUCTS,
    STAGES,
    WHO,
    BarredGround,
    Blackout,
    Fertilizer,
    HardGround,
    NutrientLimit,
    Phosphorus,
    Season,
    Setback,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from fractions import Fraction

    from records.domain.loaded import Table
    from records.rules.pack import Source

T = TypeVar("T")
SEASONS = ("cool-season", "warm-season")
HELD = ("N", "P2O5", "K2O")
_MARK = re.compile(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])", re.ASCII)
_RATE = "0.9 lb/1000 sq ft"


def read_fertilizer(table: Table | None, source: Callable[[Table], Source]) -> Fertilizer | None:
    """Return what a pack says about fertilizer; None where it says nothing.

    Args:
        table: the part; None where there is none.
        source: reads where a fact stands.
    """
    if table is None:
        return None

    def each(key: str, read: Callable[[Table, Source], T | None]) -> tuple[T, ...]:
        found = []
        for entry in table.tables(key):
            made = read(entry, source(entry))
            entry.finish()
            found.append(made)
        return tuple(one for one in found if one is not None)

    made = Fertilizer(
        limits=each("limits", _limit),
        phosphorus=each("phosphorus", _phosphorus),
        blackout=each("blackout", _blackout),
        ground=each("ground", _ground),
        setback=each("setback", _setback),
        hard=each("hard", lambda entry, at: HardGround(at, entry.text("words", required=True, cap=PROSE))),
    )
    table.finish()
    return made


def weight_per_area(text: str) -> Rate:
    """Read a weight per area, such as a limit of a nutrient.

    Raises:
        QuantityError: no weight per area.
    """
    rate = parse_rate(text, Form.DRY, "limit")
    if rate.per is not Per.AREA:
        raise QuantityError(f"limit {shown(text)} is not per area; write it like {_RATE}")
    return rate


def _season(entry: Table, *, required: bool = False) -> Season | None:
    marks = []
    for key in ("from", "to"):
        text = entry.text(key, required=required, hint="month and day, such as 12-01")
        if text and (not _MARK.fullmatch(text) or not _exists(text)):
            entry.problem(key, f"{shown(text)} is no month and day; write it like 12-01")
            text = ""
        marks.append(text)
    if any(marks) and not all(marks) and not required:
        entry.problem("", "names one end of the days only; give both, from and to")
    return Season(*marks) if all(marks) else None


def _exists(mark: str) -> bool:
    try:
        date.fromisoformat(f"2000-{mark}")
    except ValueError:
        return False
    return True


def _known(entry: Table, key: str, known: Iterable[str]) -> tuple[str, ...]:
    words = tuple(known)
    found = entry.texts(key)
    for word in found:
        if word not in words:
            entry.problem(key, f"{shown(word)} is not known; any of: {', '.join(words)}")
    return tuple(word for word in found if word in words)


def _share(entry: Table, key: str) -> Fraction | None:
    return entry.amount(key, parse_share, "20 %")


def _limit(entry: Table, source: Source) -> NutrientLimit | None:
    nutrient = entry.text("nutrient", required=True, hint=f"one of: {', '.join(NUTRIENTS)}")
    if nutrient and nutrient not in NUTRIENTS:
        entry.problem("nutrient", f"{shown(nutrient)} is not known; one of: {', '.join(NUTRIENTS)}")
    per = entry.choice("per", PER, required=True)
    most = entry.amount("most", weight_per_area, _RATE, required=True)
    least, below = _share(entry, "slow_least"), _share(entry, "slow_below")
    products = _known(entry, "products", PRODUCTS)
    turf = entry.choice("turf", SEASONS)
    season, words, advice = _season(entry), entry.text("words", cap=PROSE), entry.flag("advice")
    ask = entry.text("ask", cap=PROSE)
    if most is None:
        return None
    return NutrientLimit(nutrient, per, most, source, least, below, products, turf, season, words, advice, ask)


def _phosphorus(entry: Table, source: Source) -> Phosphorus:
    return Phosphorus(
        allowed=_known(entry, "allowed", ALLOWED),
        source=source,
        above=_share(entry, "above"),
        test_years=entry.whole("test_years", entry.raw("test_years"), 1, 50) if entry.has("test_years") else None,
        words=entry.text("words", cap=PROSE),
    )


def _blackout(entry: Table, source: Source) -> Blackout | None:
    season = _season(entry, required=True)
    who, nutrients = entry.choice("for", WHO, required=True), _known(entry, "nutrients", HELD)
    above, words = entry.amount("above", weight_per_area, _RATE), entry.text("words", cap=PROSE)
    return None if season is None else Blackout(season, who, source, nutrients, above, words)


def _ground(entry: Table, source: Source) -> BarredGround:
    states = _known(entry, "states", GROUNDS)
    if not entry.has("states"):
        entry.missing("states", f"any of: {', '.join(GROUNDS)}")
    return BarredGround(states, source, _known(entry, "nutrients", HELD), entry.text("words", cap=PROSE))


def _setback(entry: Table, source: Source) -> Setback | None:
    distance = entry.amount("distance", parse_length, "15 ft", required=True)
    smaller: Quantity | None = entry.amount("smaller", parse_length, "10 ft")
    nutrients, words = _known(entry, "nutrients", HELD), entry.text("words", cap=PROSE)
    advice, unless = entry.flag("advice"), entry.text("unless", cap=PROSE)
    stages = _known(entry, "stages", STAGES)
    return None if distance is None else Setback(distance, source, smaller, nutrients, words, advice, unless, stages)
