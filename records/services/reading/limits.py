"""The limits of a label or of one of its uses, read from a loaded document.

Each limit is the plain value, or a table `{value = ..., force = "must" | "should", text = "as printed"}`.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, TypeVar

from records.domain.loaded import PROSE, Table, kind_of, shown
from records.domain.numerals import QuantityError
from records.domain.product import Force, LimitLine, Limits, Window
from records.domain.quantities import Form, Per, Rate, parse_rate, parse_speed, parse_temperature

if TYPE_CHECKING:
    from collections.abc import Callable

FORCES = tuple(force.value for force in Force)
T = TypeVar("T")
_SPAN = re.compile(r"(\d{1,4})\s*(day|week)s?", re.ASCII)
_WINDOW = re.compile(r"(\d{1,4})\s*(?:rolling\s+|consecutive\s+)?(month|day)s?", re.ASCII)
_MONTH_DAY = re.compile(r"(\d{2})-(\d{2})", re.ASCII)
_MONTH_LENGTHS = (
    31,
    28,
    31,
    30,
    31,
    30,
    31,
    31,
    30,
    31,
    30,
    31,
)  # a season begins and ends on days that every year has
_LONGEST = 3_660  # days
_AREA_EXAMPLE = "6 pt/acre or 4 oz wt/acre"
_ACTIVE_EXAMPLE = "3 lb/acre"


def force(table: Table, key: str, default: Force) -> Force:
    """Return how a line binds; the default where the key is absent."""
    text = table.choice(key, FORCES)
    return Force(text) if text else default


def _line(table: Table, key: str, read: Callable[[Table, str], T | None]) -> LimitLine[T] | None:
    """Return one limit, plain or as a table, its value read by `read(table, key)`."""
    plain = table.raw(key)
    if plain is None:
        return None
    if not isinstance(plain, dict):
        value = read(table, key)
        return None if value is None else LimitLine(value)
    inner = table.table(key)
    if inner is None:  # cannot be: it is a table
        return None
    binding, text = force(inner, "force", Force.MUST), inner.text("text", cap=PROSE)
    if inner.has("value"):
        value = read(inner, "value")
    else:
        inner.missing("value", "write the limit itself there")
        value = None
    inner.finish()
    return None if value is None else LimitLine(value, binding, text)


def _interval(table: Table, key: str) -> int | None:
    value = table.raw(key)
    found = _SPAN.fullmatch(value.strip().lower()) if isinstance(value, str) else None
    days = int(found[1]) * (7 if found[2] == "week" else 1) if found else 0
    if not 1 <= days <= _LONGEST:
        what = shown(value) if isinstance(value, str) else kind_of(value)
        table.problem(key, f"{what} is no number of days; write it in quotes like 21 days")
        return None
    return days


def _area_rate(text: str, form: Form, what: str, example: str) -> Rate:
    rate = parse_rate(text, form, what)
    if rate.per is not Per.AREA:
        raise QuantityError(f"{what} {shown(text)} is not per area; write it like {example}")
    if rate.value == 0:
        raise QuantityError(f"{what} {shown(text)} is zero; leave the line out if the label prints no such limit")
    return rate


def _per_year(form: Form) -> Callable[[Table, str], tuple[Rate, ...] | None]:
    def read(table: Table, key: str) -> tuple[Rate, ...] | None:
        value = table.raw(key)
        many = value if isinstance(value, list) else [value]
        if not 1 <= len(many) <= 20:
            table.problem(key, f"has {len(many)} entries; give each basis the label prints, such as {_AREA_EXAMPLE}")
            return None
        places = [f"{table.at(key)}[{index}]" if isinstance(value, list) else "" for index in range(len(many))]
        rates = [
            table.parsed(
                key,
                item,
                lambda text: _area_rate(text, form, "yearly limit", _AREA_EXAMPLE),
                _AREA_EXAMPLE,
                where=place,
            )
            for item, place in zip(many, places, strict=True)
        ]
        good = tuple(rate for rate in rates if rate is not None)
        return good if len(good) == len(rates) else None

    return read


def _active_rate(table: Table, key: str) -> Rate | None:
    return table.parsed(
        key,
        table.raw(key),
        lambda text: _area_rate(text, Form.DRY, "yearly limit of the active", _ACTIVE_EXAMPLE),
        _ACTIVE_EXAMPLE,
    )


def _active_per_year(table: Table, actives: tuple[str, ...]) -> tuple[tuple[str, LimitLine[Rate]], ...]:
    """Return the yearly limit of each active; a plain value belongs to the only one."""
    key = "active_per_year"
    plain = table.raw(key)
    if plain is None:
        return ()
    if not isinstance(plain, dict) or "value" in plain:
        line = _line(table, key, _active_rate)
        if len(actives) == 1:
            return ((actives[0], line),) if line else ()
        each = " and ".join(repr(name) for name in actives) or "none"
        table.problem(
            key,
            f"is one value, but the product lists {len(actives)} actives ({each}); name which it is for, such as"
            f' {{"{actives[0] if actives else "active name"}" = "{_ACTIVE_EXAMPLE}"}}',
        )
        return ()
    inner = table.table(key)
    found: dict[str, LimitLine[Rate]] = {}
    for name in inner.keys() if inner else []:
        line = _line(inner, name, _active_rate) if inner else None
        known = " ".join(name.lower().split())
        if inner and known not in actives:
            inner.problem(name, f"is no active of this product; its actives are: {', '.join(actives) or 'none'}")
        elif line:
            found[known] = line
    return tuple(found.items())


def _month_day(table: Table, key: str) -> str:
    text = table.text(key, required=True, hint="month and day, such as 03-01")
    if not text:
        return ""
    found = _MONTH_DAY.fullmatch(text)
    if found and 1 <= int(found[1]) <= 12 and 1 <= int(found[2]) <= _MONTH_LENGTHS[int(found[1]) - 1]:
        return text
    table.problem(key, f"{shown(text)} is no month and day that every year has; write it like 03-01")
    return ""


def _season(table: Table | None) -> Window | None:
    if table is None:
        return None
    start, end = _month_day(table, "season_from"), _month_day(table, "season_to")
    table.finish()
    return Window("season", 0, start, end)


def _window(table: Table) -> Window | None:
    """Return the days over which a yearly limit counts; None where the label does not say."""
    if isinstance(table.raw("window"), dict):
        return _season(table.table("window"))
    text = " ".join(table.text("window").lower().split())
    if text in {"", "calendar year"}:
        return Window(text) if text else None
    if text in {"season", "growing season"}:
        # A label that says no more than that means one growing season: no less than the year can be counted.
        return Window("season", 0, "01-01", "12-31")
    found = _WINDOW.fullmatch(text)
    length = int(found[1]) if found else 0
    if found is None or not 1 <= length * (30 if found[2] == "month" else 1) <= _LONGEST:
        table.problem(
            "window",
            f"{shown(text)} is not understood; write calendar year, season, 12 months, 365 days or"
            ' {season_from = "03-01", season_to = "11-30"}',
        )
        return None
    return Window(f"{found[2]}s", length)


def _wind(table: Table, key: str) -> Any:  # noqa: ANN401 - a Quantity, or None beside a problem
    return table.parsed(key, table.raw(key), parse_speed, "10 mph")


def _temperature(table: Table, key: str) -> Any:  # noqa: ANN401 - a Quantity, or None beside a problem
    return table.parsed(key, table.raw(key), parse_temperature, "90 degF")


def read_limits(table: Table | None, form: Form, actives: tuple[str, ...], outer: Limits | None = None) -> Limits:
    """Return the limits of a label, or of one use.

    Args:
        table: the `limits` table; None where there is none.
        form: of the product; it settles the units.
        actives: names of the product's actives.
        outer: the label's own limits, when a use is read: its window holds where the use names none.
    """
    window = outer.window if outer else Window("calendar year")
    if table is None:
        return Limits(window=window)
    limits = Limits(
        wind=_line(table, "wind", _wind),
        temperature=_line(table, "temperature", _temperature),
        interval_days=_line(table, "interval", _interval),
        applications=_line(table, "applications", lambda t, key: t.whole(key, t.raw(key), 1, 1_000)),
        per_year=_line(table, "per_year", _per_year(form)),
        active_per_year=_active_per_year(table, actives),
        window=_window(table) or window,
    )
    table.finish()
    return limits
