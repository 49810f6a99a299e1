"""What became of the plots of a trial: which records treated them, how they were rated."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

from records.domain.follow_up import BY_COUNT, FOUNDED
from records.services.follow_up.ratings import ratings
from records.services.follow_up.treated import treatments_of
from records.services.ports import Packet

if TYPE_CHECKING:
    from datetime import date

    from records.domain.follow_up import Rating
    from records.domain.trials import Entry, Plot, Trial
    from records.services.follow_up.treated import Treated
    from records.services.ports import UnitOfWork


@dataclass(frozen=True)
class PlotState:
    """One plot with what is known of it."""

    plot: Plot
    entry: Entry
    treated: tuple[Treated, ...]  # by day
    ratings: tuple[Rating, ...]  # by day
    has_check: bool = False  # whether the trial has untreated plots

    @cached_property
    def counted(self) -> dict[date, tuple[Rating, ...]]:
        """Return the ratings of control that count, by day: the best founded of each.

        Where there are untreated plots, counts without a check never do: what died by itself would be counted as
        killed.
        """
        found: dict[date, list[Rating]] = defaultdict(list)
        for one in self.ratings:
            if one.control is not None and not (self.has_check and one.way == BY_COUNT):
                found[one.day].append(one)
        best = {day: min(map(_place, every)) for day, every in found.items()}
        return {day: tuple(one for one in every if _place(one) == best[day]) for day, every in found.items()}

    @property
    def set_aside(self) -> list[Rating]:
        """Return the ratings of control that do not count."""
        counted = {one.serial for every in self.counted.values() for one in every}
        return [one for one in self.ratings if one.control is not None and one.serial not in counted]

    def control(self, day: date) -> Fraction:
        """Return what counts of a day; the mean where several ratings of it are equally founded."""
        values = [one.control for one in self.counted[day] if one.control is not None]
        return sum(values, Fraction(0)) / len(values)


def _place(one: Rating) -> int:
    return FOUNDED.index(one.way) if one.way in FOUNDED else len(FOUNDED)


def plot_states(work: UnitOfWork, trial: Trial) -> list[PlotState]:
    """Return the plots of a trial in their order."""
    treated = treated_plots(work, trial)
    rated: dict[str, list[Rating]] = defaultdict(list)
    for one in ratings(work, site=trial.site):
        if one.rating.trial.casefold() == trial.name.casefold():
            rated[one.rating.plot.casefold()].append(one.rating)
    return [
        PlotState(
            plot,
            trial.entry_of(plot),
            tuple(treated.get(plot.name.casefold(), ())),
            tuple(rated[plot.name.casefold()]),
            any(one.is_untreated for one in trial.entries),
        )
        for plot in trial.plots
    ]


def treated_plots(work: UnitOfWork, trial: Trial) -> dict[str, list[Treated]]:
    """Return the treatments of each plot, by its name in small letters, by day."""
    found: dict[str, list[Treated]] = defaultdict(list)
    orders = [match.order for match in work.records.matching(Packet(sites=frozenset({trial.site})))]
    for revision in work.records.bodies(orders):
        if revision.action != "voided":
            for treated in treatments_of(revision):
                name, _, plot = treated.plot.casefold().partition("/")
                if name == trial.name.casefold():
                    found[plot].append(treated)
    return found


def first_day(treated: dict[str, list[Treated]]) -> date | None:
    """Return the day on which the first plot was treated."""
    return min((one.day for every in treated.values() for one in every), default=None)
