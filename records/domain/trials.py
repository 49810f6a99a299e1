"""Trials on one site: products side by side on plots, given to them by lot, rated together.

A trial has blocks, and in each block one plot for each entry: what differs from block to block (shade, soil, slope)
then falls on all entries alike. Which plot gets which entry is drawn by a seed that is kept, so that anybody can draw
it again.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_ENTRIES, MOST_BLOCKS = 12, 12
UNTREATED = "untreated"
# What a stranger needs to draw the same plan: both parts are kept the same by the language (its library reference says
# so of the numbers of `random()`; the shuffle is written out here because it says no such thing of `shuffle`).
ALGORITHM = (
    "for each block in turn the entries, in the order of their letters, are shuffled: from the last place down to the "
    "second, place i changes with place floor(r x (i + 1)), places counted from 0, r the next number of the Mersenne "
    "Twister of Python's random.Random(seed).random()"
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One of the things that are compared."""

    letter: str
    products: tuple[tuple[str, str], ...] = ()  # id and rate as planned; none: left untreated

    @property
    def is_untreated(self) -> bool:
        """Tell whether its plots get nothing."""
        return not self.products

    @property
    def words(self) -> str:
        """Return it in words."""
        return " + ".join(f"{product} {rate}".strip() for product, rate in self.products) or UNTREATED


@dataclass(frozen=True, slots=True)
class Plot:
    """One piece of ground of a trial."""

    name: str
    block: int  # from 1
    entry: str  # letter


@dataclass(frozen=True, slots=True)
class Trial:
    """A trial as planned."""

    name: str
    site: str  # id
    zone: str  # id
    target: str
    entries: tuple[Entry, ...]
    blocks: int
    seed: int
    plots: tuple[Plot, ...]
    serial: str = ""  # of the sealed event

    def plot(self, name: str) -> Plot | None:
        """Return a plot by its name, whatever its letters' case."""
        return next((one for one in self.plots if one.name.casefold() == name.casefold()), None)

    def entry(self, letter: str) -> Entry:
        """Return an entry by its letter."""
        return next(one for one in self.entries if one.letter == letter)

    def entry_of(self, plot: Plot) -> Entry:
        """Return what a plot gets."""
        return self.entry(plot.entry)

    def in_block(self, block: int) -> list[Plot]:
        """Return the plots of a block."""
        return [one for one in self.plots if one.block == block]


def draw(letters: Sequence[str], blocks: int, seed: int, layout: Sequence[str] = ()) -> list[Plot]:
    """Return the plots with their entries, drawn as `ALGORITHM` says.

    Args:
        letters: of the entries.
        blocks: how many.
        seed: of the draw.
        layout: names of the places within a block; none: plots are numbered through.
    """
    numbers = random.Random(seed)  # noqa: S311 - a plan that can be drawn again, no secret
    plots = []
    for block in range(1, blocks + 1):
        order = sorted(letters)
        for place in range(len(order) - 1, 0, -1):
            other = int(numbers.random() * (place + 1))
            order[place], order[other] = order[other], order[place]
        for place, letter in enumerate(order):
            name = str((block - 1) * len(order) + place + 1)
            if layout:
                name = layout[place] if blocks == 1 else f"{block}-{layout[place]}"
            plots.append(Plot(name, block, letter))
    return plots
