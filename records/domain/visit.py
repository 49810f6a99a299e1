"""One stop, resolved: names looked up, texts read, the third of rate, area and amount worked out."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC
from enum import StrEnum
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from datetime import date, datetime

    from records.domain.calibration import Output
    from records.domain.people import Business, Person
    from records.domain.place import Customer, Equipment, Site, Zone
    from records.domain.product import Product
    from records.domain.quantities import Quantity, Rate


def utc(moment: datetime | None) -> datetime | None:
    """Return an instant in UTC, as instants are compared.

    Two times of one zone are compared by the clock on the wall, which goes back an hour in autumn.
    """
    return None if moment is None else moment.astimezone(UTC)


class AreaSource(StrEnum):
    """How the treated area is known."""

    ENTERED = "entered"
    DERIVED = "derived"  # from the amount and the rate
    ESTIMATED = "estimated"  # from the spray put out and the calibrated output
    DESCRIBED = "described"  # a practical description only


@dataclass(frozen=True, slots=True)
class StationReading:
    """What a station reported, kept beside what was measured at the site."""

    wind_speed: Quantity | None
    wind_from: str | None
    wind_gust: Quantity | None
    temperature: Quantity | None
    humidity: str | None
    measured_at: datetime


@dataclass(frozen=True, slots=True)
class Weather:
    """What was measured, and what was not, with the reason; which of it a station stands in for."""

    wind_speed: Quantity | None = None
    wind_from: str | None = None
    temperature: Quantity | None = None
    humidity: str | None = None
    measured_at: datetime | None = None
    source: str | None = None
    not_measured: tuple[tuple[str, str], ...] = ()
    wind_gust: Quantity | None = None
    metar: str | None = None  # as pasted
    station: str | None = None
    distance: Quantity | None = None  # of the station from the site
    filled: tuple[str, ...] = ()  # parts that are the station's, where the rest was measured at the site
    beside: StationReading | None = None

    def is_of_station(self, part: str) -> bool:
        """Tell whether a part of the weather is a station's and not of the site."""
        return part in self.filled or (self.source or "").casefold().startswith("station")


class Evidence(NamedTuple):
    """One written statement of how much went on: its value and the lowest that reads so, per base unit."""

    value: Fraction
    low: Fraction
    at: str  # which part of the entry says it
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """One product of a treatment; the application of the record."""

    at: str
    product: Product
    rate: Rate | None  # as typed
    amount: Quantity | None  # typed or worked out; undiluted product
    is_amount_typed: bool
    targets: tuple[str, ...]
    lot: str = ""
    supplier: str = ""
    mix: str = ""
    per_area: tuple[Evidence, ...] = ()  # base unit per sq ft
    per_spray: tuple[Evidence, ...] = ()  # base unit per fl oz of finished spray


@dataclass(frozen=True)
class Treatment:
    """One method over one or more zones against named targets."""

    at: str
    zones: tuple[Zone, ...]
    method: str
    area: Quantity | None
    area_source: AreaSource | None
    extent: str
    targets: tuple[str, ...]
    equipment: Equipment | None
    spray: Quantity | None
    lines: tuple[Line, ...]
    purpose: str = ""
    dilution: str = ""  # as written: "undiluted", "1:64" ...
    diluent: str = ""  # where it is not water
    calibration: Output | None = None  # that the area was estimated by
    water_distance: Quantity | None = None  # from the nearest water, of what was fertilized
    deflector: bool | None = None  # drop spreader, deflector or targeted liquid; None: not said
    soil_test: date | None = None  # that shows a need of phosphorus
    turf_stage: str = ""  # "new" or "repair", where it is not established
    ground: str = ""  # "open", "frozen", "snow" or "saturated"
    plot: str = ""  # "TRIAL/PLOT" where it was put on a plot of a trial

    @property
    def is_spot(self) -> bool:
        """Tell whether only spots were treated, not the whole ground."""
        return self.method.startswith("spot")

    @cached_property
    def zone_area(self) -> Fraction | None:
        """Return the measured area of all its zones in sq ft; None while one of them is not measured."""
        areas = [zone.area.base for zone in self.zones if zone.area is not None]
        return sum(areas, Fraction(0)) if self.zones and len(areas) == len(self.zones) else None

    def share(self, zone: Zone) -> Fraction | None:
        """Return the part (0 to 1) of the treatment that falls to a zone, by measured area; None when unknown."""
        if len(self.zones) == 1:
            return Fraction(1)
        total = self.zone_area
        if not total or zone.area is None:
            return None
        return zone.area.base / total

    def treated(self, zone: Zone) -> Fraction | None:
        """Return the treated sq ft that fall to a zone; None when unknown."""
        if self.area is None or len(self.zones) == 1:
            return None if self.area is None else self.area.base
        share = self.share(zone)
        return None if share is None else self.area.base * share


@dataclass(frozen=True, slots=True)
class Visit:
    """One stop: site, people, start, end, weather, treatments."""

    ref: str | None
    business: Business
    site: Site | None
    customer: Customer | None
    timezone: str
    applicator: Person | None
    supervisor: Person | None
    started: datetime | None  # aware, in the site's zone
    finished: datetime | None
    weather: Weather
    treatments: tuple[Treatment, ...]
    confirmed: frozenset[str] = frozenset()
    remarks: str = ""
    follow_up: date | None = None
    sign_removal: datetime | None = None  # when the lawn sign may come down
    meter: str = ""  # as read on arrival
    incident: str = ""  # "none", or what happened
    permit: str = ""
    authorized_by: str = ""
    mixing_place: str = ""
    versions: dict[str, int] = field(default_factory=dict)  # catalogue versions judged by: "site" -> 3

    @property
    def day(self) -> date | None:
        """Return the local day of the start (of the end while no start is known)."""
        moment = self.started or self.finished
        return None if moment is None else moment.date()

    @property
    def has_pesticide(self) -> bool:
        """Tell whether any product is one in the eyes of the law."""
        return any(line.product.is_pesticide for treatment in self.treatments for line in treatment.lines)
