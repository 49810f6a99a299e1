"""A plan on the screen: what stops it first, then each load as it is mixed, then the stops in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.cli.output import MARKS, pairs, say, table, wrapped
from records.services.planning.card import EMERGENCY_LINE, worn_words
from records.services.planning.telling import (
    LABEL_WINS,
    amount_words,
    area_words,
    grouped,
    jar_words,
    label_words,
    loads_words,
    strength_words,
)
from records.services.planning.words import number, rate_words, short

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.planning.model import Load, Plan

MOST_ROOMS = 40


def tell_plan(plan: Plan) -> None:
    """Write a plan."""
    who = "" if plan.by is None else f", {plan.by.name}"
    heat = f"; forecast {plan.temperature}" if plan.temperature else ""
    say(wrapped(f"Plan for {plan.day:%A} {plan.day}{who}{heat}", "  ", ""))
    _findings(plan)
    for load in plan.loads:
        say()
        _load(load)
    for text in plan.not_checked:
        say(wrapped(text, "    ", "  not looked at: "))
    say()
    say(wrapped(f"{EMERGENCY_LINE} {LABEL_WINS}"))


def _findings(plan: Plan) -> None:
    found = grouped(plan)
    if not found:
        say("  nothing was found that would stop a visit")
    for severity, code, message, places in found:
        where = _places(places)
        say(wrapped(f"{where}: {message} [{code}]", "       ", f"  {MARKS[severity.value]} "))


def _places(places: Sequence[str]) -> str:
    """Return where something was met: `stop 1, 2, 5`."""
    told: list[str] = []
    last = ""
    for place in places:
        lead, _, number_ = place.rpartition(" ")
        told.append(number_ if lead and lead == last else place)
        last = lead
    return ", ".join(told)


def _load(load: Load) -> None:
    against = f" against {', '.join(load.targets)}" if load.targets else ""
    say(wrapped(f"{load.id}: {load.equipment.name} ({load.equipment.id}), {load.method}{against}", "  ", ""))
    output = None if load.output is None else f"{rate_words(load.output.rate)} ({load.output.words})"
    rows = [
        ("output", output),
        ("area", area_words(load)),
        ("made", loads_words(load)),
    ]
    pairs([*rows, *(("note", note) for note in load.notes)], gap=9)
    say()
    _products(load)
    say()
    _charges(load)
    _measuring(load)
    _order(load)
    _binding(load)
    _stops(load)
    _rooms(load)


def _products(load: Load) -> None:
    rows = [
        [
            part.product.name,
            rate_words(part.rate) + (" (the label's only rate)" if part.is_labels else ""),
            label_words(part),
            strength_words(part),
        ]
        for part in load.parts
    ]
    head = ["product", "rate", "the label prints", "in the spray"]
    if load.is_spread:
        head, rows = head[:3], [row[:3] for row in rows]
    table(head, rows, keep=[1])


def _charges(load: Load) -> None:
    """Write the table of loads, one row a load and product: names of products are too long for columns."""
    rows = []
    for charge in load.charges:
        times = f"{charge.times} x {charge.words}" if charge.times > 1 else charge.words
        covers = "" if charge.covers is None else f"{number(charge.covers.base, 0)} sq ft"
        first = [times, short(charge.size), covers]
        for part, measure in zip(load.parts, charge.measures, strict=True):
            rows.append([*first, part.product.name, amount_words(measure)])
            first = ["", "", ""]
    head = ["load", "granules" if load.is_spread else "spray", "covers", "product", "exact amount"]
    table(head, rows, keep=[0, 1, 2, 4])


def _measuring(load: Load) -> None:
    rows = []
    for charge in load.charges:
        first = charge.words
        for part, measure in zip(load.parts, charge.measures, strict=True):
            for index, mark in enumerate(() if measure is None else measure.marks):
                name = part.product.name if not index else ""
                rows.append([first, name, f"{mark.words} {mark.vessel.words}", mark.error_words])
                first = ""
    if rows:
        say()
        table(["load", "product", "measure", "error"], rows, keep=[0, 3])
        say("never a weight in a cup, never a volume on a scale")


def _order(load: Load) -> None:
    recipe = load.recipe
    if recipe is None:
        return
    say()
    say(wrapped(f"Mixing order, {recipe.source}", "  ", ""))
    for index, step in enumerate(recipe.steps, 1):
        say(wrapped(f"{step.words}", "     ", f"  {index:>2} "))
    for text in recipe.unplaced:
        say(wrapped(text, "     ", "   ? "))
    for text in recipe.warnings:
        say(wrapped(text, "     ", "   ! "))
    if load.jar_tests:
        say(wrapped(jar_words(load), "     ", "   ! "))


def _binding(load: Load) -> None:
    say("\nWhat binds the whole load")
    rows = [(line.name, f"{line.words} ({', '.join(line.products)})") for line in load.lines]
    rows += [("wear, mixing", worn_words(load.ppe_mix)), ("wear, applying", worn_words(load.ppe_apply))]
    if load.ppe_unknown:
        rows.append(("wear", f"not in the book for {', '.join(load.ppe_unknown)}: as the label says"))
    pairs([(name, text) for name, text in rows], gap=16)


def _stops(load: Load) -> None:
    rows = []
    for stop in load.stops:
        where = stop.key + (f": {', '.join(zone.id for zone in stop.zones)}" if stop.zones else "")
        where += f" (not {'; '.join(stop.left_out)})" if stop.left_out else ""
        first, last = stop.loads or (0, 0)
        rows.append(
            [
                str(stop.number),
                where,
                "not measured" if stop.area is None else f"{number(stop.area.base)} sq ft",
                "" if stop.spray is None else short(stop.spray),
                "" if not first else str(first) if first == last else f"{first}-{last}",
            ]
        )
    say()
    table(["", "stop", "area", "spray", "load"], rows, right=[2, 3], keep=[0, 2, 3, 4])


def _rooms(load: Load) -> None:
    """Write what the labels still allow, before the planned visits; stops that have the same are told together."""
    rows: dict[tuple[str, ...], list[str]] = {}
    for stop in load.stops:
        mine: dict[tuple[str, ...], list[str]] = {}
        for room in stop.rooms:
            if room.left_words or room.times_left is not None or room.lawful_from is not None:
                times = "" if room.times_left is None else str(room.times_left)
                day = "" if room.lawful_from is None else str(room.lawful_from)
                left = room.left_words + (f" ({room.unknown} not counted)" if room.unknown else "")
                mine.setdefault((room.name, left, times, day), []).append(room.zone)
        for key, zones in mine.items():
            where = "" if len(zones) == len(stop.zones) else f" {', '.join(zones)}"
            rows.setdefault(key, []).append(f"{stop.number}{where}")
    told = [[", ".join(places), *key] for key, places in rows.items()]
    if told:
        say("\nStill allowed there, before this visit")
        table(["stop", "product", "left", "times", "lawful from"], told[:MOST_ROOMS], keep=[3, 4])
    if len(told) > MOST_ROOMS:
        say(f"  and {len(told) - MOST_ROOMS} more lines: --json has them all")
