"""The invented firm's season of 2026 as visit documents: `python demo/season.py > season.jsonl`.

The same documents every time: what varies from stop to stop (wind, spray used, minutes) is drawn from a hash of the
date and the site, never from a random generator or the clock.
"""

from __future__ import annotations

import hashlib
import json
import sys
import tomllib
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

Document = dict[str, Any]

SEED = "loon-hollow-2026"
HERE = Path(__file__).parent
COMPASS = ("S", "SW", "WSW", "W", "WNW", "NW", "NNW", "N", "SSE", "SE")
TRUCKS = {  # what the crews of the two certified persons carry
    "mo": {"broadcast": "skid-1", "spot": "can-1", "granule": "spreader-1"},
    "ines": {"broadcast": "skid-2", "spot": "pack-1", "granule": "spreader-2"},
}
AREA_UNITS = {
    "kelbrook-60": "oz wt",
    "cobbet-wf": "lb",
    "nidder-04g": "lb",
    "sedgeline-75": "g",
}  # every other product is measured in fl oz
GRANULES = {"cobbet-wf", "nidder-04g"}
WITH_SURFACTANT = {"sedgeline-75", "tessaly-4sc"}
LOTS = {  # the lot in the truck before and after July
    "brindle-4l": ("B2207", "B2311"),
    "orlop-3w": ("R2604", "R2618"),
    "pellam-3w": ("P0071", "P0071"),
    "sedgeline-75": ("G0391", "G0402"),
    "flintel-4f": ("F5512", "F5512"),
    "kelbrook-60": ("K190", "K204"),
    "tessaly-4sc": ("T77A", "T77A"),
    "wexcombe-2l": ("W0015", "W0015"),
    "cobbet-wf": ("C8841", "C8841"),
    "nidder-04g": ("N3301", "N3301"),
    "garrick-3sl": ("Q2209", "Q2231"),
    "sourleaf-25b": ("SL-26-04", "SL-26-04"),
    "spreadwell": ("S118", "S131"),
}
LOOK_AGAIN = {  # days until the control is judged, as the labels say
    "nidder-04g": 56,
    "sedgeline-75": 42,
    "kelbrook-60": 28,
    "orlop-3w": 28,
    "pellam-3w": 28,
    "cobbet-wf": 28,
    "wexcombe-2l": 42,
    "tessaly-4sc": 21,
    "flintel-4f": 14,
    "brindle-4l": 28,
    "garrick-3sl": 14,
    "sourleaf-25b": 7,
}
# (lowest morning degF, degrees gained an hour) by month
WARMTH = {4: (46, 3), 5: (56, 3), 6: (64, 2), 7: (69, 2), 8: (66, 2), 9: (57, 2), 10: (45, 3)}


def _pick(low: int, high: int, *key: object) -> int:
    """Return a whole number from low to high that depends on the key alone."""
    text = "|".join([SEED, *(str(part) for part in key)])
    return low + int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big") % (high - low + 1)


def _plain(value: Decimal) -> str:
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


@cache
def _read(name: str) -> Document:
    with (HERE / name).open("rb") as file:
        return tomllib.load(file)


def _site(site_id: str) -> Document:
    return next(site for site in _read("firm/customers.toml")["sites"] if site["id"] == site_id)


def _mix(mix_id: str) -> Document:
    return next(mix for mix in _read("firm/equipment.toml")["mixes"] if mix["id"] == mix_id)


def _square_feet(text: str) -> Decimal:
    number, unit = text.split(" ", 1)
    return Decimal(number) * (43560 if unit == "acre" else 1)


def _zones(site: Document, words: str) -> list[str]:
    if words == "turf":
        return [zone["id"] for zone in site["zones"] if zone["kind"] == "turf"]
    return words.split()


def _weather(day: str, started: datetime, site_id: str) -> Document:
    low, gain = WARMTH[started.month]
    degrees = low + _pick(0, 5, day, "warmth") + gain * (started.hour - 7)
    wind = min(8, _pick(3, 6, day, "wind") + _pick(-1, 2, day, site_id, "gust"))
    turn = _pick(0, len(COMPASS) - 1, day, "from")
    measured = started - timedelta(minutes=_pick(3, 9, day, site_id, "meter"))
    return {
        "wind_speed": f"{wind} mph",
        "wind_from": COMPASS[turn],
        "temperature": f"{degrees} degF",
        "measured_at": measured.isoformat(timespec="minutes"),
        "source": "meter",
    }


def _lot(product: str, day: str) -> str:
    return LOTS[product][day >= "2026-07-01"]


def _line(product: str, rate: Decimal, per: str, day: str) -> Document:
    unit = AREA_UNITS.get(product, "fl oz")
    return {"product": product, "rate": f"{_plain(rate)} {unit}/{per}", "lot": _lot(product, day)}


def _broadcast(product: str, rate: Decimal, area: Decimal, day: str, site_id: str) -> Document:
    """Return spray and product lines of a broadcast treatment."""
    thousands = area / 1000
    line = _line(product, rate, "1000 sq ft", day)
    amount = f"{_plain(rate * thousands)} {AREA_UNITS.get(product, 'fl oz')}"
    if product in GRANULES:
        line["amount"] = amount  # the bag is weighed as well
        return {"products": [line]}
    if site_id == "quarry-rd-58" and product == "kelbrook-60":
        del line["rate"]  # scooped and weighed: the book works out the rate
        line["amount"] = amount
    if product in WITH_SURFACTANT:
        lines = [line, {"product": "spreadwell", "rate": "0.25 % v/v", "lot": _lot("spreadwell", day)}]
    else:
        lines = [line]
    return {"spray": f"{_plain(_tank(area, day, site_id))} gal", "products": lines}


def _tank(area: Decimal, day: str, site_id: str) -> Decimal:
    """Return the gallons a tank put out: two to 1,000 sq ft, give or take what the meter shows."""
    return (area * 2 / 1000).quantize(Decimal("0.1")) + Decimal(_pick(-1, 1, day, site_id, "meter gallons")) / 10


def _spot(product: str, rate: Decimal, spray: Decimal, day: str) -> Document:
    """Return spray and product lines of a spot treatment."""
    lines = [_line(product, rate, "gal", day)]
    if product in WITH_SURFACTANT:
        lines.append({"product": "spreadwell", "rate": "0.25 % v/v", "lot": _lot("spreadwell", day)})
    return {"spray": f"{_plain(spray)} gal", "products": lines}


def _treatment(job: str, site: Document, day: str, truck: dict[str, str]) -> tuple[Document, str]:
    """Return one treatment and its main product.

    Args:
        job: a line of the plan.
        site: where.
        day: date, YYYY-MM-DD.
        truck: equipment by use.
    """
    where, _, rest = job.partition(": ")
    method, what, *words = rest.split()
    zones = _zones(site, where)
    whole = sum((_square_feet(zone["area"]) for zone in site["zones"] if zone["id"] in zones), Decimal(0))
    rate = Decimal(0) if what.startswith("@") else Decimal(words.pop(0))
    targets = [target.strip() for target in " ".join(words).split(",")]
    if method == "broadcast":
        area, spray = whole, _tank(whole, day, site["id"])
    else:
        most = min(900, int(whole) // 2)
        area = Decimal(_pick(3, most // 50, day, site["id"], where) * 50)
        # Sprayed to wet: a little under the calibrated gallon to 1,000 sq ft.
        spray = (area * _pick(84, 100, day, site["id"], where, "wet") / 100000).quantize(Decimal("0.01"))
        spray = min(spray, area / 1000)
    if what.startswith("@"):
        mix = _mix(what[1:])
        product, content = mix["products"][0]["product"], {"mix": mix["id"], "spray": f"{_plain(spray)} gal"}
    elif method == "broadcast":
        product, content = what, _broadcast(what, rate, area, day, site["id"])
    else:
        product, content = what, _spot(what, rate, spray, day)
    treatment = {
        "zones": zones,
        "method": method,
        "area": f"{_plain(area)} sq ft",
        "targets": targets,
        "equipment": truck["granule" if product in GRANULES else method],
        **content,
    }
    return treatment, product


def _minutes(treatments: list[Document]) -> int:
    """Return how long a stop takes: walking pace over the lawn, a little more for spots."""
    total = 6
    for treatment in treatments:
        area = int(treatment["area"].split()[0])
        total += area // 450 + 2 if treatment["method"] == "broadcast" else area // 60 + 5
    return total


def _follow_up(day: str, product: str) -> str:
    """Return the working day on or after which the control is judged."""
    due = date.fromisoformat(day) + timedelta(days=LOOK_AGAIN[product])
    return (due + timedelta(days=(0, 0, 0, 0, 0, 2, 1)[due.weekday()])).isoformat()


def _jobs(stage: str, site: Document) -> tuple[str, ...]:
    if stage != "preventer":
        return tuple(_read("plan.toml")["jobs"][stage].get(site["id"], ()))
    rate = ("2.5", "2.6", "2.8", "3")[_pick(0, 3, site["id"], "preventer")]
    return (f"turf: broadcast nidder-04g {rate} smooth crabgrass",)


def _route(plan: Document) -> list[Document]:
    """Return one person's visits of one day, one after the other."""
    day, crew = plan["date"].isoformat(), plan["supervisor"] or plan["applicator"]
    clock = datetime.fromisoformat(f"{day}T08:00") + timedelta(minutes=_pick(0, 25, day, "start"))
    route = []
    for stop in _read("plan.toml")["routes"][plan["route"]]:
        site = _site(stop)
        done = [_treatment(job, site, day, TRUCKS[crew]) for job in _jobs(plan["round"], site)]
        if not done:
            continue
        treatments = [treatment for treatment, _ in done]
        started, clock = clock, clock + timedelta(minutes=_minutes(treatments))
        ref = f"{day}-{stop}"
        route.append(
            {
                "ref": ref,
                "site": stop,
                "applicator": plan["applicator"],
                "supervisor": plan["supervisor"] or None,
                "started": started.isoformat(timespec="minutes"),
                "finished": clock.isoformat(timespec="minutes"),
                "weather": _weather(day, started, stop),
                "treatments": treatments,
                "follow_up": max(_follow_up(day, product) for _, product in done),
                "confirmed": [],
                "remarks": _read("plan.toml")["remarks"].get(ref, ""),
            }
        )
        clock += timedelta(minutes=_pick(11, 24, day, stop, "drive"))
    return route


def _lark_lane() -> Document:
    """Return the visit that the manual uses as its example, word for word."""
    front = {
        "zones": ["front"],
        "method": "broadcast",
        "area": "4200 sq ft",
        "targets": ["ground ivy"],
        "equipment": "skid-1",
        "spray": "8.4 gal",
        "products": [
            {"product": "brindle-4l", "rate": "1.1 fl oz/1000 sq ft", "lot": "B2207"},
            {"product": "spreadwell", "rate": "0.25 % v/v"},
        ],
    }
    back = {
        "zones": ["back"],
        "method": "spot",
        "area": "300 sq ft",
        "targets": ["yellow nutsedge"],
        "spray": "0.4 gal",
        "products": [{"product": "sedgeline-75", "rate": "0.9 g/gal"}],
    }
    return {
        "ref": "2026-05-14-lark-lane",
        "site": "lark-lane-7",
        "applicator": "mo",
        "supervisor": None,
        "started": "2026-05-14T09:10",
        "finished": "2026-05-14T09:32",
        "weather": {
            "wind_speed": "6 mph",
            "wind_from": "NW",
            "temperature": "71 degF",
            "measured_at": "2026-05-14T09:05",
            "source": "meter",
        },
        "treatments": [front, back],
        "confirmed": [],
        "remarks": "",
    }


def visits() -> list[Document]:
    """Return the season's visit documents in the order they were made."""
    season = [_lark_lane()]
    for plan in _read("plan.toml")["days"]:
        season += _route(plan)
    return sorted(season, key=lambda visit: (visit["started"], visit["ref"]))


def main() -> None:
    """Write the visits as JSON lines to standard output."""
    for visit in visits():
        sys.stdout.write(json.dumps(visit, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
