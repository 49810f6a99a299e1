"""What a visit is checked against: the packs, the site's sealed past, the book's usual rates."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.ceilings import add_months
from records.domain.unlikely import Usual
from records.rules.context import Context
from records.rules.plausibility import rate_per_area
from records.services.advance import contacts_of
from records.services.calibrating import Outputs
from records.services.directory import Directory
from records.services.mixing.past import MixLog, load_past
from records.services.nutrients import site_nutrients
from records.services.rulebook import Rulebook
from records.services.stocking.entries import last_days
from records.services.trials.ground import trial_sites, with_plots
from records.services.trials.reading import find_trial

if TYPE_CHECKING:
    from records.domain.history import PastUse
    from records.domain.mixing import LoadPast
    from records.domain.product import Label
    from records.domain.visit import Visit
    from records.services.closing.outcome import Base
    from records.services.ports import UnitOfWork

USUAL = 101  # sealed applications that the median of a product and method is taken from


@dataclass(slots=True)
class Memory:
    """What one transaction may remember between visits."""

    directory: Directory
    rulebook: Rulebook
    usual: dict[tuple[str, str], Usual] = field(default_factory=dict)
    mix_log: list[MixLog] = field(default_factory=list)  # none or one: what the shop log says of loads
    lots: list[dict[tuple[str, str], date]] = field(default_factory=list)  # none or one: last days by product and lot
    trial_sites: list[frozenset[str]] = field(default_factory=list)  # none or one: on which a trial was planned


def memory_of(work: UnitOfWork) -> Memory:
    """Return the memory of a transaction that begins with nothing."""
    directory = Directory(work.catalogue)
    directory.outputs = Outputs(work)  # it reads the log only when a spot has to be estimated
    return Memory(directory, Rulebook(work.catalogue))


@dataclass(slots=True)
class Recent:
    """What is kept from one transaction to the next: as good as read again while no one else wrote meanwhile."""

    head: str = ""
    documents: int = 0  # in the catalogue, from which nothing is ever taken away
    directory: Directory | None = None
    usual: dict[tuple[str, str], Usual] = field(default_factory=dict)
    lots: list[dict[tuple[str, str], date]] = field(default_factory=list)
    trial_sites: list[frozenset[str]] = field(default_factory=list)

    def memory(self, work: UnitOfWork) -> Memory:
        """Return what may be remembered in a transaction that has just begun."""
        if work.records.head() != self.head:
            self.usual.clear()
            self.lots.clear()
            self.trial_sites.clear()
        documents = work.catalogue.count()
        is_same = self.directory is not None and documents == self.documents
        self.directory = Directory(work.catalogue, self.directory if is_same else None)
        self.directory.outputs = Outputs(work)
        self.documents = documents
        rulebook = Rulebook(work.catalogue)
        return Memory(self.directory, rulebook, self.usual, lots=self.lots, trial_sites=self.trial_sites)


def _since(visit: Visit, day: date) -> date:
    """Return the first day of the past that any window or interval of the entry's labels can reach."""
    labels = [line.product.label for treatment in visit.treatments for line in treatment.lines]
    months = max((_reach(label) for label in labels if label is not None), default=0)
    return min(date(day.year - 1, 1, 1), add_months(day, -months - 1))


@lru_cache(maxsize=1024)
def _reach(label: Label) -> int:
    """Return how many months back the windows and intervals of a label reach, rounded up."""
    months = 0
    for limits in (label.limits, *(use.limits for use in label.uses if use.limits is not None)):
        window = limits.window.length if limits.window.kind == "months" else limits.window.length // 28
        interval = limits.interval_days.value // 28 + 1 if limits.interval_days else 0
        months = max(months, window, interval)
    return months


def _history(work: UnitOfWork, memory: Memory, site: str, since: date, own: str | None) -> list[PastUse]:
    """Return the past of a site, with the plots of its trials; without the record that is amended."""
    history = [past for past in work.records.history(site, since) if past.serial != own]
    if history and not memory.trial_sites:
        memory.trial_sites.append(trial_sites(work))
    return with_plots(work, history) if history and site in memory.trial_sites[0] else history


def context_of(work: UnitOfWork, memory: Memory, visit: Visit, now: datetime, base: Base | None = None) -> Context:
    """Return what a visit is checked against; an amendment stands beside its own record, not behind it."""

    def usual(product: str, method: str) -> Usual:
        if (product, method) not in memory.usual:
            memory.usual[product, method] = Usual(work.records.recent_rates(product, method, USUAL), USUAL)
        return memory.usual[product, method]

    site, day = visit.site, visit.day
    packs = memory.rulebook.for_work(
        visit.business,
        visit.business.state if site is None else site.state,
        day or now.date(),
        has_restricted=any(line.product.restricted_use for t in visit.treatments for line in t.lines),
        has_fertilizer=any(line.product.analysis is not None for t in visit.treatments for line in t.lines),
    )

    own = None if base is None else base.first.serial

    def load(mix: str) -> LoadPast | None:
        if not memory.mix_log:
            memory.mix_log.append(MixLog.of(work))
        return load_past(work, memory.directory, mix, memory.mix_log[0], own)

    def lot_day(product: str, lot: str) -> date | None:
        if not memory.lots:
            memory.lots.append(last_days(work))
        return memory.lots[0].get((product, lot))

    completed = None if base is None else datetime.fromisoformat(base.first.body["entered_at"])
    if site is None or day is None:
        return Context(
            now,
            packs,
            completed=completed,
            product=memory.directory.product,
            load=load,
            lot_day=lot_day,
            recent_rates=usual,
        )
    fed = any(line.product.analysis is not None for t in visit.treatments for line in t.lines)
    year = date(day.year, 1, 1), date(day.year, 12, 31)
    return Context(
        now,
        packs,
        completed=completed,
        nutrients=[use for use in site_nutrients(work, site.id, *year) if use.serial != own] if fed else (),
        history=_history(work, memory, site.id, _since(visit, day), own),
        contacts=contacts_of(work.records.events("contact", site=site.id)) if site.notify else (),
        same_day=[other for other in work.records.on_site(site.id, day) if other[0] != own],
        trial=lambda name: find_trial(work, name),
        product=memory.directory.product,
        load=load,
        lot_day=lot_day,
        recent_rates=usual,
    )


def remember(memory: Memory, visit: Visit) -> None:
    """Count the rates of a visit that was sealed among those of its products and methods."""
    for treatment in visit.treatments:
        for line in treatment.lines:
            usual = memory.usual.get((line.product.id, treatment.method))
            rate = rate_per_area(line, treatment)
            if usual is not None and rate is not None:
                usual.add(rate)
