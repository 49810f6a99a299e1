"""A comparison as pictures, and as the words beside them."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.chart_model import Bar, BarChart, Dot, LineChart, Series
from records.services.comparing.model import FULL, LEVELS, WINDOWS
from records.services.comparing.sentences import counted, days_words, whole
from records.services.costing.words import dollars

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.services.comparing.model import Comparison, Group, Summary
    from records.services.comparing.statistics import Interval

_ZERO = Fraction(0)
EARLY_LINE = "A line of a pre-emergence product begins at its first look."
EARLY = "pre-emergence: not told"


def curve(found: Comparison) -> LineChart:
    """Return control over days after treatment, a line for each group."""
    series = []
    for one in found.groups:
        dots = tuple(Dot(Fraction(point.days), point.median, point.low, point.high) for point in one.curve)
        # Before the first look at what works before weeds come up, nothing is known: no line is drawn
        start = () if one.is_early or not dots else (Dot(_ZERO, _ZERO),)
        series.append(Series(one.name, (*start, *dots), stands_on(one)))
    looks = ", ".join(map(str, WINDOWS))
    early = [EARLY_LINE] if any(one.is_early for one in found.groups) else []
    return LineChart(
        title=f"Control of {found.target} over days after treatment",
        x_label="days after treatment",
        y_label="control, % (median of sites; span from the lowest to the highest site)",
        series=tuple(series),
        y_max=FULL,
        notes=(f"Each look is put to the nearest of {looks} days; a site counts once.", *early),
    )


def stands_on(group: Group) -> str:
    """Return how many sites and raters a group stands on."""
    named = [rater for rater in group.raters if rater]
    raters = counted(len(named), "rater") if named else "rater not named"
    return f"{counted(len(group.sites), 'site')}, {raters}"


def bars(found: Comparison) -> list[BarChart]:
    """Return days to 50 and 80 %, final control with its interval, and cost."""
    made = [
        _bars(
            found,
            f"{days_words(level).capitalize()} control",
            "days, median of sites; the span goes over sites",
            _days_bar(place),
        )
        for place, level in enumerate(LEVELS)
    ]
    made.append(
        _bars(
            found,
            f"Final control ({final_words(found.until_days)})",
            "%, median of judged sites; the span is the interval of the median",
            _final_bar,
            FULL,
        )
    )
    made.append(_bars(found, "Cost of products", "$ per 1,000 sq ft, median of sites", _cost_bar))
    return made


def _bars(
    found: Comparison, title: str, label: str, bar: Callable[[Group], Bar], most: Fraction | None = None
) -> BarChart:
    return BarChart(title, label, tuple(bar(one) for one in found.groups), most)


def _days_bar(place: int) -> Callable[[Group], Bar]:
    def bar(group: Group) -> Bar:
        one = group.days_to[place]
        high = None if one.never or one.open_at else one.high
        low = one.low if high is not None else None
        if one.median is None:
            known = "not known yet: " if one.between is None else f"{between_text(one.between)} days, "
            still = f"{known}open at {len(one.open_at)} of {_sites(one)}"
            ends = (None, None) if group.is_early or one.between is None else one.between
            return Bar(group.name, None, EARLY if group.is_early else still if one.is_open else days_text(one), *ends)
        return Bar(
            group.name, one.median, f"{whole(one.median)} days", low, high, missed_text(one, "not") or _sites(one)
        )

    return bar


def _final_bar(group: Group) -> Bar:
    one = group.final
    within = one.interval
    low, high = (None, None) if within is None else (within.low, within.high)
    lacking = len(group.not_judged)
    if one.median is None:
        return Bar(group.name, None, "no site is judged" if lacking else "not rated")
    sites = f"{one.count} of {counted(one.count + lacking, 'site')} judged" if lacking else _sites(one)
    return Bar(group.name, one.median, f"{whole(one.median)} %", low, high, sites)


def _cost_bar(group: Group) -> Bar:
    one = group.cost
    text = dollars(one.median) or "no price"
    return Bar(group.name, one.median, text, None, None, _sites(one) if one.count else "")


def _sites(one: Summary) -> str:
    return counted(one.count, "site")


def final_words(until_days: int | None) -> str:
    """Return which look is the final one."""
    return "last look of its mode of action" if until_days is None else f"within {counted(until_days, 'day')}"


def missed_text(one: Summary, words: str = "not reached") -> str:
    """Return at how many sites a control was not reached, and at how many it is open; "" where it was at all."""
    parts = [f"{told} at {number}" for told, number in ((words, one.never), ("open", len(one.open_at))) if number]
    return f"{', '.join(parts)} of {_sites(one)}" if parts else ""


def between_text(ends: tuple[Fraction, Fraction]) -> str:
    """Return the days between which a median lies; one number where they are the same in print."""
    return "-".join(dict.fromkeys(map(whole, ends)))


def days_text(one: Summary) -> str:
    """Return days to a control in words, with the sites where it was not reached or is open."""
    missed = missed_text(one)
    if one.is_open:
        return f"not known yet: {missed}" if one.between is None else f"{between_text(one.between)} days; {missed}"
    if one.median is None:
        return missed or "not rated"
    return f"{whole(one.median)} days" + (f"; {missed}" if missed else "")


def interval_text(within: Interval | None, unit: str = "") -> str:
    """Return an interval with the confidence it has."""
    if within is None:
        return "one site"
    low, high = ("never" if end is None else f"{whole(end)}{unit}" for end in (within.low, within.high))
    return f"{low}-{high} ({whole(within.level * 100)} %)"
