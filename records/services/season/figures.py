"""How the season's figures are written."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.services.season.gather import middle
from records.services.summary_words import fixed
from records.units import Kind

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from records.services.follow_up import Treated
    from records.services.season.gather import Visit, Year
    from records.services.summarising import Sums

# Units that a sum is told in, the first of which there is at least one; sizes are in base units.
SHOWN_IN = {
    Kind.VOLUME: (("gal", Fraction(128)), ("fl oz", Fraction(1))),
    Kind.WEIGHT: (("lb", Fraction(1)), ("oz wt", Fraction(1, 16))),
    Kind.OUNCE: (("oz (kind unknown)", Fraction(1)),),
}


def hours_of(visits: Iterable[Visit]) -> Fraction:
    """Return hours, rounded to a tenth."""
    return Fraction(round(Fraction(sum(one.minutes or 0 for one in visits), 6)), 10)


def hours_text(visits: Sequence[Visit]) -> str:
    """Return hours to a tenth, with how many visits have no start or end."""
    found, unknown = hours_of(visits), sum(one.minutes is None for one in visits)
    text = fixed(found.numerator, found.denominator, 1)
    return f"{text} ({unknown} without)" if unknown else text


def share(part: int, whole: int) -> str:
    """Return a part of a whole in per cent, with both numbers: `12 % (5 of 42)`; "" of nothing."""
    return f"{round(Fraction(100 * part, whole))} % ({part} of {whole})" if whole else ""


def part_of(year: Year, treated: Iterable[Treated]) -> tuple[int, int]:
    """Return how many treatments had to be done again, and of how many that can be known: ground and weed are there."""
    known = [one for one in treated if one.zones and one.targets]
    return sum((one.serial, one.index) in year.again for one in known), len(known)


def control_text(values: Sequence[Fraction]) -> str:
    """Return the median with its number: `85 %, n 12`; "" where nothing was rated."""
    found = middle(values)
    return "" if found is None else f"{int(found)} %, n {len(values)}"


def amount_text(total: Sums) -> str:
    """Return what was put out of a product in the unit that it is bought in."""
    parts = []
    for kind, units in SHOWN_IN.items():
        found = total.amount(kind)
        if found is not None:
            unit, size = next((one for one in units if Fraction(*found) >= one[1]), units[-1])
            parts.append(f"{fixed(found[0] * size.denominator, found[1] * size.numerator, 2)} {unit}")
    return ", ".join(parts)


def amount_parts(total: Sums) -> tuple[str | None, ...]:
    """Return the same as bare numbers: fl oz, lb, ounces of unknown kind."""
    found = (total.amount(kind) for kind in SHOWN_IN)
    return tuple(None if one is None else decimal_text(Fraction(*one), 9) for one in found)
