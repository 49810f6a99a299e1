"""What a test says, in a plain sentence with the number of sites it stands on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.services.comparing.statistics import DRAWN, p_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from records.services.comparing.model import Verdict
    from records.services.comparing.statistics import Test

FINAL = "final control"


def days_words(level: Fraction) -> str:
    """Return what days to a control are called."""
    return f"days to {decimal_text(level, 0)} %"


def whole(value: Fraction) -> str:
    """Return a number without decimals, as percentages and days stand in print."""
    return decimal_text(value, 0)


def counted(number: int, word: str) -> str:
    """Return a number with its word, in one number or the other."""
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def sentence(
    what: str,
    names: tuple[str, str],
    sizes: tuple[int, int],
    difference: Fraction | None,
    test: Test | None,
    tests: int,
    until_days: int | None = None,
) -> str:
    """Return a verdict in words; the first of the names is the better by its median.

    Args:
        what: in which respect.
        names: of the groups.
        sizes: sites of each.
        difference: of the medians; None: not known.
        test: of it, held together with the others; None: one has no sites.
        tests: how many were made at once.
        until_days: that cut final looks off; None: the last look of the mode of action.
    """
    first, second = names
    if test is None:
        lacking = " and ".join(name for name, size in zip(names, sizes, strict=True) if not size)
        return f"{what}: nothing to compare, {lacking} has no site with it"
    count = f"n={sizes[0]} and {sizes[1]}; {p_text(test.p)}{_held(test, tests)}"
    if test.is_told:
        return _told(what, first, second, difference, count, until_days)
    sites = f"{counted(sum(sizes), 'site')} ({sizes[0]} of {first}, {sizes[1]} of {second})"
    if not test.could_tell:
        return f"{what}: no difference can be told from {sites}; so few could not show one"
    return f"{what}: no difference can be told from {sites}; {p_text(test.p)}{_held(test, tests)}"


def summed(verdicts: Sequence[Verdict]) -> list[str]:
    """Return verdicts as few sentences: differences first, then pairs without one, then what so few could not show."""
    told = [one.sentence for one in verdicts if one.test is not None and one.test.is_told]
    pairs: dict[tuple[str, ...], list[Verdict]] = {}
    few: dict[tuple[str, ...], list[Verdict]] = {}
    for one in verdicts:
        names, _ = _ordered(one)
        if one.test is None or not one.test.could_tell:
            few.setdefault(names, []).append(one)
        elif not one.test.is_told:
            pairs.setdefault(names, []).append(one)
    for names, found in pairs.items():
        parts = [f"{one.what} ({_stands(one)}; {p_text(one.test.p)})" for one in found if one.test is not None]
        told.append(f"{names[0]} and {names[1]}: no difference can be told in {' or '.join(parts)}")
    if few:
        shown = []
        for names, found in few.items():
            sizes = dict.fromkeys(_ordered(one)[1] for one in found)
            # Which respect is meant has to be said where the other one has more sites
            is_alike = len(sizes) == 1 and names not in pairs
            parts = [" and ".join(map(str, size)) for size in sizes] if is_alike else []
            parts = parts or [f"{one.what} {' and '.join(map(str, _ordered(one)[1]))}" for one in found]
            shown.append(f"{names[0]} and {names[1]} ({'; '.join(parts)})")
        told.append(f"no difference can be told from so few sites, whatever they say: {'; '.join(shown)}")
    return told


def _stands(one: Verdict) -> str:
    """Return how many sites a verdict stands on, in the order of the names."""
    _, (first, second) = _ordered(one)
    return f"{first} and {counted(second, 'site')}{f', open at {one.open}' if one.open else ''}"


def _ordered(one: Verdict) -> tuple[tuple[str, ...], tuple[int, ...]]:
    """Return names and sizes in one order, whichever of the two is better."""
    return tuple(zip(*sorted(zip((one.first, one.second), one.sizes, strict=True)), strict=True))  # type: ignore[return-value]


def _told(what: str, first: str, second: str, difference: Fraction | None, count: str, until_days: int | None) -> str:
    if what == FINAL:
        by = "" if difference is None else f", by about {whole(difference)} points"
        end = "in the end" if until_days is None else f"within {counted(until_days, 'day')}"
        return f"{first} controlled more {end} than {second}{by} ({count})"
    level = what.removeprefix("days to ")
    by = "" if difference is None else f", by about {counted(round(difference), 'day')}"
    return f"{first} was faster to {level} than {second}{by} ({count})"


def _held(test: Test, tests: int) -> str:
    several = f", of {tests} comparisons together" if tests > 1 else ""
    return several + (", by lot" if test.way == DRAWN else "")
