"""Measuring and calibrating on the command line: what the screen says, what is kept, and what programs read."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.conftest import visit
from tests.unit.test_boundary import box, polygon

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

OFFSETS = "offsets every 10 ft: 0, 15, 10, 15, 25, 20, 0 by mean"
CAN = ("calibrate", "can-1", "timed", "--area", "1000 sq ft", "--cover", "75 s", "--caught", "1 gal")


def test_figures_and_their_sum(swathbook: Swathbook) -> None:
    """Each figure stands with its area, the sum in square feet and acres; no book is needed."""
    ran = swathbook("area", "rectangle 60 ft x 25 ft", "minus circle 12 ft across")
    assert ran.code == 0
    assert "rectangle 60 ft x 25 ft    1,500.00" in ran.out
    assert "minus circle 12 ft across   -113.10" in ran.out
    assert "together, 0.031839 acre    1,386.90" in ran.out


def test_all_rules_of_offsets(swathbook: Swathbook) -> None:
    """The three rules stand side by side, with the one that was used, and how far they are apart."""
    ran = swathbook("area", OFFSETS)
    assert "mean 1,020 (used); trapezoid 850; simpson 900" in ran.out
    assert "they differ by 20 %" in ran.out
    even = swathbook("area", "offsets every 13 ft: 20, 10, 15, 20, 25, 20 by trapezoid")
    assert "simpson needs an odd number of widths" in " ".join(even.out.split())
    assert "differ" not in even.out
    assert swathbook("area", OFFSETS, "--json").json["figures"][0]["rules"] == {
        "mean": "1020",
        "trapezoid": "850",
        "simpson": "900",
    }


def test_area_as_json(swathbook: Swathbook) -> None:
    """Programs get text, not floats."""
    found = swathbook("area", "rectangle 60 ft x 25 ft", "minus bed: circle 12 ft across", "--json").json
    assert found["area"] == "1386.9 sq ft"
    assert found["acres"] == "0.031839"
    assert found["kept"] is None
    assert found["figures"][1] == {
        "figure": "minus bed: circle 12 ft across",
        "kind": "circle",
        "name": "bed",
        "minus": True,
        "area": "113.1 sq ft",
        "rule": None,
        "rules": None,
    }


def test_an_outline(swathbook: Swathbook, tmp_path: Path) -> None:
    """An outline is measured beside other figures, from a file or from standard input."""
    text = json.dumps(polygon(box()))
    (tmp_path / "yard.geojson").write_text(text, "utf-8")
    ran = swathbook("area", "--outline", "yard.geojson", "minus house: 1200 sq ft")
    assert "outline 23619.9 sq ft of 4 corners" in ran.out
    assert "22,419.90" in ran.out
    assert swathbook("area", "--outline", "-", "--json", stdin=text).json["area"] == "23619.9 sq ft"
    assert "cannot be read" in swathbook("area", "--outline", "nowhere.json").err


def test_figures_are_kept_with_a_zone(swathbook: Swathbook, firm: Path) -> None:
    """A new version of the site holds the figures and who took them; what changed is said, and shown."""
    at = ("--book", firm, "area", "--site", "lark lane", "--how", "wheel", "--by", "mo", "--on", "2026-10-01")
    ran = swathbook(*at, "rectangle 70 ft x 61 ft", "--zone", "front")
    assert ran.code == 0
    assert "lark-lane-7, zone front: 4200 sq ft before, 4270 sq ft now (version 2 of the\nsite)" in ran.err
    shown = swathbook("--book", firm, "catalogue", "site", "lark-lane-7").out
    assert "area  4270 sq ft, by its figures" in shown
    assert "how wheel on 2026-10-01 by mo figures rectangle 70 ft x 61 ft" in " ".join(shown.replace(";", "").split())
    again = swathbook(*at, "rectangle 70 ft x 61 ft", "--zone", "front", "--json").json
    assert again["kept"] == {
        "site": "lark-lane-7",
        "zone": "front",
        "version": 2,
        "new": False,
        "before": "4270 sq ft",
        "after": "4270 sq ft",
        "notes": [],
    }
    new = swathbook(*at, "rectangle 20 ft x 10 ft", "--zone", "side", "--kind", "turf", "--turf", "tall fescue")
    assert "zone side: a new zone of 200 sq ft (version 3" in new.err
    assert "note" not in new.err
    typo = swathbook(*at, "rectangle 9 ft x 9 ft", "--zone", "nook", "--kind", "turff", "--turf", "tal fescue")
    assert typo.code == 0
    assert "--kind turff: no label and no other zone of the book has that word" in typo.words
    assert "did you mean turf?" in typo.words
    assert "did you mean tall fescue?" in typo.words


def test_a_zone_measured_for_the_first_time(swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    """A zone that had no area has one now; a visit is closed over it."""
    site = swathbook("--book", firm, "catalogue", "site", "lark-lane-7", "--json").json["documents"][0]["document"]
    site["zones"][0].pop("area")
    (tmp_path / "site.json").write_text(json.dumps({"sites": [site]}), "utf-8")
    assert swathbook("--book", firm, "load", "site.json").code == 0
    ran = swathbook("--book", firm, "area", "4200 sq ft", "--site", "lark-lane-7", "--zone", "front", "--how", "map")
    assert "measured for the first time, 4200 sq ft" in ran.err
    assert swathbook("--book", firm, "close", "-", stdin=json.dumps(visit())).code == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "no figure is given"),
        (("hexagon 3 ft",), "is not known"),
        (("60 ft x 25 ft",), "write it like 'rectangle 60 ft x 25 ft'"),
        (("rectangle", "60ft", "25ft"), "write the whole figure in one pair of quotes"),
        (("10 sq ft", "--site", "lark-lane-7"), "--site and --zone go together"),
        (("10 sq ft", "--how", "tape"), "nothing is kept without"),
        (("10 sq ft", "minus 10 sq ft"), "nothing is left to treat"),
        (("10 sq ft", "--site", "lark-lane-7", "--zone", "front"), "--how says how"),
        (("10 sq ft", "--site", "lark-lane-7", "--zone", "front", "--how", "tape", "--by", "x"), "no person"),
        (
            ("10 sq ft", "--site", "lark-lane-7", "--zone", "front", "--how", "tape", "--on", "2030-01-01"),
            "after today",
        ),
        (("10 sq ft", "--site", "lark-lane-7", "--zone", "front", "--how", "tape", "--on", "2026-05"), "no single day"),
        (("10 sq ft", "--site", "lark-lane-7", "--zone", "front", "--how", "tape", "--kind", "turf"), "for a new one"),
        (("10 sq ft", "--site", "lark-lane-7", "--zone", "moon", "--how", "tape"), "has no zone 'moon'"),
        (("10 sq ft", "--site", "lark-lane-7", "--zone", "a b", "--how", "tape", "--kind", "turf"), "is no id"),
        (("10 sq ft", "--site", "nowhere", "--zone", "a", "--how", "tape"), "no site 'nowhere'"),
    ],
)
def test_what_area_refuses(swathbook: Swathbook, firm: Path, words: tuple[str, ...], told: str) -> None:
    """Each refusal is one line, and nothing is kept."""
    ran = swathbook("--book", firm, "area", *words)
    assert ran.code > 1
    assert told in ran.err
    assert len(ran.err.splitlines()) == 1
    assert "version 1" in swathbook("--book", firm, "catalogue", "site", "lark-lane-7").out


def test_calibrating(swathbook: Swathbook, firm: Path) -> None:
    """A calibration is worked out with its steps, compared with the last one, and logged."""
    ran = swathbook("--book", firm, *CAN, "--by", "mo", "--nozzle", "cone 1")
    assert ran.code == 0
    assert "128 fl oz caught in 75 s" in ran.out
    assert "1 gal/1,000 sq ft = 43.56 gal/acre" in ran.out
    assert "calibrated 2026-04-13: the same now" in ran.out
    assert ran.err == "logged as E-000001\n"
    again = swathbook("--book", firm, *CAN[:-1], "0.9 gal", "--by", "mo", "--nozzle", "cone 1", "--json").json
    assert again["before"] == {"output": "1 gal/1000 sq ft", "event": "E-000001"}
    assert again["change"] == "10 % less"
    assert again["calibration"]["output"]["exact"] == "9/10"
    logged = swathbook("--book", firm, "log", "--json").json["entries"]
    assert logged[1]["data"]["words"] == "can-1: 0.9 gal/1000 sq ft, by timed, cone 1"


def test_a_nozzle_off_the_mean(swathbook: Swathbook, firm: Path) -> None:
    """The nozzle that is more than 10 % off is named on the screen and in the log."""
    catches = [word for amount in ("26 oz", "26 oz", "20 oz") for word in ("--caught", amount)]
    words = ("--seconds", "60", "--spacing", "20 in", "--distance", "88 ft", "--time", "20 s")
    ran = swathbook("--book", firm, "calibrate", "skid-1", "boom", *catches, *words)
    assert "nozzle 3: 16.7 % under the mean" in ran.out
    assert "88 ft in 20 s = 3 mph" in ran.out
    data: dict[str, Any] = swathbook("--book", firm, "log", "--json").json["entries"][0]["data"]
    assert data["off_mean"] == ["nozzle 3: 16.7 % under the mean"]


def test_the_list_of_calibrations(swathbook: Swathbook, firm: Path) -> None:
    """Equipment stands with who, nozzle, output, day and age; what is stale or missing stands out."""
    swathbook("--book", firm, *CAN, "--by", "mo", "--at", "2026-10-20T07:00", "--nozzle", "cone 1")
    lines = {line.split()[0]: line for line in swathbook("--book", firm, "calibrations").out.splitlines()[2:]}
    assert lines["can-1"].split() == ["can-1", "mo", "cone", "1", "1", "gal", "2026-10-20", "1", "days"]
    assert lines["can-2"].endswith("MISSING: never")
    assert lines["spreader-1"].split() == ["spreader-1", "-", "2026-04-13", "191", "days"]
    later = swathbook("--book", firm, "calibrations", "can-1", at="2027-03-01T08:00-06:00")
    assert "STALE: of the season" in later.out
    assert "swathbook calibrate" in later.err
    found = swathbook("--book", firm, "calibrations", "can-1", "--json").json["calibrations"]
    assert [(one["state"], one["by"], one["event"]) for one in found] == [("fresh", "mo", "E-000001")]


def test_no_equipment(swathbook: Swathbook, empty_book: Path) -> None:
    """A book without equipment says so."""
    assert swathbook("--book", empty_book, "calibrations").out == "no equipment is loaded\n"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("can-1", "guess"), "'guess' is no method"),
        (("can-x", *CAN[2:]), "no equipment 'can-x'"),
        (("can-1", "refill"), "refill needs --used or --before and --left, and --area"),
        (("can-1", "timed", *CAN[3:], "--speed", "3 mph"), "timed takes no --speed"),
    ],
)
def test_what_calibrate_refuses(swathbook: Swathbook, firm: Path, words: tuple[str, ...], told: str) -> None:
    """Each refusal is one line with an example or a list."""
    ran = swathbook("--book", firm, "calibrate", *words)
    assert ran.code > 1
    assert told in ran.err
    assert len(ran.err.splitlines()) == 1


SPOT = {
    "zones": ["back"],
    "method": "spot",
    "targets": ["yellow nutsedge"],
    "equipment": "can-1",
    "spray": "0.4 gal",
    "products": [{"product": "sedgeline-75", "rate": "0.9 g/gal"}],
}


def test_a_record_shows_what_its_area_was_estimated_by(swathbook: Swathbook, firm: Path) -> None:
    """The estimate of a spot is shown with the logged calibration; a stale one is noted when the visit is closed."""
    swathbook("--book", firm, *CAN[:-1], "0.8 gal", "--by", "mo", "--at", "2026-10-19T07:00")
    closed = swathbook("--book", firm, "close", "-", stdin=json.dumps(visit(treatments=[SPOT])))
    assert closed.code == 0, closed.out
    shown = " ".join(swathbook("--book", firm, "show", "2026-000001").out.split())
    assert "500 sq ft (ESTIMATE" in shown
    assert "0.8 gal/1000 sq ft, calibrated 2026-10-19 by Mo" in shown
    assert swathbook("--book", firm, "verify").code == 0


def test_ready_tells_of_equipment(swathbook: Swathbook, firm: Path) -> None:
    """What was used without a calibration that counts is there to know, and is not wrong."""
    document = visit(treatments=[visit()["treatments"][0] | {"equipment": "can-2"}])
    assert swathbook("--book", firm, "close", "-", stdin=json.dumps(document)).code == 0
    ran = swathbook("--book", firm, "ready")
    assert "Equipment used without a calibration that counts (1, to know)" in ran.out
    assert "> swathbook calibrate can-2 METHOD" in ran.out
