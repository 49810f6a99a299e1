"""Report layouts: what the shipped ones hold, and that a wrong one is refused with file and key."""

from __future__ import annotations

from datetime import date

import pytest

from records.errors import LayoutError, UsageError
from records.rules.packs import newest, pack_ids
from records.services.periodic.due import asked_by, due_day, period_before, read_period
from records.services.periodic.layout import find_layout, layout_by, read_layout
from records.services.periodic.names import FOLDER, layout_ids
from records.units import Kind

NY = (FOLDER / "ny-annual.toml").read_text("utf-8")


def test_every_layout_a_pack_names_is_there() -> None:
    """A pack that names a layout can be served, and no layout is without its pack."""
    named = {report.layout for key in pack_ids() for report in newest(key).reports if report.layout}
    assert named == set(layout_ids()) == {"ny-annual", "ca-monthly", "me-annual"}
    for name in layout_ids():
        layout = find_layout(name)
        assert asked_by(layout.pack, name) is not None
        assert layout.units.keys() == {Kind.VOLUME, Kind.WEIGHT}


def test_county_codes() -> None:
    """Dec.ny.gov/chemical/96888.html: 62 counties, 01 to 57 by name from Albany on, then the five of New York City."""
    codes = find_layout("ny-annual").lists["county_codes"]
    assert sorted(codes.values.values()) == [f"{number:02d}" for number in range(1, 63)]
    known = {"Albany": "01", "Erie": "14", "St. Lawrence": "40", "Saratoga": "41", "Yates": "57", "Kings": "59"}
    known |= {"New York": "60", "Richmond": "62"}
    assert {name: codes.code(name) for name in known} == known
    assert codes.code("erie county") == "14"
    assert codes.code("Saint Lawrence") == "40"
    assert codes.code("Hennepin") == ""
    upstate = [name for name, code in codes.values.items() if code <= "57"]
    assert sorted(upstate, key=lambda name: name.replace("St. L", "Rz")) == upstate  # the page puts it before Saratoga


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('title = "New', 'titel = "New', "titel: is not known; did you mean title?"),
        ('keys = ["filer_licence"', 'keys = ["licence"', "keys: 'licence' is not known"),
        ('split = "person"', 'split = "house"', "split: 'house' is not known"),
        ('volume = ["gal", "fl oz"]', 'volume = ["lb"]', "units.volume: 'lb' is not known"),
        ('volume = ["gal", "fl oz"]\n', "", "units.volume: is missing"),
        ('"post-box"', '"po-box"', "checks.refuse: 'po-box' is not known"),
        ('source = "zip"', 'source = "zipcode"', "columns[11].source: 'zipcode' is not known"),
        ('source = "zip"', 'source = "method"', "columns: shows method, which is not among the keys"),
        ('list = "county_codes"', 'list = "counties"', "columns[7].list: 'counties' is no list of this layout"),
        ('name = "zip"', 'name = "city"', "columns[11].name: city is given twice"),
        ('column = "product_name"', 'column = "product"', "nil.column: 'product' is no column of this layout"),
        ('states = ["NY"]', 'states = ["XX"]', "filter.states: 'XX' is not known"),
        ('kinds = ["pesticide"]', 'kinds = ["poison"]', "filter.kinds: 'poison' is not known"),
        ("layout = 1", "layout = 2", "layout: has to be 1"),
        ("layout = 1", "layout = 1\nlayout = 1", "is not TOML"),
        ("[nil]", "[nil]\ncolour = 1", "nil.colour: is not known"),
        ("seen = 2026-11-25", "seen = 1", "lists.county_codes.seen"),
    ],
)  # fmt: skip
def test_a_wrong_layout_names_file_and_key(old: str, new: str, told: str) -> None:
    assert old in NY
    with pytest.raises(LayoutError) as caught:
        read_layout(NY.replace(old, new, 1) if old != 'name = "zip"' else NY.replace(old, new), "mine.toml")
    assert "report layout mine.toml" in str(caught.value)
    assert told in str(caught.value)


@pytest.mark.parametrize(
    ("name", "period", "due"),
    [
        ("ny-annual", "2026", "2027-02-01"),  # ECL 33-1205(1): on or before February first for the prior year
        ("me-annual", "2026", "2027-01-31"),  # 01-026 CMR ch. 50 sec. 2(A): by January 31 of the following year
        ("ca-monthly", "2026-05", "2026-06-10"),  # DPR form: by the 10th of the month that follows
        ("ca-monthly", "2026-12", "2027-01-10"),
    ],
)
def test_due_days(name: str, period: str, due: str) -> None:
    asked = asked_by(find_layout(name).pack, name)
    assert asked is not None
    found = read_period(period, asked[1].period)
    assert due_day(asked[1], found).isoformat() == due


@pytest.mark.parametrize(
    ("text", "kind"), [("26", "year"), ("2026-05", "year"), ("2026", "month"), ("2026-13", "month"), ("0000", "year")]
)
def test_no_such_period(text: str, kind: str) -> None:
    with pytest.raises(UsageError, match="write it like"):
        read_period(text, kind)


def test_the_period_before() -> None:
    assert period_before("month", date(2026, 1, 31)).text == "2025-12"
    assert period_before("year", date(2026, 1, 1)).text == "2025"


@pytest.mark.parametrize("words", ["", " , ", "contry", "county,weather"])
def test_unknown_keys_are_refused(words: str) -> None:
    with pytest.raises(UsageError, match="Known: county, zip"):
        layout_by(words)


def test_keys_of_ones_own() -> None:
    layout = layout_by("County, product,county", states=("MN",), kinds=("pesticide",))
    assert layout.keys == ("county", "product", "registration")
    assert not layout.pack
    with pytest.raises(UsageError, match="'MI5' is no state"):
        layout_by("county", states=("MI5",))
    with pytest.raises(UsageError, match="no kind of product"):
        layout_by("county", kinds=("poison",))
