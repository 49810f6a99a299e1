"""Pictures as data: lines over days and bars beside each other, drawn by whoever has paper, a file or a terminal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Dot:
    """One point of a line, with how far it may be off where that is known."""

    x: Fraction
    y: Fraction
    low: Fraction | None = None
    high: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """One line: told apart by its mark and dashes, never by colour alone."""

    name: str
    dots: tuple[Dot, ...]  # by x
    note: str = ""  # such as "4 sites, 1 rater"


@dataclass(frozen=True, slots=True)
class LineChart:
    """Lines over one axis."""

    title: str
    x_label: str
    y_label: str
    series: tuple[Series, ...]
    y_max: Fraction | None = None  # None: what the data need
    notes: tuple[str, ...] = ()  # under the picture


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar."""

    name: str
    value: Fraction | None  # None: not known, and said so; low and high are then the ends between which it lies
    text: str  # the value as written at its end, such as "$3.20" or "85 %"
    low: Fraction | None = None
    high: Fraction | None = None
    note: str = ""  # such as "12 sites"


@dataclass(frozen=True, slots=True)
class BarChart:
    """Bars from zero, told apart by hatching where there are groups."""

    title: str
    label: str  # what the length says, with its unit
    bars: tuple[Bar, ...]
    most: Fraction | None = None  # the longest that can be; None: the longest there is
    notes: tuple[str, ...] = ()
    is_alike: bool = False  # whether the bars are one thing over time or place, so that none is hatched apart
