"""What was done at a site last, by whom, and whether it worked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from records.domain.quantities import format_number
from records.services.directory import Directory
from records.services.follow_up import ratings, treatments_of
from records.services.follow_up.telling import control_words, percent
from records.services.occasions import firm_of, site_of, zone_at
from records.services.ports import Packet

if TYPE_CHECKING:
    from records.clock import Clock
    from records.services.follow_up import Rated, Treated
    from records.services.ports import Json, OpenBook, StoredRevision


@dataclass(frozen=True, slots=True)
class Past:
    """One visit of the past."""

    serial: str
    day: date
    days_before: int | None  # the visit that came after it; None: it is the newest
    applicator: str
    treatments: tuple[Treated, ...]
    weather: str
    rated: tuple[Rated, ...]  # newest of each target
    remarks: str
    is_deviation: bool


@dataclass(frozen=True, slots=True)
class Last:
    """The newest visits of a site."""

    site: str
    address: str
    notes: str
    today: date
    visits: tuple[Past, ...]  # newest first
    earlier: int  # visits that are not told


def last_visits(book: OpenBook, clock: Clock, site: str, count: int = 3) -> Last:
    """Return the newest visits of a site.

    Args:
        book: to look in.
        clock: for today.
        site: id, or a part of the address that fits one site.
        count: visits at most.

    Raises:
        NotFoundError: no such site.
    """
    with book.read() as work:
        directory = Directory(work.catalogue)
        place, _ = site_of(directory, site)
        today = clock.now().astimezone(zone_at(place, firm_of(directory)[0])).date()
        orders = [match.order for match in work.records.matching(Packet(sites=frozenset({place.id})))]
        bodies = [
            one
            for one in work.records.bodies(orders)
            if one.action != "voided" and one.body["kind"] == "visit" and one.body["date"] is not None
        ]
        rated = ratings(work, site=place.id)
    bodies.reverse()
    told: list[Past] = []
    for one in bodies[:count]:
        told.append(_past(one, told[-1].day if told else None, rated))
    return Last(place.id, place.address, place.notes, today, tuple(told), max(len(bodies) - count, 0))


def _past(record: StoredRevision, later: date | None, rated: list[Rated]) -> Past:
    body, day = record.body, date.fromisoformat(record.body["date"])
    weather = body["weather"]
    wind = " from ".join(filter(None, [weather["wind_speed"], weather["wind_from"]]))
    newest = {(one.rating.treatment, one.rating.target): one for one in rated if one.rating.record == record.serial}
    return Past(
        serial=record.serial,
        day=day,
        days_before=None if later is None else (later - day).days,
        applicator=(body["applicator"] or {}).get("name") or "not recorded",
        treatments=tuple(treatments_of(record)),
        weather=", ".join(filter(None, [f"wind {wind}" if wind else "", weather["temperature"] or ""])),
        rated=tuple(newest.values()),
        remarks=body["remarks"],
        is_deviation=body["deviation"] is not None,
    )


def put_words(treated: Treated) -> str:
    """Return what one treatment put out, where and against what."""
    lines = ", ".join(
        line.name + (f" {line.amount}" if line.amount else "") + (f" at {line.rate}" if line.rate else "")
        for line in treated.used
    )
    where = ", ".join(treated.zones) or "no zone"
    targets = f"; against {', '.join(treated.targets)}" if treated.targets else ""
    extent = f" ({treated.extent})" if treated.extent else ""
    return f"{where}, {treated.method or 'no method'}{extent}: {lines}{targets}"


def rated_words(one: Rated) -> str:
    """Return a rating in words."""
    rating = one.rating
    parts = []
    if rating.control is not None:
        parts.append(f"{control_words(rating)} control")
    if rating.injury is not None:
        parts.append(f"{percent(rating.injury)} injury of the turf")
    by = f", by {rating.rater}" if rating.rater else ""
    return f"{rating.target}: {', '.join(parts) or 'looked at'} after {rating.days} days ({rating.day}{by})"


def last_document(found: Last) -> Json:
    """Return it as JSON."""
    return {
        "schema": 1,
        "site": found.site,
        "address": found.address,
        "today": found.today.isoformat(),
        "visits": [
            {
                "serial": one.serial,
                "day": one.day.isoformat(),
                "days_to_the_next": one.days_before,
                "applicator": one.applicator,
                "treatments": [put_words(each) for each in one.treatments],
                "weather": one.weather or None,
                "ratings": [
                    {
                        "event": each.rating.serial,
                        "target": each.rating.target,
                        "control": None if each.rating.control is None else format_number(each.rating.control),
                        "days": each.rating.days,
                        "by": each.rating.rater or None,
                    }
                    for each in one.rated
                ],
                "deviation": one.is_deviation,
                "remarks": one.remarks,
            }
            for one in found.visits
        ],
        "earlier": found.earlier,
    }
