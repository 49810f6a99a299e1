"""What a guided close-out may offer: from the site, the person's last stop of the day, and the mix; never silently.

Wind, a new lot, a spot area and a product have no default: they are asked. Weather of an earlier stop is offered with
its age, and no longer than an hour.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.numerals import QuantityError
from records.domain.quantities import Form, Per, Quantity, Rate, format_number, parse_amount, parse_rate, parse_volume
from records.errors import InputError
from records.rules.asking import needed_fields
from records.rules.people_checks import is_certified_on, licence_on
from records.services.calibrating import Outputs
from records.services.closing.reading import read_visit
from records.services.daily.planned import Planned, planned_stops
from records.services.daily.worked import worked
from records.services.directory import Directory
from records.services.follow_up import ratings, treatments_of
from records.services.ports import Criteria
from records.services.rulebook import Rulebook
from records.services.summary_words import fixed
from records.services.wanted import Asker, asker_of, weather_wanted
from records.services.weather_words import filled, is_of_station
from records.units import Kind

if TYPE_CHECKING:
    from fractions import Fraction

    from records.clock import Clock
    from records.domain.calibration import Output
    from records.domain.mixing import Mix
    from records.domain.people import Business, Person
    from records.domain.place import Equipment, Site, Zone
    from records.domain.product import PrintedRate, Product
    from records.domain.visit import Visit
    from records.rules.pack import Pack
    from records.services.ports import Json, OpenBook, StoredRevision

FRESH = timedelta(minutes=60)  # common practice: weather older than an hour is measured again


@dataclass(frozen=True, slots=True)
class Carried:
    """Weather of an earlier stop, with its age."""

    serial: str
    weather: Json  # in the form of an entry document
    minutes: int
    words: str


class Suggestions:
    """Everything one guided close-out needs to know of the book; read once, then the book is let go."""

    def __init__(self, book: OpenBook, clock: Clock) -> None:
        """Read the catalogue's names.

        Raises:
            InputError: the book has no firm yet.
        """
        self._book, self._clock = book, clock
        with book.read() as work:
            directory = Directory(work.catalogue)
            found = directory.business()
            if found is None:
                raise InputError("the book has no firm yet", "Load one first: swathbook load FILE")
            self.business: Business = found[0]
            self.sites = [s[0] for key in directory.ids("site") if (s := directory.site(key))]
            self.people = [p[0] for key in directory.ids("person") if (p := directory.person(key))]
            self.equipment = [e[0] for key in directory.ids("equipment") if (e := directory.equipment(key))]
            self._outputs = Outputs(work)
            self._outputs.every()  # read now, while the book is open
            self.products = directory.products()
            self._rulebook = Rulebook(work.catalogue)
            for name in self.business.packs:
                self._rulebook.overlays(name)  # read now, while the book is open
            mixes = [m[0] for key in directory.ids("mix") if (m := directory.mix(key))]
            customers = [c[0] for key in directory.ids("customer") if (c := directory.customer(key))]
        self.mixes: list[Mix] = sorted(mixes, key=lambda mix: mix.made_at, reverse=True)
        self.customers = {customer.id: customer.name for customer in customers}

    def site(self, key: object) -> Site | None:
        """Return a site by id."""
        return next((site for site in self.sites if site.id == key), None)

    def person(self, key: object) -> Person | None:
        """Return a person by id."""
        return next((person for person in self.people if person.id == key), None)

    def product(self, key: object) -> Product | None:
        """Return a product by id."""
        return next((product for product in self.products if product.id == key), None)

    def find_equipment(self, text: str) -> Equipment | None:
        """Return a piece of equipment by id."""
        return next((one for one in self.equipment if one.id == text), None)

    def output_of(self, machine: Equipment | None, document: Json) -> Output | None:
        """Return what some equipment puts out in the hands of who does this visit, on its day; None where unknown."""
        site = self.site(document.get("site"))
        if machine is None or site is None:
            return None
        started, person = str(document.get("started") or ""), document.get("applicator")
        try:
            day = datetime.fromisoformat(started).date()
        except ValueError:
            day = self.now(site).date()
        return self._outputs.on(machine, day, person if isinstance(person, str) else "")

    def now(self, site: Site) -> datetime:
        """Return the present moment at a site."""
        return self._clock.now().astimezone(ZoneInfo(site.timezone or self.business.timezone))

    def asked_by_rules(self, site: Site | None) -> dict[str, str]:
        """Return the fields that packs of a site's state ask for today, under whatever condition, each with its id."""
        if site is None:
            return {}
        packs = self._rulebook.for_work(self.business, site.state, self.now(site).date(), has_restricted=False)
        return {name: pack.id for pack in reversed(packs) for asked in pack.asked for name in asked.fields}

    def needed_by_rules(self, site: Site | None) -> dict[str, str]:
        """Return the fields that a pack of a site's state cannot do without today, with its id."""
        if site is None:
            return {}
        packs = self._rulebook.for_work(self.business, site.state, self.now(site).date(), has_restricted=False)
        return needed_fields(packs)

    def asker_of(self, document: Json, answered: Json, instead: Json | None = None) -> Asker | None:
        """Return who asks for what one more answer would say, where nothing else in the entry says it already.

        Args:
            document: the entry as far as it is typed.
            answered: the same with the answer.
            instead: the same with another answer, which is asked for later and may do in its place.
        """
        return asker_of(
            self._so_far(document), self._so_far(answered), None if instead is None else self._so_far(instead)
        )

    def weather_wanted(self, document: Json) -> dict[str, str]:
        """Return the parts of the weather that rules and the labels chosen so far ask for, each with who asks."""
        return weather_wanted(*self._so_far(document))

    def _so_far(self, document: Json) -> tuple[Visit, tuple[Pack, ...]]:
        """Return an entry as far as it is typed, and the packs that judge it."""
        with self._book.read() as work:
            directory = Directory(work.catalogue)
            directory.outputs = self._outputs
            visit = read_visit(document, directory)[0]
        if visit.site is None:
            return visit, ()
        day = visit.day or self.now(visit.site).date()
        products = [line.product for treatment in visit.treatments for line in treatment.lines]
        return visit, self._rulebook.for_work(
            self.business,
            visit.site.state,
            day,
            has_restricted=any(product.restricted_use for product in products),
            has_fertilizer=any(product.analysis is not None for product in products),
        )

    def uses_regulated(self, document: Json, site: Site | None) -> bool:
        """Tell whether an entry names a product that the site's state regulates beyond its label."""
        used = {
            line.get("product")
            for treatment in document.get("treatments", [])
            for line in treatment.get("products") or []
        }
        return site is not None and any(site.state in p.regulated for p in self.products if p.id in used)

    def is_supervised(self, person: Person, site: Site | None) -> bool:
        """Tell whether the licence that a person holds at a site today lets nobody work alone."""
        if site is None:
            return False
        day = self.now(site).date()
        return licence_on(person, day, site.state) is not None and not is_certified_on(person, day, site.state)

    def last_stop(self, person: Person, site: Site) -> StoredRevision | None:
        """Return the person's last sealed stop of the day, anywhere."""
        with self._book.read() as work:
            return work.records.last_visit(person.id, self.now(site).date())

    def last_here(self, site: Site) -> StoredRevision | None:
        """Return the last sealed visit at a site."""
        with self._book.read() as work:
            found = work.records.search(Criteria(site=site.id, limit=5))
        return next((r for r in found if (r.body["site"] or {}).get("id") == site.id and r.body["date"]), None)

    def worked(self, record: StoredRevision) -> str:
        """Return how well the targets of a visit were controlled, by their newest ratings, or that nobody rated it."""
        with self._book.read() as work:
            site = (record.body["site"] or {}).get("id")
            rated = [one for one in ratings(work, site=site) if one.rating.record == record.serial]
        return worked(list(treatments_of(record)), rated)

    def next_stop(self) -> Planned | None:
        """Return the first stop of today's list that is neither made nor put off."""
        today = self._clock.now().astimezone(ZoneInfo(self.business.timezone)).date()
        with self._book.read() as work:
            planned = planned_stops(work, today)
            made = {stop.site for stop in planned if work.records.on_site(stop.site, today)}
        return next((one for one in planned if one.site not in made and not one.is_put_off), None)

    def planned_weeds(self, site: Site | None) -> list[str]:
        """Return the weeds that today's list names for a site: those of its words that a label has as a target."""
        if site is None:
            return []
        today = self._clock.now().astimezone(ZoneInfo(self.business.timezone)).date()
        with self._book.read() as work:
            planned = [stop for stop in planned_stops(work, today) if stop.site == site.id and not stop.is_put_off]
        known = {
            target.casefold() for one in self.products if one.label for use in one.label.uses for target in use.targets
        }
        words = [part.strip() for stop in planned for part in re.split(r",|;| and ", stop.why)]
        return [word for word in dict.fromkeys(words) if word.casefold() in known]

    def left_of(self, mix: Mix) -> Fraction:
        """Return how much spray of a load no sealed visit has put out, in its own unit; below zero when too much went.

        A load that was made up again under its id counts from when it was made last.
        """
        zone = ZoneInfo(self.business.timezone)
        made = datetime.fromisoformat(mix.made_at)
        made = made if made.tzinfo else made.replace(tzinfo=zone)
        with self._book.read() as work:
            found = work.records.search(Criteria(since=made.date()))
        left = mix.water.value
        for record in found:
            started = (record.body["started"] or {}).get("local")
            is_void = (record.body.get("change") or {}).get("action") == "voided"
            if is_void or not started or datetime.fromisoformat(started) < made:
                continue
            for treatment in record.body["treatments"]:
                if treatment["spray"] and any(line.get("mix") == mix.id for line in treatment["applications"]):
                    left -= parse_volume(treatment["spray"]).to(mix.water.unit)
        return left

    def carried(self, stop: StoredRevision | None, site: Site, started: datetime | None = None) -> Carried | None:
        """Return the weather of an earlier stop while it is younger than an hour; the reading keeps its own time.

        Args:
            stop: that it was measured at.
            site: where it would be used.
            started: when this visit began; None: now.
        """
        if stop is None or not stop.body["weather"]:
            return None
        weather = stop.body["weather"]
        moment = weather["measured_at"] or stop.body["started"]
        if not moment or not weather["wind_speed"] or not weather["wind_from"] or not weather["temperature"]:
            return None
        age = (started or self.now(site)) - datetime.fromisoformat(moment["local"])
        if not timedelta(0) <= age <= FRESH:
            return None
        minutes = int(age.total_seconds() // 60)
        kept = {name: weather[name] for name in ("wind_speed", "wind_from", "temperature")}
        # A station's value stays one wherever it is carried to.
        source = "station, carried" if is_of_station(weather) or filled(weather) else "carried"
        if source != "carried":
            kept |= {name: weather[name] for name in ("station", "distance") if weather.get(name)}
        return Carried(
            serial=stop.serial,
            weather={**kept, "measured_at": moment["local"], "source": f"{source} from {stop.serial}"},
            minutes=minutes,
            words=f"{weather['wind_speed']} from {weather['wind_from']}, {weather['temperature']}, "
            f"{minutes} minutes old",
        )


def last_treatment(record: StoredRevision | None) -> Json:
    """Return the last treatment of a record, an empty one where there is none."""
    treatments = [] if record is None else record.body["treatments"]
    return treatments[-1] if treatments else {}


def whole_area(zones: list[Zone]) -> str | None:
    """Return the measured area of zones together, for a broadcast treatment; None while one is not measured."""
    if not zones or any(zone.area is None for zone in zones):
        return None
    return f"{format_number(sum((z.area.base for z in zones if z.area), start=0 * zones[0].area.base), 1)} sq ft"  # type: ignore[union-attr]  # all measured: looked at one line above


def usual_spray(area: Quantity, output: Output | None) -> str | None:
    """Return the spray that the calibrated output puts on an area; None without a calibration."""
    if output is None or output.rate.kind is not Kind.VOLUME:
        return None
    return f"{format_number(output.rate.amount(area).to('gal'), 2)} gal"


def spot_estimate(spray: Quantity, output: Output | None) -> str:
    """Say what area a record will have for spots that were not measured, and by which calibration."""
    if output is None or output.rate.kind is not Kind.VOLUME or not output.rate.base or not spray.value:
        return "no calibration of it is known, so no area follows from the spray"
    area = format_number(spray.base / output.rate.base, 1)
    stale = "; it is STALE, calibrate it again" if output.is_stale else ""
    return f"estimated area: {area} sq ft by {output.rate}, {output.words}{stale}"


def both_areas(area: Quantity) -> str:
    """Return an area in square feet and in acres, so that one read as the other is seen."""
    acres = area.to("acre")
    return f"{format_number(area.to('sq ft'), 1)} sq ft = {fixed(acres.numerator, acres.denominator, 3)} acre"


def read_use(text: str, form: Form) -> tuple[str, Rate | Quantity]:
    """Read what an applicator knows of a product's use: its rate, or the amount that went out.

    Args:
        text: as typed; what is per something is a rate.
        form: of the product.

    Returns:
        `rate` or `amount`, and its value.

    Raises:
        QuantityError: neither.
    """
    try:
        return "rate", parse_rate(text, form)
    except QuantityError:
        if any(word in text.lower() for word in ("/", "%", "per")):
            raise
    return "amount", parse_amount(text, form)


def other_side(use: Rate | Quantity, area: Quantity | None, spray: Quantity | None) -> str:
    """Return the amount that a rate makes, or the rate that an amount makes; "" where that does not follow."""
    if isinstance(use, Quantity):
        if area is None or not area.value:
            return ""
        return f"{format_number(use.value / (area.base / 1000), 4)} {use.unit}/1000 sq ft over {area}"
    over = area if use.per is Per.AREA else spray
    if over is None or not over.value:
        return ""
    made = use.amount(over)
    return f"{format_number(made.value, 4)} {made.unit} {'over' if use.per is Per.AREA else 'in'} {over}"


def label_rates(product: Product, kinds: set[str], method: str) -> list[str]:
    """Return the label's printed rates for a kind of ground and a method, as a hint beside the question."""
    if product.label is None:
        return []
    return list(
        dict.fromkeys(
            _printed(printed)
            for use in product.label.uses
            if use.site in kinds
            and (not use.method or any(m.split()[0] == method.split(maxsplit=1)[0] for m in use.method if method))
            for printed in use.rates
        )
    )


def _printed(printed: PrintedRate) -> str:
    """Return a printed basis as a label has it: `0.8 to 1.1 fl oz/1000 sq ft`."""
    low, high = printed.low, printed.high
    if low is None or high is None:
        return f"up to {high}" if high is not None else f"at least {low}"
    if low.unit_text == high.unit_text:
        return f"{str(low).removesuffix(low.unit_text).strip()} to {high}"
    return f"{low} to {high}"
