"""A treatment on a plot of a trial: the plot has to be there, and what went on is what its entry says."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.numerals import QuantityError
from records.domain.quantities import Per, parse_rate
from records.rules.plausibility import rate_per_area

RATE_APART = Fraction(1, 10)  # off the planned rate that is no longer the same rate

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.trials import Plot, Trial
    from records.domain.visit import Treatment, Visit
    from records.rules.context import Context


def check_plots(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say where a plot is not known, lies elsewhere, or got something else than planned."""
    for treatment in visit.treatments:
        if not treatment.plot:
            continue
        name, _, plot_name = treatment.plot.partition("/")
        trial = context.trial(name)
        if trial is None:
            message = f"no trial is called {name[:40]!r}; swathbook trial list shows them"
            yield _unknown(treatment, message, treatment.plot)
            continue
        plot = trial.plot(plot_name)
        if plot is None:
            known = ", ".join(one.name for one in trial.plots)
            yield _unknown(
                treatment, f"trial {trial.name} has no plot {plot_name[:40]!r}; its plots: {known}", plot_name
            )
            continue
        if visit.site is not None and visit.site.id != trial.site:
            yield _unknown(treatment, f"trial {trial.name} lies at {trial.site}, not here", visit.site.id)
            continue
        yield from _as_planned(treatment, trial, plot)


def _unknown(treatment: Treatment, message: str, found: str) -> Finding:
    return Finding(Code.UNKNOWN_NAME, Severity.STOP, f"{treatment.at}.plot", message, found=found[:80])


def _as_planned(treatment: Treatment, trial: Trial, plot: Plot) -> Iterator[Finding]:
    entry = trial.entry_of(plot)
    planned = {product for product, _ in entry.products}
    used = {line.product.id for line in treatment.lines}
    where = f"plot {plot.name} of trial {trial.name}"
    if used and planned != used:
        yield _ask(treatment, "products", f"{where} should get {entry.words}", entry.words, " + ".join(sorted(used)))
    yield from _rates(treatment, dict(entry.products), where)
    if all(zone.id != trial.zone for zone in treatment.zones):
        zones = ", ".join(zone.id for zone in treatment.zones)
        yield _ask(treatment, "zones", f"{where} lies in {trial.zone}", trial.zone, zones)
    if treatment.targets and all(name.casefold() != trial.target.casefold() for name in treatment.targets):
        message = f"{where} is about {trial.target}"
        yield _ask(treatment, "targets", message, trial.target, ", ".join(treatment.targets))


def _rates(treatment: Treatment, planned: dict[str, str], where: str) -> Iterator[Finding]:
    """Say where a product went out at another rate than planned; reading and rounding are allowed for."""
    for line in treatment.lines:
        used = rate_per_area(line, treatment)
        if line.product.id not in planned or used is None:
            continue
        try:
            rate = parse_rate(planned[line.product.id], line.product.form)
        except QuantityError:  # the product has another form now than when the trial was planned
            continue
        if rate.per is Per.AREA and rate.base and abs(used / rate.base - 1) > RATE_APART:
            message = (
                f"{where} should get {line.product.name} at {rate}; it got {float(used / rate.base):.2f} times that"
            )
            yield Finding(
                Code.DISAGREE, Severity.NOTE, line.at, message, limit=str(rate), source="the plan of the trial"
            )


def _ask(treatment: Treatment, key: str, message: str, limit: str, found: str) -> Finding:
    return Finding(
        Code.DISAGREE,
        Severity.ASK,
        f"{treatment.at}.{key}",
        f"{message}; check the plot, or confirm what really happened",
        limit=limit[:200],
        found=found[:200],
        source="the plan of the trial",
    )
