"""A big invented firm, the same every time: its catalogue and seasons of lawful visits as entry documents.

A visit is as in the demo's season: 1.0 treatments, 1.3 product lines and 1.3 zones on average; a site has five a year,
with three products in use in each round, and every crew has its part of the county.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

Json = dict[str, Any]

SEED = 4363
ZONE = "America/Chicago"
FIRST_YEAR = 2021
SEASON = (4, 10)  # first day of April; so many days between two visits at a site are kept, see `_days`
TURF = ("kentucky bluegrass", "tall fescue", "perennial ryegrass", "fine fescue")
WEEDS = (
    "dandelion",
    "white clover",
    "broadleaf plantain",
    "black medic",
    "ground ivy",
    "wild violet",
    "yellow nutsedge",
    "smooth crabgrass",
    "prostrate knotweed",
    "prostrate spurge",
    "common purslane",
    "canada thistle",
    "quackgrass",
    "nimblewill",
    "green foxtail",
    "barnyardgrass",
)
COUNTIES = ("Arden", "Bellrow", "Corvane", "Dunmere", "Eastlow", "Fallow")
COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
_BEGIN = ("Bar", "Cal", "Dor", "Fen", "Gar", "Hol", "Kes", "Lor", "Mar", "Nor", "Pel", "Ros", "Tam", "Ves", "Wim")
_END = ("bry", "dale", "fan", "gan", "hurst", "low", "mund", "net", "rick", "sel", "ton", "vane")
_ROUNDS = 5  # visits at a site in one year
_IN_ROUND = 3  # products in use at a time
_GAP = 37  # days between two of them, longer than any interval on the labels


@dataclass(frozen=True, slots=True)
class Firm:
    """What `load` takes, and what the visits need to know of it."""

    catalogue: Json
    sites: list[Json]
    products: list[Json]  # those that are sprayed or spread
    adjuvants: list[Json]
    crews: list[tuple[str, str | None]] = field(default_factory=list)  # applicator, supervisor


def _name(random: Random) -> str:
    return random.choice(_BEGIN) + random.choice(_END)


def make_firm(sites: int = 400, products: int = 20, people: int = 5, seed: int = SEED) -> Firm:
    """Return the firm.

    Args:
        sites: each with a customer of its own and one to three zones.
        products: one in ten of them an adjuvant.
        people: two in five of them certified.
        seed: another seed, another firm.
    """
    random = Random(seed)  # noqa: S311 - no secret, the same firm every time
    staff = [_person(number, is_certified=number % 5 < 2) for number in range(people)]
    bosses = [person["id"] for person in staff if person["licences"][0]["kind"] == "certified"]
    crews = [
        (person["id"], None if person["id"] in bosses else bosses[number % len(bosses)])
        for number, person in enumerate(staff)
    ]
    adjuvants = [_adjuvant(number) for number in range(max(1, products // 10))]
    sprayed = [_product(number, random) for number in range(max(1, products - len(adjuvants)))]
    places = [_site(number, number * len(COUNTIES) // sites, random) for number in range(sites)]
    catalogue = {
        "business": {
            "name": "Corvane Row Lawn Works",
            "address": "9 Foundry Row, Arden, MN 55200",
            "phone": "612-555-0199",
            "licence": "MN-B-990900",
            "state": "MN",
            "timezone": ZONE,
        },
        "people": staff,
        "customers": [_customer(number, random) for number in range(sites)],
        "sites": places,
        "products": [*sprayed, *adjuvants],
        "equipment": [
            {"id": f"rig-{n}", "name": f"Skid sprayer {n}", "kind": "tank", "output": "2 gal/1000 sq ft"}
            for n in range(4)
        ],
    }
    return Firm(catalogue, places, sprayed, adjuvants, crews)


def _person(number: int, *, is_certified: bool) -> Json:
    return {
        "id": f"p{number}",
        "name": f"{_BEGIN[number % 15]}a {_BEGIN[(number * 7 + 3) % 15]}{_END[number % 12]}",
        "licences": [
            {
                "number": f"MN-{number:05d}",
                "state": "MN",
                "kind": "certified" if is_certified else "technician",
                "categories": ["turf"],
                "from": f"{FIRST_YEAR}-01-01",
                "to": f"{FIRST_YEAR + 9}-12-31",
            }
        ],
    }


def _customer(number: int, random: Random) -> Json:
    return {
        "id": f"c{number:04d}",
        "name": f"{_name(random)} {_name(random)}",
        "address": f"{number + 1} {_name(random)} Street, Arden, MN 55200",
        "phone": f"612-555-{number % 10000:04d}",
        "language": "es" if number % 9 == 0 else "en",
    }


def _site(number: int, county: int, random: Random) -> Json:
    names = ("front", "back", "side")[: random.choice((1, 1, 1, 2, 2, 3))]
    return {
        "id": f"s{number:04d}",
        "customer": f"c{number:04d}",
        "address": f"{number + 1} {_name(random)} Street",
        "city": _name(random),
        "county": COUNTIES[county],
        "state": "MN",
        "zip": f"55{200 + county * 5 + random.randrange(5)}",
        "zones": [
            {"id": name, "kind": "turf", "turf": random.choice(TURF), "area": f"{random.randint(18, 90) * 100} sq ft"}
            for name in names
        ],
    }


def _product(number: int, random: Random) -> Json:
    """Return a herbicide: two of three liquid, the others dry; actives are shared between products."""
    is_dry = number % 3 == 2
    unit, least = ("oz wt", random.randint(8, 20)) if is_dry else ("fl oz", random.randint(40, 110))
    low, high = least, least * 3 // 2  # hundredths per 1,000 sq ft
    weeds = random.sample(WEEDS, 6)
    acre = [{"min": f"{low * 4356 // 10000 + 1} {unit}/acre", "max": f"{-(-high * 4356 // 10000)} {unit}/acre"}]
    actives = [
        {
            "name": f"{_BEGIN[(number + part * 5) % 15].lower()}{('ic acid', 'azine', 'ulfuron')[part]}",
            "content": f"{random.randint(20, 60) // (part + 1)} %" if is_dry else f"{random.randint(1, 4)} lb/gal",
            "as": "ai" if is_dry else "ae",
            "group": str((4, 2, 14, 27, 9)[(number + part) % 5]),
        }
        for part in range(1 + number % 3)
    ]
    words = {"site": "turf", "turf": list(TURF), "targets": weeds}
    return {
        "id": f"h{number:04d}",
        "name": f"{_name(random)} {number} {'DF' if is_dry else 'SL'}",
        "registration": f"99999-{number + 100}",
        "form": "dry" if is_dry else "liquid",
        "signal_word": ("CAUTION", "WARNING", "DANGER")[number % 3],
        "restricted_use": number % 7 == 3,
        "actives": actives,
        "label": {
            "revision": "2020-11",
            "keep_off": "until the spray has dried",
            "results": "Leaves twist within 2 days; judge control after 14 to 28 days.",
            "precautions": [
                "Keep children and pets off the treated area until the spray has dried.",
                "Do not mow for 1 day before or after treatment.",
                "Do not let spray drift reach vegetables, flowers or ponds.",
            ],
            "first_aid": "If in eyes: rinse slowly with water for 15 minutes. If on skin: wash with soap and water.",
            "uses": [
                {
                    **words,
                    "method": "broadcast",
                    "rates": [{"min": _per(low, unit, "1000 sq ft"), "max": _per(high, unit, "1000 sq ft")}, *acre],
                },
                {**words, "method": "spot", "rates": [{"min": _per(low, unit, "gal"), "max": _per(high, unit, "gal")}]},
            ],
            "limits": {
                "wind": "10 mph",
                "temperature": "88 degF",
                "interval": "21 days",
                "applications": 6,
                "per_year": [_per(high * 6, unit, "1000 sq ft"), f"{-(-high * 6 * 4356 // 10000)} {unit}/acre"],
                "window": ("calendar year", "12 rolling months")[number % 2],
                "active_per_year": {actives[0]["name"]: "40 lb/acre"},
            },
        },
    }


def _per(hundredths: int, unit: str, per: str) -> str:
    return f"{hundredths // 100}.{hundredths % 100:02d} {unit}/{per}"


def _adjuvant(number: int) -> Json:
    return {
        "id": f"a{number:02d}",
        "name": f"Spreader {_END[number % 12]} {number}",
        "kind": "adjuvant",
        "form": "liquid",
        "actives": [],
        "label": {
            "revision": "2020-03",
            "uses": [{"site": "turf", "rates": [{"min": "0.2 % v/v", "max": "0.5 % v/v"}]}],
        },
    }


def visits(firm: Firm, count: int, seed: int = SEED, years: int | None = None) -> Iterator[Json]:
    """Yield lawful visits in the order of their days.

    Args:
        firm: whose.
        count: how many.
        seed: another seed, other visits.
        years: seasons they are spread over; None: as many as it takes with five visits a year at a site.
    """
    random = Random(seed)  # noqa: S311 - no secret, the same visits every time
    rounds = _ROUNDS if years is None else -(-count // (len(firm.sites) * years))
    for number in range(count):
        turn, place = divmod(number, len(firm.sites))
        year, turn_of_year = divmod(turn, rounds)
        gap = min(_GAP, 200 // rounds)
        day = date(FIRST_YEAR + year, 4, 1) + timedelta(turn_of_year * gap + place * gap // len(firm.sites))
        yield _visit(firm, number, firm.sites[place], day, turn, random)


def _visit(firm: Firm, number: int, site: Json, day: date, turn: int, random: Random) -> Json:
    place = int(site["id"][1:])
    applicator, supervisor = firm.crews[place * len(firm.crews) // len(firm.sites)]
    start = datetime(day.year, day.month, day.day, 8) + timedelta(minutes=random.randrange(0, 480))  # noqa: DTZ001
    zones = site["zones"]
    count = len(firm.products)
    first = firm.products[(turn * _IN_ROUND + place % _IN_ROUND) % count]
    second = firm.products[(turn * _IN_ROUND + place % _IN_ROUND + count // 2) % count]
    if number % 5 == 4:
        treatments = [_spot(zones[0], first, random)]
    else:
        treatments = [_broadcast(firm, zones, first, number, random)]
    if number % 40 == 0 and len(zones) > 1:
        treatments = [_broadcast(firm, zones[1:], first, number, random), _spot(zones[0], second, random)]
    return {
        "ref": f"job-{number:06d}",
        "site": site["id"],
        "applicator": applicator,
        "supervisor": supervisor,
        "started": start.isoformat(timespec="minutes"),
        "finished": (start + timedelta(minutes=random.randint(14, 70))).isoformat(timespec="minutes"),
        "weather": {
            "wind_speed": f"{random.randint(2, 9)} mph",
            "wind_from": random.choice(COMPASS),
            "temperature": f"{random.randint(55, 84)} degF",
            "measured_at": (start - timedelta(minutes=random.randint(2, 20))).isoformat(timespec="minutes"),
            "source": "meter",
        },
        "treatments": treatments,
        "confirmed": [],
        "remarks": "Gate was latched again." if number % 4 == 0 else "",
    }


def _rates(product: Json, use: int) -> tuple[int, int, str]:
    """Return the label's lowest and highest rate in hundredths, and the unit."""
    printed = product["label"]["uses"][use]["rates"][0]
    low, unit = printed["min"].split(" ", 1)
    return int(low.replace(".", "")), int(printed["max"].split(" ")[0].replace(".", "")), unit.partition("/")[0]


def _broadcast(firm: Firm, zones: list[Json], product: Json, number: int, random: Random) -> Json:
    area = sum(int(zone["area"].split()[0]) for zone in zones)
    low, high, unit = _rates(product, 0)
    lines = [
        {
            "product": product["id"],
            "rate": _per(random.randint(low, high), unit, "1000 sq ft"),
            "lot": f"L{number % 23:03d}",
        }
    ]
    if number % 3 == 1:
        adjuvant = firm.adjuvants[number % len(firm.adjuvants)]
        lines.append({"product": adjuvant["id"], "rate": "0.25 % v/v", "lot": "S1"})
    return {
        "zones": [zone["id"] for zone in zones],
        "method": "broadcast",
        "area": f"{area} sq ft",
        "targets": product["label"]["uses"][0]["targets"][number % 2 * 2 :][:2],
        "equipment": f"rig-{number % 4}",
        "spray": f"{area * 2 // 100 / 10:.1f} gal",
        "products": lines,
    }


def _spot(zone: Json, product: Json, random: Random) -> Json:
    low, high, unit = _rates(product, 1)
    area = random.randint(2, 12) * 50  # sprayed to wet at a gallon to 1,000 sq ft
    return {
        "zones": [zone["id"]],
        "method": "spot",
        "area": f"{area} sq ft",
        "targets": product["label"]["uses"][1]["targets"][:1],
        "equipment": "rig-0",
        "spray": f"{area // 10 / 100:.2f} gal",
        "products": [{"product": product["id"], "rate": _per(random.randint(low, high), unit, "gal"), "lot": "L7"}],
    }
