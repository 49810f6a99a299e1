"""A trial as JSON and as the model of a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.follow_up import BY_EYE
from records.domain.quantities import decimal_text
from records.domain.trials import ALGORITHM
from records.services.comparing.sentences import counted, whole
from records.services.planning.telling import LABEL_WINS
from records.services.trials.showing import trial_curve

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from records.domain.chart_model import LineChart
    from records.domain.follow_up import Rating
    from records.domain.trials import Trial
    from records.services.ports import Json
    from records.services.trials.plots import PlotState
    from records.services.trials.rating import Round
    from records.services.trials.showing import EntryResult, PairResult, TrialResult

PLACES = 4


@dataclass(frozen=True, slots=True)
class TrialPage:
    """The plan of a trial, and what it tells so far, as text already formatted."""

    title: str
    firm: str
    day: date
    about: tuple[tuple[str, str], ...]
    blocks: tuple[tuple[tuple[str, str, str], ...], ...]  # name, letter and words of each plot
    entries: tuple[tuple[str, str], ...]
    curve: LineChart | None
    sentences: tuple[str, ...]
    cautions: tuple[str, ...]


def page_of(found: TrialResult, firm: str, day: date) -> TrialPage:
    """Return the page of a trial.

    Args:
        found: the trial with what is known of it.
        firm: name of the firm.
        day: of issue.
    """
    trial = found.trial
    is_rated = any(one.looks for one in found.entries)
    return TrialPage(
        title=f"Trial {trial.name}",
        firm=firm,
        day=day,
        about=(*about(trial), ("how it was drawn", ALGORITHM)),
        blocks=tuple(
            tuple((plot.name, plot.entry, trial.entry_of(plot).words) for plot in trial.in_block(block))
            for block in range(1, trial.blocks + 1)
        ),
        entries=tuple((one.letter, one.words) for one in trial.entries),
        curve=trial_curve(found) if is_rated else None,
        sentences=found.sentences if is_rated else (),
        cautions=(*found.cautions, LABEL_WINS),
    )


def about(trial: Trial) -> list[tuple[str, str]]:
    """Return a plan as names and values."""
    return [
        ("where", f"{trial.site}, {trial.zone}"),
        ("against", trial.target),
        ("plots", f"{counted(len(trial.plots), 'plot')} in {counted(trial.blocks, 'block')}"),
        ("seed", f"{trial.seed}; each block was shuffled by it: the same seed draws the same plan"),
    ]


def plan_rows(trial: Trial) -> list[tuple[str, ...]]:
    """Return the plots as lines of a table."""
    return [(one.name, str(one.block), one.entry, trial.entry_of(one).words) for one in trial.plots]


def state_row(one: PlotState) -> tuple[str, ...]:
    """Return a plot with its treatment and its ratings."""
    done = ", ".join(f"{treated.day} {treated.serial}" for treated in one.treated)
    aside = one.set_aside
    looks = ", ".join(
        f"{rating.days} d {whole(rating.control)} %" + _beside(rating, is_counted=rating not in aside)
        for rating in one.ratings
        if rating.control is not None
    )
    return (one.plot.name, one.plot.entry, done or ("untreated" if one.entry.is_untreated else "not yet"), looks)


def _beside(rating: Rating, *, is_counted: bool) -> str:
    """Return what stands behind a control: its formula, and that it does not count."""
    told = [rating.way] if rating.way not in {"", BY_EYE} or not is_counted else []
    told += [] if is_counted else ["not counted"]
    return f" ({', '.join(told)})" if told else ""


def mean_row(one: EntryResult) -> tuple[str, ...]:
    """Return an entry with its means."""
    looks = ", ".join(f"{look.days} d {whole(look.mean)} % (n={look.plots})" for look in one.looks)
    return (one.entry.letter, one.entry.words, looks or "not rated")


def trial_document(trial: Trial) -> Json:
    """Return a plan as JSON."""
    return {
        "trial": trial.name,
        "event": trial.serial,
        "site": trial.site,
        "zone": trial.zone,
        "target": trial.target,
        "blocks": trial.blocks,
        "seed": trial.seed,
        "drawn": ALGORITHM,
        "entries": [
            {
                "letter": one.letter,
                "untreated": one.is_untreated,
                "products": [{"product": product, "rate": rate} for product, rate in one.products],
            }
            for one in trial.entries
        ],
        "plots": [{"plot": one.name, "block": one.block, "entry": one.entry} for one in trial.plots],
    }


def round_document(done: Round) -> Json:
    """Return ratings of plots as JSON."""
    return {
        "trial": done.trial.name,
        "ratings": [
            {
                "event": one.serial,
                "plot": one.plot,
                "entry": one.entry,
                "days": one.days,
                "control": _number(one.control),
                "way": one.way,
                "check": one.check,
            }
            for one in done.ratings
        ],
        "notes": list(done.notes),
    }


def result_document(found: TrialResult) -> Json:
    """Return a trial with what it tells as JSON."""
    return trial_document(found.trial) | {
        "plots": [_plot(one) for one in found.plots],
        "means": [_means(one) for one in found.entries],
        "pairs": [_pair(one) for one in found.pairs],
        "sentences": list(found.sentences),
        "cautions": list(found.cautions),
    }


def _plot(one: PlotState) -> Json:
    aside = one.set_aside
    return {
        "plot": one.plot.name,
        "block": one.plot.block,
        "entry": one.plot.entry,
        "treated": [{"serial": t.serial, "treatment": t.index + 1, "day": t.day.isoformat()} for t in one.treated],
        "ratings": [
            {
                "event": rating.serial,
                "day": rating.day.isoformat(),
                "days": rating.days,
                "control": _number(rating.control),
                "way": rating.way,
                "injury": _number(rating.injury),
                "rater": rating.rater,
                "counts": rating.control is not None and rating not in aside,
            }
            for rating in one.ratings
        ],
    }


def _means(one: EntryResult) -> Json:
    return {
        "entry": one.entry.letter,
        "plots": one.plots,
        "treated": one.treated,
        "looks": [
            {
                "days": look.days,
                "n": look.plots,
                "mean": _number(look.mean),
                "min": _number(look.low),
                "max": _number(look.high),
            }
            for look in one.looks
        ],
    }


def _pair(one: PairResult) -> Json:
    return {
        "first": one.first,
        "second": one.second,
        "day": None if one.day is None else one.day.isoformat(),
        "differences": [{"block": block, "points": _number(value)} for block, value in one.differences],
        "mean": _number(one.mean),
        "p": None if one.test is None else decimal_text(one.test.p, 6),
        "smallest_p": None if one.test is None else decimal_text(one.test.least, 6),
        "told": one.test is not None and one.test.is_told,
    }


def _number(value: Fraction | None) -> str | None:
    return None if value is None else decimal_text(value, PLACES)
