"""The shape of a rule case: an entry that a code has to be told for, and a near one that it must not be told for."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Case:
    """One line of a table.

    `far` raises the code with the severity, `near` does not raise it at all; both are changes to the lawful visit of
    `tests.kit`. `loads` are documents loaded before, `past` visits sealed before, oldest entry first, and
    `bought` what was bought in the year before: the arguments of a purchase.
    """

    code: str
    why: str  # one line, with the source: the label line, a law, common practice
    far: Json
    near: Json = field(default_factory=dict)
    severity: str = "stop"
    at: str = ""  # place of the finding, where it is worth holding fast
    loads: Json = field(default_factory=dict)
    past: tuple[Json, ...] = ()
    bought: tuple[Json, ...] = ()
    says: str = ""  # words that the message has to hold

    @property
    def name(self) -> str:
        """Return the name of the test."""
        return f"{self.code}: {self.why}"[:110]


def twice(line: Json, count: int = 2) -> tuple[Json, ...]:
    """Return the same past visit on several days a month apart, from March on."""
    return tuple(line | {"on": f"2026-0{3 + index}-01"} for index in range(count))
