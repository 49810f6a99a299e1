"""What the labels say of a trial's entries on its ground, told while it is planned: it is kept all the same.

A plan is no application. The visit that puts an entry out is judged in full when it is closed, and may be refused.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.quantities import Per, parse_rate
from records.rules.allowances import over_label
from records.rules.label_match import Match, match_ground, source_of
from records.services.actives import history_of
from records.services.follow_up.repeating import next_on
from records.services.nutrients import law_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from records.domain.place import Site, Zone
    from records.domain.product import Product
    from records.domain.quantities import Rate
    from records.domain.trials import Trial
    from records.services.directory import Directory
    from records.services.follow_up.repeating import Next
    from records.services.ports import UnitOfWork


def label_notes(
    work: UnitOfWork, directory: Directory, ground: tuple[Site, Zone], trial: Trial, day: date, method: str
) -> list[str]:
    """Return what stands against the entries of a trial, each thing once.

    Args:
        work: a unit of work.
        directory: of it.
        ground: the site and the zone of the trial.
        trial: as planned.
        day: of planning, which its first treatment cannot come before.
        method: of its treatments; "" where it is not told.
    """
    site, zone = ground
    history, law = history_of(work, site, day), law_of(work, site.state, day)
    found: dict[str, None] = {}
    judged: dict[str, Next] = {}
    for entry in trial.entries:
        for key, text in entry.products:
            product = directory.product(key)
            if product is None:  # cannot be: it was read from the catalogue
                continue
            if key not in judged:
                judged[key] = next_on(work, directory, ground, product, day, method, history, law)
            rate = parse_rate(text, product.form)
            for words in (
                *_ground(product, zone, judged[key], day, method),
                *_rate(product, zone, rate, judged[key], method),
            ):
                found[f"{entry.letter}: {product.id} on {zone.id}: {words}"] = None
    return list(found)


def _ground(product: Product, zone: Zone, following: Next, day: date, method: str) -> Iterator[str]:
    """Yield what stands against any amount of it there, and what the label asks to be looked at."""
    if product.label is None:
        if product.is_pesticide:
            yield "the book has no label of it, so nothing can be checked; load the label"
        return
    matched = match_ground(product.label, zone.kind, zone.turf, method)
    source = f"[{source_of(product)}]"
    refused = f"a visit that puts it out is refused {source}"
    if matched.verdict is Match.SITE:
        yield f"not labelled for {zone.kind}; {refused}"
    elif matched.verdict is Match.TURF:
        yield f"not labelled for {', '.join(matched.unlisted)}; {refused}"
    elif matched.verdict is Match.NOT_TOLERANT:
        yield f"its label names {', '.join(matched.unlisted)} as turf not to be treated; {refused}"
    elif matched.verdict is Match.METHOD and method:
        ways = ", ".join(sorted({way for use in matched.uses for way in use.method}))
        yield f"not labelled for {method} on {zone.kind}, its label has {ways}; {refused}"
    else:
        yield from _when(following, day, source)
        for grass in matched.sensitive:
            yield f"its label calls {grass} sensitive: look at the turf and the rate first {source}"
        if matched.species_unknown:
            yield f"the grass is not in the book, so its list of turf cannot be checked {source}"


def _when(following: Next, day: date, source: str) -> Iterator[str]:
    """Yield from which day on it is lawful, where that is not the day itself."""
    why = f" ({following.why})" if following.why else ""
    if following.day is None:
        yield f"no lawful day is found{why} {source}"
    elif following.day > day:
        yield f"lawful from {following.day} on, not before{why} {source}"


def _rate(product: Product, zone: Zone, rate: Rate, following: Next, method: str) -> Iterator[str]:
    """Yield what is over the label's rate, or over what its ceilings leave."""
    if product.label is None:
        return
    over = over_label(product, rate.base) if rate.per is Per.AREA else ""
    if over:
        yield f"{over}; a visit that puts it out is refused"
        return
    matched = match_ground(product.label, zone.kind, zone.turf, method)
    if matched.verdict not in {Match.LISTED, Match.METHOD}:
        return
    uses = [[one.high for one in use.rates if one.per is rate.per] for use in matched.uses]
    printed = [highs for highs in uses if highs]
    source = f"[{source_of(product)}]"
    if not printed and any(use.rates for use in matched.uses):
        what = "by area" if rate.per is Per.AREA else "in the spray"
        yield f"its label prints no rate {what} for {zone.kind}, so {rate} cannot be checked {source}"
    elif printed and all(all(high is not None and rate.base > high.base for high in highs) for highs in printed):
        most = max((high for highs in printed for high in highs if high is not None), key=lambda high: high.base)
        yield f"{rate} is over the label's {most} for {zone.kind}; a visit that puts it out is refused {source}"
    room = following.allowance.room
    if following.day == following.allowance.day and room is not None and rate.per is Per.AREA and room.left < rate.base:
        yield f"{rate} is more than its ceilings leave there: {room} {source}"
