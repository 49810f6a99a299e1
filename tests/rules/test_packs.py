"""Rule packs as data: refused with file and key when wrong, chosen by state and day, judged by the stricter one."""

from __future__ import annotations

import datetime as dt
import re
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
import tomli
from jsonschema import Draft202012Validator

from records.errors import RulePackError
from records.rules import packs as library
from records.rules.fields import FIELDS
from records.rules.pack import Status
from records.rules.pack_reading import read_pack
from records.rules.packs import DATA, FEDERAL_FLOOR, newest, pack_ids, packs_for, versions_of
from records.services.explaining import facts
from records.services.schemas import schema

if TYPE_CHECKING:
    from pathlib import Path

DAY = date(2026, 5, 14)
GOOD = """
id = "us-zz"
version = "1"
title = "An invented rule"
jurisdiction = "US-MN"
licence = "everyone"
products = "all"
[sources.text]
citation = "Invented 1.2"
url = "https://example.org/rule"
seen = 2026-11-25
status = "secondary"
[[fields]]
field = "date"
source = "text"
"""


def plain(value: Any) -> Any:  # noqa: ANN401 - TOML of any shape
    """Return a TOML document as JSON has it."""
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [plain(one) for one in value]
    return value.isoformat() if isinstance(value, dt.date) else value


@pytest.mark.parametrize("file", sorted(DATA.glob("*.toml")), ids=lambda file: file.stem)
def test_every_pack_fits_the_schema_that_the_tool_prints(file: Path) -> None:
    """The documented shape and the reader agree about all that comes with the tool."""
    errors = list(Draft202012Validator(schema("pack")).iter_errors(plain(tomli.loads(file.read_text("utf-8")))))
    assert [f"{error.json_path}: {error.message}" for error in errors] == []
    assert read_pack(file.name, file.read_text("utf-8")).id == file.name.partition(".")[0]


def test_enough_rules_are_known_well_enough_to_bind() -> None:
    """At least 22 packs have a field list of which some is verified or secondary, beside the common one."""
    binding = [key for key in pack_ids() if any(asked.source.status.binds for asked in newest(key).asked)]
    assert len(set(binding) - {"common"}) >= 22
    assert "common" in binding


@pytest.mark.parametrize("key", pack_ids())
def test_every_fact_has_a_citation_an_address_and_a_day(key: str) -> None:
    """Nothing is asked without a place where it can be looked up."""
    pack = newest(key)
    for source in (*(asked.source for asked in pack.asked), *(fact[3] for fact in facts(pack))):
        assert source.citation
        if source.status is Status.MEMORY:  # it was read nowhere
            assert (source.url, source.seen) == ("", None)
            continue
        assert re.match(r"https?://\S+\.\S+", source.url)
        assert source.seen is not None


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('title = "An', 'colour = "red"\ntitle = "An'), r"us-zz\.toml: colour: is not known"),
        (('version = "1"', 'version = "1"\nversion = "2"'), r"us-zz\.toml is not TOML: .*key 'version'"),
        (('field = "date"', 'field = "dote"'), r"fields\[0\]\.field: 'dote' is no field; did you mean date\?"),
        (('source = "text"', 'source = "tekst"'), r"fields\[0\]\.source: 'tekst' is no source of this pack; "),
        (('source = "text"', 'source = "text"\nstatus = "verified"'), "verified is better than its source's secondary"),
        (('source = "text"', 'source = "text"\nwhen = ["rainy"]'), r"fields\[0\]\.when: 'rainy' is not known"),
        (('source = "text"', 'source = "text"\n[[fields]]\nfield = "date"\nsource = "text"'), "asks for date twice"),
        (('source = "text"', 'source = "text"\nshape = 1'), r"fields\[0\]\.shape: is not known"),
        (('url = "https://example.org/rule"\n', ""), r"sources\.text\.url: is missing"),
        (('"https://example.org/rule"', '"example.org"'), r"sources\.text\.url: 'example.org' is no address"),
        (("seen = 2026-11-25\n", ""), r"sources\.text\.seen: is missing"),
        (('status = "secondary"', 'status = "firm"'), r"sources\.text\.status: 'firm' is not known"),
        (('"US-MN"', '"US-QQ"'), "jurisdiction: 'US-QQ' is not known"),
        (
            ('source = "text"', 'source = "text"\n[complete]\nwithin = "soon"\nsource = "text"'),
            "complete.within: 'soon'",
        ),
        (
            ('field = "date"', 'field = "date"\nany_of = [["area"]]'),
            r"fields\[0\]: names either a field or alternatives",
        ),
        (('field = "date"', 'any_of = [["area"], []]'), r"fields\[0\]\.any_of: is no list of alternatives"),
    ],
    ids=lambda value: value if isinstance(value, str) else value[1][:40],
)
def test_a_wrong_pack_is_refused_with_file_and_key(change: tuple[str, str], told: str) -> None:
    """Unknown and doubled keys, words nobody knows, facts without a source: all named."""
    assert GOOD.count(change[0]) == 1
    with pytest.raises(RulePackError, match=told):
        read_pack("us-zz.toml", GOOD.replace(*change))


def test_all_problems_of_a_pack_are_told_at_once() -> None:
    """Not one after the other."""
    with pytest.raises(RulePackError, match=r"licence: .*; fields\[0\]\.field: "):
        read_pack("us-zz.toml", GOOD.replace('licence = "everyone"', "licence = 3").replace('"date"', '"dote"'))


def ids(*args: Any, **kwargs: Any) -> list[str]:  # noqa: ANN401 - passed on
    """Return the ids of the packs chosen."""
    return [pack.id for pack in packs_for(*args, **kwargs)]


def test_packs_are_chosen_by_name_state_and_product() -> None:
    """The state's own; the federal floor for restricted use; the common one where none is named or holds."""
    assert ids(["us-mn", "us-wi"], "WI", DAY, has_restricted=False) == ["us-wi"]
    assert ids(["us-mn"], "MN", DAY, has_restricted=True) == ["us-mn", FEDERAL_FLOOR]
    assert ids([], "MN", DAY, has_restricted=False) == ["common"]
    assert ids(["us-mn"], "WI", DAY, has_restricted=False) == ["common"]
    # North Carolina's rule is about restricted use alone (02 NCAC 09L .1402): nothing is asked of the rest.
    assert ids(["us-nc"], "NC", DAY, has_restricted=False) == []
    assert ids(["us-nc"], "NC", DAY, has_restricted=True) == ["us-nc", FEDERAL_FLOOR]
    # No field list of Illinois has been read: its sign rule holds, its records are judged by the common list.
    assert ids(["us-il"], "IL", DAY, has_restricted=False) == ["us-il", "common"]


def test_a_record_is_judged_by_the_version_of_its_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The older text up to its last day, the newer one after; two in force on one day are refused."""
    old = GOOD.replace('version = "1"', 'version = "1"\neffective_to = 2026-05-14')
    new = GOOD.replace('version = "1"', 'version = "2"\neffective_from = 2026-05-15').replace('"date"', '"end_time"')
    (tmp_path / "us-zz.toml").write_text(old, "utf-8")
    (tmp_path / "us-zz.2.toml").write_text(new, "utf-8")
    monkeypatch.setattr(library, "DATA", tmp_path)
    for cached in (pack_ids, versions_of, library._named):
        cached.cache_clear()
    try:
        for day, version in ((date(2020, 1, 1), "1"), (DAY, "1"), (date(2026, 5, 15), "2")):
            assert [pack.version for pack in packs_for(["us-zz"], "MN", day, has_restricted=False)] == [version]
        (tmp_path / "us-zz.2.toml").write_text(new.replace("05-15", "05-14"), "utf-8")
        versions_of.cache_clear()
        with pytest.raises(RulePackError, match="versions 1 and 2 of us-zz are in force on one day"):
            versions_of("us-zz")
    finally:
        for cached in (pack_ids, versions_of, library._named):
            cached.cache_clear()


def test_an_unknown_pack_is_refused_when_it_is_asked_for() -> None:
    """With the one that was meant."""
    with pytest.raises(RulePackError, match=r"no pack 'us-minn'.*us-mn"):
        newest("us-minn")


def test_the_stricter_of_two_packs_wins() -> None:
    """What one knows from memory and the other has read, stops."""
    own = newest("us-wa")
    held = packs_for(["us-wa"], "WA", DAY, has_restricted=True)
    assert [pack.id for pack in held] == ["us-wa", FEDERAL_FLOOR]
    area = {pack.id: next(a for a in pack.asked if a.field == "area").source.status for pack in held}
    assert area == {"us-wa": Status.MEMORY, FEDERAL_FLOOR: Status.SECONDARY}
    assert own.asked


def test_every_field_can_be_told_by_a_visit() -> None:
    """No pack asks for a word that no entry can answer: the whole record above and the rest by name."""
    asked = {name for key in pack_ids() for one in newest(key).asked for name in one.fields}
    assert asked <= FIELDS.keys()
