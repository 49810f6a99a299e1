"""The day on one screen of a small laptop: stops, people to tell, what waits, tanks, looks, duties."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import pytest

from tests.cli.conftest import visit
from tests.demo_book import NOW

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

SCREEN = 24  # lines
EVENING = "2026-10-26T18:00-05:00"
LATER = "2026-10-27T10:20-05:00"


@pytest.fixture
def book(demo_book: Path, tmp_path: Path) -> Path:
    """Return a copy of the demo's book of one's own."""
    return shutil.copyfile(demo_book, tmp_path / "day.db")


def close(swathbook: Swathbook, book: Path, folder: Path) -> None:
    """Make the first stop of the day."""
    document = visit(
        ref="day-1",
        started="2026-10-27T09:35",
        finished="2026-10-27T09:50",
        weather={
            "wind_speed": "4 mph",
            "wind_from": "W",
            "temperature": "58 degF",
            "measured_at": "2026-10-27T09:30",
            "source": "meter",
        },
        treatments=[
            {
                "zones": ["back"],
                "method": "broadcast",
                "area": "5100 sq ft",
                "targets": ["ground ivy"],
                "equipment": "skid-1",
                "spray": "10.2 gal",
                "products": [{"product": "brindle-4l", "rate": "0.9 fl oz/1000 sq ft", "lot": "B2311"}],
            }
        ],
    )
    (folder / "v.json").write_text(json.dumps(document), "utf-8")
    ran = swathbook("--book", book, "close", "v.json", at=LATER)
    assert ran.code == 0, ran


def test_an_ordinary_day_fits_one_screen(book: Path, swathbook: Swathbook) -> None:
    """Three stops, what stands on their notes, tanks and looks: nothing scrolls away, the next stop is at the top."""
    ran = swathbook("--book", book, "day", at=NOW)
    lines = ran.out.splitlines()
    assert (ran.code, ran.err) == (0, "")
    assert len(lines) < SCREEN  # the prompt takes one
    assert lines[0] == "Tuesday 2026-10-27, Loon Hollow Lawn Care: 3 stops, 0 made"
    assert lines[1] == "  09:30 7 Lark Lane (lark-lane-7): ground ivy"
    assert "note: blue door, white mailbox; Gate on the left; a dog is out before 9." in ran.words
    assert "last 2026-09-09 by Mo Lindqvist: Cobbet Weed and Feed 22-0-4; dandelion 65 % after 28 days" in ran.words
    assert "TELL FIRST" not in ran.out  # she was reached the evening before
    assert "  skid-1: 2.5 gal of mix-0909 (brindle-4l), made 2026-09-09" in lines
    assert "Look again (14 looks, 7 overdue): swathbook looks" in lines
    assert "Notices owed of the two weeks before (4): swathbook deliveries --missing" in lines


def test_who_has_to_be_told_stands_under_the_stop(book: Path, swathbook: Swathbook) -> None:
    """A neighbour on the list, with the last moment; gone once she was reached."""
    swathbook("--book", book, "day", "add", "lark", "--on", "2026-10-29", "--at", "10:00", at=NOW)
    told = swathbook("--book", book, "day", "--on", "2026-10-29", at=NOW)
    assert "TELL FIRST: Ida Dalby (asked) by 2026-10-28 22:00" in told.words
    swathbook(
        *("--book", book, "contact", "lark", "dalby", "--for", "2026-10-29"),
        *("--how", "phone", "--result", "reached"),
        at=NOW,
    )
    assert "TELL FIRST" not in swathbook("--book", book, "day", "--on", "2026-10-29", at=NOW).out


def test_a_stop_that_was_put_off_is_on_its_new_day(book: Path, swathbook: Swathbook) -> None:
    """It keeps one line on the old day and is open on the new one, with where it came from."""
    old = swathbook("--book", book, "day", at=NOW)
    assert "off   3 Cedar Spur (cedar-spur-3): put off to 2026-10-28" in old.out
    new = swathbook("--book", book, "day", "--on", "tomorrow", at=NOW)
    assert "--:-- 3 Cedar Spur (cedar-spur-3): ground ivy" in new.out
    assert "put off from 2026-10-27" in new.out


def test_a_stop_that_was_made_says_what_is_left_to_do(book: Path, tmp_path: Path, swathbook: Swathbook) -> None:
    """It goes below what is still open, with its record and the notice that is owed; given, that is gone."""
    close(swathbook, book, tmp_path)
    ran = swathbook("--book", book, "day", at=LATER)
    assert "3 stops, 1 made" in ran.out
    assert ran.out.index("31 Kettle Court (kettle-ct-31)") < ran.out.index("7 Lark Lane (lark-lane-7)")
    done = "09:35 made 7 Lark Lane (lark-lane-7): Brindle 4L; 2026-000142 by Mo Lindqvist"
    assert f"{done}; NOTICE OWED" in ran.words
    assert "a dog is out" not in ran.out  # it is done
    swathbook("--book", book, "deliver", "2026-142", "--how", "paper", at=LATER)
    after = swathbook("--book", book, "day", at=LATER)
    assert done in after.words
    assert "NOTICE OWED" not in after.out


def test_what_is_held_is_not_forgotten(book: Path, tmp_path: Path, swathbook: Swathbook) -> None:
    """An entry that was refused stands there with the command that shows it."""
    (tmp_path / "v.json").write_text(json.dumps(visit(started="2026-10-27T09:35", finished=None)), "utf-8")
    assert swathbook("--book", book, "close", "v.json", at=LATER).code == 1
    assert "  H-000003 lark-lane-7: swathbook held show H-000003" in swathbook("--book", book, "day", at=LATER).out


def test_a_long_day_tells_the_next_stops_in_full(book: Path, swathbook: Swathbook) -> None:
    """Ten stops: three in full, seven on a line each."""
    sites = ("marigold", "pine-bend", "otter", "quarry", "sumac", "heron", "mill-loop", "basswood", "juniper", "willow")
    swathbook("--book", book, "day", "add", *sites, "--on", "2026-10-30", at=NOW)
    lines = swathbook("--book", book, "day", "--on", "2026-10-30", at=NOW).out.splitlines()
    assert sum(line.startswith("  --:-- ") for line in lines) == 10
    assert sum(line.startswith("        last ") for line in lines) == 3
    assert lines[0].endswith("10 stops, 0 made")


def test_a_day_without_stops(book: Path, swathbook: Swathbook) -> None:
    """It says how to plan some."""
    ran = swathbook("--book", book, "day", "--on", "2026-11-02", at=NOW)
    assert "no stops plan them with: swathbook day add SITE..." in ran.words


def test_duties_of_the_week_come_with_what_to_do(book: Path, swathbook: Swathbook) -> None:
    """Licences that end are told with the command; three at most, then where the rest stands."""
    ran = swathbook("--book", book, "day", at="2026-12-28T08:00-06:00")
    words = ran.out.partition("Due within 7 days")[2]
    assert "12-31" in words
    assert "> swathbook " in words


def test_the_day_as_json(book: Path, swathbook: Swathbook) -> None:
    """Everything, not only what fits the screen."""
    told = swathbook("--book", book, "day", "--json", at=NOW).json
    assert (told["schema"], told["day"], told["today"]) == (1, "2026-10-27", "2026-10-27")
    assert [(stop["site"], stop["state"], stop["time"]) for stop in told["stops"]] == [
        ("lark-lane-7", "open", "09:30"),
        ("kettle-ct-31", "open", None),
        ("cedar-spur-3", "put off", None),
    ]
    assert told["stops"][0]["landmark"] == "blue door, white mailbox"
    assert len(told["looks"]) == 14
    assert sum(look["overdue"] for look in told["looks"]) == 7
    assert [tank["mix"] for tank in told["tanks"]] == ["mix-0909", "mix-0609", "mix-0513"]
    assert told["notices_owed"] == ["2026-000138", "2026-000139", "2026-000140", "2026-000141"]
    assert told["held"] == []


def test_a_day_that_is_none(book: Path, swathbook: Swathbook) -> None:
    """One line, and how a day is written."""
    ran = swathbook("--book", book, "day", "--on", "2026-10", at=EVENING)
    assert (ran.code, ran.out) == (2, "")
    assert "is no single day. Write it like 2026-05-14, today or tomorrow" in ran.err
