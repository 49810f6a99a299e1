"""A small invented firm in a real book, and a lawful visit whose parts can be changed one by one.

`Kit.close(**changes)` knows where each part belongs: `rate` and `amount` to the first product line, `area` and `zones`
to the first treatment, `wind_speed` to the weather, the rest to the visit. `ABSENT` takes a part away.
"""

from __future__ import annotations

import atexit
import copy
import json
import shutil
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

from records.clock import FixedClock
from records.services.closing.service import AsApplied, Outcome, close_held, close_visit
from records.services.loading import load
from records.storage.migrate import upgrade
from records.storage.unit_of_work import SqlBook

if TYPE_CHECKING:
    from collections.abc import Iterable

Json = dict[str, Any]
Part = Any  # a JSON value of any kind, or ABSENT
ABSENT: Final = object()
CHICAGO = ZoneInfo("America/Chicago")
DAY = "2026-05-14"

LINE = frozenset({"product", "rate", "amount", "lot", "supplier"})
TREATMENT = frozenset(
    {"zones", "method", "area", "extent", "targets", "equipment", "spray", "products", "mix"}
    | {"dilution", "purpose", "diluent"}
    | {"water_distance", "deflector", "soil_test", "turf_stage", "ground", "plot"}
)
WEATHER = frozenset(
    {"wind_speed", "wind_from", "wind_gust", "temperature", "humidity", "measured_at", "source", "not_measured"}
    | {"metar", "station", "distance"}
)

BUSINESS: Json = {
    "name": "Otter Bend Turf Works",
    "address": "12 Ferry Street, Tamarack Falls, MN 55199",
    "phone": "612-555-0188",
    "licence": "MN-B-770011",
    "state": "MN",
    "timezone": "America/Chicago",
}


def licence(kind: str = "certified", **changes: object) -> Json:
    """Return a licence for the year 2026 in Minnesota, parts replaced."""
    made: Json = {
        "number": f"MN-{kind[0].upper()}-5501",
        "state": "MN",
        "kind": kind,
        "categories": ["turf and ornamentals"],
        "from": "2026-01-01",
        "to": "2026-12-31",
    }
    return made | changes


PEOPLE: list[Json] = [
    {
        "id": "ruth",
        "name": "Ruth Sandahl",
        "licences": [licence(**{"from": "2025-01-01", "to": "2030-12-31"})],
    },
    {"id": "emil", "name": "Emil Quist", "licences": [licence("technician", categories=["turf"])]},
    {"id": "tove", "name": "Tove Lind", "licences": [licence("trainee", categories=[])]},
    {"id": "olga", "name": "Olga Brandt", "licences": [licence(state="WI", number="WI-C-12")]},
    {"id": "nils", "name": "Nils Holm", "licences": []},
    {"id": "karl", "name": "Karl Ek", "licences": [licence(number="MN-C-9", to="2026-05-14")]},
    {"id": "siri", "name": "Siri Falk", "licences": [licence(number="MN-C-7", categories=["ornamental"])]},
]

SITES: list[Json] = [
    {
        "id": "mill-9",
        "customer": "aune",
        "address": "9 Mill Path",
        "city": "Tamarack Falls",
        "county": "Itasca",
        "state": "MN",
        "zip": "55199",
        "zones": [
            {"id": "front", "kind": "turf", "turf": ["kentucky bluegrass"], "area": "4000 sq ft"},
            {"id": "side", "kind": "turf", "turf": ["tall fescue"], "area": "1000 sq ft"},
            {"id": "shade", "kind": "turf", "turf": ["kentucky bluegrass", "fine fescue"], "area": "2000 sq ft"},
            {"id": "green", "kind": "turf", "turf": ["bentgrass"], "area": "900 sq ft"},
            {"id": "south", "kind": "turf", "turf": ["zoysiagrass"], "area": "1500 sq ft"},
            {"id": "patch", "kind": "turf", "area": "800 sq ft"},
            {"id": "wild", "kind": "turf", "turf": ["tall fescue"]},
            {"id": "bed", "kind": "ornamental bed", "area": "500 sq ft"},
        ],
    },
    {
        "id": "dock-2",
        "customer": "aune",
        "address": "2 Dock Row",
        "city": "Linden Bay",
        "county": "Polk",
        "state": "WI",
        "zip": "54990",
        "zones": [{"id": "front", "kind": "turf", "turf": ["kentucky bluegrass"], "area": "4000 sq ft"}],
    },
]

BROADCAST: Json = {
    "site": "turf",
    "method": "broadcast",
    "turf": [
        "kentucky bluegrass",
        "tall fescue",
        {"name": "fine fescue", "tolerance": "sensitive"},
        {"name": "bentgrass", "tolerance": "not tolerant"},
    ],
    "targets": ["plantain", "ground ivy"],
    # Both bases of one direction, each rounded on its own: 2 pt/acre is 0.7346 fl oz/1000 sq ft.
    "rates": [
        {"min": "0.5 fl oz/1000 sq ft", "max": "0.75 fl oz/1000 sq ft"},
        {"min": "1.33 pt/acre", "max": "2 pt/acre"},
    ],
}
SPOT: Json = BROADCAST | {
    "method": "spot",
    "rates": [{"min": "0.4 fl oz/gal", "max": "0.6 fl oz/gal"}, {"max": "0.75 fl oz/1000 sq ft"}],
}
LARKIN: Json = {
    "id": "larkin-4",
    "name": "Larkin 4",
    "registration": "99999-51",
    "form": "liquid",
    "signal_word": "CAUTION",
    "actives": [{"name": "larkinic acid", "content": "4 lb/gal", "as": "ae", "group": "4"}],
    "label": {"revision": "2025-10", "keep_off": "until the spray has dried", "uses": [BROADCAST, SPOT]},
}
AMBREL: Json = {
    "id": "ambrel-g",
    "name": "Ambrel G",
    "registration": "99999-52",
    "form": "granule",
    "actives": [{"name": "larkinic acid", "content": "1 %", "as": "ae", "group": "4"}],
    "label": {
        "revision": "2025-10",
        "uses": [
            {
                "site": "turf",
                "method": "broadcast",
                "targets": ["plantain"],
                "rates": [{"min": "2 lb/1000 sq ft", "max": "4 lb/1000 sq ft"}],
            }
        ],
    },
}
SEDGER: Json = {
    "id": "sedger-75",
    "name": "Sedger 75",
    "registration": "99999-53-88888",
    "form": "dry",
    "actives": [{"name": "sedgesulfuron", "content": "75 %", "group": "2"}],
    "label": {
        "revision": "2025-04",
        "uses": [
            {
                "site": "turf",
                "targets": ["yellow nutsedge"],
                "rates": [{"min": "0.02 oz/1000 sq ft", "max": "0.03 oz/1000 sq ft"}, {"max": "0.9 g/gal"}],
            }
        ],
    },
}
TORVANE: Json = {
    "id": "torvane-r",
    "name": "Torvane R",
    "registration": "99999-54",
    "form": "liquid",
    "restricted_use": True,
    "actives": [{"name": "torvanil", "content": "2 lb/gal", "group": "14"}],
    "label": {
        "revision": "2026-01",
        "uses": [{"site": "turf", "targets": ["plantain"], "rates": [{"max": "1 fl oz/1000 sq ft"}]}],
    },
}
STICKER: Json = {
    "id": "stickfast",
    "name": "Stickfast",
    "form": "liquid",
    "label": {"revision": "2024-01", "uses": [{"site": "any", "rates": [{"min": "0.25 % v/v", "max": "0.5 % v/v"}]}]},
}
GARDENER: Json = {
    "id": "clove-mix",
    "name": "Clove Mix",
    "exemption": "FIFRA 25(b), 40 CFR 152.25(f)",
    "form": "liquid",
    "actives": [{"name": "clove oil", "content": "1 lb/gal"}],
    "label": {"revision": "2025-01", "uses": [{"site": "turf", "rates": [{"max": "16 fl oz/1000 sq ft"}]}]},
}
UNLABELLED: Json = {
    "id": "bare-2",
    "name": "Bare 2",
    "registration": "99999-55",
    "form": "liquid",
    "actives": [{"name": "barequat", "content": "2 lb/gal"}],
}
PRODUCTS = [LARKIN, AMBREL, SEDGER, TORVANE, STICKER, GARDENER, UNLABELLED]

FIRM: Json = {
    "business": BUSINESS,
    "people": PEOPLE,
    "customers": [{"id": "aune", "name": "Lise Aune", "address": "9 Mill Path", "phone": "612-555-0133"}],
    "sites": SITES,
    "products": PRODUCTS,
    "equipment": [
        {"id": "can-1", "name": "Hand can 1", "output": "1 gal/1000 sq ft", "calibrated_on": "2026-04-20"},
    ],
    "mixes": [
        {
            "id": "load-a",
            "made_at": "2026-05-14T07:00",
            "water": "50 gal",
            "products": [
                {"product": "larkin-4", "amount": "37.5 fl oz", "lot": "L77"},
                {"product": "sedger-75", "amount": "1.25 oz", "lot": "S5"},
            ],
        }
    ],
}


def labelled(product: Json = LARKIN, *, use: Json | None = None, limits: Json | None = None, **changes: object) -> Json:
    """Return a product with parts of it, of all its uses or its label's limits replaced."""
    made: Json = copy.deepcopy(product)
    made.update(changes)
    for one in made["label"]["uses"]:
        one.update(use or {})
    if limits is not None:
        made["label"]["limits"] = limits
    return made


def visit(on: str = DAY, **changes: Part) -> Json:
    """Return a lawful entry with parts replaced; `rest` adds treatments, `more` adds product lines.

    Args:
        on: day of start, end and weather.
        changes: parts, each put where it belongs.
    """
    line: Json = {"product": "larkin-4", "rate": "0.75 fl oz/1000 sq ft", "lot": "L77"}
    treatment: Json = {"zones": ["front"], "method": "broadcast", "area": "4000 sq ft", "targets": ["plantain"]}
    weather: Json = {
        "wind_speed": "6 mph",
        "wind_from": "NW",
        "temperature": "71 degF",
        "measured_at": f"{on}T09:05",
        "source": "meter",
    }
    document: Json = {
        "site": "mill-9",
        "applicator": "ruth",
        "started": f"{on}T09:10",
        "finished": f"{on}T09:32",
        "weather": weather,
    }
    more, rest = changes.pop("more", []), changes.pop("rest", [])
    treatment["products"] = [line, *more]
    document["treatments"] = [treatment, *rest]
    for name, value in changes.items():
        place = next(
            (part for names, part in ((LINE, line), (TREATMENT, treatment), (WEATHER, weather)) if name in names),
            document,
        )
        if value is ABSENT:
            place.pop(name, None)
        else:
            place[name] = copy.deepcopy(value)
    if "mix" in changes:
        treatment.pop("products")
    return document


def zone_treatment(**changes: Part) -> Json:
    """Return one more treatment for `rest`, its parts replaced as in `visit`."""
    made: Json = visit(**changes)["treatments"][0]
    return made


def moment(local: str) -> datetime:
    """Return an instant from local time in Chicago."""
    return datetime.fromisoformat(local).replace(tzinfo=CHICAGO)


@cache
def template() -> Path:
    """Return a migrated book with the firm loaded; made once, never changed."""
    folder = Path(mkdtemp(prefix="kit-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    path = folder / "firm.db"
    upgrade(path)
    kit = Kit(path)
    kit.load(**FIRM)
    kit.shut()
    return path


class Kit:
    """A book of its own with the firm in it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.book = SqlBook(path)
        self.clock = FixedClock(moment(f"{DAY}T09:40"))

    @classmethod
    def at(cls, folder: Path) -> Kit:
        """Return a kit on a fresh copy of the firm's book."""
        return cls(shutil.copyfile(template(), folder / "book.db"))

    def shut(self) -> None:
        """Close the file."""
        for engine in self.book._engines.values():
            engine.dispose()

    def load(self, **sections: Part) -> None:
        """Load documents; every problem fails the test."""
        report = load(self.book, [("kit.json", json.dumps(sections).encode())], self.clock)
        assert report.ok, [str(problem) for problem in report.problems]

    def set(self, local: str) -> None:
        """Set the clock to a local time."""
        self.clock.set(moment(local))

    def close(
        self, on: str = DAY, *, now: str | None = None, signed: AsApplied | None = None, **changes: Part
    ) -> Outcome:
        """Close a lawful visit with parts changed, entered ten minutes after its usual end unless `now` says when."""
        self.set(now or f"{on}T09:42")
        return close_visit(self.book, visit(on, **changes), self.clock, signed)

    def sealed(self, on: str = DAY, **changes: Part) -> Outcome:
        """Close a visit that the test needs sealed; questions are confirmed."""
        changes.setdefault("confirmed", ASKED)
        outcome = self.close(on, **changes)
        assert outcome.status == "sealed", outcome.findings
        return outcome

    def again(self, number: str, document: Json | None = None, signed: AsApplied | None = None) -> Outcome:
        """Close a held entry again."""
        return close_held(self.book, number, document, self.clock, signed)


ASKED = [
    "same-day",
    "not-notified",
    "unlikely-amount",
    "weather-aged",
    "area-over-zone",
    "not-checkable",
    "turf-sensitive",
    "over-year",
    "over-active",
    "over-count",
    "over-rate",
    "too-soon",
]


def codes(outcome: Outcome | Iterable[dict[str, str]], severity: str = "") -> set[str]:
    """Return the finding codes of an outcome, of one severity where it is given."""
    findings = outcome.findings if isinstance(outcome, Outcome) else outcome
    return {finding["code"] for finding in findings if severity in {"", finding["severity"]}}


def of(outcome: Outcome, code: str) -> dict[str, str]:
    """Return the first finding of a code."""
    return next(finding for finding in outcome.findings if finding["code"] == code)


def days_after(day: str, days: int) -> str:
    """Return the day so many days on."""
    return (datetime.fromisoformat(day) + timedelta(days)).date().isoformat()
