"""Stops to make: planned, moved and taken off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

MORNING = "2026-10-27T07:00-05:00"


def stops(swathbook: Swathbook, book: Path, day: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = swathbook("--book", book, "day", "--on", day, "--json", at=MORNING).json["stops"]
    return found


def test_stops_are_planned_in_driving_order(year: Path, swathbook: Swathbook) -> None:
    ran = swathbook(
        "--book", year, "day", "add", "58 Quarry", "lark-lane-7", "--on", "2026-10-28", "--at", "8:30",
        "--for", "clover", "--by", "mo", at=MORNING,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    found = stops(swathbook, year, "2026-10-28")
    assert [(one["site"], one["time"], one["for"], one["state"]) for one in found] == [
        ("quarry-rd-58", "08:30", "clover", "open"),
        ("lark-lane-7", None, "clover", "open"),
    ]
    assert found[0]["person"] == "Mo Lindqvist"
    assert "2026-09-10 by" in found[0]["last"]
    assert not stops(swathbook, year, "2026-10-27")
    assert swathbook("--book", year, "verify", at=MORNING).code == 0


def test_a_stop_is_put_off_and_taken_off(year: Path, swathbook: Swathbook) -> None:
    swathbook("--book", year, "day", "add", "quarry", "lark", "--for", "clover", at=MORNING)
    moved = swathbook(
        "--book",
        year,
        "postpone",
        "quarry",
        "--from",
        "2026-10-27",
        "--to",
        "2026-10-29",
        "--reason",
        "wind",
        at=MORNING,
    )
    assert moved.code == 0, moved.err
    today = {one["site"]: one["state"] for one in stops(swathbook, year, "today")}
    assert today == {"quarry-rd-58": "put off", "lark-lane-7": "open"}
    (later,) = stops(swathbook, year, "2026-10-29")
    assert (later["site"], later["state"], later["for"]) == ("quarry-rd-58", "open", "clover")
    event = next(one["event"] for one in stops(swathbook, year, "today") if one["site"] == "lark-lane-7")
    assert swathbook("--book", year, "withdraw", event, "--reason", "customer away", at=MORNING).code == 0
    assert [one["site"] for one in stops(swathbook, year, "today")] == ["quarry-rd-58"]


def put_off(swathbook: Swathbook, book: Path, before: str, after: str) -> None:
    ran = swathbook(
        "--book", book, "postpone", "quarry", "--from", before, "--to", after, "--reason", "wind", at=MORNING
    )
    assert ran.code == 0, ran.err


def states(swathbook: Swathbook, book: Path, *days: str) -> list[list[str]]:
    return [[one["state"] for one in stops(swathbook, book, day)] for day in days]


DAYS = ("2026-10-27", "2026-10-28", "2026-10-29")


def test_a_stop_that_is_put_off_twice_is_not_lost(year: Path, swathbook: Swathbook) -> None:
    """Rain on two mornings: the stop is on the third day, and on the first again when that was wrong."""
    assert swathbook("--book", year, "day", "add", "quarry", "--at", "8:30", at=MORNING).code == 0
    put_off(swathbook, year, DAYS[0], DAYS[1])
    put_off(swathbook, year, DAYS[1], DAYS[2])
    assert states(swathbook, year, *DAYS) == [["put off"], ["put off"], ["open"]]
    assert "put off from 2026-10-28" in swathbook("--book", year, "day", "--on", DAYS[2], at=MORNING).out
    put_off(swathbook, year, DAYS[2], DAYS[0])
    assert states(swathbook, year, *DAYS) == [["open"], ["put off"], ["put off"]]
    assert "from 2026" not in swathbook("--book", year, "day", at=MORNING).out.partition("last")[0]


def test_a_stop_may_be_brought_forward(year: Path, swathbook: Swathbook) -> None:
    assert swathbook("--book", year, "day", "add", "quarry", "--on", DAYS[2], at=MORNING).code == 0
    put_off(swathbook, year, DAYS[2], DAYS[0])
    assert states(swathbook, year, *DAYS) == [["open"], [], ["put off"]]
    assert "brought forward from 2026-10-29" in swathbook("--book", year, "day", at=MORNING).out


def test_a_stop_planned_after_the_putting_off_stays(year: Path, swathbook: Swathbook) -> None:
    put_off(swathbook, year, DAYS[0], DAYS[1])
    assert swathbook("--book", year, "day", "add", "quarry", at=MORNING).code == 0
    assert states(swathbook, year, *DAYS) == [["open"], [], []]


def test_the_same_stop_twice_is_a_slip(year: Path, swathbook: Swathbook) -> None:
    words = ("--book", year, "day", "add", "quarry", "--for", "clover")
    assert swathbook(*words, at=MORNING).code == 0
    again = swathbook(*words, at=MORNING)
    assert (again.code, "is a stop of 2026-10-27 already (E-000001)" in again.words) == (2, True)
    assert swathbook(*words, "--at", "15:00", at=MORNING).code == 0
    assert swathbook("--book", year, "day", "add", "lark", "lark", at=MORNING).code == 2
    assert len(stops(swathbook, year, "today")) == 2


def test_today_is_the_firm_s_day(year: Path, swathbook: Swathbook) -> None:
    """Late in the evening the calendar of UTC is a day ahead."""
    evening = "2026-10-28T03:30+00:00"
    assert swathbook("--book", year, "day", "add", "quarry", at=evening).code == 0
    assert states(swathbook, year, *DAYS) == [["open"], [], []]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("nowhere", "quarry"), "no site 'nowhere'"),
        (("quarry", "--on", "2026-10-26"), "is past"),
        (("quarry", "--on", "2029-10-26"), "days ahead"),
        (("quarry", "--on", "2026-10"), "no single day"),
        (("quarry", "--at", "25:00"), "no time of day"),
        (("quarry", "--by", "nobody"), "no person"),
    ],
)
def test_what_cannot_be_planned_is_refused_whole(
    words: tuple[str, ...], told: str, year: Path, swathbook: Swathbook
) -> None:
    ran = swathbook("--book", year, "day", "add", *words, at=MORNING)
    assert ran.code != 0
    assert told in ran.words
    assert not stops(swathbook, year, "today")
