"""Invented sealed bodies for tests: a full ordinary visit, and any part of it replaced."""

from __future__ import annotations

import copy
from typing import Any

Json = dict[str, Any]

BRINDLE: Json = {
    "id": "brindle-4l",
    "version": 1,
    "name": "Brindle 4L",
    "registration": "99999-41",
    "exemption": None,
    "kind": "pesticide",
    "type": "herbicide",
    "form": "liquid",
    "signal_word": "CAUTION",
    "restricted_use": False,
    "actives": [{"name": "brindlac acid", "content": "4 lb/gal", "as": "ae", "group": "4"}],
}
SPREADWELL: Json = {
    "id": "spreadwell",
    "version": 1,
    "name": "Spreadwell",
    "registration": None,
    "exemption": None,
    "kind": "adjuvant",
    "type": "adjuvant",
    "form": "liquid",
    "signal_word": "",
    "restricted_use": False,
    "actives": [],
}
SEDGELINE: Json = {
    "id": "sedgeline-75",
    "version": 2,
    "name": "Sedgeline 75 WG",
    "registration": "99999-63",
    "exemption": None,
    "kind": "pesticide",
    "type": "herbicide",
    "form": "dry",
    "signal_word": "CAUTION",
    "restricted_use": False,
    "actives": [{"name": "carvesulfuron", "content": "75 %", "as": "ai", "group": "2"}],
}
BRINDLE_LABEL: Json = {
    "revision": "2025-11",
    "keep_off": "until the spray has dried",
    "precautions": [
        "Keep children and pets off the treated area until the spray has dried.",
        "Do not mow for 1 day before or after treatment.",
        "Do not let spray drift reach vegetables, flowers or ponds.",
    ],
    "first_aid": (
        "If on skin: take off contaminated clothing and rinse skin with plenty of water for 15 minutes. "
        "If in eyes: rinse slowly with water for 15 minutes. "
        "Have the label with you when you call for treatment advice."
    ),
    "results": "Leaves twist within 2 days; judge control after 14 to 28 days.",
    "spanish": {"keep_off": "hasta que el rociado se haya secado"},
    "use": {
        "site": "turf",
        "method": ["broadcast"],
        "targets": ["ground ivy"],
        "rates": ["0.8 to 1.1 fl oz/1000 sq ft"],
    },
}
SPREADWELL_LABEL: Json = {
    "revision": "2024-03",
    "keep_off": "",
    "precautions": [],
    "first_aid": "If in eyes: rinse with water for 15 minutes.",
    "results": "",
    "spanish": {},
    "use": None,
}
SEDGELINE_LABEL: Json = {
    "revision": "2025-09",
    "keep_off": "until the spray has dried",
    "precautions": [
        "Keep people and pets off the treated area until the spray has dried.",
        "Do not mow for 2 days before or after treatment.",
        "Add a nonionic surfactant, 0.25 to 0.5 % by volume.",
    ],
    "first_aid": (
        "If inhaled: move the person to fresh air. "
        "If the person is not breathing, call 911 and give artificial respiration."
    ),
    "results": "Slow: growth stops within days, yellowing after 2 weeks; judge control after 28 to 42 days.",
    "spanish": {},
    "use": None,
}
MO: Json = {
    "id": "mo",
    "name": "Mo Tarn",
    "licence": {
        "number": "MN-T-3301",
        "state": "MN",
        "kind": "technician",
        "categories": ["turf"],
        "from": "2026-01-01",
        "to": "2026-12-31",
    },
    "version": 1,
}
ADA: Json = {
    "id": "ada",
    "name": "Ada Brook",
    "licence": {
        "number": "MN-C-1182",
        "state": "MN",
        "kind": "certified",
        "categories": ["turf"],
        "from": "2026-01-01",
        "to": "2026-12-31",
    },
    "version": 1,
}


def application(product: Json = BRINDLE, label: Json | None = BRINDLE_LABEL, **changes: object) -> Json:
    """Return one application line."""
    line: Json = {
        "product": product,
        "label": label,
        "mix": None,
        "lot": "B2207",
        "rate": "1.1 fl oz/1000 sq ft",
        "amount": "4.62 fl oz",
        "area": "4200 sq ft",
        "targets": ["ground ivy"],
        "actives": [{"name": "brindlac acid", "as": "ae", "pounds": "0.144375"}],
    }
    return copy.deepcopy(line | changes)


def treatment(**changes: object) -> Json:
    """Return the broadcast treatment of the front yard."""
    made: Json = {
        "zones": [
            {
                "id": "front",
                "kind": "turf",
                "turf": ["kentucky bluegrass"],
                "area": "4200 sq ft",
                "treated": "4200 sq ft",
            }
        ],
        "site_kind": "turf",
        "method": "broadcast",
        "targets": ["ground ivy"],
        "equipment": {"id": "skid-1", "name": "Skid sprayer 1"},
        "spray": "8.4 gal",
        "area": "4200 sq ft",
        "area_source": "entered",
        "extent": None,
        "applications": [
            application(),
            application(SPREADWELL, SPREADWELL_LABEL, rate="0.25 % v/v", amount="2.688 fl oz", actives=[]),
        ],
    }
    return copy.deepcopy(made | changes)


def spot_treatment(**changes: object) -> Json:
    """Return the spot treatment of the back yard."""
    made = treatment(
        zones=[{"id": "back", "kind": "turf", "turf": ["tall fescue"], "area": "2600 sq ft", "treated": "300 sq ft"}],
        method="spot",
        targets=["yellow nutsedge"],
        equipment={"id": "can-2", "name": "Hand can 2"},
        spray="0.4 gal",
        area="300 sq ft",
        applications=[
            application(
                SEDGELINE,
                SEDGELINE_LABEL,
                rate="0.9 g/gal",
                amount="0.36 g",
                area="300 sq ft",
                lot="S118",
                targets=["yellow nutsedge"],
                actives=[{"name": "carvesulfuron", "as": "ai", "pounds": "0.000595248"}],
            )
        ],
    )
    return copy.deepcopy(made | changes)


def visit_body(**overrides: object) -> Json:
    """Return the sealed body of an ordinary visit (two treatments, three products) with top-level parts replaced."""
    body: Json = {
        "schema": 1,
        "kind": "visit",
        "ref": "2026-05-14-lark-lane",
        "document_digest": "0" * 64,
        "origin": {"kind": "entered"},
        "business": {
            "name": "Loon Hollow Lawn Care",
            "address": "480 Cooper Alley, Birchfold, MN 55290",
            "phone": "612-555-0142",
            "licence": "MN-B-990417",
            "state": "MN",
            "timezone": "America/Chicago",
            "version": 1,
        },
        "customer": {
            "id": "harrow",
            "name": "Ines Harrow",
            "address": "7 Lark Lane, Birchfold, MN 55290",
            "phone": "612-555-0177",
            "email": "",
            "language": "en",
            "version": 1,
        },
        "site": {
            "id": "lark-lane-7",
            "address": "7 Lark Lane",
            "city": "Birchfold",
            "county": "Carver",
            "state": "MN",
            "zip": "55290",
            "version": 1,
        },
        "timezone": "America/Chicago",
        "date": "2026-05-14",
        "period": "2026-05",
        "started": {"local": "2026-05-14T09:10-05:00", "utc": "2026-05-14T14:10:00Z"},
        "finished": {"local": "2026-05-14T09:32-05:00", "utc": "2026-05-14T14:32:00Z"},
        "entered_at": "2026-05-14T14:33:01Z",
        "late_days": 0,
        "applicator": MO,
        "supervisor": ADA,
        "weather": {
            "wind_speed": "6 mph",
            "wind_from": "NW",
            "temperature": "71 degF",
            "humidity": "45 %",
            "measured_at": {"local": "2026-05-14T09:05-05:00", "utc": "2026-05-14T14:05:00Z"},
            "source": "meter",
            "not_measured": {},
        },
        "treatments": [treatment(), spot_treatment()],
        "follow_up": "2026-05-28",
        "confirmed": [],
        "remarks": "",
        "findings": [],
        "deviation": None,
        "packs": [{"id": "common", "version": "1"}],
        "document": {},
    }
    return copy.deepcopy(body | overrides)
