"""How numbers, days and serials read in an annual summary."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

NOT_RECORDED = "not recorded"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FULL = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
CAUTIONS = (
    "The product label is the law and wins over this summary.",
    (
        "This summary is an aid and not legal advice; "
        "confirm with the state's pesticide agency and a licensed professional."
    ),
)
_MOST = 9  # decimals at most; the book holds no more


def fixed(top: int, bottom: int, places: int) -> str:
    """Return the exact value top/bottom as decimal text, rounded half-even once.

    Args:
        top: numerator, zero or more.
        bottom: denominator, above zero.
        places: decimals; a small value that would lose its digits keeps three significant ones.
    """
    scaled, rest = divmod(top * 10**places, bottom)
    while rest and scaled < 100 and places < _MOST:
        places += 1
        scaled, rest = divmod(top * 10**places, bottom)
    if 2 * rest > bottom or (2 * rest == bottom and scaled % 2):
        scaled += 1
    whole = str(scaled)
    if not places:
        return whole
    whole = whole.rjust(places + 1, "0")
    return f"{whole[:-places]}.{whole[-places:]}"


def day_words(day: date) -> str:
    """Return a day as printed: `December 31, 2026`."""
    return f"{_FULL[day.month - 1]} {day.day}, {day.year}"


def serial_ranges(serials: list[str]) -> str:
    """Return serials with runs folded: `2026-000001 to 2026-000450, 2026-000502`."""
    runs: list[list[str]] = []
    last: tuple[str, int] | None = None
    for serial in sorted(set(serials)):
        year, _, number = serial.rpartition("-")
        here = (year, int(number)) if number.isdigit() else (serial, -2)
        if last is not None and here == (last[0], last[1] + 1):
            runs[-1][1:] = [serial]
        else:
            runs.append([serial])
        last = here
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 1 else run[0] for run in runs)
