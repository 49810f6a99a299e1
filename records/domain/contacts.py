"""Tries to tell someone of a coming treatment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date, datetime

HOWS = ("phone", "letter", "door", "email", "text")
RESULTS = ("reached", "message", "no-answer", "left-note")
POSTPONED = "postponed"  # result of the entry that says a visit was put off; nobody's contact


def counts_as_told(how: str, result: str) -> bool:
    """Tell whether a try counts as having told someone: reached, a note left, or a letter sent."""
    return result in {"reached", "left-note"} or (how == "letter" and result != "no-answer")


@dataclass(frozen=True, slots=True)
class Contact:
    """One try to tell someone of the work of one day."""

    notify: str  # id in the site's list
    day: date  # of the work that was told of
    at: datetime  # aware
    told: bool  # whether it counts
    how: str = ""
    result: str = ""
    note: str = ""
    undone: bool = False  # the work of that day was put off after it: it has to be told anew
