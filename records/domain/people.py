"""The firm and the people who apply or supervise."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date


class LicenceKind(StrEnum):
    """What a licence lets its holder do."""

    CERTIFIED = "certified"  # may apply anything, may supervise, may sign for a deviation
    TECHNICIAN = "technician"  # under a named certified person
    TRAINEE = "trainee"  # under a named certified person


@dataclass(frozen=True, slots=True)
class Licence:
    """A numbered licence with its first and last valid day (both count)."""

    number: str
    state: str
    kind: LicenceKind
    categories: tuple[str, ...]
    first_day: date
    last_day: date

    def is_valid_on(self, day: date) -> bool:
        """Tell whether the licence is in force on a day; its last day still counts."""
        return self.first_day <= day <= self.last_day


@dataclass(frozen=True, slots=True)
class Person:
    """Someone who applies or supervises."""

    id: str
    name: str
    licences: tuple[Licence, ...] = ()
    phone: str = ""

    def __hash__(self) -> int:
        """Return a hash of what a person is known by; the rest is compared where two have the same."""
        return hash((self.id, self.name))


@dataclass(frozen=True, slots=True)
class Business:
    """The firm that owns the book."""

    name: str
    address: str
    phone: str
    licence: str
    state: str
    timezone: str
    packs: tuple[str, ...] = ()
    email: str = ""
    insurer: str = ""  # who insures the firm's applications
    insured: str = ""  # for how much, as written: "1,000,000 USD"
