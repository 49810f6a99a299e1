"""The packs that come with the tool, found by id and day, and which of them judge a visit."""

from __future__ import annotations

import difflib
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from records.errors import RulePackError
from records.rules.pack_reading import read_pack

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import date

    from records.rules.pack import Pack

DATA = Path(__file__).parent / "data"
COMMON = "common"
FERTILIZER = "-fertilizer"  # a state's fertilizer law is the pack US-STATE with this behind it
FEDERAL_FLOOR = "us-40cfr171"  # judges restricted-use work of commercial applicators in every state


@cache
def pack_ids() -> tuple[str, ...]:
    """Return the ids of all packs that come with the tool, in order."""
    return tuple(sorted({file.name.partition(".")[0] for file in DATA.glob("*.toml")}))


@cache
def versions_of(key: str) -> tuple[Pack, ...]:
    """Return every dated version of a pack that comes with the tool, oldest first; empty when there is none.

    A file is named by the id, later versions `ID.VERSION.toml`.

    Raises:
        RulePackError: a file is wrong, or two versions are in force on one day.
    """
    if key not in pack_ids():
        return ()
    found = [read_pack(file.name, file.read_text(encoding="utf-8")) for file in _files(key)]
    for pack in found:
        if pack.id != key:
            raise RulePackError(f"the file of {key} holds the pack {pack.id}", "Rename the file or correct the id")
    found.sort(key=lambda pack: (pack.effective_from is not None, pack.effective_from))
    for before, after in pairwise(found):
        if before.effective_to is None or after.effective_from is None or before.effective_to >= after.effective_from:
            told = f"versions {before.version} and {after.version} of {key} are in force on one day"
            raise RulePackError(told, "Give the older one its last day")
    return tuple(found)


def _files(key: str) -> list[Path]:
    return sorted(file for file in DATA.glob(f"{key}*.toml") if file.name.partition(".")[0] == key)


def pack_on(key: str, day: date) -> Pack | None:
    """Return the version of a pack that is in force on a day, or None."""
    return next((pack for pack in versions_of(key) if pack.is_in_force(day)), None)


def newest(key: str) -> Pack:
    """Return the newest version of a pack.

    Raises:
        RulePackError: no such pack.
    """
    found = versions_of(key)
    if not found:
        close = difflib.get_close_matches(key.lower(), pack_ids(), n=3, cutoff=0.5)
        hint = f"Did you mean {', '.join(close)}?" if close else "swathbook pack list shows them all"
        raise RulePackError(f"no pack {key[:40]!r}", hint)
    return found[-1]


@lru_cache(maxsize=1024)
def _named(names: tuple[str, ...], state: str, day: date) -> tuple[tuple[Pack, ...], tuple[str, ...]]:
    """Return the packs of a firm that hold in a state on a day, and the names that do not come with the tool."""
    found, others = [], []
    for name in names:
        pack = pack_on(name, day)
        if pack is not None and pack.state in {"", state}:
            found.append(pack)
        elif not versions_of(name):
            others.append(name)
    return tuple(found), tuple(others)


def packs_for(
    names: Iterable[str],
    state: str,
    day: date,
    *,
    has_restricted: bool,
    has_fertilizer: bool = False,
    overlay: Callable[[str, date], Pack | None] = lambda _key, _day: None,
) -> tuple[Pack, ...]:
    """Return the packs that judge a visit, the state's before the federal ones.

    Those that the firm names and that hold at the site on that day; where none of them asks for any field, the common
    one. Work with
    restricted-use products is judged by the federal rule as well: a state's records have to reach that floor
    (40 CFR 171.303(b)(7)(vi)). Work with a fertilizer is judged by the state's fertilizer law, which binds whoever puts
    it on, named by the firm or not. The firm's own overlays come last and only ever add.

    Args:
        names: what the firm names.
        state: two letters, of the site.
        day: local day of the application.
        has_restricted: whether any product is for restricted use.
        has_fertilizer: whether any product holds nutrients.
        overlay: finds a firm's own pack in force on a day.
    """
    named, others = _named(tuple(names), state, day)
    chosen = found = tuple(pack for pack in named if pack.products != "fertilizer")
    # A pack whose field list nobody has read tells of signs or years only: its records are judged by the common one.
    if all(not pack.asked for pack in found) and (common := pack_on(COMMON, day)) is not None:
        chosen = (*found, common)
    if not has_restricted:
        chosen = tuple(pack for pack in chosen if pack.products != "restricted")
    elif all(pack.id != FEDERAL_FLOOR for pack in chosen) and (floor := pack_on(FEDERAL_FLOOR, day)) is not None:
        chosen = (*chosen, floor)
    if has_fertilizer and (law := pack_on(f"us-{state.lower()}{FERTILIZER}", day)) is not None:
        chosen = (*chosen, law)
    if not others:
        return chosen
    own = (overlay(name, day) for name in others)
    return (
        *chosen,
        *(
            pack
            for pack in own
            if pack is not None and pack.state in {"", state} and (has_fertilizer or pack.products != "fertilizer")
        ),
    )
