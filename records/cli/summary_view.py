"""The annual summary on a screen: the same sums as on paper, in fewer columns."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from records.cli.output import pairs, say, table, talk, wrapped

if TYPE_CHECKING:
    from records.domain.report_model import Section, SummaryModel

# What the sums of the model become: each amount in the larger unit from one of it on, in the smaller below.
_AMOUNTS = (("gal", "fl_oz", "gal", "fl oz"), ("lb", "oz_wt", "lb", "oz wt"))
_FEW_ACRES = 10  # from here on an area is told in acres
_LEFT_OUT = {"kind", "form", "active_lb"}  # of the product table: each has a table of its own, or the paper has it
_WITHOUT = {"without_amount", "without_area"}  # told beside the amount and the area


def tell_summary(model: SummaryModel) -> None:
    """Write a year's summary."""
    say(f"{model.title}: {model.firm.name}")
    pairs([(fact.label.lower(), fact.value) for fact in model.facts])
    for section in model.sections:
        if section.rows:
            _section(section)
    say(f"\nlast seal {model.last_seal}")
    talk("All columns, on paper or in a sheet: add --out FILE.pdf --out FILE.csv")


def _section(section: Section) -> None:
    keys = [column.key for column in section.columns]
    rows = [dict(zip(keys, row, strict=True)) for row in section.rows]
    if section.key == "by_month":
        rows = [row for row in rows if row["applications"] != "0"]
    if section.total is not None:
        rows.append(dict(zip(keys, section.total, strict=True)))
    say(f"\n{section.title}")
    lines = [_line(section, row, in_acres=_is_large(rows)) for row in rows]
    names = [name for name in dict.fromkeys(key for line in lines for key in line) if any(line[name] for line in lines)]
    numeric = {column.title for column in section.columns if column.numeric} | {"Amount", "Area"}
    right = [index for index, name in enumerate(names) if name in numeric]
    kept = numeric - {"Amount", "Area"} | {"Reg. no."}
    keep = [index for index, name in enumerate(names) if name in kept]
    table([name.lower() for name in names], [[line[name] for name in names] for line in lines], right=right, keep=keep)
    if section.note:
        say(wrapped(section.note, "  "))


def _is_large(rows: list[dict[str, str]]) -> bool:
    return any(Decimal(row.get("acres") or 0) >= _FEW_ACRES for row in rows)


def _line(section: Section, row: dict[str, str], *, in_acres: bool) -> dict[str, str]:
    """Return one row by the titles of its columns."""
    told: dict[str, str] = {}
    summed = (
        {key for names in _AMOUNTS for key in names}
        | {"oz_kind_unknown", "sq_ft", "acres", "restricted_use"}
        | _WITHOUT
    )
    for column in section.columns:
        if column.key == "sq_ft":
            if "gal" in row:
                told["Amount"] = _amount(row)
            told["Area"] = _area(row, in_acres=in_acres)
        elif column.key not in summed and not (section.key == "by_product" and column.key in _LEFT_OUT):
            title = "Reg. no." if column.key == "registration" else column.title
            told[title] = row[column.key]
    if row.get("restricted_use"):
        told["Product"] += " (restricted use)"
    return told


def _amount(row: dict[str, str]) -> str:
    parts = []
    for large, small, large_unit, small_unit in _AMOUNTS:
        if row[large]:
            parts.append(f"{row[large]} {large_unit}" if Decimal(row[large]) >= 1 else f"{row[small]} {small_unit}")
    if row["oz_kind_unknown"]:
        parts.append(f"{row['oz_kind_unknown']} oz of unknown kind")
    return _with(" + ".join(parts), row["without_amount"])


def _area(row: dict[str, str], *, in_acres: bool) -> str:
    told = f"{row['acres']} acre" if in_acres else f"{int(row['sq_ft'] or 0):,} sq ft"
    return _with(told if row["sq_ft"] else "", row["without_area"])


def _with(told: str, without: str) -> str:
    """Return an amount or area, and for how many applications there is none."""
    return "; ".join(filter(None, (told, f"{without} without" if without else "")))
