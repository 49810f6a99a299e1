"""What was done at a site last, by whom, and whether it worked."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from tests.cli.conftest import visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

LATER = "2026-11-10T17:00-06:00"


def test_the_newest_visits_with_the_days_between(season_book: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", season_book, "last", "quarry", at=LATER)
    assert ran.code == 0, ran.err
    assert ran.out.startswith("58 Quarry Road (quarry-rd-58)")
    assert "2026-09-10 61 days ago, by Tâm Vũ" in ran.words
    assert "Kelbrook 60 DF 1.251 oz wt at 0.09 oz wt/1000 sq ft; against white clover" in ran.words
    assert "2026-08-12 29 days earlier" in ran.words
    assert "not rated yet" in ran.out
    assert "swathbook last quarry-rd-58 --count 50" in ran.words
    found = swathbook("--book", season_book, "last", "quarry", "--count", 50, "--json", at=LATER).json
    days = [one["day"] for one in found["visits"]]
    assert days == sorted(days, reverse=True)
    assert found["earlier"] == 0
    listed = swathbook("--book", season_book, "find", "--site", "quarry-rd-58", "--json", at=LATER).json
    assert {one["serial"] for one in found["visits"]} == {one["serial"] for one in listed["applications"]}


def test_ratings_and_what_does_not_stand_any_more(year: Path, swathbook: Swathbook) -> None:
    assert swathbook("--book", year, "rate", "quarry", "clover=75", "--by", "ines", at=LATER).code == 0
    ran = swathbook("--book", year, "last", "quarry", "--count", 1, at=LATER)
    assert "white clover: 75 % control after 61 days (2026-11-10, by Inés" in ran.words
    (newest,) = swathbook("--book", year, "last", "quarry", "--count", 1, "--json", at=LATER).json["visits"]
    assert (
        swathbook("--book", year, "void", newest["serial"], "--reason", "wrong address", "--by", "mo", at=LATER).code
        == 0
    )
    (before,) = swathbook("--book", year, "last", "quarry", "--count", 1, "--json", at=LATER).json["visits"]
    assert (before["day"], before["ratings"]) == ("2026-08-12", [])


def test_a_site_without_a_past_and_one_that_is_not_there(firm: Path, swathbook: Swathbook) -> None:
    assert "nothing was done here yet" in swathbook("--book", firm, "last", "quarry").out
    ran = swathbook("--book", firm, "last", "quarri-rd-58")
    assert (ran.code, "Did you mean quarry-rd-58?" in ran.words) == (9, True)


def test_a_visit_entered_late_stands_at_its_day(firm: Path, swathbook: Swathbook) -> None:
    """What counts is the day of the work, not the order in which it was written down."""
    for number, day in enumerate(("2026-10-20", "2026-10-02")):
        document = visit(ref=f"test-{number}", started=f"{day}T09:10", finished=f"{day}T09:32")
        document["weather"]["measured_at"] = f"{day}T09:05"
        document["treatments"][0]["products"] = [
            {"product": ("flintel-4f", "orlop-3w")[number], "rate": ("0.4", "1")[number] + " fl oz/1000 sq ft"}
        ]
        document["remarks"] = "=cmd() <b>" if not number else ""
        document["confirmed"] = ["late", "not-checkable", "unlikely-amount", "target-not-listed"]
        ran = swathbook("--book", firm, "close", "-", stdin=json.dumps(document))
        assert ran.code == 0, ran.out
    found = swathbook("--book", firm, "last", "lark", "--json").json["visits"]
    assert [one["day"] for one in found] == ["2026-10-20", "2026-10-02"]
    assert found[1]["days_to_the_next"] == 18
    assert "18 days earlier" in swathbook("--book", firm, "last", "lark").words


def test_an_amended_record_is_told_as_it_stands_now(year: Path, swathbook: Swathbook) -> None:
    (newest,) = swathbook("--book", year, "last", "quarry", "--count", 1, "--json").json["visits"]
    ran = swathbook(
        "--book", year, "amend", newest["serial"], "--set", "remarks=gate open", "--reason", "left out", "--by", "mo"
    )
    assert ran.code == 0, ran.err
    (now,) = swathbook("--book", year, "last", "quarry", "--count", 1, "--json").json["visits"]
    assert (now["serial"], now["remarks"]) == (newest["serial"], "gate open")
