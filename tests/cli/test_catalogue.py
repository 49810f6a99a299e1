"""What is loaded can be looked at: counts, ids, one document in full with its version and date."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

KINDS = {"business": 1, "people": 5, "customers": 15, "sites": 17, "products": 13, "equipment": 7, "mixes": 4} | {
    "packs": 1
}


def test_alone_it_counts(swathbook: Swathbook, firm_book: Path) -> None:
    """How many of each kind."""
    ran = swathbook("--book", firm_book, "catalogue")
    assert ran.code == 0
    assert [line.split() for line in ran.out.splitlines()] == [[kind, str(count)] for kind, count in KINDS.items()]
    assert swathbook("--book", firm_book, "catalogue", "--json").json == {"schema": 1, "loaded": KINDS}


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "business"])
def test_a_kind_lists_every_id(kind: str, swathbook: Swathbook, firm_book: Path) -> None:
    """The ids a user needs for a visit, on the screen and in JSON."""
    ran = swathbook("--book", firm_book, "catalogue", kind)
    told = swathbook("--book", firm_book, "catalogue", kind, "--json").json
    assert ran.code == 0
    assert len(told["documents"]) == KINDS[kind]
    first = [line.split(" ")[0] for line in ran.out.splitlines()]
    assert all(document["id"] in first for document in told["documents"])


@pytest.mark.parametrize("kind", ["site", "sites", "SITES"])
def test_one_document_in_full(kind: str, swathbook: Swathbook, firm_book: Path) -> None:
    """With its version and the day it was loaded."""
    ran = swathbook("--book", firm_book, "catalogue", kind, "lark-lane-7")
    assert ran.code == 0
    assert ran.out.startswith("site lark-lane-7, version 1, loaded 2026-04-01 13:00 UTC\n")
    assert "- id front; kind turf; turf kentucky bluegrass; area 4200 sq ft" in ran.out
    (told,) = swathbook("--book", firm_book, "catalogue", kind, "lark-lane-7", "--json").json["documents"]
    assert (told["id"], told["version"], told["loaded_at"]) == ("lark-lane-7", 1, "2026-04-01T13:00:00+00:00")
    assert told["document"]["zones"][0]["area"] == "4200 sq ft"


def test_words_find_an_id(swathbook: Swathbook, firm_book: Path) -> None:
    """The office knows the street, not the id."""
    (told,) = swathbook("--book", firm_book, "catalogue", "sites", "kettle court", "--json").json["documents"]
    assert told["id"] == "kettle-ct-31"
    ran = swathbook("--book", firm_book, "catalogue", "products", "brindlac")
    assert {"brindle-4l", "orlop-3w", "pellam-3w", "cobbet-wf"} <= {line.split(" ")[0] for line in ran.out.splitlines()}


def test_the_firm_is_shown_without_an_id(swathbook: Swathbook, firm_book: Path) -> None:
    """There is only one."""
    assert "Loon Hollow Lawn Care" in swathbook("--book", firm_book, "catalogue", "business").out


def test_an_earlier_version_stays_readable(swathbook: Swathbook, firm: Path) -> None:
    """A new area makes version 2; version 1 is still there."""
    (told,) = swathbook("--book", firm, "catalogue", "sites", "lark-lane-7", "--json").json["documents"]
    told["document"]["zones"][0]["area"] = "4400 sq ft"
    assert swathbook("--book", firm, "load", "-", stdin=json.dumps({"sites": [told["document"]]})).code == 0
    now = swathbook("--book", firm, "catalogue", "sites", "lark-lane-7")
    assert "version 2" in now.out
    assert "4400 sq ft" in now.out
    before = swathbook("--book", firm, "catalogue", "sites", "lark-lane-7", "--version", "1")
    assert "version 1" in before.out
    assert "4200 sq ft" in before.out


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["trucks"], 2, "One of: business, people"),
        (["sites", "lark-lane-9"], 9, "Did you mean lark-lane-7"),
        (["sites", "zzz"], 9, "swathbook catalogue sites lists them"),
        (["sites", "lark-lane-7", "--version", "2"], 9, "Its versions are 1 to 1"),
        (["sites", "--version", "2"], 2, "needs the id"),
    ],
)
def test_what_is_not_there(words: list[str], code: int, told: str, swathbook: Swathbook, firm_book: Path) -> None:
    """One line with what to do."""
    ran = swathbook("--book", firm_book, "catalogue", *words)
    assert (ran.code, ran.out) == (code, "")
    assert told in ran.err


def test_an_empty_book_says_so(swathbook: Swathbook, empty_book: Path) -> None:
    """Nothing loaded is no error."""
    ran = swathbook("--book", empty_book, "catalogue", "sites")
    assert (ran.code, ran.out) == (0, "no sites are loaded\n")
