"""`pack` and `why`: what the rules ask, in plain words, each with its source."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from records.domain.findings import Code, Severity
from records.rules.fields import FIELDS
from records.rules.packs import pack_ids
from records.services.code_words import SEVERITIES
from tests.cli.conftest import ROOT
from tests.rules.test_cases import CASES

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.cli.conftest import Swathbook


def test_the_list_marks_yours_and_knows_every_pack(swathbook: Swathbook, firm_book: Path) -> None:
    """On the screen and in JSON, the firm's own pack too."""
    ran = swathbook("--book", firm_book, "pack", "list")
    assert ran.code == 0
    assert "us-mn             yours" in ran.out
    told = swathbook("--book", firm_book, "pack", "list", "--json").json["packs"]
    assert {pack["id"] for pack in told} == {*pack_ids(), "loon-hollow"}
    assert {pack["id"] for pack in told if pack["is_yours"]} == {"us-mn", "loon-hollow"}


@pytest.mark.parametrize("key", [*pack_ids(), "loon-hollow"])
def test_every_pack_is_shown_within_the_width(swathbook: Swathbook, firm_book: Path, key: str) -> None:
    """Nothing but an address is wider than the terminal; every source has its mark."""
    ran = swathbook("--book", firm_book, "pack", "show", key)
    assert ran.code == 0
    assert not [line for line in ran.out.splitlines() if len(line) > 80 and "http" not in line]
    assert "Sources\n  [1] " in ran.out
    told = swathbook("--book", firm_book, "pack", "show", key, "--json").json
    assert told["id"] == key
    assert all(one["source"]["citation"] for one in (*told["fields"], *told["facts"]))


def test_a_pack_is_shown_without_a_book(swathbook: Swathbook, tmp_path: Path) -> None:
    """Whoever thinks of buying a sprayer may look first."""
    ran = swathbook("--book", tmp_path / "none.db", "pack", "show", "us-wi")
    assert ran.code == 0
    assert "the same day" in ran.out
    assert swathbook("--book", tmp_path / "none.db", "pack", "show", "us-wy").code == 17


def test_why_tells_the_firms_own_rules_first(swathbook: Swathbook, firm_book: Path) -> None:
    """Field, meaning, how to write it, who asks, where that stands, and what a lack does."""
    ran = swathbook("--book", firm_book, "why", "wind_speed")
    assert ran.code == 0
    assert "in the entry at weather.wind_speed" in ran.out
    assert "Minn. Stat. 18B.37 subd. 2 (verified, 2015 text, seen " in ran.out
    assert ran.out.index("us-mn") < ran.out.index("us-tx-ag")
    told = swathbook("--book", firm_book, "why", "wind_speed", "--json").json
    assert told["asked_by"][0]["pack"] == "us-mn"


@pytest.mark.parametrize("field", FIELDS)
def test_every_field_is_explained(swathbook: Swathbook, firm_book: Path, field: str) -> None:
    """No field without a meaning and a way to write it."""
    ran = swathbook("--book", firm_book, "why", field)
    assert ran.code == 0
    assert FIELDS[field].meaning in " ".join(ran.out.split())


def test_why_helps_with_a_slip(swathbook: Swathbook, firm_book: Path) -> None:
    """The place in the entry is understood too; what is meant is suggested."""
    assert "end_time" in swathbook("--book", firm_book, "why", "finished").out
    ran = swathbook("--book", firm_book, "why", "wind_sped")
    assert ran.code == 9
    assert "Did you mean wind_speed" in ran.err


def test_own_packs_are_checked_before_loading(swathbook: Swathbook, tmp_path: Path) -> None:
    """All problems at once, with file and key."""
    file = tmp_path / "house.toml"
    file.write_text(
        '[[packs]]\nid = "house"\nversion = "1"\ntitle = "House"\njurisdiction = "US"\nshade = 1\n'
        '[packs.sources.book]\ncitation = "Handbook"\n[[packs.fields]]\nfield = "weather"\nsource = "book"\n',
        "utf-8",
    )
    ran = swathbook("pack", "check", file)
    assert ran.code == 1
    words = " ".join(ran.out.split())
    assert "packs[0].shade: is not known" in words
    assert "packs[0].fields[0].field: 'weather' is no field" in words
    file.write_text(file.read_text("utf-8").replace("shade = 1\n", "").replace('"weather"', '"lot"'), "utf-8")
    assert swathbook("pack", "check", file).code == 1
    file.write_text(file.read_text("utf-8").replace('"lot"', '"equipment"'), "utf-8")
    assert swathbook("pack", "check", file).code == 0


@pytest.mark.parametrize("code", list(Code))
def test_why_explains_every_code(swathbook: Swathbook, code: Code) -> None:
    """Each finding code is explained: what it means, what to do, where it stands."""
    ran = swathbook("why", code.value)
    assert ran.code == 0
    assert ran.out.startswith(f"    {code.value}: ") or ran.out.lstrip().startswith(f"{code.value}: ")
    told = json.loads(swathbook("--json", "why", code.value.replace("-", "_")).out)
    assert told["code"] == code.value
    assert told["meaning"]
    assert told["do"]
    assert told["source"]
    assert told["severities"]
    assert "  how severe: " in ran.out


def test_why_tells_every_severity_that_a_check_gives() -> None:
    """What the case tables show a check to do is among what is told of its code."""
    assert not [case.name for case in CASES if Severity(case.severity) not in SEVERITIES[Code(case.code)]]


def test_why_explains_every_part_of_an_entry(swathbook: Swathbook) -> None:
    """Every place of the visit's JSON Schema is explained, as a field of the rules or as what it is for."""

    def keys(part: object) -> Iterator[str]:
        if isinstance(part, dict):
            yield from part.get("properties", {})
            for inner in part.values():
                yield from keys(inner)
        elif isinstance(part, list):
            for inner in part:
                yield from keys(inner)

    found = set(keys(json.loads((ROOT / "records/services/schemas/visit.json").read_text("utf-8"))))
    assert {"lot", "measured_at", "wind_from", "mix"} <= found
    for key in sorted(found):
        for place in (key, f"treatments[0].products[1].{key}"):
            assert swathbook("why", place).code == 0, place


def test_why_explains_what_a_place_is_about(swathbook: Swathbook) -> None:
    """A place that fills several fields is told by the one it is about, and names the others."""
    for place, field, other in (
        ("site", "site_address", "customer_name"),
        ("started", "start_time", "date"),
        ("finished", "end_time", "reentry"),
        ("treatments[0].products[0].product", "product_name", "maker"),
    ):
        told = json.loads(swathbook("--json", "why", place).out)
        assert told["field"] == field
        assert other in told["also_at"]
    assert "filled from the same place: " in swathbook("why", "site").out


def test_why_says_how_each_rule_is_known(swathbook: Swathbook) -> None:
    """On the screen a fact is verified, secondary or from memory; alternatives are told for other packs too."""
    for name in FIELDS:
        shown = " ".join(swathbook("why", name).out.split())
        assert "(memory" not in shown
        assert "text read)" not in shown
    assert "one of: " in " ".join(swathbook("why", "extent").out.split())
    for words in (("why", "extent"), ("pack", "show", "us-mn")):  # and what that means is told, once
        assert " ".join(swathbook(*words).err.split()).count("secondary, a summary or a reprint was read") == 1


def test_why_suggests_what_is_near_only(swathbook: Swathbook) -> None:
    """A slip gets the word that was meant; a word like none gets where to look."""
    assert "Did you mean wind_speed?" in swathbook("why", "wnd_speed").err
    assert "Did you mean site" in swathbook("why", "sites").err
    far = swathbook("why", "zorg")
    assert far.code == 9
    assert "Did you mean" not in far.err
    assert "swathbook schema visit" in far.err
