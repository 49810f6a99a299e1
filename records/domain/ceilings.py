"""Yearly ceilings and intervals over one zone: what the past and the entry add up to on the same ground.

Spot work is the difficulty: two spot treatments of a lawn may or may not have hit the same ground. A sum is *certain*
when it breaks the ceiling even spread evenly over the whole zone (some ground must then have got at least that much),
or where one spot lies on ground that was treated all over. It is *possible* when only spots on spots break it.

Plots of one trial are different ground by design: they count together where a sum is spread evenly, and are never taken
to have hit the same ground.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from records.domain.quantities import exceeds

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from records.domain.product import Window

T = TypeVar("T")

ZERO = Fraction(0)
ONE = Fraction(1)


class Load(NamedTuple):
    """What one application put on one zone."""

    serial: str  # "" = the entry itself
    day: date
    value: Fraction | None  # fl oz or lb of the whole application; None when not known
    low_of: Callable[[], Fraction]  # the lowest that reads so; worked out only where it decides
    area: Fraction | None  # sq ft of the whole application
    treated: Fraction | None  # sq ft of it in this zone
    is_exact: bool = False  # whether the entry itself says on how much ground it went: no estimate
    plot: str = ""  # "TRIAL/PLOT" of a trial; "" for other work

    @property
    def low(self) -> Fraction:
        """Return the lowest that reads so."""
        return self.low_of()


@dataclass(frozen=True)
class Sum:
    """Loads of one window against one zone, per sq ft; worked out no further than it is asked."""

    loads: tuple[Load, ...]
    zone_area: Fraction | None  # sq ft; None while the zone is not measured

    @cached_property
    def known(self) -> tuple[Load, ...]:
        """Return the loads whose amount and area are known."""
        known = [load for load in self.loads if load.value is not None and load.area and load.treated is not None]
        return tuple(known)

    @property
    def unknown(self) -> int:
        """Return how many loads lack amount or area."""
        return len(self.loads) - len(self.known)

    @property
    def serials(self) -> tuple[str, ...]:
        """Return the records counted, without the entry itself."""
        return tuple(dict.fromkeys(load.serial for load in self.loads if load.serial))

    @property
    def stacked_serials(self) -> tuple[str, ...]:
        """Return the records that may have hit the same ground, without the entry itself."""
        left_out = {*self.known} - {*self._pile}
        return tuple(dict.fromkeys(load.serial for load in self.loads if load.serial and load not in left_out))

    @cached_property
    def sure(self) -> Fraction | None:
        """Return the least that some ground must have got; None while the zone is not measured."""
        return _sure([(load, load.value or ZERO) for load in self.known], self.zone_area) if self.zone_area else None

    @cached_property
    def _pile(self) -> tuple[Load, ...]:
        """Return the loads that may have hit the same ground: of each trial those of one plot, the entry's own."""
        if not any(load.plot for load in self.known):
            return self.known
        own = [load.plot for load in self.loads if not load.serial]
        return tuple(meeting(self.known, own, lambda load: load.plot, _per_area))

    @cached_property
    def stacked(self) -> Fraction:
        """Return what there is where every treatment hit the same ground, as far as it can have."""
        return _per_area(self._pile)

    @cached_property
    def _is_within_zone(self) -> bool:
        zone = self.zone_area or ZERO
        return all((load.treated or ZERO) <= zone for load in self.known)

    def is_certainly_over(self, limit: Fraction) -> bool:
        """Tell whether some ground must have got more than the ceiling."""
        if not self.zone_area or (self._is_within_zone and _per_area(self.known) <= limit):
            return False  # no ground got more than there is where every treatment hit the same
        if self.sure is None or self.sure <= limit:
            return False
        return exceeds(_sure([(load, load.low) for load in self.known], self.zone_area), self.sure, limit)

    def is_possibly_over(self, limit: Fraction) -> bool:
        """Tell whether the ceiling is broken where treatments overlap."""
        if self.stacked <= limit:
            return False
        return exceeds(sum((load.low / (load.area or ONE) for load in self._pile), ZERO), self.stacked, limit)


def _per_area(loads: Iterable[Load]) -> Fraction:
    """Return what loads come to per sq ft where all of them hit the same ground."""
    top, bottom = 0, 1
    for load in loads:
        value, area = load.value or ZERO, load.area or ONE
        over, under = value.numerator * area.denominator, value.denominator * area.numerator
        top, bottom = top * under + over * bottom, bottom * under
    return Fraction(top, bottom)  # reduced once: reducing at every step would be most of the work


def are_apart(one: str, other: str) -> bool:
    """Tell whether two treatments lie on different plots of one trial, each "TRIAL/PLOT", "" for other work."""
    if not (one and other):
        return False
    (trial, _, plot), (second, _, name) = one.casefold().partition("/"), other.casefold().partition("/")
    return trial == second and plot != name


def meeting(
    every: Sequence[T], own: Sequence[str], plot_of: Callable[[T], str], weight: Callable[[Iterable[T]], Fraction]
) -> list[T]:
    """Return those of some applications that may have hit the same ground.

    What went on no plot may have hit any. Of each trial the plot counts that weighs most, among those that the entry
    itself treats where it treats nothing else.

    Args:
        every: applications, the entry's own among them or not.
        own: plots that the entry treats, "" where it treats other ground.
        plot_of: returns "TRIAL/PLOT" of an application, or "".
        weight: of the applications on one plot.
    """
    found = [one for one in every if not plot_of(one)]
    trials: dict[str, dict[str, list[T]]] = {}
    for one in every:
        if plot := plot_of(one).casefold():
            trials.setdefault(plot.partition("/")[0], {}).setdefault(plot, []).append(one)
    for trial, plots in trials.items():
        mine = {plot.casefold() for plot in own}
        is_there_only = bool(mine) and all(plot.partition("/")[0] == trial for plot in mine)
        able = [loads for plot, loads in plots.items() if plot in mine or not is_there_only]
        found += max(able, key=weight, default=[])
    return found


def add_months(day: date, months: int) -> date:
    """Return the day so many months on, the last of the month where the day does not exist there."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _season(window: Window, year: int) -> tuple[date, date]:
    first = date.fromisoformat(f"{year}-{window.start}")
    last = date.fromisoformat(f"{year}-{window.end}")
    return (first, last) if first <= last else (first, last.replace(year=year + 1))


def windows(window: Window, day: date, others: Iterable[date]) -> list[tuple[date, date]]:
    """Return the windows, first and last day, in which an application of a day has to be counted.

    Args:
        window: as the label says.
        day: of the application.
        others: days of the other applications; a rolling window may end on one of those after `day`.
    """
    if window.kind == "calendar year":
        return [(date(day.year, 1, 1), date(day.year, 12, 31))]
    if window.kind == "season":
        return [span for year in (day.year - 1, day.year) if (span := _season(window, year))[0] <= day <= span[1]]
    spans = []
    for end in sorted({day, *(other for other in others if other > day)}):
        start = add_months(end, -window.length) if window.kind == "months" else end - timedelta(window.length)
        first = start + timedelta(1)
        if first <= day:
            spans.append((first, end))
    return spans


def _sure(loads: Sequence[tuple[Load, Fraction]], zone_area: Fraction) -> Fraction:
    """Return the least that some ground of a zone must have got, per sq ft.

    What went all over is everywhere. The rest is at least as much as spread evenly, and where the thickest spot lies at
    least that spot.
    """
    everywhere = spread = spot = ZERO
    for load, value in loads:
        area, treated = load.area or zone_area, load.treated or ZERO
        even = value * treated / area / zone_area
        if treated >= zone_area:
            everywhere += even
        else:
            spread += even
            spot = max(spot, value / area) if load.is_exact else spot
    return everywhere + max(spread, spot)


def must_overlap(areas: Sequence[Fraction | None], times: int, zone_area: Fraction | None) -> bool:
    """Tell whether some ground must have been treated more than `times` times.

    By the pigeonhole principle that is so once the treated areas together exceed the zone that many times over.
    """
    if zone_area is None or any(area is None for area in areas):
        return False
    return sum((area for area in areas if area is not None), ZERO) > times * zone_area
