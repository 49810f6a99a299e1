"""Plans a trial: entries, blocks, plots by lot; a sealed event."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.trials import ALGORITHM, MOST_BLOCKS, MOST_ENTRIES, UNTREATED, Entry, Trial, draw
from records.errors import NotFoundError, UsageError
from records.services.directory import Directory
from records.services.events import append_event
from records.services.occasions import firm_of, local, moment_of, person_of, site_body, site_of, words_of, zone_at
from records.services.stocking.entries import product_by_id, read_rate
from records.services.trials.label_notes import label_notes
from records.services.trials.reading import find_trial

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from records.clock import Clock
    from records.domain.place import Site, Zone
    from records.services.ports import Json, OpenBook

NAME = re.compile(r"[a-z0-9](?:[a-z0-9.-]{0,38}[a-z0-9])?", re.IGNORECASE)
LETTER = re.compile(r"[A-Z][A-Z0-9]?")
PLACE = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 -]{0,18}[A-Za-z0-9])?")
MOST_SEED = 10**9
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class TrialOrder:
    """A trial as typed."""

    name: str
    site: str
    zone: str
    target: str
    entries: Sequence[str]  # `A=brindle-4l=1 fl oz/1000 sq ft`, products joined by +, or `untreated`
    blocks: int = 3
    seed: int | None = None
    layout: str | None = None  # names of the places within a block: left,right
    by: str | None = None
    method: str = ""  # how it will be put out; "": any that a label has


@dataclass(frozen=True, slots=True)
class Planned:
    """A trial that was sealed."""

    trial: Trial
    notes: tuple[str, ...]


def plan_trial(book: OpenBook, clock: Clock, order: TrialOrder) -> Planned:
    """Draw plots and seal the plan.

    Raises:
        UsageError: something cannot be read.
        NotFoundError: no such site, zone, product or person.
    """
    now = clock.now()
    seed = secrets.randbelow(10**6) if order.seed is None else order.seed
    if not 0 <= seed < MOST_SEED:
        raise UsageError(f"--seed {seed} is out of bounds", f"Write a whole number from 0 to {MOST_SEED - 1:,}")
    with book.write() as work:
        directory = Directory(work.catalogue)
        business, firm = firm_of(directory)
        name = _name(order.name)
        if find_trial(work, name) is not None:
            raise UsageError(f"a trial {name!r} is there already", "Choose another name, or withdraw that one")
        site, version = site_of(directory, order.site)
        zone = _zone(site, order.zone)
        target = words_of(order.target, "--target", 80)
        if not target:
            raise UsageError("--target is empty", "Write the weed that the trial is about")
        entries = _entries(directory, order.entries)
        if not 1 <= order.blocks <= MOST_BLOCKS:
            raise UsageError(f"--blocks {order.blocks} is out of bounds", f"Write 1 to {MOST_BLOCKS}")
        layout = _layout(order.layout, len(entries))
        plots = draw([one.letter for one in entries], order.blocks, seed, layout)
        trial = Trial(name, site.id, zone.id, target, tuple(entries), order.blocks, seed, tuple(plots))
        place = zone_at(site, business)
        moment = moment_of(None, "--on", place, now)
        notes = label_notes(work, directory, (site, zone), trial, moment.date(), order.method)
        event = append_event(
            work,
            "trial",
            _data(trial, moment, None if zone.area is None else str(zone.area)),
            now,
            day=moment.date(),
            timezone=place.key,
            business=firm,
            site=site_body(site, version),
            person=person_of(directory, order.by, moment.date(), business.state),
        )
        work.commit()
    untreated = any(one.is_untreated for one in entries)
    if not untreated:
        notes.append(
            "no entry is left untreated: control by counts cannot be corrected for weeds that die by themselves"
        )
    return Planned(
        Trial(name, site.id, zone.id, target, tuple(entries), order.blocks, seed, tuple(plots), event.serial),
        tuple(notes),
    )


def _zone(site: Site, text: str) -> Zone:
    found = next((one for one in site.zones if one.id.casefold() == text.strip().casefold()), None)
    if found is None:
        known = ", ".join(one.id for one in site.zones)
        raise NotFoundError(f"{site.id} has no zone {text[:40]!r}", f"Its zones: {known}")
    return found


def _name(text: str) -> str:
    name = text.strip()
    if not NAME.fullmatch(name):
        raise UsageError(
            f"{text[:40]!r} is no name for a trial", "Write letters, digits, points and hyphens, such as ivy-2026"
        )
    return name


def _layout(text: str | None, entries: int) -> list[str]:
    if text is None:
        return []
    places = [" ".join(part.split()) for part in text.split(",")]
    bad = next((one for one in places if not PLACE.fullmatch(one)), None)
    if bad is not None or len({one.casefold() for one in places}) < len(places):
        raise UsageError(f"--layout {text[:60]!r} cannot be read", "Write names of places, such as left,right")
    if len(places) != entries:
        raise UsageError(
            f"--layout names {len(places)} places, the trial has {entries} entries", "Name one place for each entry"
        )
    return places


def _entries(directory: Directory, texts: Sequence[str]) -> list[Entry]:
    """Read the entries; those without a letter get the next one that is free."""
    if not 2 <= len(texts) <= MOST_ENTRIES:
        raise UsageError(
            f"a trial compares 2 to {MOST_ENTRIES} entries; here are {len(texts)}",
            "Give --entry once for each, such as --entry 'A=brindle-4l=1 fl oz/1000 sq ft' --entry untreated",
        )
    read: list[tuple[str, tuple[tuple[str, str], ...]]] = []
    for text in texts:
        letter, equals, rest = (part.strip() for part in text.partition("="))
        if not (equals and LETTER.fullmatch(letter)):
            letter, rest = "", text.strip()
        products = () if rest.casefold() == UNTREATED else tuple(_part(directory, one) for one in rest.split("+"))
        read.append((letter, products))
    taken = [letter for letter, _ in read if letter]
    if len(set(taken)) < len(taken):
        raise UsageError("two entries have the same letter", "Give each its own")
    free = iter([letter for letter in LETTERS if letter not in taken])
    found = [Entry(letter or next(free), products) for letter, products in read]
    if len({one.products for one in found}) < len(found):
        raise UsageError("two entries are the same", "Each entry has to differ; blocks repeat them")
    return found


def _part(directory: Directory, text: str) -> tuple[str, str]:
    key, _, written = (part.strip() for part in text.partition("="))
    product = product_by_id(directory, key)
    if not written:
        raise UsageError(f"{product.id} has no rate", f"Write it behind the product: {product.id}='1 fl oz/1000 sq ft'")
    return product.id, str(read_rate(product, written))


def _data(trial: Trial, moment: datetime, area: str | None) -> Json:
    return {
        "trial": trial.name,
        "site": trial.site,
        "zone": trial.zone,
        "zone_area": area,
        "target": trial.target,
        "entries": [
            {
                "letter": one.letter,
                "untreated": one.is_untreated,
                "products": [{"product": product, "rate": rate} for product, rate in one.products],
            }
            for one in trial.entries
        ],
        "blocks": trial.blocks,
        "seed": trial.seed,
        "drawn": ALGORITHM,
        "plots": [{"plot": one.name, "block": one.block, "entry": one.entry} for one in trial.plots],
        "words": f"{trial.name} at {trial.site}: {len(trial.entries)} entries, {trial.blocks} blocks, {trial.target}",
        "at": local(moment),
    }
