"""The JSON Schemas that the tool prints are the truth: what they refuse, the tool refuses too.

All names and numbers are invented.
"""

from __future__ import annotations

import copy
import json
import tomllib
import unicodedata
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator

from records.clock import FixedClock
from records.services.closing.service import close_visit
from records.services.loading import load
from records.services.schemas import schema
from records.storage.unit_of_work import SqlBook
from tests.cli.conftest import AFTER, FIRM, VISITS, Swathbook, season, visit
from tests.fakes import FakeBook

if TYPE_CHECKING:
    from pathlib import Path

CATALOGUE = Draft202012Validator(schema("catalogue"))
VISIT = Draft202012Validator(schema("visit"))
CLOCK = FixedClock(datetime(2026, 5, 1, 12, tzinfo=UTC))


def plain(value: Any) -> Any:  # noqa: ANN401 - JSON of any shape
    """Return a TOML document as JSON has it."""
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [plain(one) for one in value]
    return value.isoformat() if isinstance(value, date) else value


def loads(document: object) -> list[str]:
    """Return the problems that loading a document finds."""
    report = load(FakeBook(), [("test.json", json.dumps(document).encode())], CLOCK)
    return [str(problem) for problem in report.problems]


def whole() -> dict[str, Any]:
    """Return the demo firm as one document."""
    found: dict[str, Any] = {}
    for path in FIRM:
        found |= plain(tomllib.loads(path.read_text("utf-8")))
    return found


def small() -> dict[str, Any]:
    """Return one document of each kind, every key filled in."""
    return {
        "business": {
            "name": "Loon Hollow Lawn Care",
            "address": "480 Cooper Alley",
            "phone": "612-555-0142",
            "licence": "B-990417",
            "state": "MN",
            "timezone": "America/Chicago",
            "packs": ["us-mn"],
            "email": "office@example.org",
            "insurer": "Prairie Mutual",
            "insured": "1,000,000 USD",
        },
        "people": [
            {
                "id": "mo",
                "name": "Mo Lindqvist",
                "phone": "612-555-0142",
                "licences": [
                    {
                        "number": "C-1",
                        "state": "MN",
                        "kind": "certified",
                        "categories": ["turf"],
                        "from": "2026-01-01",
                        "to": "2026-12-31",
                    }
                ],
            }
        ],
        "customers": [
            {
                "id": "h",
                "name": "Berit Halvorsen",
                "address": "7 Lark Lane",
                "phone": "1",
                "email": "b@example.org",
                "language": "es",
                "email_consent": "2026-03-01",
            }
        ],
        "sites": [
            {
                "id": "lark-lane-7",
                "customer": "h",
                "address": "7 Lark Lane",
                "city": "Birchfold",
                "county": "Hennepin",
                "state": "MN",
                "zip": "55290-0012",
                "timezone": "America/Chicago",
                "notes": "Dog in the back yard.",
                "landmark": "blue door",
                "meter": "4471-902",
                "notify": [
                    {
                        "id": "vik",
                        "name": "Vik Osei",
                        "why": "asked",
                        "lead": "24 hours",
                        "address": "9 Lark Lane",
                        "phone": "612-555-0177",
                        "email": "v@example.org",
                        "from": "2026-01-01",
                        "to": "2026-12-31",
                    }
                ],
                "zones": [
                    {
                        "id": "front",
                        "kind": "turf",
                        "turf": "tall fescue",
                        "area": "4200 sq ft",
                        "name": "Front",
                        "measured": {
                            "how": "wheel",
                            "on": "2026-04-10",
                            "by": "mo",
                            "figures": ["rectangle 70 ft x 62 ft", "minus bed: 140 sq ft"],
                        },
                    }
                ],
            }
        ],
        "equipment": [
            {
                "id": "skid-1",
                "name": "Skid sprayer",
                "kind": "tank",
                "output": "2 gal/1000 sq ft",
                "calibrated_on": "2026-04-13",
                "tank": "100 gal",
                "nozzle": "fan 8004",
            }
        ],
        "products": [
            {
                "id": "brindle-4l",
                "name": "Brindle 4L",
                "kind": "pesticide",
                "registration": "99999-41",
                "form": "liquid",
                "type": "herbicide",
                "signal_word": "DANGER-POISON",
                "restricted_use": True,
                "maker": "Example Works",
                "supplier": "Turf Supply",
                "sds": "binder A, tab 4",
                "regulated": ["TX"],
                "formulation": "sl",
                "analysis": "22-0-4",
                "slow_release": "25 %",
                "nutrient_kind": "enhanced",
                "density": "9.2 lb/gal",
                "actives": [{"name": "brindlac acid", "content": "4 lb/gal", "as": "ae", "group": "4"}],
                "label": {
                    "revision": "2025-11",
                    "copy": "truck folder",
                    "keep_off": "until dry",
                    "precautions": ["Keep off."],
                    "first_aid": "Rinse.",
                    "results": "Two weeks.",
                    "reentry": "12 hours",
                    "ppe": {"mix": ["Chemical-resistant gloves"], "apply": "Long-sleeved shirt"},
                    "mixing": {
                        "order": ["Fill half.", "Add the product."],
                        "forbidden": ["adjuvants", {"with": "quorvane", "text": "Not with it.", "force": "should"}],
                        "only_with": ["spreadwell"],
                        "needs_adjuvant": {"text": "Add a surfactant.", "kinds": ["NIS"], "force": "must"},
                        "forbids_adjuvant": False,
                        "max_partners": 2,
                        "notes": ["Use at once."],
                    },
                    "spanish": {"keep_off": "hasta que seque"},
                    "uses": [
                        {
                            "site": "turf",
                            "turf": ["tall fescue", {"name": "fine fescue", "tolerance": "sensitive"}],
                            "method": "broadcast",
                            "targets": ["ground ivy"],
                            "rates": [{"min": "0.8 fl oz/1000 sq ft", "max": "1.1 fl oz/1000 sq ft"}],
                            "limits": {"wind": "8 mph"},
                            "target_force": "must",
                            "minimum_force": "should",
                            "text": "As printed.",
                        }
                    ],
                    "limits": {
                        "wind": {"value": "10 mph", "force": "should", "text": "As printed."},
                        "temperature": "90 degF",
                        "interval": "3 weeks",
                        "applications": {"value": 2},
                        "per_year": ["6 pt/acre", "2.2 fl oz/1000 sq ft"],
                        "active_per_year": {"brindlac acid": {"value": "3 lb/acre"}},
                        "window": {"season_from": "03-01", "season_to": "11-30"},
                    },
                },
            }
        ],
        "mixes": [
            {
                "id": "mix-1",
                "made_at": "2026-05-12T07:30",
                "equipment": "skid-1",
                "water": "100 gal",
                "products": [{"product": "brindle-4l", "amount": "62 fl oz", "lot": "B1"}],
            },
            {
                "id": "mix-2",
                "made_at": "2026-05-12T11:00",
                "water": "20 gal",
                "carried": [{"mix": "mix-1", "spray": "6 gal"}],
            },
        ],
    }


def test_the_schemas_are_schemas_of_the_2020_draft() -> None:
    """Both are valid themselves and say which draft they are of."""
    for name in ("visit", "plan", "catalogue"):
        Draft202012Validator.check_schema(schema(name))
        assert schema(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_every_document_of_the_demo_firm_fits_and_loads() -> None:
    """TOML with its dates as text fits the schema, file by file, and loads."""
    for path in FIRM:
        errors = list(CATALOGUE.iter_errors(plain(tomllib.loads(path.read_text("utf-8")))))
        assert not errors, (path.name, errors[0].message)
    assert loads(whole()) == []


def test_a_document_with_every_key_fits_and_loads() -> None:
    """No key of the reader is unknown to the schema, nor the other way round."""
    assert [error.message for error in CATALOGUE.iter_errors(small())] == []
    assert loads(small()) == []


def test_every_key_of_the_schema_is_one_the_reader_knows() -> None:
    """A key that only the schema has would be told as unknown; the document with every key names them all."""
    used: set[str] = set()

    def collect(value: object) -> None:
        if isinstance(value, dict):
            used.update(value)
            for one in value.values():
                collect(one)
        elif isinstance(value, list):
            for one in value:
                collect(one)

    collect(small())
    known = {key for part in schema("catalogue")["$defs"].values() for key in part.get("properties", {})}
    assert known - used == {"exemption", "insoluble_n"}  # which stand in place of others


BROKEN: dict[str, tuple[str, Any]] = {
    "no name of the firm": ("business.name", None),
    "blank name": ("business.name", "   "),
    "number for a text": ("business.phone", 6125550142),
    "unknown state": ("business.state", "Minnesota"),
    "unknown key": ("business.fax", "612"),
    "firm as a list": ("business", []),
    "e-mail without an at": ("business.email", "office"),
    "escape code in a name": ("business.name", "Loon\x1b[31m Hollow"),
    "turned text in a name": ("people.0.name", "Mo \u202elin"),
    "name too long": ("people.0.name", "x" * 121),
    "path for an id": ("people.0.id", "../../etc/passwd"),
    "id with a blank": ("people.0.id", "mo lindqvist"),
    "licence kind": ("people.0.licences.0.kind", "boss"),
    "licence without a number": ("people.0.licences.0.number", None),
    "licence day as words": ("people.0.licences.0.from", "January 1"),
    "licence in month 13": ("people.0.licences.0.to", "2026-13-01"),
    "licences as a table": ("people.0.licences", {"number": "C-1"}),
    "people as a table": ("people", {"id": "mo"}),
    "language of notices": ("customers.0.language", "de"),
    "zip of four digits": ("sites.0.zip", "5529"),
    "zip as a number": ("sites.0.zip", 55290),
    "no zones": ("sites.0.zones", []),
    "zone without a kind": ("sites.0.zones.0.kind", None),
    "area as a number": ("sites.0.zones.0.area", 4200),
    "area without a number": ("sites.0.zones.0.area", "some sq ft"),
    "turf as true": ("sites.0.zones.0.turf", True),
    "measured by pacing": ("sites.0.zones.0.measured.how", "pacing"),
    "measured without how": ("sites.0.zones.0.measured.how", None),
    "measured as a text": ("sites.0.zones.0.measured", "wheel"),
    "figures as numbers": ("sites.0.zones.0.measured.figures", [70, 60]),
    "form": ("products.0.form", "powder"),
    "no form": ("products.0.form", None),
    "signal word": ("products.0.signal_word", "BEWARE"),
    "restricted use as text": ("products.0.restricted_use", "yes"),
    "pesticide without a number": ("products.0.registration", None),
    "pesticide with an exemption": ("products.0.exemption", "FIFRA 25(b)"),
    "fertilizer with a number": ("products.0.kind", "fertilizer"),
    "minimum risk with a number": ("products.0.kind", "minimum-risk"),
    "pesticide without actives": ("products.0.actives", []),
    "active without content": ("products.0.actives.0.content", None),
    "active counted as": ("products.0.actives.0.as", "acid"),
    "density of a granule": ("products.0.form", "granule"),
    "label without a revision": ("products.0.label.revision", None),
    "label without uses": ("products.0.label.uses", []),
    "use without a site": ("products.0.label.uses.0.site", None),
    "use without rates": ("products.0.label.uses.0.rates", []),
    "rate with neither end": ("products.0.label.uses.0.rates.0", {}),
    "rate as a text": ("products.0.label.uses.0.rates.0", "1.1 fl oz/1000 sq ft"),
    "tolerance": ("products.0.label.uses.0.turf.1.tolerance", "fine"),
    "force": ("products.0.label.uses.0.target_force", "may"),
    "interval as a number": ("products.0.label.limits.interval", 21),
    "interval in months": ("products.0.label.limits.interval", "2 months"),
    "applications as text": ("products.0.label.limits.applications", "2"),
    "no applications": ("products.0.label.limits.applications", 0),
    "limit without its value": ("products.0.label.limits.wind", {"force": "must"}),
    "no basis of a ceiling": ("products.0.label.limits.per_year", []),
    "window": ("products.0.label.limits.window", "a while"),
    "season without an end": ("products.0.label.limits.window", {"season_from": "03-01"}),
    "Spanish unknown key": ("products.0.label.spanish", {"titulo": "x"}),
    "mix without its moment": ("mixes.0.made_at", None),
    "mix on a day only": ("mixes.0.made_at", "2026-05-12"),
    "mix of nothing": ("mixes.0.products", []),
    "mix line without an amount": ("mixes.0.products.0.amount", None),
    "leftover without its load": ("mixes.1.carried.0.mix", None),
    "leftover without an amount": ("mixes.1.carried.0.spray", None),
    "no leftover and nothing else": ("mixes.1.carried", []),
    "calibration day": ("equipment.0.calibrated_on", "13 April"),
    "unknown section": ("trucks", []),
    "formulation": ("products.0.formulation", "XYZ"),
    "analysis": ("products.0.analysis", "22-4"),
    "slow release": ("products.0.slow_release", "25"),
    "insoluble nitrogen": ("products.0.insoluble_n", "7"),
    "kind of fertilizer": ("products.0.nutrient_kind", "magic"),
    "protective equipment as a number": ("products.0.label.ppe", 3),
    "protective equipment for a third task": ("products.0.label.ppe", {"wash": ["Gloves"]}),
    "partner without a name": ("products.0.label.mixing.forbidden.1.with", None),
    "too many partners": ("products.0.label.mixing.max_partners", 21),
    "partners as text": ("products.0.label.mixing.max_partners", "2"),
    "adjuvant kind": ("products.0.label.mixing.needs_adjuvant.kinds", ["SOAP"]),
    "adjuvant without its line": ("products.0.label.mixing.needs_adjuvant", {"kinds": ["NIS"]}),
    "adjuvant wanted and forbidden": ("products.0.label.mixing.forbids_adjuvant", True),
}


def broken(place: str, value: object) -> dict[str, Any]:
    """Return the small document with one part changed, or taken out for None."""
    document = small()
    *way, last = place.split(".")
    inner: Any = document
    for step in way:
        inner = inner[int(step) if isinstance(inner, list) else step]
    key: Any = int(last) if isinstance(inner, list) else last
    if value is None:
        del inner[key]
    else:
        inner[key] = value
    return document


@pytest.mark.parametrize("name", BROKEN)
def test_what_the_schema_refuses_is_refused_by_load(name: str) -> None:
    """One broken document for each mistake: both see it."""
    document = broken(*BROKEN[name])
    assert not CATALOGUE.is_valid(document)
    assert loads(document)


@pytest.mark.parametrize("document", [[], "text", 1, None, {}, {"people": []}, {"business": None}])
def test_what_holds_no_document_is_refused_by_both(document: object) -> None:
    """An empty document, or none at all, is nothing to load."""
    assert not CATALOGUE.is_valid(document)
    assert loads(document)


def test_the_schema_knows_every_invisible_character() -> None:
    """Each control, format and separator character of the basic plane is refused in a name by both."""
    document = small()
    for code in (0x00, 0x1B, 0x7F, 0x9B, 0xAD, 0x200B, 0x2028, 0x202E, 0x2066, 0xFEFF):
        document["people"][0]["name"] = f"Mo{chr(code)}"
        assert not CATALOGUE.is_valid(document), hex(code)
    pattern = schema("catalogue")["$defs"]["visible"]["pattern"]
    check = Draft202012Validator({"pattern": pattern})
    for code in range(0x10000):
        char = chr(code)
        hidden = unicodedata.category(char) in {"Cc", "Cf", "Zl", "Zp"} and char not in "\n\r\t"
        # A newer Python may know characters that the schema's list is too old for; none may be refused wrongly.
        if not check.is_valid(char):
            assert hidden, hex(code)
        elif hidden and unicodedata.category(char) != "Cf":
            pytest.fail(hex(code))


def test_the_whole_season_fits_the_schema_of_a_visit() -> None:
    """All visits of the demo season, and the demo's single ones, fit."""
    visits = season()
    assert len(visits) == 138
    singles = [json.loads(path.read_text("utf-8")) for path in sorted(VISITS.glob("*.json"))]
    for document in [*visits, *singles]:
        errors = list(VISIT.iter_errors(document))
        assert not errors, (document["ref"], errors[0].message)


WRONG_VISITS: dict[str, dict[str, Any]] = {
    "unknown key": visit(wether="fine"),
    "site as a number": visit(site=7),
    "no site": {key: value for key, value in visit().items() if key != "site"},
    "start as words": visit(started="this morning"),
    "start as a day": visit(started="2026-10-20"),
    "weather as text": visit(weather="fine"),
    "weather unknown key": visit(weather={**visit()["weather"], "sun": "yes"}),
    "wind as a number": visit(weather={**visit()["weather"], "wind_speed": 6}),
    "treatments as text": visit(treatments="sprayed"),
    "no treatments": visit(treatments=[]),
    "treatment as text": visit(treatments=["sprayed"]),
    "remarks too long": visit(remarks="x" * 5001),
    "follow-up as words": visit(follow_up="next week"),
    "confirmed as a number": visit(confirmed=3),
    "61 confirmed": visit(confirmed=["x"] * 61),
    "supervisor as a list": visit(supervisor=["mo"]),
}


@pytest.mark.parametrize("name", WRONG_VISITS)
def test_a_visit_that_the_schema_refuses_is_held(name: str, firm: Path) -> None:
    """What the schema refuses is never sealed, and the tool says why."""
    document = WRONG_VISITS[name]
    assert not VISIT.is_valid(document)
    outcome = close_visit(SqlBook(firm), copy.deepcopy(document), FixedClock(AFTER))
    assert outcome.status == "held"
    assert outcome.findings


def test_the_usual_visit_of_these_tests_fits_and_seals(firm: Path) -> None:
    """What the broken ones are made from is right."""
    assert VISIT.is_valid(visit())
    assert close_visit(SqlBook(firm), visit(), FixedClock(AFTER)).status == "sealed"


@pytest.mark.parametrize("name", ["visit", "plan", "catalogue"])
def test_the_command_prints_the_schema(name: str, swathbook: Swathbook) -> None:
    """`swathbook schema` prints the file itself."""
    ran = swathbook("schema", name)
    assert ran.code == 0
    assert ran.json == schema(name)


def test_there_is_no_other_schema(swathbook: Swathbook) -> None:
    """An unknown name is refused with the names there are."""
    ran = swathbook("schema", "../visit")
    assert (ran.code, ran.out) == (9, "")
    assert "visit, plan, catalogue" in ran.err
