"""A book that another program sealed, with texts that no reader would take: shown and drawn as text, moved whole."""

from __future__ import annotations

import copy
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from records.storage.migrate import upgrade
from records.storage.unit_of_work import SqlBook
from tests.bodies import visit_body
from tests.hostile import clean
from tests.hostile.conftest import a_world
from tests.hostile.texts import put, sealed
from tests.storage.chain import append, later

Json = dict[str, Any]
QUICK = (Phase.explicit, Phase.reuse, Phase.generate)  # a whole book for each example: too much to look for less

FREE = [
    "ref",
    *(f"business.{name}" for name in ("name", "address", "phone", "licence")),
    *(f"customer.{name}" for name in ("id", "name", "address", "phone", "email")),
    *(f"site.{name}" for name in ("id", "address", "city", "county", "zip")),
    *(f"{role}.{name}" for role in ("applicator", "supervisor") for name in ("id", "name", "licence.number")),
    "applicator.licence.categories.0",
    *(f"weather.{name}" for name in ("wind_speed", "wind_from", "temperature", "humidity", "source")),
    *(f"weather.{name}" for name in ("wind_gust", "metar", "station", "distance")),
    "remarks",
    *(f"treatments.0.{name}" for name in ("site_kind", "method", "targets.0", "equipment.id", "equipment.name")),
    *(f"treatments.0.zones.0.{name}" for name in ("id", "kind", "turf.0")),
    *(f"treatments.0.applications.0.{name}" for name in ("lot", "rate", "targets.0")),
    *(
        f"treatments.0.applications.0.product.{name}"
        for name in ("id", "name", "registration", "type", "signal_word", "actives.0.name", "actives.0.content")
    ),
    *(
        f"treatments.0.applications.0.label.{name}"
        for name in ("revision", "keep_off", "precautions.0", "first_aid", "results")
    ),
    "treatments.1.applications.0.actives.0.name",
    "findings.0.message",
    "findings.0.at",
    "findings.0.source",
    "findings.0.found",
    "deviation.reason",
    "packs.0.id",
    "document.key",
]
SCREENS = [
    ["show", "2026-1"],
    ["show", "2026-1", "--json"],
    ["find"],
    ["find", "--json"],
    ["ready"],
    ["duty"],
    ["keep", "2026-1"],
    ["summary", "2026"],
    ["summary", "2026", "--json"],
    ["inspect", "--from", "2026"],
]
FILES = [
    ["notice", "2026-1", "--out", "n.pdf"],
    ["summary", "2026", "--out", "y.pdf", "--out", "y.csv", "--out", "y.json"],
    ["inspect", "--from", "2026", "--asked-by", "x", "--out", "p.pdf"],
    ["inspect", "--from", "2026", "--asked-by", "x", "--out", "p.csv", "--out", "p.xlsx", "--out", "p.json"],
    ["duty", "--days", "400", "--ics", "d.ics"],
    ["report", "by", "--by", "county,zip,address,product,person,site_kind,method,target", "--out", "r.csv"],
    ["report", "by", "--by", "county,product,target", "--anyway", "--out", "r.xlsx"],
]


def body(texts: dict[str, str]) -> Json:
    """Return a visit's body with texts in every place that tells something in words."""
    made = visit_body(
        findings=[
            {"code": "over-rate", "severity": "note", "at": "", "message": "", "limit": "", "found": "", "source": ""}
        ],
        deviation={"reason": "", "codes": ["over-rate"], "signed_by": copy.deepcopy(visit_body()["supervisor"])},
    )
    for place, text in texts.items():
        put(made, place, text)
    return made


@settings(max_examples=4, suppress_health_check=list(HealthCheck), phases=QUICK)
@given(st.fixed_dictionaries(dict.fromkeys(FREE, sealed)), sealed)
def test_whatever_a_body_says_in_words(texts: dict[str, str], reason: str) -> None:
    """Every screen and every file is clean; export and import move it; the chain still proves."""
    with a_world() as world:
        made = body(texts)
        with world.kit.book.write() as work:
            first = append(work, made)
            append(
                work,
                later(made, "amended", change={"action": "amended", "reason": reason, "by": reason}),
                first.serial,
                2,
                "amended",
            )
            work.commit()
        world.kit.set("2026-07-01T09:00")
        for words in SCREENS:
            world.run(*words, codes=(0, 1, 11))
        for words in FILES:
            world.written(*words, codes=(0, 1, 2, 9, 11, 17))
        assert world.run("verify").code == 0
        world.run("export", "--out", "all.jsonl")
        text = (world.folder / "all.jsonl").read_text("utf-8")
        assert not set(text) & clean.TURNING
        assert all(line.isprintable() or not line.isascii() for line in text.splitlines())
        other = world.folder / "other.db"
        upgrade(other)
        world.run("--book", other, "import", "all.jsonl", codes=(0,))
        with SqlBook(other).read() as work:
            assert work.records.revisions(first.serial)[0].body == made
