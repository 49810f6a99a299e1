"""One revision of a product's label, read from a loaded document."""

from __future__ import annotations

from records.domain.loaded import LINE, NAME, PROSE, Table, shown
from records.domain.product import Force, Label, Limits, PrintedRate, ProductKind, Use
from records.domain.quantities import Form, Rate, parse_rate
from records.domain.spans import Span, read_span
from records.services.reading.handling import read_mixing, read_ppe
from records.services.reading.limits import force, read_limits

TOLERANCES = ("tolerant", "sensitive", "not tolerant")
_RATE_EXAMPLE = "1.1 fl oz/1000 sq ft or 0.6 fl oz/gal"


def _turf(table: Table) -> dict[str, list[str]]:
    """Return the species a use names, by tolerance."""
    found: dict[str, list[str]] = {tolerance: [] for tolerance in TOLERANCES}
    seen: set[str] = set()
    for place, entry in table.strings_or_tables("turf"):
        if isinstance(entry, Table):
            name = entry.text("name", required=True, cap=NAME, hint="the species").lower()
            tolerance = entry.choice("tolerance", TOLERANCES) or "tolerant"
            entry.finish()
        else:
            name, tolerance = entry.lower(), "tolerant"
        if name in seen:
            table.problem(place, f"{shown(name)} is named twice in one use; keep one")
        elif name:
            seen.add(name)
            found[tolerance].append(name)
    return found


def _rate(table: Table, form: Form) -> PrintedRate | None:
    """Return one printed basis of a rate."""

    def end(key: str) -> Rate | None:
        return table.amount(key, lambda text: parse_rate(text, form), _RATE_EXAMPLE)

    before_low, before_high = table.has("min"), table.has("max")
    low, high = end("min"), end("max")
    table.finish()
    if not before_low and not before_high:
        table.problem(
            "", f'gives neither end; write max = "{_RATE_EXAMPLE.partition(" or ")[0]}", min too if it is printed'
        )
        return None
    if high is not None and high.value == 0:
        table.problem("max", "is zero; write the highest rate that the label prints")
        return None
    if low is not None and high is not None:
        if low.basis != high.basis:
            table.problem(
                "min",
                f"is per {low.per_unit} but max is per {high.per_unit}; give each printed basis an entry of its own",
            )
            return None
        if "oz" not in {low.unit, high.unit} and low.base > high.base:  # an ounce of unknown kind: no form was given
            table.problem("min", f"{low} is more than max, {high}; swap or correct them")
            return None
    return PrintedRate(low, high) if low is not None or high is not None else None


def _use(table: Table, kind: ProductKind, form: Form, actives: tuple[str, ...], outer: Limits) -> Use:
    site = table.text("site", required=True, cap=NAME, hint="such as turf, ornamental bed or hardscape").lower()
    turf = _turf(table)
    example = f'{{max = "{_RATE_EXAMPLE.partition(" or ")[0]}"}}' if kind is ProductKind.PESTICIDE else ""
    rates = [_rate(rate, form) for rate in table.tables("rates", least=example)]
    limits = table.table("limits")
    use = Use(
        site=site,
        method=table.texts("method", cap=NAME, lower=True),
        targets=table.texts("targets", cap=NAME, lower=True),
        rates=tuple(rate for rate in rates if rate is not None),
        turf=tuple(turf["tolerant"]),
        sensitive=tuple(turf["sensitive"]),
        not_tolerant=tuple(turf["not tolerant"]),
        target_force=force(table, "target_force", Force.SHOULD),
        minimum_force=force(table, "minimum_force", Force.SHOULD),
        limits=None if limits is None else read_limits(limits, form, actives, outer),
        text=table.text("text", cap=PROSE),
    )
    table.finish()
    return use


def _wording(table: Table) -> tuple[str, tuple[str, ...], str, str]:
    """Return the texts that a label prints in one language: keep off, precautions, first aid, results."""
    return (
        table.text("keep_off", cap=PROSE),
        table.texts("precautions", cap=PROSE),
        table.text("first_aid", cap=PROSE),
        table.text("results", cap=PROSE),
    )


def _spanish(table: Table | None) -> tuple[tuple[str, str], ...]:
    """Return the Spanish texts with their keys; `precautions` comes once for each precaution."""
    if table is None:
        return ()
    keep_off, precautions, first_aid, results = _wording(table)
    table.finish()
    pairs = [
        ("keep_off", keep_off),
        *(("precautions", text) for text in precautions),
        ("first_aid", first_aid),
        ("results", results),
    ]
    return tuple((key, text) for key, text in pairs if text)


def read_label(table: Table | None, kind: ProductKind, form: Form, actives: tuple[str, ...]) -> Label | None:
    """Return a label; None where the product has none.

    Args:
        table: the `label` table; None where there is none.
        kind: of the product; a pesticide's label names its uses and their rates.
        form: of the product; it settles the units.
        actives: names of the product's actives.
    """
    if table is None:
        return None
    revision = table.text("revision", required=True, cap=60, hint="the date or number printed on the label")
    keep_off, precautions, first_aid, results = _wording(table)
    limits = read_limits(table.table("limits"), form, actives)
    example = '{site = "turf", method = "broadcast", rates = [...]}' if kind is ProductKind.PESTICIDE else ""
    uses = tuple(_use(use, kind, form, actives, limits) for use in table.tables("uses", least=example))
    spanish = _spanish(table.table("spanish"))
    reentry = _reentry(table)
    mixing, ppe = read_mixing(table), read_ppe(table)
    copy = table.text("copy", cap=LINE)
    table.finish()
    return Label(revision, uses, limits, keep_off, precautions, first_aid, results, reentry, spanish, mixing, ppe, copy)


def _reentry(table: Table) -> Span | None:
    """Return the label's re-entry interval; None where it sets none."""
    text = table.text("reentry", cap=NAME)
    span = read_span(text) if text else None
    if text and span is None:
        table.problem("reentry", f"{shown(text)} is no stretch of time; write 12 hours, or keep_off for words")
    return span
