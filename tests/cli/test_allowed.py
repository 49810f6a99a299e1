"""What labels allow on a site today; and that closing says the same."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from datetime import date, datetime, time, timedelta
from random import Random
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from records.clock import FixedClock
from records.rules.allowances import lowest_rate
from records.rules.label_match import Match, match_ground
from records.services.allowed import Asked, allowed
from records.services.closing.service import close_visit
from records.services.directory import Directory
from records.storage.unit_of_work import SqlBook

if TYPE_CHECKING:
    from pathlib import Path

    from records.domain.place import Zone
    from records.domain.product import Product
    from tests.cli.conftest import Swathbook

LATER = "2026-10-27T08:30-05:00"


def told(swathbook: Swathbook, book: Path, *words: object, at: str = LATER) -> dict[str, Any]:
    found: dict[str, Any] = swathbook("--book", book, "allowed", *words, "--json", at=at).json
    return found


def test_one_product_on_one_lawn(season_book: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", season_book, "allowed", "quarry", "orlop", "--wind", 7, "--temperature", 60, at=LATER)
    assert ran.code == 0, ran.err
    assert "yes  Orlop Three-Way, back" in ran.out or "yes Orlop Three-Way, back" in ran.words
    assert "rate 1 to 1.5 fl oz/1000 sq ft" in ran.words


@pytest.mark.parametrize(
    ("words", "stop"),
    [
        (("quarry", "orlop", "--wind", "12"), "wind 12 mph is over the label's 10 mph"),
        (("quarry", "orlop", "--wind", "16 km/h", "--temperature", "30 degC"), "temperature 30 degC is over"),
        (("quarry", "garrick", "--zone", "front"), "not labelled for turf"),
        (("lark", "brindle", "--zone", "front"), "not before 2027-01-01"),
        (("quarry", "nidder", "--method", "spot", "--zone", "front"), "not labelled for spot on turf; its label has"),
    ],
)
def test_what_stands_against_it(words: tuple[str, ...], stop: str, season_book: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", season_book, "allowed", *words, at=LATER)
    assert ran.code == 1
    assert stop in ran.words
    assert all(not one["allowed"] for one in told(swathbook, season_book, *words)["products"])


def test_every_product_on_the_turf(season_book: Path, swathbook: Swathbook) -> None:
    found = told(swathbook, season_book, "lark-lane-7")["products"]
    assert {one["zone"] for one in found} == {"front", "back"}
    assert {one["product"] for one in found} >= {"brindle-4l", "orlop-3w", "garrick-3sl", "sourleaf-25b"}
    assert [one["allowed"] for one in found] == sorted((one["allowed"] for one in found), reverse=True)
    ran = swathbook("--book", season_book, "allowed", "lark-lane-7", at=LATER)
    assert ran.code == 0


def test_a_weed_that_the_label_does_not_name_is_a_note(season_book: Path, swathbook: Swathbook) -> None:
    found = told(swathbook, season_book, "quarry", "orlop", "--target", "canada thistle", "--zone", "front")
    assert any("does not name canada thistle" in note for note in found["products"][0]["notes"])


@pytest.mark.parametrize(
    ("words", "words_told"),
    [
        (("nowhere", "orlop"), "no site 'nowhere'"),
        (("quarry", "orlopp"), "no product 'orlopp'"),
        (("quarry", "three-way"), "fits 2 products"),
        (("quarry", "orlop", "--zone", "side"), "has no zone 'side'"),
        (("quarry", "orlop", "--wind", "x", "--temperature", "4 lb"), "--temperature"),
        (("quarry", "orlop", "--on", "31"), "is no day"),
        (("quarry", "orlop", "--on", "2027-01"), "is no single day"),
    ],
)
def test_what_cannot_be_read(words: tuple[str, ...], words_told: str, season_book: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", season_book, "allowed", *words, at=LATER)
    assert ran.code not in {0, 1}
    assert words_told in ran.words


@pytest.mark.parametrize(
    ("words", "told_so"),
    [
        (("quarry", "orlop", "--method", "brodcast"), "Did you mean broadcast?"),
        (("quarry", "orlop", "--method", "flood"), "is no method. Such as: broadcast"),
        (("quarry", "Brindel 4L"), "Did you mean brindle 4l?"),
    ],
)
def test_a_slip_is_no_verdict(words: tuple[str, ...], told_so: str, season_book: Path, swathbook: Swathbook) -> None:
    """A method that no label knows would make every product look forbidden."""
    ran = swathbook("--book", season_book, "allowed", *words, at=LATER)
    assert ran.code not in {0, 1}
    assert told_so in ran.words


def test_the_day_is_that_of_the_site(season_book: Path, swathbook: Swathbook) -> None:
    """At half past eleven at night in Minnesota the calendar of UTC is a day ahead."""
    assert told(swathbook, season_book, "quarry", "orlop", at="2026-10-28T04:30+00:00")["day"] == "2026-10-27"


HEDGED = {
    "id": "hedged-2", "name": "Hedged 2", "registration": "99999-201", "form": "liquid",
    "restricted_use": True, "actives": [{"name": "hedgine", "content": "2 lb/gal"}],
    "label": {
        "revision": "2026-01",
        "uses": [
            {"site": "turf", "turf": ["kentucky bluegrass", "tall fescue"],
             "targets": ["plantain"], "target_force": "must",
             "rates": [{"min": "0.5 fl oz/1000 sq ft", "max": "1 fl oz/1000 sq ft"}]},
        ],
    },
}  # fmt: skip


def load(swathbook: Swathbook, book: Path, folder: Path, **sections: object) -> None:
    path = folder / "more.json"
    path.write_text(json.dumps(sections), "utf-8")
    ran = swathbook("--book", book, "load", path)
    assert ran.code == 0, ran.err


def test_what_a_label_forbids_wins_over_what_federal_law_allows(
    firm: Path, swathbook: Swathbook, tmp_path: Path
) -> None:
    """Where the label allows the named targets only, another weed is a stop, as at closing."""
    load(swathbook, firm, tmp_path, products=[HEDGED])
    words = ("quarry", "hedged-2", "--zone", "front")
    ran = swathbook("--book", firm, "allowed", *words, "--target", "dandelion", at=LATER)
    assert (ran.code, "allows only the targets it names, and dandelion" in ran.words) == (1, True)
    ran = swathbook("--book", firm, "allowed", *words, "--target", "Plantain", at=LATER)
    assert (ran.code, "restricted use" in ran.words) == (0, True)


def test_bare_products_and_bare_sites(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """Without a label nothing is allowed; without turf every zone is looked at; without a known grass it is said."""
    bare = {key: value for key, value in HEDGED.items() if key != "label"} | {"id": "bare", "name": "Bare"}
    place = {"customer": "akesson", "city": "Birchfold", "county": "Itasca", "state": "MN", "zip": "55290"}
    zones = [{"id": "walk", "kind": "hardscape", "area": "100 sq ft"}]
    unknown = [{"id": "lawn", "kind": "turf", "area": "900 sq ft"}]
    load(
        swathbook, firm, tmp_path, products=[bare, HEDGED],
        sites=[
            place | {"id": "walk-1", "address": "1 Stone Walk", "zones": zones},
            place | {"id": "moss-1", "address": "1 Moss Lane", "zones": unknown},
        ],
    )  # fmt: skip
    assert "no label is in the book" in swathbook("--book", firm, "allowed", "quarry", "bare", at=LATER).words
    found = told(swathbook, firm, "walk-1")["products"]
    assert {(one["zone"], one["allowed"]) for one in found if one["product"] == "hedged-2"} == {("walk", False)}
    (one,) = told(swathbook, firm, "moss-1", "hedged-2")["products"]
    assert any("the grass of lawn is not in the book" in note for note in one["notes"])


def test_no_firm_is_said_in_one_line(empty_book: Path, tmp_path: Path, swathbook: Swathbook) -> None:
    book = shutil.copyfile(empty_book, tmp_path / "empty.db")
    ran = swathbook("--book", book, "allowed", "quarry")
    assert ran.code not in {0, 1}
    assert len(ran.err.splitlines()) <= 2


def test_a_voided_record_counts_no_more(year: Path, swathbook: Swathbook) -> None:
    """Sedgeline may go twice a year; once one of two records is voided it may go again."""
    words = ("quarry", "sedgeline", "--zone", "back")
    before = swathbook("--book", year, "allowed", *words, at=LATER)
    assert "ask Sedgeline 75 WG, back: not before 2027-01-01" in before.words
    assert "only if the treatments hit the same ground, so closing asks" in before.words  # two spots of one lawn
    listed = swathbook("--book", year, "find", "--site", "quarry", "--product", "sedgeline", "--json", at=LATER).json
    serial = listed["applications"][0]["serial"]
    assert swathbook("--book", year, "void", serial, "--reason", "other lawn", "--by", "mo", at=LATER).code == 0
    ran = swathbook("--book", year, "allowed", *words, at=LATER)
    assert (ran.code, "1 of 2 applications left" in ran.words) == (0, True)
    assert "yes Sedgeline 75 WG, back" in ran.words


# What label, ground and past settle, whatever else is in the visit
WHOLLY_LABEL = {
    "too-soon",
    "over-count",
    "over-year",
    "over-active",
    "turf-not-listed",
    "site-not-listed",
    "method-not-allowed",
}
TRIES = 60


def test_closing_says_the_same(season_book: Path, tmp_path: Path) -> None:
    """A visit at the label's lowest rate by area is held for label or past exactly where `allowed` says no.

    Zones, products, methods and days are drawn by lot. Where only spots on spots would break a ceiling, both
    ask. Every visit is left open, so that none changes the past.
    """
    book = SqlBook(shutil.copyfile(season_book, tmp_path / "book.db"))
    with book.read() as work:
        directory = Directory(work.catalogue)
        products = [one for one in directory.products() if one.is_pesticide and one.label is not None]
        sites = [found[0] for key in directory.ids("site") if (found := directory.site(key)) is not None]
    draw, seen = Random(6), Counter[bool]()  # noqa: S311 - drawn by lot, the same ones each time
    while seen.total() < TRIES:
        site, product = draw.choice(sites), draw.choice(products)
        zone, method = draw.choice(site.zones), draw.choice(["broadcast", "spot"])
        day = date(2026, 7, 1) + timedelta(draw.randrange(260))
        low = rate_for(product, zone, method)
        if low is None:
            continue
        clock = FixedClock(datetime.combine(day, time(17), ZoneInfo("America/Chicago")))
        (verdict,) = allowed(book, clock, site.id, product.id, Asked(zone=zone.id, method=method)).verdicts
        document = {
            "site": site.id, "applicator": "mo", "started": f"{day}T09:10", "finished": f"{day}T09:32",
            "weather": {"wind_speed": "3 mph", "wind_from": "W", "temperature": "60 degF",
                        "measured_at": f"{day}T09:05", "source": "meter"},
            "treatments": [{"zones": [zone.id], "method": method, "targets": ["dandelion"],
                            "area": str(zone.area),
                            "products": [{"product": product.id, "rate": low, "lot": "X"}]}],
        }  # fmt: skip
        outcome = close_visit(book, document, clock, is_left=True)
        against = {one["severity"] for one in outcome.findings if one["code"] in WHOLLY_LABEL} - {"note"}
        assert bool(against) != verdict.is_allowed, (day, method, verdict, outcome.findings)
        assert ("stop" in against) == bool(verdict.stops), (day, method, verdict, outcome.findings)
        seen[verdict.is_allowed] += 1
    assert min(seen[True], seen[False]) > TRIES // 6, seen


def rate_for(product: Product, zone: Zone, method: str) -> str | None:
    """Return the label's lowest rate by area where it speaks; any of its rates by area where it does not."""
    assert product.label is not None
    matched = match_ground(product.label, zone.kind, zone.turf, method)
    low = lowest_rate(matched.uses)
    if matched.verdict is Match.LISTED:
        return None if low is None else str(low)
    return next((str(rate.low) for use in product.label.uses for rate in use.rates if rate.low is not None), None)
