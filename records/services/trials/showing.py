"""What a trial tells: means by entry over days, differences within blocks with an exact test, plain sentences."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import TYPE_CHECKING

from records.domain.chart_model import Dot, LineChart, Series
from records.domain.efficacy import HUNDRED
from records.domain.follow_up import BY_EYE
from records.services.comparing.sentences import counted, whole
from records.services.comparing.statistics import differ_in_pairs, held_together, p_text
from records.services.trials.plots import plot_states
from records.services.trials.reading import trial_named

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from records.domain.trials import Entry, Trial
    from records.services.comparing.statistics import Test
    from records.services.ports import UnitOfWork
    from records.services.trials.plots import PlotState

_ZERO = Fraction(0)
MOST_CHOICES = 24  # plots and days told one by one


@dataclass(frozen=True, slots=True)
class MeanLook:
    """Control of an entry on one day of looking."""

    days: int  # after treatment
    plots: int
    mean: Fraction
    low: Fraction
    high: Fraction


@dataclass(frozen=True, slots=True)
class EntryResult:
    """What became of an entry."""

    entry: Entry
    plots: int
    treated: int  # of them
    looks: tuple[MeanLook, ...]


@dataclass(frozen=True, slots=True)
class PairResult:
    """Two entries within the blocks that have both."""

    first: str  # letter of the better one by its mean
    second: str
    differences: tuple[tuple[int, Fraction], ...]  # block, control of the first less that of the second
    day: date | None  # the latest on which they were rated together
    test: Test | None

    @property
    def mean(self) -> Fraction | None:
        """Return the mean difference."""
        values = [value for _, value in self.differences]
        return sum(values, _ZERO) / len(values) if values else None


@dataclass(frozen=True, slots=True)
class TrialResult:
    """A trial and what it tells."""

    trial: Trial
    plots: tuple[PlotState, ...]
    entries: tuple[EntryResult, ...]
    pairs: tuple[PairResult, ...]
    sentences: tuple[str, ...]
    cautions: tuple[str, ...]


def show_trial(work: UnitOfWork, name: str) -> TrialResult:
    """Return a trial with its plots, treatments and ratings, and what they tell.

    Raises:
        NotFoundError: there is none of that name.
    """
    trial = trial_named(work, name)
    states = plot_states(work, trial)
    pairs = _pairs(trial, states)
    return TrialResult(
        trial=trial,
        plots=tuple(states),
        entries=tuple(_entry(one, [state for state in states if state.entry == one]) for one in trial.entries),
        pairs=tuple(pairs),
        sentences=tuple(_sentences(trial, pairs)),
        cautions=tuple(_cautions(states)),
    )


def _entry(entry: Entry, states: Sequence[PlotState]) -> EntryResult:
    """Return the means of an entry; a plot counts once a day, with the best founded of what was seen there."""
    by_day: dict[int, list[Fraction]] = defaultdict(list)
    for state in states:
        for day, ratings in state.counted.items():
            by_day[ratings[0].days].append(state.control(day))
    return EntryResult(
        entry=entry,
        plots=len(states),
        treated=sum(bool(state.treated) for state in states),
        looks=tuple(
            MeanLook(days, len(found), sum(found, _ZERO) / len(found), min(found), max(found))
            for days, found in sorted(by_day.items())
        ),
    )


def _pairs(trial: Trial, states: Sequence[PlotState]) -> list[PairResult]:
    """Return every two treated entries, with their differences on the last day both were rated in most blocks."""
    entries = [one.letter for one in trial.entries if not one.is_untreated]
    found = [_pair(trial, states, first, second) for first, second in combinations(entries, 2)]
    able = [one.test for one in found if one.test is not None and one.test.could_tell]
    raised = iter(held_together(able))
    return [
        PairResult(
            one.first,
            one.second,
            one.differences,
            one.day,
            next(raised) if one.test is not None and one.test.could_tell else one.test,
        )
        for one in found
    ]


def _pair(trial: Trial, states: Sequence[PlotState], first: str, second: str) -> PairResult:
    by_plot = {state.plot.name: {day: state.control(day) for day in state.counted} for state in states}
    together: dict[date, list[tuple[int, Fraction]]] = defaultdict(list)
    for block in range(1, trial.blocks + 1):
        plots = {plot.entry: by_plot[plot.name] for plot in trial.in_block(block)}
        for day in plots[first].keys() & plots[second].keys():
            together[day].append((block, plots[first][day] - plots[second][day]))
    if not together:
        return PairResult(first, second, (), None, None)
    day = max(together, key=lambda one: (len(together[one]), one))
    differences = tuple(together[day])
    if sum((value for _, value in differences), _ZERO) < 0:
        first, second = second, first
        differences = tuple((block, -value) for block, value in differences)
    return PairResult(first, second, differences, day, differ_in_pairs([value for _, value in differences]))


def _sentences(trial: Trial, pairs: Sequence[PairResult]) -> list[str]:
    found = []
    for one in pairs:
        names = f"{one.first} ({trial.entry(one.first).words}) and {one.second} ({trial.entry(one.second).words})"
        if one.test is None or one.mean is None:
            found.append(f"{names} were never rated on one day in one block; nothing can be told yet")
            continue
        blocks = counted(len(one.differences), "block")
        points = f"{whole(one.mean)} points on {one.day}"
        several = f" of {len(pairs)} comparisons together" if len(pairs) > 1 else ""
        if one.test.is_told:
            found.append(
                f"{one.first} ({trial.entry(one.first).words}) controlled more than {one.second} "
                f"({trial.entry(one.second).words}), by about {points} (n={blocks}; {p_text(one.test.p)}{several})"
            )
        elif not one.test.could_tell:
            found.append(
                f"{names}: no difference can be told from {blocks}, whatever they say (seen: {points}); six blocks or "
                "more could show one"
            )
        else:
            found.append(
                f"{names}: no difference can be told from {blocks} (seen: {points}; {p_text(one.test.p)}{several})"
            )
    return found


def _cautions(states: Sequence[PlotState]) -> list[str]:
    found = []
    waiting = [one.plot.name for one in states if not one.entry.is_untreated and not one.treated]
    if waiting:
        found.append(f"not treated yet: {counted(len(waiting), 'plot')} ({', '.join(waiting[:12])})")
    spoiled = [one.plot.name for one in states if one.entry.is_untreated and one.treated]
    if spoiled:
        found.append(f"planned as untreated, but a record treats it: plot {', '.join(spoiled[:12])}")
    other = [
        one.plot.name
        for one in states
        if not one.entry.is_untreated
        and any(
            {product for product, _ in one.entry.products} != {line.product for line in t.used} for t in one.treated
        )
    ]
    if other:
        found.append(f"got something else than planned: plot {', '.join(other[:12])}")
    found += _choices(states)
    by_eye = [rating for one in states for rating in one.ratings if rating.way == BY_EYE]
    raters = sorted({rating.rater for rating in by_eye if rating.rater})
    if len(raters) > 1:
        found.append(f"{len(raters)} raters ({', '.join(raters[:4])}): plots compare best rated by one person")
    if unnamed := sum(not rating.rater for rating in by_eye):
        found.append(f"nobody is named as rater of {counted(unnamed, 'rating')} by eye")
    if any(one.ratings for one in states):
        found.append("one site: what holds here need not hold elsewhere")
    return found


def _choices(states: Sequence[PlotState]) -> list[str]:
    """Say where a plot was rated more than once on a day, what counts there and what does not."""
    found = []
    for state in states:
        aside: dict[date, list[str]] = defaultdict(list)
        for one in state.set_aside:
            if one.control is not None:
                aside[one.day].append(f"{whole(one.control)} % ({one.way})")
        for day in sorted({*aside, *(day for day, every in state.counted.items() if len(every) > 1)}):
            counted_here = state.counted.get(day, ())
            told = "nothing of it counts"
            if counted_here:
                several = f"the mean of {len(counted_here)} ratings " if len(counted_here) > 1 else ""
                told = f"{several}{counted_here[0].way}, {whole(state.control(day))} %, counts"
            left = f"; not counted: {', '.join(aside[day])}" if aside[day] else ""
            found.append(f"plot {state.plot.name} on {day}: {told}{left}")
    return [*found[:MOST_CHOICES], *([f"the same of {len(found) - MOST_CHOICES} more"] if found[MOST_CHOICES:] else [])]


def trial_curve(found: TrialResult) -> LineChart:
    """Return control by entry over days after treatment."""
    series = []
    for one in found.entries:
        dots = tuple(Dot(Fraction(look.days), look.mean, look.low, look.high) for look in one.looks)
        start = (Dot(_ZERO, _ZERO),) if dots and dots[0].x else ()
        name = f"{one.entry.letter} {one.entry.words}"
        series.append(Series(name, (*start, *dots), counted(one.plots, "plot")))
    return LineChart(
        title=f"Trial {found.trial.name}: control of {found.trial.target} over days after treatment",
        x_label="days after treatment",
        y_label="control, % (mean of plots; span from the lowest to the highest plot)",
        series=tuple(series),
        y_max=HUNDRED,
    )
