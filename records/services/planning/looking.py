"""Shows each stop what its visit would meet: the closing reader and the checks, before anything is mixed.

Nothing is written. What only the visit can know (weather, times, lots) is not called missing.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding
from records.domain.place import Zone
from records.domain.quantities import Per, format_number, parse_temperature
from records.domain.visit import AreaSource, Treatment, Visit, Weather
from records.rules.context import Context
from records.rules.engine import CHECKS
from records.rules.ground import grounds
from records.rules.headroom import room_of
from records.rules.label_checks import check_label, check_targets, highs_on, limits_on
from records.rules.label_match import Match, match
from records.rules.required import check_required, check_targets_told
from records.rules.weather_checks import check_weather, check_weather_age
from records.services.closing.amounts import TypedLine, work_out
from records.services.closing.entry import Reader
from records.services.closing.past import context_of
from records.services.closing.reading import read_visit

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from records.domain.people import Business
    from records.domain.product import Limits, Product
    from records.domain.quantities import Quantity
    from records.domain.visit import Line
    from records.rules.headroom import Room
    from records.services.closing.past import Memory
    from records.services.planning.parts import Place, Settled
    from records.services.planning.reading import Asked
    from records.services.ports import Json, UnitOfWork

# What only the visit can know, and what is told once of the mix or of the people
_OF_THE_VISIT = frozenset({Code.MISSING, Code.WEATHER_AGED, Code.FUTURE_DATE, Code.CLOCK_ORDER, Code.LATE})
_OF_THE_MIX = frozenset({Code.PARTNER_NOT_ALLOWED, Code.ADJUVANT_MISSING, Code.CALIBRATION_STALE})
_OF_PEOPLE = frozenset({Code.LICENCE_MISSING, Code.LICENCE_LAPSED, Code.LICENCE_CATEGORY, Code.SUPERVISION})
_NOON = time(12)
# Every check of the closing but those that only say what a visit still has to be told
_NOW = tuple(check for check in CHECKS if check not in {check_required, check_targets_told, check_weather_age})


@dataclass(slots=True)
class Seen:
    """What was found at one stop of a load."""

    findings: list[Finding] = field(default_factory=list)
    rooms: list[Room] = field(default_factory=list)


@dataclass(slots=True)
class Bounds:
    """The most of a product that may go into a mix: per sq ft and per fl oz of spray; None where none is known."""

    area: Fraction | None = None
    spray: Fraction | None = None

    def lower(self, area: Fraction | None = None, spray: Fraction | None = None) -> None:
        """Take other limits in, where they are lower."""
        if area is not None:
            self.area = area if self.area is None else min(self.area, area)
        if spray is not None:
            self.spray = spray if self.spray is None else min(self.spray, spray)


@dataclass(slots=True)
class Looked:
    """All that looking at the stops told."""

    seen: dict[tuple[int, int], Seen]  # by load and stop
    people: list[Finding] = field(default_factory=list)
    bounds: dict[tuple[int, str], Bounds] = field(default_factory=dict)  # by load and product
    bound: dict[int, list[tuple[Product, Limits]]] = field(default_factory=dict)  # by load


Stops = list[list[tuple["Place", "Quantity | None", "Quantity | None"]]]  # by load: place, area and spray


def look(
    work: UnitOfWork, memory: Memory, business: Business, day: date, asked: Asked, loads: list[Settled], stops: Stops
) -> Looked:
    """Evaluate every stop as the visit it would be; the stops of one site are one visit.

    Args:
        work: a unit of work.
        memory: of this transaction.
        business: the firm.
        day: of the work.
        asked: who works, at which temperature.
        loads: settled.
        stops: of each load.
    """
    looked = Looked({(n, m): Seen() for n, mine in enumerate(stops) for m in range(len(mine))})
    visits: dict[str, list[tuple[int, int]]] = {}
    for n, mine in enumerate(stops):
        for m, stop in enumerate(mine):
            site = stop[0].site
            if site is None:
                _look_at_area(business, day, asked, loads[n], stop, looked, (n, m))
            else:
                visits.setdefault(site.id, []).append((n, m))
    for key_of_site, keys in visits.items():
        parts = [_treatment(loads[n], *stops[n][m]) for n, m in keys]
        document = _document(asked, day, key_of_site, parts)
        visit, reader = read_visit(document, memory.directory)
        now = (visit.started or datetime.combine(day, _NOON, UTC)).astimezone(UTC)
        context = context_of(work, memory, visit, now)
        found = [*reader.findings, *(finding for check in _NOW for finding in check(visit, context))]
        _share(looked, visit, keys, loads, found)
        for ground in grounds(visit, context, visit.day or day):
            for treatment, line in ground.entry:
                key = keys[_index(treatment.at)]
                room = room_of(ground, treatment, line, memory.directory.product)
                if room is not None:
                    looked.seen[key].rooms.append(room)
                _bind(looked, key[0], treatment, line, ground.zone, None if room is None else room.left)
    return looked


def _index(at: str) -> int:
    """Return which treatment a place in an entry is about."""
    return int(at.partition("treatments[")[2].partition("]")[0] or 0)


def _document(asked: Asked, day: date, site: str, treatments: list[Json]) -> Json:
    document: Json = {"site": site, "started": f"{day}T{_NOON:%H:%M}", "treatments": treatments}
    document |= {"applicator": asked.by} if asked.by else {}
    document |= {"supervisor": asked.supervisor} if asked.supervisor else {}
    return document | ({"weather": {"temperature": asked.temperature}} if asked.temperature else {})


def _treatment(load: Settled, place: Place, area: Quantity | None, spray: Quantity | None) -> Json:
    made: Json = {
        "zones": [zone.id for zone in place.zones],
        "method": load.asked.method,
        "targets": list(load.asked.targets),
        "equipment": load.equipment.id,
        "products": [{"product": part.product.id, "rate": str(part.rate), "lot": part.lot} for part in load.parts],
    }
    if area is not None:
        made["area"] = f"{format_number(area.base)} sq ft"
    elif load.is_spot:
        made["extent"] = "spots, found at the visit"
    if spray is not None:
        made["spray"] = f"{format_number(spray.to('gal'))} gal"
    return made


def _share(
    looked: Looked, visit: Visit, keys: list[tuple[int, int]], loads: list[Settled], found: list[Finding]
) -> None:
    """Give each finding to the stop it is about; what is about people is told once."""
    for finding in found:
        if finding.code in _OF_PEOPLE:
            if finding not in looked.people:
                looked.people.append(finding)
            continue
        if _is_hidden(finding, visit):
            continue
        if finding.at.startswith("treatments["):
            mine = [keys[_index(finding.at)]]
        else:
            sources = [key for key in keys if _speaks(finding, loads[key[0]])]
            mine = sources or keys
        for key in mine:
            looked.seen[key].findings.append(finding)


def _is_hidden(finding: Finding, visit: Visit) -> bool:
    if finding.code in _OF_THE_VISIT or finding.code in _OF_THE_MIX:
        return True
    if finding.code is not Code.NOT_CHECKABLE:
        return False
    is_of_targets = finding.at.endswith(".targets")  # that nothing was named to be killed is told of the load
    is_of_spots = "is not known" in finding.message and any(t.extent for t in visit.treatments)
    return is_of_targets or is_of_spots


def _speaks(finding: Finding, load: Settled) -> bool:
    """Tell whether a finding about the whole visit comes from a label of the load."""
    return any(part.product.name in finding.source for part in load.parts)


def _look_at_area(
    business: Business,
    day: date,
    asked: Asked,
    load: Settled,
    stop: tuple[Place, Quantity | None, Quantity | None],
    looked: Looked,
    key: tuple[int, int],
) -> None:
    """Check a plain area, or spray for spots nobody has named, against the labels: no past, no rules, no grass."""
    _, area, spray = stop
    zone = Zone("area", load.asked.ground, area)
    treatment = Treatment(
        at="treatments[0]",
        zones=(zone,),
        method=load.asked.method,
        area=area,
        area_source=None if area is None else AreaSource.ENTERED,
        extent="" if area is not None else "spots, found at the visit",
        targets=load.asked.targets,
        equipment=load.equipment,
        spray=spray,
        lines=(),
    )
    reader = Reader()
    typed = [
        TypedLine(f"treatments[0].products[{n}]", part.product, str(part.rate), None, part.lot, load.asked.targets)
        for n, part in enumerate(load.parts)
    ]
    treatment = work_out(treatment, typed, reader, lambda _: None)
    weather = _weather(asked)
    visit = Visit(None, business, None, None, business.timezone, None, None, None, None, weather, (treatment,))
    context = Context(datetime.combine(day, _NOON, UTC))
    checks = (check_label, check_targets, check_weather)
    found = [*reader.findings, *(finding for check in checks for finding in check(visit, context))]
    seen = looked.seen[key]
    seen.findings += [one for one in found if not _is_hidden(one, visit) and not _is_of_grass(one)]
    for line in treatment.lines:
        _bind(looked, key[0], treatment, line, zone, None)


def _is_of_grass(finding: Finding) -> bool:
    """Tell whether a finding says that the grass is not known: of a plain area it never is."""
    return finding.code is Code.NOT_CHECKABLE and ".zones[" in finding.at


def _weather(asked: Asked) -> Weather:
    return Weather(temperature=parse_temperature(asked.temperature)) if asked.temperature else Weather()


def _bind(looked: Looked, load: int, treatment: Treatment, line: Line, zone: Zone, left: Fraction | None) -> None:
    """Keep the most that the label allows of a product in this load, and the limits of its use."""
    bounds = looked.bounds.setdefault((load, line.product.id), Bounds())
    highs = highs_on(line, treatment, zone)
    bounds.lower(area=max(high.base for high in highs) if highs else None)
    bounds.lower(area=left, spray=_spray_bound(line, treatment, zone))
    bound = looked.bound.setdefault(load, [])
    for limits in limits_on(line, replace(treatment, zones=(zone,))):
        if (line.product, limits) not in bound:
            bound.append((line.product, limits))


def _spray_bound(line: Line, treatment: Treatment, zone: Zone) -> Fraction | None:
    """Return the most per fl oz of spray that the label prints, where rates per spray count."""
    if line.product.label is None:
        return None
    matched = match(line.product.label, zone, treatment)
    if matched.verdict is not Match.LISTED:
        return None
    by_use = [[one for one in use.rates if one.per is Per.SPRAY] for use in matched.uses]
    per_area = any(one.per is Per.AREA for use in matched.uses for one in use.rates)
    typed = line.rate is not None and line.rate.per is Per.SPRAY
    if not all(by_use) or not (treatment.is_spot or typed or not per_area):
        return None
    highs = [one.high for rates in by_use for one in rates]
    return max((high.base for high in highs if high is not None), default=None) if None not in highs else None
