"""Who was told before the work and after it, asked of the demo's book; and an answer to one question alone."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from tests.demo_book import NOW

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook


def test_before_and_after_stand_together(demo_book: Path, swathbook: Swathbook) -> None:
    """The copies that were given, then every try to tell somebody, the failed one as well, with who tried."""
    ran = swathbook("--book", demo_book, "deliveries", "--site", "lark", "--from", "2026-09", at=NOW)
    copies, _, tries = ran.out.partition("Told before the work")
    assert copies.count("lark-lane-7") == 2
    assert "quarry-rd-58" not in ran.out
    words = " ".join(tries.split())
    failed, reached = words.index("Ida Dalby, phone: no-answer, not told, by Mo"), words.index("phone: reached, by Mo")
    assert failed < reached
    assert "2026-10-26 18:05 of 2026-10-27 at lark-lane-7" in words


def test_every_site_has_its_tries_and_what_was_put_off(demo_book: Path, swathbook: Swathbook) -> None:
    """Without a site all of them are told; --missing is about copies that are owed, and nothing else."""
    ran = swathbook("--book", demo_book, "deliveries", "--from", "2026-10", at=NOW)
    assert "of 2026-10-27 at cedar-spur-3: put off to 2026-10-28, by Mo Lindqvist (rain)" in ran.words
    assert "Told before" not in swathbook("--book", demo_book, "deliveries", "--missing", at=NOW).out
    early = swathbook("--book", demo_book, "deliveries", "--from", "2026-04", "--to", "2026-05", at=NOW)
    assert "Told before" not in early.out


def test_as_json(demo_book: Path, swathbook: Swathbook) -> None:
    """Each try with its event, moment and result."""
    told = swathbook("--book", demo_book, "deliveries", "--site", "lark", "--from", "2026-10", "--json", at=NOW).json
    assert [(one["name"], one["how"], one["result"], one["for"]) for one in told["told_before"]] == [
        ("Ida Dalby", "phone", "no-answer", "2026-10-27"),
        ("Ida Dalby", "phone", "reached", "2026-10-27"),
    ]
    assert told["told_before"][1]["at"] == "2026-10-26T18:05:00-05:00"
    assert {one["by"] for one in told["told_before"]} == {"Mo Lindqvist"}


def test_a_site_that_is_none(demo_book: Path, swathbook: Swathbook) -> None:
    """One line, like everywhere."""
    ran = swathbook("--book", demo_book, "deliveries", "--site", "zzz", at=NOW)
    assert (ran.code, ran.out, ran.err.count("\n")) == (9, "", 1)


def test_the_notes_of_a_site_stand_where_people_are_told(demo_book: Path, swathbook: Swathbook) -> None:
    """Gate, dog and what is not to be sprayed, before the list."""
    ran = swathbook("--book", demo_book, "notify", "lark", "--on", "2026-10-27", at=NOW)
    assert ran.words.index("known by: blue door") < ran.words.index("a dog is out before 9") < ran.words.index("Ida")
    told = swathbook("--book", demo_book, "notify", "lark", "--on", "2026-10-27", "--json", at=NOW).json
    assert (told["landmark"], told["notes"][:16]) == ("blue door, white mailbox", "Gate on the left")


def test_days_between_stand_beside_the_sum(demo_book: Path, swathbook: Swathbook) -> None:
    """The season's total of an active on a lawn, the days it went on and the days between."""
    ran = swathbook("--book", demo_book, "actives", "lark-lane-7", "--zone", "front", at=NOW)
    assert "calendar year 2026: 2.584 lb/acre put on 2026-05-14, 2026-09-09 (118 days later)" in ran.words
    told = swathbook("--book", demo_book, "actives", "lark-lane-7", "--zone", "front", "--json", at=NOW).json
    assert told["actives"][0]["days"] == ["2026-05-14", "2026-09-09"]


@pytest.mark.parametrize(
    ("of", "word", "question"),
    [
        ("lark lane", "pets", "When may children and pets go back on it?"),
        ("lark lane", "WIND", "Did it drift? What was the wind then?"),
        ("lark lane", "clip", "When may I mow, water, seed, or use the clippings?"),
        ("31 kettle", "ninos", "¿Cuándo pueden volver a pisarlo los niños y las mascotas?"),
    ],
)
def test_one_question_alone(of: str, word: str, question: str, demo_book: Path, swathbook: Swathbook) -> None:
    """A word of the question, or its beginning, without capitals and accents, in the language of the page."""
    told = swathbook("--book", demo_book, "answer", of, "--only", word, "--json", at=NOW).json
    assert [one["question"] for one in told["answers"]] == [question]
    shown = swathbook("--book", demo_book, "answer", of, "--only", word, at=NOW)
    assert question in shown.words
    assert len(shown.out.splitlines()) < 24


@pytest.mark.parametrize("word", ["zebra", "", "ets", "?"])
def test_a_word_of_no_question(word: str, demo_book: Path, swathbook: Swathbook) -> None:
    """All questions are named, so that one can be chosen."""
    ran = swathbook("--book", demo_book, "answer", "lark lane", "--only", word, at=NOW)
    assert (ran.code, ran.out) == (2, "")
    assert "Take a word of one of these: What was put on my lawn" in ran.err


def test_a_page_of_one_question(demo_book: Path, tmp_path: Path, swathbook: Swathbook) -> None:
    """The page to hand over holds that question; emergency numbers stay where they belong."""
    path = shutil.copyfile(demo_book, tmp_path / "b.db")
    ran = swathbook("--book", path, "answer", "lark lane", "--only", "ill", "--out", "a.pdf", at=NOW)
    assert ran.code == 0
    assert "1-800-222-1222" in ran.out
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF")
