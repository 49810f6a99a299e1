"""When to look again, by mode of action: dated knowledge of the trade with its status, from `looks.toml`."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from records.domain.follow_up import Look, Told

if TYPE_CHECKING:
    from collections.abc import Iterable

AFTER_LAST = 28  # days after the last look in which a rating still tells what the treatment did
_FILE = Path(__file__).with_name("looks.toml")


@cache
def looks() -> dict[str, Look]:
    """Return every line of the table by its group; "" is what holds for any other."""
    with _FILE.open("rb") as file:
        lines = tomllib.load(file)["looks"]
    return {line["group"]: _look(line) for line in lines}


def look_of(groups: Iterable[str]) -> Look:
    """Return when to look at a treatment with these groups: the slowest of them says.

    Args:
        groups: mode-of-action numbers of all its actives; none, or unknown ones, get the line for any other.
    """
    known = looks()
    found = {known.get(group.strip(), known[""]) for group in groups} or {known[""]}
    return max(found, key=lambda one: (one.days, one.group))


def last_day(groups: Iterable[str]) -> int:
    """Return until how many days after treatment a rating tells what these groups did."""
    return look_of(groups).days[-1] + AFTER_LAST


def _look(line: dict[str, Any]) -> Look:
    return Look(
        group=line["group"],
        name=line["name"],
        days=tuple(line["days"]),
        when=Told(**line["when"]),
        first=Told(**line["first"]),
        dead=Told(**line["dead"]),
        is_early=line.get("is_early", False),
    )
