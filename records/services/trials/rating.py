"""Rates the plots of a trial in one go: each plot by eye or by counts, untreated plots as the check of the others."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

from records.domain.follow_up import BY_EYE, Counts, parse_percent
from records.domain.numerals import QuantityError
from records.errors import UsageError
from records.services.directory import Directory
from records.services.events import append_event
from records.services.follow_up.rating import pair_of_counts, rating_words
from records.services.follow_up.telling import counts_document, share_text
from records.services.occasions import day_or_moment, firm_of, local, person_of, site_body, words_of, zone_at
from records.services.trials.plots import first_day, treated_plots
from records.services.trials.reading import trial_named

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date, datetime

    from records.clock import Clock
    from records.domain.trials import Plot, Trial
    from records.services.follow_up.treated import Treated
    from records.services.ports import Json, OpenBook

T = TypeVar("T")
Pair = tuple[Fraction | None, Fraction]  # before, after


@dataclass(frozen=True, slots=True)
class Looked:
    """A round through a trial, as typed."""

    trial: str
    marks: Sequence[str] = ()  # PLOT=PERCENT
    counts: Sequence[str] = ()  # PLOT=BEFORE:AFTER
    injuries: Sequence[str] = ()  # PLOT=PERCENT
    at: str | None = None
    by: str | None = None
    since: Sequence[str] = ()
    remark: str | None = None


@dataclass(frozen=True, slots=True)
class PlotRating:
    """One plot as it was sealed."""

    serial: str
    plot: str
    entry: str
    days: int
    control: Fraction | None
    way: str
    check: str  # which untreated ground it was corrected by, in words


@dataclass(frozen=True, slots=True)
class Round:
    """What was sealed, and what is worth saying."""

    trial: Trial
    ratings: tuple[PlotRating, ...]
    notes: tuple[str, ...]
    rater: str = ""  # name; "" where nobody is named


@dataclass(slots=True)
class _Typed:
    """What was typed of each plot, by its place in the trial."""

    control: dict[str, Fraction]
    counts: dict[str, Pair]
    injury: dict[str, Fraction]

    @property
    def plots(self) -> set[str]:
        """Return the plots of which anything was."""
        return {*self.control, *self.counts, *self.injury}


def rate_trial(book: OpenBook, clock: Clock, looked: Looked) -> Round:
    """Seal one rating for each plot named; all of them or none.

    Raises:
        UsageError: something cannot be read; all of it is told at once.
        NotFoundError: no such trial or person.
    """
    now = clock.now()
    with book.write() as work:
        trial = trial_named(work, looked.trial)
        directory = Directory(work.catalogue)
        business, firm = firm_of(directory)
        site = directory.site(trial.site)
        if site is None:
            raise UsageError(f"the site {trial.site} of the trial is gone from the catalogue", "Load it again")
        zone = zone_at(site[0], business)
        moment = day_or_moment(looked.at, "--on", zone, now)
        problems: list[str] = []
        typed = _typed(trial, looked, problems)
        treated = treated_plots(work, trial)
        doses = _doses(trial, typed, treated, moment.date(), problems)
        begun = first_day(treated)
        if not problems and (begun is None or begun > moment.date()):
            problems.append("no plot of it is treated by then")
        if problems or begun is None:
            raise UsageError("; ".join(dict.fromkeys(problems)), "Nothing was written; correct it and type it again")
        person = person_of(directory, looked.by, moment.date(), business.state)
        done: list[PlotRating] = []
        for plot in trial.plots:
            if plot.name not in typed.plots:
                continue
            dose = doses.get(plot.name)
            day = dose.day if dose is not None else begun
            counts, check = _counts(trial, plot, typed)
            data = _data(trial, plot, dose, (typed, counts, check, looked), moment, day)
            event = append_event(
                work,
                "rating",
                data,
                now,
                day=moment.date(),
                timezone=zone.key,
                business=firm,
                site=site_body(*site),
                person=person,
            )
            control = None if data["control"] is None else Fraction(data["control"])
            done.append(PlotRating(event.serial, plot.name, plot.entry, data["days"], control, data["way"], check))
        work.commit()
    unnamed = [] if person else ["nobody is named as rater: --by PERSON"]
    return Round(trial, tuple(done), (*_notes(trial, typed), *unnamed), (person or {}).get("name") or "")


def _typed(trial: Trial, looked: Looked, problems: list[str]) -> _Typed:
    typed = _Typed({}, {}, {})
    for text in looked.marks:
        _into(typed.control, trial, text, "80", problems, lambda value: parse_percent(value, "control"))
    for text in looked.injuries:
        _into(typed.injury, trial, text, "10", problems, lambda value: parse_percent(value, "--injury"))
    for text in looked.counts:
        _into(typed.counts, trial, text, "40:6", problems, lambda value: pair_of_counts(value, "--count"))
    if not typed.plots and not problems:
        problems.append(f"no plot is rated; write plot and per cent, such as {trial.plots[0].name}=80")
    return typed


def _into(
    found: dict[str, T], trial: Trial, text: str, example: str, problems: list[str], read: Callable[[str], T]
) -> None:
    """Read what was typed of one plot."""
    name, equals, value = (part.strip() for part in text.partition("="))
    plot = trial.plot(name)
    if not equals or not value:
        problems.append(f"{text[:40]!r} cannot be read; write plot and value, such as {trial.plots[0].name}={example}")
    elif plot is None:
        problems.append(f"no plot {name[:40]!r}; its plots: {', '.join(one.name for one in trial.plots)}")
    elif plot.name in found:
        problems.append(f"plot {plot.name} is named twice")
    else:
        try:
            found[plot.name] = read(value)
        except (QuantityError, UsageError) as error:
            problems.append(f"plot {plot.name}: {error}")


def _doses(
    trial: Trial, typed: _Typed, treated: Mapping[str, list[Treated]], day: date, problems: list[str]
) -> dict[str, Treated]:
    """Return the last treatment of each treated plot before a day."""
    found: dict[str, Treated] = {}
    waiting: list[str] = []
    for plot in trial.plots:
        if plot.name not in typed.plots or trial.entry_of(plot).is_untreated:
            continue
        before = [one for one in treated.get(plot.name.casefold(), ()) if one.day <= day]
        if before:
            found[plot.name] = before[-1]
        else:
            waiting.append(plot.name)
    if waiting:
        problems.append(
            f"no record by {day} treats plot {', '.join(waiting)}; close a visit whose treatment has "
            f'"plot": "{trial.name}/{waiting[0]}"'
        )
    return found


def _counts(trial: Trial, plot: Plot, typed: _Typed) -> tuple[Counts | None, str]:
    """Return the counts of a plot with their check, and which one that is.

    The untreated plots of its own block are the check; where none was counted, the mean of all that were.
    """
    own = typed.counts.get(plot.name)
    if own is None:
        return None, ""
    if trial.entry_of(plot).is_untreated:
        return Counts(*own), ""
    every = [one for one in trial.plots if trial.entry_of(one).is_untreated and one.name in typed.counts]
    near = [one for one in every if one.block == plot.block]
    chosen = near or every
    if not chosen:
        return Counts(*own), ""
    pairs = [typed.counts[one.name] for one in chosen]
    befores = [before for before, _ in pairs if before is not None]
    before = sum(befores, Fraction(0)) / len(befores) if len(befores) == len(pairs) else None
    after = sum((after for _, after in pairs), Fraction(0)) / len(pairs)
    names = ", ".join(one.name for one in chosen)
    told = f"untreated plot {names} of its block" if near else f"mean of untreated plots {names}"
    if len(chosen) > 1 and near:
        told = f"mean of untreated plots {names} of its block"
    return Counts(*own, check_before=before, check_after=after), told


def _data(
    trial: Trial,
    plot: Plot,
    dose: Treated | None,
    seen: tuple[_Typed, Counts | None, str, Looked],
    moment: datetime,
    day: date,
) -> Json:
    typed, counts, check, looked = seen
    control, way = typed.control.get(plot.name), BY_EYE
    if control is None:
        way = ""
        if counts is not None and dose is not None:
            try:
                control, way = counts.control()
            except ValueError as error:
                raise UsageError(f"plot {plot.name}: {error}", "Nothing was written; correct it") from error
    remark = "; ".join(part for part in (words_of(looked.remark, "--remark"), check and f"check: {check}") if part)
    data: Json = {
        "serial": None if dose is None else dose.serial,
        "treatment": 0 if dose is None else dose.index,
        "site": trial.site,
        "target": trial.target,
        "days": (moment.date() - day).days,
        "control": share_text(control),
        "way": way,
        "injury": share_text(typed.injury.get(plot.name)),
        "cover_before": None,
        "cover": None,
        "counts": counts_document(counts),
        "photos": [],
        "since": [words_of(line, "--since", 200) for line in looked.since],
        "remark": remark,
        "trial": trial.name,
        "plot": plot.name,
        "at": local(moment),
    }
    data["words"] = f"trial {trial.name}, plot {plot.name}, {rating_words(trial.target, data)}"
    return data


def _notes(trial: Trial, typed: _Typed) -> list[str]:
    left = [one.name for one in trial.plots if one.name not in typed.plots]
    notes = []
    if left:
        notes.append(f"plots not rated in this round: {', '.join(left)}; entries compare best when rated together")
    counted = [one for one in trial.plots if one.name in typed.counts and not trial.entry_of(one).is_untreated]
    if counted and not any(trial.entry_of(one).is_untreated and one.name in typed.counts for one in trial.plots):
        left_out = "; what the trial tells leaves such counts out" if any(e.is_untreated for e in trial.entries) else ""
        notes.append(f"no untreated plot was counted: what died by itself is counted as killed{left_out}")
    return notes
