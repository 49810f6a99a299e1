"""One number and one unit out of a typed text: the rules of reading, and messages for what cannot be read.

Nothing is guessed. `0,25 acre` is neither 25 nor 0.25 here, `5-6 gal` is neither 5 nor 6: both are refused with the
way to write what was meant. Text becomes a fraction through `Decimal`; no binary float is involved.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from records.units import ALIASES

MAX_TEXT = 80
MAX_NUMBER = 24  # longer than any amount of the trade, short enough to echo
ZERO = Fraction(0)
HALF = Fraction(1, 2)


class QuantityError(ValueError):
    """A text that is not an amount; the message says what would be understood."""


# The first group of a number with thousands commas does not begin with a zero: `0,250` is a decimal comma.
_NUMBER = re.compile(
    r"""(?P<sign>[-+−]?)\s*
    (?P<number>
        [1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?     # 4,200 or 1,234.5
      | \d+\s*[-\s]\s*\d+/\d+                 # 1 1/2 or 1-1/2
      | \d+/\d+                               # 3/4
      | \d+(?:\.\d*)? | \.\d+                 # 0.47
    )
    (?P<rest>.*)""",
    re.VERBOSE | re.ASCII | re.DOTALL,
)
_SIGNS = {
    "½": " 1/2",
    "⅓": " 1/3",
    "⅔": " 2/3",
    "¼": " 1/4",
    "¾": " 3/4",
    "⅕": " 1/5",
    "⅖": " 2/5",
    "⅗": " 3/5",
    "⅘": " 4/5",
    "⅙": " 1/6",
    "⅚": " 5/6",
    "⅛": " 1/8",
    "⅜": " 3/8",
    "⅝": " 5/8",
    "⅞": " 7/8",
    "\N{FRACTION SLASH}": "/",  # the fraction slash that some keyboards put into 1/2
    "∕": "/",
}
_SIGN = re.compile("|".join(_SIGNS))

# What a text begins with instead of a number -> what is wrong with it.
_OPENINGS = (
    (
        re.compile(
            r"[~≈<>≤≥±]|(?:about|approx\w*|around|roughly|ca|circa|less|more|up|under|over|at|max|min)\b",
            re.IGNORECASE,
        ),
        "is not one definite amount; write the number measured and keep the doubt for the remarks",
    ),
    (
        re.compile(
            r"(?:an?|half|quarter|third|one|two|three|four|five|six|seven|eight|nine|ten|minus|zero)\b",
            re.IGNORECASE,
        ),
        "spells the number out; write it in figures",
    ),
)
# What follows the first number where a unit is wanted, when it holds a digit -> what is wrong with it.
_LEFTOVERS = (
    (
        re.compile(r"1,?000$"),
        "is per 1000 of what? write the square feet out",
    ),
    (
        re.compile(r",\s*\d"),
        "has a comma out of place; write a decimal with a point (0.25) and thousands in threes (4,200)",
    ),
    (re.compile(r"\d"), "has digits out of place; write one number, like 4200 or 4,200"),
    (
        re.compile(r".*?(?:[-–—]|\bto\b|\bor\b|\band\b)\s*\d", re.IGNORECASE),
        "is a range or a sum; write the one amount that was used",
    ),
    (re.compile(r":"), "is a ratio; write what goes into a gallon (1 fl oz/gal) or % v/v"),
    (
        re.compile(r".*?[x×*]\s*\d", re.IGNORECASE),
        "is a calculation; work it out and write the result",
    ),
)
# Units that are known to be doubtful -> what to write instead.
_DOUBTFUL = (
    (re.compile(r"t$|t/"), "T may be a teaspoon or a tablespoon; write tsp or tbsp"),
    (re.compile(r"k$|.*/\s*k$"), "K is not known; for a thousand square feet write 1000 sq ft"),
    (re.compile(r"#"), "# is not known; write lb"),
    (re.compile(r"°$|º$|deg$|degrees?$"), "degrees of which scale? write degF or degC"),
    (
        re.compile(r"%|percent|per cent|pct"),
        "per cent of what? write 0.25 % v/v for per cent by volume of spray",
    ),
    (
        re.compile(r".*\b(?:ai|a i|ae|a e)\b"),
        "an active is worked out from the product; write the unit without ai or ae",
    ),
    (
        re.compile(r"imp"),
        "imperial measures are larger than the US ones; convert to US gallons or litres",
    ),
    (
        re.compile(r"(?:cap|capful|scoop|bag|jug|bottle|pinch|drop|squirt|tank|can|load|packet)s?\b"),
        "a container is no measure; write what it holds",
    ),
    (
        re.compile(r"(?:mph|kts?|kn|km/h) (?:from )?[nesw]{1,3}$"),
        "the direction has its own place, wind_from",
    ),
)


def clean(text: object, what: str, example: str) -> str:
    """Return the text with single blanks and plain fractions.

    Args:
        text: as it came out of a document.
        what: the word for messages: "amount", "area" ...
        example: what would be understood.

    Raises:
        QuantityError: no text, or too much of it.
    """
    if not isinstance(text, str):
        if isinstance(text, int | float | Decimal) and not isinstance(text, bool):
            raise QuantityError(f"{what} is a bare number; write it as text with its unit, such as {example}")
        raise QuantityError(f"{what} is not text; write it with its unit, such as {example}")
    if len(text) > MAX_TEXT:
        raise QuantityError(f"{what} is {len(text):,} characters long; write one amount, such as {example}")
    return _plain(text, what, example)


@lru_cache(maxsize=4096)
def _plain(text: str, what: str, example: str) -> str:
    cleaned = " ".join(_SIGN.sub(lambda sign: _SIGNS[sign[0]], text).split())
    if not cleaned:
        raise QuantityError(f"{what} is empty; write a number and a unit, such as {example}")
    return cleaned


def shown(text: str) -> str:
    """Return the text quoted for a message: one line, nothing that steers a terminal."""
    return repr("".join(c if c.isprintable() else "?" for c in text[:40]))


def split_number(text: str, what: str, example: str, *, signed: bool = False) -> tuple[Fraction, Fraction, str, str]:
    """Split a cleaned text into value, half-width of the reading, number as text, and the rest (the unit).

    Args:
        text: what `clean` returned.
        what: the word for messages.
        example: what would be understood.
        signed: whether the number may be below zero.

    Raises:
        QuantityError: no plain number in front.
    """
    found = _NUMBER.fullmatch(text)
    if found is None:
        wrong = next((why for begin, why in _OPENINGS if begin.match(text)), None)
        wrong = wrong or "does not begin with a number; write a number and a unit"
        raise QuantityError(f"{what} {shown(text)} {wrong}, such as {example}")
    number, rest = found["number"], found["rest"].strip()
    negative = found["sign"] in {"-", "−"}
    if negative and not signed:
        raise QuantityError(f"{what} {shown(text)} is negative; write an amount of zero or more, such as {example}")
    if len(number) > MAX_NUMBER:
        raise QuantityError(f"{what} {shown(text)} has too many digits; write it like {example}")
    if re.match(r"/\s*\d|[eE][-+]?\d", rest, re.ASCII):
        raise QuantityError(f"{what} {shown(text)} is not a plain number and a unit; write it like {example}")
    if "/" in number:
        value, half, written = _fraction(number, text, what, example)
    else:
        written = number.replace(",", "")
        value = Fraction(Decimal(written))
        half = HALF / 10 ** len(written.partition(".")[2])
        written = f"0{written}" if written.startswith(".") else written.rstrip(".")
    return (-value, half, f"-{written}", rest) if negative else (value, half, written, rest)


def _fraction(number: str, text: str, what: str, example: str) -> tuple[Fraction, Fraction, str]:
    whole, _, fraction = re.sub(r"[-\s]+", " ", number).rpartition(" ")
    top, bottom = (int(part) for part in fraction.split("/"))
    if bottom == 0:
        raise QuantityError(f"{what} {shown(text)} divides by zero; write it like {example}")
    # 11/2 is a 1 1/2 whose blank was lost as often as it is five and a half: nobody measures so.
    if top >= bottom:
        raise QuantityError(
            f"{what} {shown(text)} has a fraction of one or more; write a whole number, a blank and the fraction, "
            f"such as 1 1/2"
        )
    return int(whole or "0") + Fraction(top, bottom), ZERO, f"{whole} {fraction}".strip()


def find_unit(text: str, what: str, whole: str, example: str) -> str:
    """Return the symbol of a unit as typed.

    Args:
        text: the unit alone.
        what: the word for messages.
        whole: the text it stands in, for messages.
        example: what would be understood.

    Raises:
        QuantityError: no unit, an unknown one, or more than one amount.
    """
    key = " ".join(text.lower().replace(".", " ").split())
    symbol = ALIASES.get(key)
    if symbol is not None:
        return symbol
    if not key:
        raise QuantityError(f"{what} {shown(whole)} is a bare number; write the unit too, such as {example}")
    if re.search(r"\d", text):
        wrong = next((why for begin, why in _LEFTOVERS if begin.match(text)), None)
        wrong = wrong or "holds more than one amount; write one number and one unit"
        raise QuantityError(f"{what} {shown(whole)} {wrong}, such as {example}")
    wrong = next((why for begin, why in _DOUBTFUL if begin.match(key)), None)
    raise QuantityError(
        f"{what} {shown(whole)}: {wrong}"
        if wrong
        else f"{what} {shown(whole)} has a unit that is not known, {shown(text)}; write it like {example}"
    )
