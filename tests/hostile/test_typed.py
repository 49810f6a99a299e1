"""Texts that mean harm in every field that takes text: kept as typed or refused by name, and shown as text."""

from __future__ import annotations

import copy
import json
from string import ascii_letters
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from records.reports.fonts import REGULAR, face
from records.services.loading import load
from tests.hostile import clean
from tests.hostile.conftest import a_world
from tests.hostile.texts import TYPED, put, typed
from tests.kit import ASKED, FIRM, visit

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tests.hostile.conftest import World

Json = dict[str, Any]
QUICK = (Phase.explicit, Phase.reuse, Phase.generate)  # a whole book for each example: too much to look for less

CATALOGUE = {
    "business": ["name", "address", "phone", "licence", "insurer", "insured"],
    "people": ["name", "phone", "licences.0.number", "licences.0.categories.0"],
    "customers": ["name", "address", "phone"],
    "sites": [
        "address",
        "city",
        "county",
        "notes",
        "zones.0.name",
        "notify.0.name",
        "notify.0.address",
        "notify.0.phone",
    ],
    "products": [
        "name",
        "type",
        "maker",
        "supplier",
        "actives.0.name",
        "actives.0.group",
        "label.revision",
        "label.keep_off",
        "label.precautions.0",
        "label.first_aid",
        "label.results",
    ],
    "equipment": ["name", "kind"],
}
VISIT = [
    "ref",
    "remarks",
    "incident",
    "permit",
    "authorized_by",
    "mixing_place",
    "weather.source",
    "weather.humidity",
    "treatments.0.targets.1",
    "treatments.0.equipment",
    "treatments.0.extent",
    "treatments.0.purpose",
    "treatments.0.dilution",
    "treatments.0.diluent",
    "treatments.0.products.0.lot",
    "treatments.0.products.0.supplier",
    "confirmed.0",
]
FIELDS = [f"{section}.{field}" for section, fields in CATALOGUE.items() for field in fields] + VISIT
SCREENS = [
    ["show", "2026-1"],
    ["show", "2026-1", "--json"],
    ["show", "2026-1", "--entry"],
    ["find"],
    ["find", "--json"],
    ["catalogue"],
    *(["catalogue", kind, *more] for kind in ("people", "sites", "products") for more in ([], ["--json"])),
    ["ready"],
    ["ready", "--json"],
    ["duty"],
    ["notify", "mill-9", "--on", "2026-05-20"],
    ["emergency", "mill-9"],
    ["keep", "2026-1"],
    ["summary", "2026"],
    ["inspect", "--from", "2026"],
    ["held"],
]
FILES = [
    ["notice", "2026-1", "--out", "n.pdf"],
    ["notice", "2026-1", "--language", "es", "--paper", "a4", "--out", "e.pdf"],
    ["notice", "mill-9", "--season", "2026", "--out", "s.pdf"],
    ["summary", "2026", "--out", "y.pdf", "--out", "y.csv", "--out", "y.json"],
    ["inspect", "--from", "2026", "--asked-by", "x", "--out", "p.pdf"],
    ["inspect", "--from", "2026", "--asked-by", "x", "--out", "p.csv", "--out", "p.xlsx", "--out", "p.json"],
    ["emergency", "mill-9", "--asked-by", "x", "--out", "m.pdf"],
    ["sign", "mill-9", "--on", "2026-05-14", "--out", "g.pdf"],
    ["duty", "--days", "400", "--ics", "d.ics"],
]


def base() -> Json:
    """Return the firm and a visit with something in every field that takes text."""
    made = copy.deepcopy(FIRM)
    made["business"] |= {"insurer": "x", "insured": "x", "packs": ["us-mn"]}
    made["sites"] = made["sites"][:1]
    made["sites"][0] |= {"notify": [{"id": "lund", "name": "x", "why": "asked", "address": "x", "phone": "x"}]}
    made["people"] = made["people"][:1]
    made["products"] = made["products"][:1]
    made["products"][0]["label"] |= {"precautions": ["x"], "first_aid": "x", "results": "x"}
    return made


def told(text: str) -> None:
    """A problem or finding is fit to be shown."""
    clean.screen(text)
    assert len(text) < 2_000


def loaded(world: World, texts: Mapping[str, str]) -> Json:
    """Load the firm with these texts in it, without those that are refused; return what was taken."""
    sections = base()
    taken: Json = {}
    for section, fields in CATALOGUE.items():
        clear = sections[section] if section == "business" else sections[section][0]
        wanted = [field for field in fields if f"{section}.{field}" in texts]
        while True:
            doc = copy.deepcopy(clear)
            for field in wanted:
                put(doc, field, texts[f"{section}.{field}"])
            data = json.dumps({section: doc if section == "business" else [doc]}).encode()
            report = load(world.kit.book, [("x.json", data)], world.kit.clock)
            if report.ok:
                taken |= {f"{section}.{field}": texts[f"{section}.{field}"] for field in wanted}
                break
            refused = set()
            for problem in report.problems:
                told(str(problem))
                place = problem.where.replace("[", ".").replace("]", "")
                place = place.removeprefix(f"{section}.").removeprefix("0.")
                refused |= {field for field in wanted if field == place or field.startswith(f"{place}.")}
            assert refused, report.problems
            wanted = [field for field in wanted if field not in refused]
    return taken


def closed(world: World, texts: Mapping[str, str]) -> Json:
    """Close a visit with these texts in it, first all of them, then without those that are refused."""
    wanted = [field for field in VISIT if field in texts]
    while True:
        document = visit(confirmed=["x", *ASKED], equipment="x", extent="x")
        document["treatments"][0]["targets"].append("plantain")
        for field in wanted:
            put(document, field, texts[field])
        ran = world.run("close", "-", "--json", stdin=json.dumps(document).encode(), codes=(0, 1))
        result = ran.json
        for finding in result["findings"]:
            told(finding["message"])
            told(finding["at"])
        world.run("close", "-", stdin=json.dumps(document).encode(), codes=(0, 1))
        if result["status"] == "sealed":
            return {field: texts[field] for field in wanted}
        stops = [finding["at"] for finding in result["findings"] if finding["severity"] != "note"]
        places = {at.replace("[", ".").replace("]", "") for at in stops}
        refused = {field for field in wanted if any(field == at or field.startswith(f"{at}.") for at in places)}
        assert refused, result["findings"]
        world.run("held", "show", result["held"])
        world.run(
            "held",
            "drop",
            result["held"],
            "--reason",
            texts.get("remarks", "x").replace("\0", "?") or "x",
            codes=(0, 2),
        )
        wanted = [field for field in wanted if field not in refused]


@settings(max_examples=4, suppress_health_check=list(HealthCheck), phases=QUICK)
@given(st.fixed_dictionaries(dict.fromkeys(FIELDS, typed)))
def test_every_field_at_once(texts: dict[str, str]) -> None:
    """Whatever is typed: every screen and every file afterwards is clean, and the record keeps what was taken."""
    with a_world() as world:
        taken = loaded(world, texts) | closed(world, texts)
        body = world.run("show", "2026-1", "--json").json["revisions"][0]["body"]
        assert body["remarks"] == taken.get("remarks", "").strip()
        for words in SCREENS:
            world.run(*words)
        for words in FILES:
            world.written(*words)
        assert world.run("verify").code == 0


def plain_like(text: str) -> str:
    """Return letters that take as much room as a text."""
    widths = face(REGULAR).widths
    return "".join(
        char if char == " " else min(ascii_letters, key=lambda one: abs(widths[one] - widths[char])) for char in text
    )


def drawn(data: bytes) -> tuple[int, set[tuple[str, float, float]]]:
    """Return the number of pages and every text with its place on the first."""
    reader = clean.pdf(data)
    found: set[tuple[str, float, float]] = set()
    reader.pages[0].extract_text(
        visitor_text=lambda text, _cm, tm, _font, _size: found.add((text.strip(), round(tm[4], 1), round(tm[5], 1)))
    )
    return len(reader.pages), found


@pytest.mark.parametrize("text", [text for text in TYPED if text.isascii() and len(text) <= 40])
def test_markup_moves_nothing_on_a_page(text: str, world: World) -> None:
    """Beside a plain text of the same length, the pages are as many, and all else stands where it stood."""
    pages: list[tuple[int, set[tuple[str, float, float]]]] = []
    for content in (text, plain_like(text)):
        loaded(world, {"customers.name": content, "products.name": content, "sites.county": content})
        document = visit(confirmed=ASKED, remarks=content, targets=["plantain", content], lot=content)
        document["started"] = document["started"].replace("14T", "13T") if pages else document["started"]
        document["finished"] = document["finished"].replace("14T", "13T") if pages else document["finished"]
        world.run("close", "-", stdin=json.dumps(document).encode(), codes=(0,))
        (made,) = world.written("notice", f"2026-{len(pages) + 1}", "--out", "n.pdf", codes=(0,)).values()
        pages.append(drawn(made))
    (count, hostile), (plain_count, plain) = pages
    assert count == plain_count
    fixed = {(words, x, y) for words, x, y in plain if words in {word for word, _, _ in hostile} and words}
    assert len(fixed) > 20
    assert fixed <= hostile
