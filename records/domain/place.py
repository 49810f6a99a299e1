"""Who pays, and where: customers, treated addresses and their measured parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from records.domain.area import Measured
    from records.domain.quantities import Quantity, Rate
    from records.domain.spans import Span


@dataclass(frozen=True, slots=True)
class Customer:
    """Who pays; may have several sites."""

    id: str
    name: str
    address: str = ""
    phone: str = ""
    email: str = ""
    language: str = "en"
    email_consent: date | None = None  # the day the customer agreed to get notices by e-mail, in writing


@dataclass(frozen=True, slots=True)
class ToNotify:
    """Someone who has to be told before a site is treated: on a registry, or asked for it."""

    id: str
    name: str
    why: str  # "registry", "asked" or "abutting"
    lead: Span | None  # at least so long before the start; None: before
    address: str = ""
    phone: str = ""
    email: str = ""
    first_day: date | None = None  # of the listing; None: open
    last_day: date | None = None

    def is_listed_on(self, day: date) -> bool:
        """Tell whether the listing is in force on a day; both ends count."""
        return (self.first_day is None or self.first_day <= day) and (self.last_day is None or day <= self.last_day)


@dataclass(frozen=True, slots=True)
class Zone:
    """A measured part of a site: turf with its species, an ornamental bed, hardscape ..."""

    id: str
    kind: str  # lower case, as labels list sites: "turf", "ornamental bed", "hardscape"
    area: Quantity | None  # None: not measured yet
    turf: tuple[str, ...] = ()  # species, lower case; several in a mixed lawn
    name: str = ""
    measured: Measured | None = None  # how the area is known


@dataclass(frozen=True, slots=True)
class Site:
    """A treated address."""

    id: str
    customer: str
    address: str
    city: str
    county: str
    state: str
    zip: str
    timezone: str  # "" = the firm's
    zones: tuple[Zone, ...]
    notes: str = ""
    notify: tuple[ToNotify, ...] = ()
    landmark: str = ""  # what tells on arrival that this is the place
    meter: str = ""  # number of a utility meter there, to compare with the one read

    def zone(self, zone_id: str) -> Zone | None:
        """Return the zone of that id, or None."""
        return next((zone for zone in self.zones if zone.id == zone_id), None)


@dataclass(frozen=True, slots=True)
class Equipment:
    """What is sprayed or spread with; `output` is its calibrated output of spray per area."""

    id: str
    name: str
    kind: str = ""
    output: Rate | None = None
    calibrated_on: str = ""
    tank: Quantity | None = None  # what it holds: finished spray, or granules by weight in a hopper
    nozzle: str = ""  # as it is sold, where that is always the same
