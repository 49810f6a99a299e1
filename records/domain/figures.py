"""Figures as people write them down: `rectangle 60 ft x 25 ft`, `minus house: 1,200 sq ft`, each with its area.

One parser for documents and commands. What it understands it also writes: `str` of a figure is read as the same figure.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

from records.domain import area
from records.domain.area import OffsetRule
from records.domain.numerals import QuantityError, clean, shown
from records.domain.quantities import Quantity, decimal_text, parse_area, parse_length
from records.units import factor

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

MAX_FIGURE = 300  # characters
MAX_NAMED = 40  # characters of what a figure is called
MAX_WIDTHS = 60
MAX_FIGURES = 60
_LONGEST = Fraction(52_800)  # feet: ten miles, longer than any side of a lawn
_PLACES = 2  # decimals of a square foot that a sum of figures is rounded to, half-even
EXAMPLE = "rectangle 60 ft x 25 ft, circle 12 ft across or minus house: 1,200 sq ft"
_FORMS = {
    "rectangle": "rectangle 60 ft x 25 ft",
    "triangle": "triangle 30 ft base 26 ft high, or with three sides: triangle 30 ft x 40 ft x 50 ft",
    "trapezoid": "trapezoid 146 ft and 85 ft, 244 ft high, or with the slanting sides: "
    "trapezoid 146 ft and 85 ft, slants 246 ft and 246 ft",
    "circle": "circle 12 ft across, or circle 6 ft radius",
    "ellipse": "ellipse 60 ft x 40 ft, its length and its width",
    "L-shape": "L-shape 60 ft x 40 ft less 20 ft x 15 ft, the missing corner last",
    "offsets": "offsets every 10 ft: 0, 22, 31, 28, 14 by simpson, or by trapezoid or mean",
    "outline": "outline 4212.7 sq ft of 12 corners, as --outline FILE measures it",
}
_WORDS = {
    **dict.fromkeys(("rectangle", "rect", "rectangular", "square"), "rectangle"),
    "triangle": "triangle",
    **dict.fromkeys(("trapezoid", "trapezium"), "trapezoid"),
    "circle": "circle",
    **dict.fromkeys(("ellipse", "oval"), "ellipse"),
    **dict.fromkeys(("l-shape", "l", "ell"), "L-shape"),
    **dict.fromkeys(("offsets", "offset"), "offsets"),
    "outline": "outline",
    "area": "area",
}
_CROSS = re.compile(r"[\d.½⅓⅔¼¾].*(?:x|×|\bby\b)\s*[\d.½⅓⅔¼¾].*", re.IGNORECASE)  # two lengths without a name
_CROSSED = frozenset(("rectangle", "ellipse", "L-shape"))  # their lengths are always joined by x
_TWO_NUMBERS = re.compile(r"\d[^\d.,/].*\d")
_SLANTS = "slants"  # a form of its own beside the name: trapezoid by slants, triangle by sides
_SIDES = "sides"


@dataclass(frozen=True)
class Length:
    """A length as written, with feet and inches together."""

    feet: Fraction
    half: Fraction  # half-width of the reading, in feet
    text: str

    def __str__(self) -> str:
        """Return it as written."""
        return self.text


@dataclass(frozen=True)
class Figure:
    """One figure of a measured ground."""

    kind: str  # one of the names in `_FORMS`, or "area"
    lengths: tuple[Length, ...]
    way: str = ""  # "sides", "slants", or the rule of the offsets
    given: Quantity | None = None  # the area itself, where that is what was written
    corners: int = 0  # of an outline
    minus: bool = False
    name: str = ""  # what it is: "house", "drive"

    @cached_property
    def area(self) -> Fraction:
        """Return its area in sq ft, above zero whether it is added or taken off."""
        if self.given is not None:
            return self.given.base
        return self._over([one.feet for one in self.lengths])

    @cached_property
    def half(self) -> Fraction:
        """Return the half-width of its area, in sq ft, by the readings of its lengths."""
        if self.given is not None:
            return self.given.base_half
        feet = [one.feet for one in self.lengths]
        total = Fraction(0)
        for index, one in enumerate(self.lengths):
            try:
                total += abs(self._over([*feet[:index], one.feet + one.half, *feet[index + 1 :]]) - self.area)
            except QuantityError:  # a figure that a longer side would break: the shorter one tells as much
                total += abs(self._over([*feet[:index], one.feet - one.half, *feet[index + 1 :]]) - self.area)
        return total

    def by_rule(self, rule: OffsetRule) -> Fraction:
        """Return the area of offsets by another rule than their own.

        Raises:
            QuantityError: the rule cannot take so many widths.
        """
        return area.by_offsets(self.lengths[0].feet, [one.feet for one in self.lengths[1:]], rule)

    def _over(self, feet: Sequence[Fraction]) -> Fraction:
        if self.kind == "offsets":
            return area.by_offsets(feet[0], feet[1:], OffsetRule(self.way))
        if self.way == _SLANTS:
            return area.trapezoid(feet[0], feet[1], area.trapezoid_height(feet[0], feet[1], feet[2], feet[-1]))
        ways: dict[str, Callable[..., Fraction]] = {
            "rectangle": area.rectangle,
            "triangle": area.triangle_of_sides if self.way == _SIDES else area.triangle,
            "trapezoid": area.trapezoid,
            "circle": lambda size: area.circle(size * 2 if self.way == "radius" else size),
            "ellipse": area.ellipse,
            "L-shape": area.l_shape,
        }
        return ways[self.kind](*feet)

    @property
    def shape(self) -> str:
        """Return the figure alone, without minus and name."""
        told = [str(one) for one in self.lengths]
        match self.kind:
            case "area":
                words = str(self.given)
            case "outline":
                words = f"outline {self.given}{f' of {self.corners} corners' if self.corners else ''}"
            case "offsets":
                words = f"offsets every {told[0]}: {', '.join(told[1:])} by {self.way}"
            case "circle":
                words = f"circle {told[0]} {'radius' if self.way else 'across'}"
            case "triangle" if not self.way:
                words = f"triangle {told[0]} base {told[1]} high"
            case "trapezoid":
                end = f"slants {' and '.join(told[2:])}" if self.way else f"{told[2]} high"
                words = f"trapezoid {told[0]} and {told[1]}, {end}"
            case "L-shape":
                words = f"L-shape {told[0]} x {told[1]} less {told[2]} x {told[3]}"
            case _:
                words = f"{self.kind} {' x '.join(told)}"
        return words

    def __str__(self) -> str:
        """Return the figure as it is kept, and read again."""
        return f"{'minus ' if self.minus else ''}{f'{self.name}: ' if self.name else ''}{self.shape}"


# -- lengths ---------------------------------------------------------------------------------------------------------

_FEET_INCHES = re.compile(
    r"(?P<feet>\d{1,6})\s*(?:ft\.?|feet|foot|['’′])\s*(?P<inches>\d+(?:\.\d+)?(?:\s+\d+/\d+)?|\d+/\d+)\s*"
    r"(?:in\.?|inch(?:es)?|[\"”″]|'')",
    re.IGNORECASE | re.ASCII,
)
_BARE = re.compile(r"[\d.,/\s-]*\d[\d.,/\s-]*", re.ASCII)


def read_length(text: str, unit: str = "") -> Length:
    """Read a length such as `60 ft`, `60 ft 6 in`, `18.3 m`.

    Args:
        text: as written.
        unit: of a number that has none of its own; "": it needs one.

    Raises:
        QuantityError: no single length, or one of ten miles and more.
    """
    cleaned = clean(text, "length", "60 ft or 60 ft 6 in")
    both = _FEET_INCHES.fullmatch(cleaned)
    if both is not None:
        inches = parse_length(f"{both['inches']} in")
        if inches.value >= 12:
            raise QuantityError(f"length {shown(cleaned)} has a foot or more of inches; write 60 ft 6 in, or 726 in")
        length = Length(
            int(both["feet"]) + inches.value / 12, inches.half / 12, f"{both['feet']} ft {inches.number or 0} in"
        )
    else:
        read = parse_length(f"{cleaned} {unit}" if unit and _BARE.fullmatch(cleaned) else cleaned)
        scale = factor(read.unit) / factor("ft")
        # Nothing is nothing: where a lawn comes to a point, no half foot of width is meant.
        length = Length(read.value * scale, read.half * scale if read.value else read.value, str(read))
    if length.feet > _LONGEST:
        raise QuantityError(f"length {shown(cleaned)} is longer than ten miles; look at the number and its unit")
    return length


def _unit_of(text: str) -> str:
    found = re.search(r"[A-Za-z'\"’′”″.]+$", text.strip())
    return found[0] if found and any(char.isdigit() for char in text) else ""


def _lengths(parts: Iterable[str]) -> tuple[Length, ...]:
    """Read lengths written together: one without a unit has that of the others (`60 x 25 ft`).

    Raises:
        QuantityError: one of them is no length, is zero, or it is not clear which unit it has.
    """
    texts = [part.strip() for part in parts]
    units = {_unit_of(text).lower() for text in texts if text} - {""}
    unit = next(iter(units)) if len(units) == 1 else ""
    found = tuple(read_length(text, unit) for text in texts)
    for one in found:
        if not one.feet:
            raise QuantityError(f"a side of {one} makes no figure; leave it out, or write its length")
    return found


# -- figures ---------------------------------------------------------------------------------------------------------

_TIMES = re.compile(r"\s*(?:[x×*]|\bby\b)\s*", re.IGNORECASE)
_MINUS = re.compile(r"(?:minus|less|without|[-−])\s*", re.IGNORECASE)
_TRIANGLE = re.compile(
    r"(?:base\s+)?(?P<a>.+?)\s*(?:(?:base|wide)\s*(?:,|[x×*]|\bby\b|\band\b)?|,|[x×*]|\bby\b|\band\b)\s*"
    r"(?:height\s+(?P<h>\d[^,x×*]*)|(?P<b>\d[^,x×*]*?)\s*(?:high|height|tall))",
    re.IGNORECASE,
)
_TRAPEZOID = re.compile(
    r"(?P<a>.+?)\s*(?:[x×*]|\band\b|\bby\b)\s*(?P<b>[^,]+?)\s*,?\s*"
    r"(?:(?:height\s+)?(?P<h>\d[^,]*?)\s*(?:high|height|apart|between)|slants?\s+(?P<s>[^,]+))",
    re.IGNORECASE,
)
_CIRCLE = re.compile(
    r"(?:(?P<front>diameter|radius)\s+(?:of\s+)?)?(?P<size>.+?)\s*(?P<back>across|wide|(?:in\s+)?diameter|radius)?",
    re.IGNORECASE,
)
_OFFSETS = re.compile(
    r"every\s+(?P<every>[^:]+?)\s*:\s*(?P<widths>.+?)\s+by\s+(?P<rule>[a-z]+)(?:'s)?(?:\s+(?:rule|length))?",
    re.IGNORECASE,
)
_OUTLINE = re.compile(r"(?P<area>.+?)(?:\s+of\s+(?P<corners>\d{1,6})\s+corners)?", re.IGNORECASE | re.ASCII)
_LESS = re.compile(r"\s*,?\s*\b(?:less|minus|without)\b\s*(?:(?:a\s+)?corner\s+(?:of\s+)?)?", re.IGNORECASE)


def parse_figure(text: object) -> Figure:
    """Read a figure with its lengths, or an area that is known already; `minus` in front takes it off.

    Raises:
        QuantityError: it is none; the message says what would be understood.
    """
    if not isinstance(text, str):
        raise QuantityError(f"a figure is written as text, such as {EXAMPLE}")
    if len(text) > MAX_FIGURE:
        raise QuantityError(f"a figure of {len(text):,} characters; {MAX_FIGURE} fit, such as {EXAMPLE}")
    return _parse_figure(" ".join(text.split()))


@lru_cache(maxsize=2048)
def _parse_figure(text: str) -> Figure:
    if not text:
        raise QuantityError(f"a figure is empty; write it like {EXAMPLE}")
    begins = _MINUS.match(text)
    rest = text[begins.end() :] if begins else text
    name, colon, after = rest.partition(":")
    is_named = bool(colon) and _kind(name) is None
    named = name.strip() if is_named else ""
    if is_named and (len(named) > MAX_NAMED or not named.isprintable() or not named):
        raise QuantityError(f"figure {shown(text)}: what stands before the colon is no name; write it like {EXAMPLE}")
    figure = _read_shape(after.strip() if is_named else rest, text)
    figure = replace(figure, minus=begins is not None, name=named)
    if figure.area <= 0:
        raise QuantityError(f"figure {shown(text)} has no area; write its lengths, such as {EXAMPLE}")
    return figure


def _kind(text: str) -> str | None:
    """Return which figure a text begins with."""
    found = re.match(r"[A-Za-z][A-Za-z-]*", text)
    return _WORDS.get(found[0].lower()) if found else None


def _read_shape(shape: str, whole: str) -> Figure:
    kind = _kind(shape)
    if kind is None and _CROSS.fullmatch(shape.strip()):
        raise QuantityError(f"figure {shown(whole)} has lengths and no name; write it like 'rectangle {shape.strip()}'")
    if kind is None or kind == "area":
        plain = shape.partition(" ")[2] if kind else shape
        if not kind and not re.match(r"[\d.½⅓⅔¼¾]", plain):
            known = ", ".join(_FORMS)
            raise QuantityError(f"figure {shown(whole)} is not known; write one of: {known}; such as {EXAMPLE}")
        return Figure("area", (), given=parse_area(plain))
    inner = re.sub(r"^[A-Za-z][A-Za-z-]*\s*,?\s*(?:of\s+)?", "", shape)
    try:
        figure = _SHAPES[kind](inner)
        if figure is not None:
            _ = figure.area  # what its lengths cannot make is told here
            return figure
    except QuantityError as error:
        if kind not in _CROSSED or _TIMES.search(inner) or not _TWO_NUMBERS.search(inner):
            raise QuantityError(f"{kind} {shown(inner)}: {error}") from error
    if not inner:
        raise QuantityError(f"{kind} has no lengths; write the whole figure in one pair of quotes: {_FORMS[kind]}")
    raise QuantityError(f"{kind} {shown(inner)} is not understood; write {_FORMS[kind]}")


def _of_sides(kind: str, count: int) -> Callable[[str], Figure | None]:
    def read(inner: str) -> Figure | None:
        parts = _TIMES.split(inner)
        return Figure(kind, _lengths(parts)) if len(parts) == count and all(parts) else None

    return read


def _rectangle(inner: str) -> Figure | None:
    parts = _TIMES.split(inner)
    if len(parts) == 1 and parts[0]:  # square 30 ft
        parts *= 2
    return Figure("rectangle", _lengths(parts)) if len(parts) == 2 and all(parts) else None


def _triangle(inner: str) -> Figure | None:
    found = _TRIANGLE.fullmatch(inner)
    if found is not None:
        return Figure("triangle", _lengths((found["a"], found["b"] or found["h"])))
    sides = [part for part in re.split(r"\s*(?:[x×*,]|\bby\b|\band\b)\s*", re.sub(r"^sides\s+", "", inner)) if part]
    return Figure("triangle", _lengths(sides), _SIDES) if len(sides) == 3 else None


def _trapezoid(inner: str) -> Figure | None:
    found = _TRAPEZOID.fullmatch(inner)
    if found is None:
        return None
    if found["h"]:
        return Figure("trapezoid", _lengths((found["a"], found["b"], found["h"])))
    slants = [part for part in re.split(r"\s*(?:[x×*]|\band\b|\bby\b)\s*", found["s"]) if part]
    if not 1 <= len(slants) <= 2:
        return None
    lengths = _lengths((found["a"], found["b"], *slants))
    return Figure("trapezoid", lengths if len(lengths) == 4 else (*lengths, lengths[-1]), _SLANTS)


def _circle(inner: str) -> Figure | None:
    found = _CIRCLE.fullmatch(inner)
    if found is None or bool(found["front"]) == bool(found["back"]):
        return None
    word = (found["front"] or found["back"]).lower()
    return Figure("circle", _lengths((found["size"],)), "radius" if word == "radius" else "")


def _l_shape(inner: str) -> Figure | None:
    parts = _LESS.split(inner)
    sides = [side for part in parts for side in _TIMES.split(part)]
    return Figure("L-shape", _lengths(sides)) if len(parts) == 2 and len(sides) == 4 and all(sides) else None


def _offsets(inner: str) -> Figure | None:
    found = _OFFSETS.fullmatch(inner)
    rule = {"mean": "mean", "average": "mean", "trapezoid": "trapezoid", "trapezoidal": "trapezoid"}.get(
        found["rule"].lower() if found else "", "simpson"
    )
    if found is None or (rule == "simpson" and found["rule"].lower() not in {"simpson", "simpsons"}):
        return None
    texts = [part.strip() for part in re.split(r"[,;]", found["widths"])]
    if len(texts) > MAX_WIDTHS:
        raise QuantityError(f"{len(texts)} widths; {MAX_WIDTHS} fit, so measure them farther apart")
    unit = next((one for one in map(_unit_of, texts) if one), "") or _unit_of(found["every"])
    every = _lengths((found["every"],))
    return Figure("offsets", (*every, *(read_length(one, unit) for one in texts)), rule)


def _outline(inner: str) -> Figure | None:
    found = _OUTLINE.fullmatch(inner)
    if found is None:
        return None
    return Figure("outline", (), given=parse_area(found["area"]), corners=int(found["corners"] or 0))


_SHAPES: dict[str, Callable[[str], Figure | None]] = {
    "rectangle": _rectangle,
    "triangle": _triangle,
    "trapezoid": _trapezoid,
    "circle": _circle,
    "ellipse": _of_sides("ellipse", 2),
    "L-shape": _l_shape,
    "offsets": _offsets,
    "outline": _outline,
}


def sum_of(figures: Sequence[Figure]) -> Quantity:
    """Return the ground that figures make together, rounded half-even to a hundredth of a square foot.

    Raises:
        QuantityError: there is none, too many, or more is taken off than there is.
    """
    if not figures:
        raise QuantityError(f"no figure is given; write one like {EXAMPLE}")
    if len(figures) > MAX_FIGURES:
        raise QuantityError(f"{len(figures)} figures; {MAX_FIGURES} fit in one zone")
    total = sum((-one.area if one.minus else one.area for one in figures), Fraction(0))
    text = decimal_text(total, _PLACES)
    if Fraction(text) <= 0:
        raise QuantityError("the figures that are taken off are as large as the others; nothing is left to treat")
    return Quantity(Fraction(text), "sq ft", sum((one.half for one in figures), Fraction(0)), text)
