"""Loads, stock and cost on the command line: one screen each, one JSON document each."""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

NOW = "2026-10-21T18:00-05:00"


def test_an_empty_book_says_where_to_begin(firm: Path, swathbook: Swathbook) -> None:
    """Nothing bought, nothing used; the loads of the firm are listed."""
    assert "nothing was put out in these days" in swathbook("--book", firm, "cost").out
    listed = swathbook("--book", firm, "--json", "mix", "list").json["mixes"]
    assert {one["mix"]: one["in_tank"] for one in listed} == {
        "mix-0909": True,
        "mix-0609": True,
        "mix-0513": True,
        "mix-0512": False,
    }


def test_a_book_without_loads(empty_book: Path, swathbook: Swathbook) -> None:
    assert "no load is made up yet" in swathbook("--book", empty_book, "mix").out
    assert "nothing is bought, mixed or used yet" in swathbook("--book", empty_book, "stock").out


def test_a_load_from_the_tank_to_the_rinse(year: Path, swathbook: Swathbook) -> None:
    """Made up with a leftover, counted, discarded in part, rinsed; the account says all of it."""
    run = partial(swathbook, "--book", year, at=NOW)
    made = run(
        "mix",
        "make",
        "mix-1021",
        "--equipment",
        "skid-1",
        "--spray",
        "50 gal",
        "--product",
        "orlop-3w=30 fl oz:R2618",
        "--carried",
        "mix-0909=2 gal",
        "--at",
        "12:00",
    )
    assert made.code == 0
    assert (
        "mix-1021: 50 gal of spray with orlop-3w 30 fl oz (lot R2618), brindle-4l 0.9 fl oz (lot B2311)" in made.words
    )
    assert run("mix", "left", "mix-1021", "8 gal", "--at", "16:00", "--by", "mo").code == 0
    assert "waste site" in run("mix", "discard", "mix-1021", "3 gal", "--how", "waste site", "--at", "16:10").err
    rinsed = run("--json", "mix", "rinse", "skid-1", "--times", "3", "--water", "10 gal", "--spray", "5 gal")
    assert rinsed.json["words"] == "skid-1 rinsed 3 x with 10 gal after mix-1021, 5 gal of it went with the water"
    shown = run("mix", "show", "mix-1021").out
    assert "unaccounted 42 gal 25.2 fl oz 0.756 fl oz" in " ".join(shown.split())
    document = run("--json", "mix", "show", "mix-1021").json
    assert document["spray"] == {
        "made": "50 gal",
        "used": "0 gal",
        "disposed": "8 gal",
        "carried": "0 gal",
        "left": "0 gal",
        "unaccounted": "42 gal",
    }
    assert document["carried_from"] == [{"mix": "mix-0909", "spray": "2 gal"}]
    assert [one["kind"] for one in document["log"]] == ["count", "disposal", "rinse"]
    listed = run("mix").out
    assert "skid-1, rinsed" in listed
    assert (
        run("--json", "mix", "make", "mix-x", "--spray", "1 gal", "--product", "spreadwell=1 fl oz").json["notes"] == []
    )
    assert run("mix", "show", "mix-x").out.count("no stop has taken of it yet") == 1


def test_the_stops_of_a_load_stand_in_the_order_of_work(season_book: Path, swathbook: Swathbook) -> None:
    """Each with the share of each product; the sum is what was made less what is left."""
    ran = swathbook("--book", season_book, "mix", "show", "mix-0512")
    assert ran.code == 0
    assert "made 2026-05-12 07:30 (UTC-05:00), 55 gal of spray" in ran.words
    document = swathbook("--book", season_book, "--json", "mix", "show", "mix-0512").json
    begun = [one["started"] for one in document["stops"]]
    assert begun == sorted(begun)
    assert len(begun) == 3
    parts = {name: Fraction(text.split()[0]) for name, text in document["spray"].items()}
    assert sum((Fraction(one["spray"].split()[0]) for one in document["stops"]), Fraction(0)) == parts["used"]
    gone = parts["used"] + parts["disposed"] + parts["carried"] + parts["left"]
    assert parts["made"] - gone == parts["unaccounted"] == 0


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("mix", "show", "mix-9"), 9, "no mix 'mix-9'"),
        (("mix", "make", "m", "--spray", "50", "--product", "brindle=1 gal"), 8, "did you mean brindle-4l"),
        (("mix", "make", "m", "--spray", "50 gal", "--product", "brindle-4l"), 2, "--product"),
        (("mix", "discard", "mix-0512", "1 gal"), 2, "--how is missing"),
        (("stock", "nothing"), 9, "no product 'nothing'"),
        (("stock", "buy", "brindle-4l", "two"), 2, "two"),
        (("stock", "buy", "brindle-4l", "2 x 2.5 gal", "--price", "cheap"), 2, "no amount of money"),
        (("stock", "empty", "brindle-4l", "0"), 2, "no number of containers"),
        (("stock", "empty", "brindle-4l", "many"), 2, "'many' is no number of containers"),
        (("stock", "count", "brindle-4l", "-7 gal"), 2, "'-7 gal' is less than nothing"),
        (("stock", "buy", "brindle-4l", "1 gal", "--price", "-7"), 2, "no amount of money"),
        (("mix", "discard", "mix-0512", "-3 gal", "--how", "x"), 2, "'-3 gal' is less than nothing"),
        (("mix", "left", "mix-0512", "-3 gal"), 2, "'-3 gal' is less than nothing"),
        (("cost", "--per", "moon"), 2, "visit, product, site, month"),
        (("cost", "--from", "spring"), 2, "no day"),
        (("cost", "compare", "brindle-4l=0.5 % v/v"), 2, "--output"),
    ],
)
def test_what_is_refused(words: tuple[str, ...], code: int, said: str, year: Path, swathbook: Swathbook) -> None:
    """One line, and what to do; nothing is written."""
    ran = swathbook("--book", year, *words)
    assert (ran.code, ran.out) == (code, "")
    assert said in ran.words


def test_stock_answers_whether_it_all_adds_up(year: Path, swathbook: Swathbook) -> None:
    """The first line says so; a product shows its lots, where they are from and what does not fit."""
    run = partial(swathbook, "--book", year)
    assert run("stock", "buy", "brindle-4l", "2 x 2.5 gal", "--lot", "B2207", "--label", "2025-11", "--price", "184.50",
               "--expires", "2026-11-30", "--supplier", "County Turf", "--at", "2026-04-02").code == 0  # fmt: skip
    bought = run(
        "--json", "stock", "buy", "brindle-4l", "2 x 2.5 gal", "--price", "398", "--total", "--at", "2026-07-01"
    )
    assert bought.json["words"] == "2 x 2.5 gal brindle-4l, $398 in all"
    assert bought.json["notes"] == ["no lot is named: a recall cannot be followed to the lawns"]
    assert run("stock", "discard", "brindle-4l", "12 fl oz", "--how", "spilled", "--lot", "B2207").code == 0
    assert "B2207" in run("log", "--kind", "disposal").words
    assert run("stock", "empty", "brindle-4l", "1", "--rinsed").code == 0
    assert run("stock", "count", "brindle-4l", "9 gal").code == 0
    ran = run("stock")
    assert ran.code == 1  # most of it was used and never bought
    assert run("--json", "stock").code == 1
    assert run("stock", "brindle-4l").code == 0  # a gap is shown and explained
    assert ran.out.startswith("stock of 2026-10-21 does not add up: brindle-4l,")
    assert "  calibration fresh: " in ran.out or "  calibration stale: " in ran.out
    assert {one["equipment"] for one in run("--json", "stock").json["calibrations"]} >= {"skid-1", "skid-2", "can-1"}
    document = run("--json", "stock", "brindle-4l").json
    (line,) = document["products"]
    parts = [Fraction(line[name]) for name in ("bought", "used", "disposed", "in_mixes", "on_hand", "gap")]
    assert parts[0] - sum(parts[1:5]) == parts[5] > 0
    assert line["containers"] == {"bought": 4, "emptied": 1, "rinsed": 1, "not_rinsed": 0}
    shown = run("stock", "brindle-4l").out
    assert "B2207 2025-11 2026-11-30" in " ".join(shown.split())
    assert "names lot B2311, which was never bought" in shown
    assert "counted 2026-10-21" in shown
    assert run("stock", "show", "brindle-4l").out == shown
    assert "never counted" in run("stock", "spreadwell").out
    assert "swathbook stock" in run("stock", "--help").out


def test_cost_says_what_has_no_price(year: Path, swathbook: Swathbook) -> None:
    """A product that was never bought costs nobody knows what, not nothing."""
    run = partial(swathbook, "--book", year)
    for product, packs, price in (("orlop-3w", "3 x 1 gal", "96"), ("spreadwell", "1 gal", "41.20")):
        assert run("stock", "buy", product, packs, "--price", price, "--at", "2026-04-02").code == 0
    shown = run("cost", "--per", "product").out
    assert "orlop-3w" in shown
    assert "without a price or an amount: the true cost is higher" in " ".join(shown.split())
    assert "?" in next(line for line in shown.splitlines() if line.startswith("nidder-04g"))
    sums = set()
    for per in ("visit", "product", "site", "month"):
        document = run("--json", "cost", "--per", per, "--from", "2026-05", "--to", "2026-09").json
        assert document["per"] == per
        sums.add(document["total"]["cost"])
        assert run("cost", "--per", per).code == 0
    assert len(sums) == 1
    both = run("cost", "compare", "orlop-3w", "orlop-3w=1.5 fl oz/1000 sq ft + spreadwell=0.25 % v/v", "--output",
               "2 gal/1000 sq ft")  # fmt: skip
    assert "orlop-3w costs $" in both.words
    assert "less per 1,000 sq ft than" in both.words
    assert "all cost the same" in run("cost", "compare", "orlop-3w", "orlop-3w").out
    assert "no price is known of brindle-4l" in run("cost", "compare", "brindle-4l").words
    told = run("--json", "cost", "compare", "orlop-3w=128 fl oz/acre").json["plans"][0]
    assert (told["per_acre"], told["per_1000_sq_ft"]) == ("96", "2.203857")


def test_the_shop_log_tells_all_of_it(year: Path, swathbook: Swathbook) -> None:
    """What is logged here is listed by `log`, and what is withdrawn counts no more."""
    bought = swathbook("--book", year, "--json", "stock", "buy", "brindle-4l", "1 gal", "--price", "90")
    assert "1 x 1 gal brindle-4l, $90 each" in swathbook("--book", year, "log").words
    assert swathbook("--book", year, "withdraw", bought.json["event"], "--reason", "typed twice").code == 0
    assert swathbook("--book", year, "--json", "stock", "brindle-4l").json["products"][0]["bought"] == "0"
