"""A comparison as rows of a table, as the model of a page and as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.services.comparing.model import LEVELS, WINDOWS
from records.services.comparing.pictures import (
    bars,
    between_text,
    curve,
    days_text,
    final_words,
    interval_text,
    stands_on,
)
from records.services.comparing.sentences import counted, days_words, summed, whole
from records.services.costing.words import dollars, exact

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from records.domain.chart_model import BarChart, LineChart
    from records.services.comparing.model import Comparison, Group, SiteResult, Summary
    from records.services.ports import Json

PLACES = 4  # decimals of control and days in JSON
HEAD = ("products", "sites", "50 %", "80 %", "final", "median in", "per 1000", "full day")
CAUTION = (
    "The product label is the law and wins over this comparison. Ratings by eye from a firm's own sites are no "
    "experiment; no claim reaches beyond the sites that are counted here. It is an aid and not legal advice; confirm "
    "with the state's pesticide agency and a licensed professional."
)


@dataclass(frozen=True, slots=True)
class ComparisonPage:
    """What the page shows, as text already formatted."""

    title: str
    firm: str
    day: date
    about: str
    curve: LineChart
    bars: tuple[BarChart, ...]
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    legend: str
    sentences: tuple[str, ...]
    cautions: tuple[str, ...]


def page_of(found: Comparison, firm: str, day: date) -> ComparisonPage:
    """Return the page of a comparison.

    Args:
        found: the comparison.
        firm: name of the firm.
        day: of issue.
    """
    return ComparisonPage(
        title=f"Products on {found.target}",
        firm=firm,
        day=day,
        about=about(found),
        curve=curve(found),
        bars=tuple(bars(found)),
        head=HEAD,
        rows=tuple(row(one) for one in found.groups),
        legend=legend(found),
        sentences=tuple(sentences(found)),
        cautions=(*found.cautions, CAUTION),
    )


def sentences(found: Comparison) -> list[str]:
    """Return what can be told, in plain sentences."""
    if not found.verdicts:
        return [f"only {found.groups[0].name} was rated; there is nothing to compare it with"]
    return summed(found.verdicts)


def about(found: Comparison) -> str:
    """Return what was compared, on one line."""
    first = "the beginning" if found.since is None else found.since.isoformat()
    last = "today" if found.until is None else found.until.isoformat()
    ratings = sum(one.ratings for one in found.groups)
    sites = len({site.site for one in found.groups for site in one.sites})
    return (
        f"treatments from {first} to {last}: {counted(ratings, 'rating')} at {counted(sites, 'site')}; "
        f"final: {final_words(found.until_days)}"
    )


def legend(found: Comparison) -> str:
    """Return what the columns of the table say, as far as they say it here."""
    days = [one for group in found.groups for one in group.days_to]
    shared = f", up to day {found.shared_day}" if found.shared_day else ""
    parts = [
        "50 %, 80 %: median days to that control, read off straight lines between looks",
        ">2/3: not reached at 2 of 3 sites" if any(_is_never(one) for one in days) else "",
        "?2/3: open at 2 of 3 sites, so not known yet"
        if any(one.is_open and one.between is None for one in days)
        else "",
        "20-30 d: the median lies there, whatever becomes of open sites" if any(one.between for one in days) else "",
        "-: not told of a pre-emergence product" if any(one.is_early for one in found.groups) else "",
        f"final: control at the {final_words(None)}" if found.until_days is None else "",
        f"final: last control {final_words(found.until_days)}" if found.until_days is not None else "",
        "median in: where the median final control lies, with its confidence",
        "per 1000: products on 1,000 sq ft",
        f"full day: what a day of full control of 1,000 sq ft costs{shared}",
    ]
    return "; ".join(filter(None, parts))


def row(one: Group) -> tuple[str, ...]:
    """Return a line of the table."""
    return (
        one.name,
        str(len(one.sites)),
        *("-" if one.is_early else _days(each) for each in one.days_to),
        "" if one.final.median is None else f"{whole(one.final.median)} %",
        interval_text(one.final.interval) if one.final.count else "",
        dollars(one.cost.median) or "?",
        "-" if one.is_early else dollars(one.cost_per_control_day) or "?",
    )


def _days(one: Summary) -> str:
    if one.median is not None:
        return f"{whole(one.median)} d"
    if one.between is not None:
        return f"{between_text(one.between)} d"
    if one.is_open:
        return f"?{len(one.open_at)}/{one.count}"
    return f">{one.never}/{one.count}" if one.count else ""


def _is_never(one: Summary) -> bool:
    return one.count > 0 and one.median is None and not one.is_open


def details(one: Group) -> list[tuple[str, str]]:
    """Return what does not fit into the table, as names and values."""
    found = [
        ("stands on", f"{stands_on(one)}, {counted(one.ratings, 'rating')}, {counted(one.treatments, 'treatment')}"),
    ]
    if not one.is_early:
        found += [(days_words(level), days_text(days)) for level, days in zip(LEVELS, one.days_to, strict=True)]
    again = len(one.treated_again)
    waiting = len(one.not_judged) - again
    if waiting or again:
        parts = [f"{waiting} not yet" if waiting else "", f"{again} treated again before" if again else ""]
        sites = f"{one.final.count} of {counted(len(one.sites), 'site')}"
        found.append(("judged", "; ".join(filter(None, [sites, *parts]))))
    if one.final.low is not None and one.final.high is not None and one.final.count > 1:
        spread = f"from {whole(one.final.low)} to {whole(one.final.high)} %"
        if one.final.quarters is not None:
            first, third = one.final.quarters
            spread += f", half of the sites between {whole(first)} and {whole(third)} %"
        found.append(("final control", spread))
    if one.injury.median is not None and one.injury.high is not None:
        worst = f"{whole(one.injury.median)} %, worst {whole(one.injury.high)} %"
        found.append(("turf injury", f"{worst} ({counted(one.injury.count, 'site')})"))
    return found


def document(found: Comparison) -> Json:
    """Return a comparison as JSON: numbers as decimal text, days and counts as numbers."""
    return {
        "target": found.target,
        "from": None if found.since is None else found.since.isoformat(),
        "to": None if found.until is None else found.until.isoformat(),
        "until_days": found.until_days,
        "windows": list(WINDOWS),
        "shared_day": found.shared_day,
        "groups": [_group(one) for one in found.groups],
        "verdicts": [
            {
                "what": one.what,
                "first": one.first,
                "second": one.second,
                "n": list(one.sizes),
                "difference": _number(one.difference),
                "p": None if one.test is None else decimal_text(one.test.p, 6),
                "smallest_p": None if one.test is None else decimal_text(one.test.least, 6),
                "way": None if one.test is None else one.test.way,
                "told": one.test is not None and one.test.is_told,
                "sentence": one.sentence,
            }
            for one in found.verdicts
        ],
        "cautions": list(found.cautions),
    }


def _number(value: Fraction | None) -> str | None:
    return None if value is None else decimal_text(value, PLACES)


def _summary(one: Summary) -> Json:
    within = one.interval
    return {
        "n": one.count,
        "not_reached": one.never,
        "open": len(one.open_at),
        "median": _number(one.median),
        "median_between": None if one.between is None else [_number(end) for end in one.between],
        "min": _number(one.low),
        "max": _number(one.high),
        "quartiles": None if one.quarters is None else [_number(part) for part in one.quarters],
        "interval": None
        if within is None
        else {"low": _number(within.low), "high": _number(within.high), "level": _number(within.level)},
    }


def _group(one: Group) -> Json:
    return {
        "products": list(one.key),
        "name": one.name,
        "sites": len(one.sites),
        "treatments": one.treatments,
        "ratings": one.ratings,
        "raters": list(one.raters),
        "years": list(one.years),
        "turf": list(one.turf),
        "methods": list(one.methods),
        "curve": [
            {
                "days": point.days,
                "n": point.sites,
                "median": _number(point.median),
                "min": _number(point.low),
                "max": _number(point.high),
            }
            for point in one.curve
        ],
        **{f"days_to_{whole(level)}": _summary(days) for level, days in zip(LEVELS, one.days_to, strict=True)},
        "is_early": one.is_early,
        "final": _summary(one.final),
        "not_judged": len(one.not_judged),
        "final_days": _number(one.final_days),
        "injury": _summary(one.injury),
        "cost_per_1000": {**_summary(one.cost), "median": exact(one.cost.median)},
        "unpriced": list(one.unpriced),
        "control_days": _number(one.control_days),
        "cost_per_control_day": exact(one.cost_per_control_day),
        "by_site": [_site(site) for site in one.sites],
    }


def _site(one: SiteResult) -> Json:
    return {
        "site": one.site,
        "serials": list(dict.fromkeys(course.serial for course in one.courses)),
        "looks": [{"days": days, "control": _number(control)} for days, control in one.looks],
        **{f"days_to_{whole(level)}": _number(days) for level, days in zip(LEVELS, one.days_to, strict=True)},
        **{f"open_to_{whole(level)}_since": _number(bound) for level, bound in zip(LEVELS, one.open_at, strict=True)},
        "final": _number(one.final),
        "final_day": _number(one.final_day),
        "injury": _number(one.injury),
        "cost_per_1000": exact(one.cost),
    }
