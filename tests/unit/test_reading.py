"""Loaded documents become domain objects, or every problem in them is told. All names and numbers are invented."""

from __future__ import annotations

import copy
import tomllib
from datetime import UTC, date, datetime, time
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.mixing import share
from records.domain.people import LicenceKind
from records.domain.product import Force, LimitLine, Product, ProductKind, Window
from records.domain.quantities import Form, Quantity, parse_amount, parse_speed, parse_volume
from records.services.loading import read_overlay
from records.services.reading import (
    Problem,
    read_business,
    read_customer,
    read_equipment,
    read_mix,
    read_person,
    read_product,
    read_site,
)

if TYPE_CHECKING:
    from collections.abc import Callable

BUSINESS: dict[str, Any] = {
    "name": "Loon Hollow Lawn Care",
    "address": "480 Cooper Alley",
    "phone": "612-555-0142",
    "licence": "B-990417",
    "state": "MN",
    "timezone": "America/Chicago",
    "packs": ["us-mn"],
}
PERSON: dict[str, Any] = {
    "id": "mo",
    "name": "Mo Lindqvist",
    "licences": [
        {
            "number": "C-990101",
            "state": "mn",
            "kind": "certified",
            "categories": ["Turf"],
            "from": date(2026, 1, 1),
            "to": "2026-12-31",
        }
    ],
}
SITE: dict[str, Any] = {
    "id": "lark-lane-7",
    "customer": "halvorsen",
    "address": "7 Lark Lane",
    "city": "Birchfold",
    "county": "Hennepin",
    "state": "MN",
    "zip": "55290",
    "zones": [
        {"id": "front", "kind": "turf", "turf": "Kentucky Bluegrass", "area": "4,200 sq ft"},
        {"id": "back", "kind": "turf", "turf": ["tall fescue", "kentucky bluegrass"]},
    ],
}
MIX: dict[str, Any] = {
    "id": "mix-0512",
    "made_at": "2026-05-12T07:30",
    "equipment": "skid-1",
    "water": "100 gal",
    "products": [{"product": "brindle-4l", "amount": "62 fl oz", "lot": "R2604"}],
}
PRODUCT: dict[str, Any] = {
    "id": "brindle-4l",
    "name": "Brindle 4L",
    "registration": "EPA Reg. No. 99999-041",
    "form": "liquid",
    "signal_word": "caution",
    "restricted_use": False,
    "actives": [{"name": "Brindlac Acid", "content": "4 lb/gal", "as": "ae", "group": "4"}],
    "label": {
        "revision": "2025-11",
        "keep_off": "until the spray has dried",
        "precautions": "Keep pets off until dry.",
        "uses": [
            {
                "site": "Turf",
                "turf": ["kentucky bluegrass", {"name": "fine fescue", "tolerance": "sensitive"}],
                "method": "Broadcast",
                "targets": ["ground ivy"],
                "rates": [
                    {"min": "0.8 fl oz/1000 sq ft", "max": "1.1 fl oz/1000 sq ft"},
                    {"min": "2.2 pt/acre", "max": "3 pt/acre"},
                ],
            }
        ],
        "limits": {
            "wind": "10 mph",
            "temperature": {"value": "90 degF", "force": "should", "text": "Avoid heat."},
            "interval": "21 days",
            "applications": 2,
            "per_year": "6 pt/acre",
            "window": "calendar year",
            "active_per_year": "3 lb/acre",
        },
    },
}
READERS: dict[str, Callable[[object, list[Problem]], object]] = {
    "business": read_business,
    "person": read_person,
    "customer": read_customer,
    "site": read_site,
    "product": read_product,
    "equipment": read_equipment,
    "mix": read_mix,
    "pack": read_overlay,
}
GOOD = {"business": BUSINESS, "person": PERSON, "site": SITE, "mix": MIX, "product": PRODUCT}
GONE = object()


def changed(kind: str, path: str, value: object) -> dict[str, Any]:
    """Return a good document with one place set to another value, or taken out."""
    doc: Any = copy.deepcopy(GOOD[kind])
    place: Any = doc
    *way, last = [int(key) if key.isdigit() else key for key in path.split(".")]
    for key in way:
        place = place[key]
    if value is GONE:
        del place[last]
    else:
        place[last] = value
    return doc  # type: ignore[no-any-return]  # it is the copy of a document


def problems_of(kind: str, doc: object) -> list[Problem]:
    problems: list[Problem] = []
    value = READERS[kind](doc, problems)
    assert (value is None) == bool(problems)
    return problems


def product(doc: dict[str, Any]) -> Product:
    problems: list[Problem] = []
    found = read_product(doc, problems)
    assert problems == []
    assert found is not None
    return found


def test_business_person_site_and_mix_are_read() -> None:
    problems: list[Problem] = []
    business, person = read_business(BUSINESS, problems), read_person(PERSON, problems)
    site, mix = read_site(SITE, problems), read_mix(MIX, problems)
    assert problems == []
    assert business
    assert business.packs == ("us-mn",)
    assert person
    assert person.licences[0].kind is LicenceKind.CERTIFIED
    assert (person.licences[0].state, person.licences[0].categories) == ("MN", ("turf",))
    assert person.licences[0].is_valid_on(date(2026, 12, 31))
    assert site
    assert [zone.turf for zone in site.zones] == [("kentucky bluegrass",), ("tall fescue", "kentucky bluegrass")]
    assert [str(zone.area) for zone in site.zones] == ["4200 sq ft", "None"]
    assert mix
    assert (mix.made_at, str(mix.water)) == ("2026-05-12T07:30", "100 gal")
    assert (mix.products[0].product, mix.products[0].amount) == ("brindle-4l", "62 fl oz")


def test_a_product_with_its_label_is_read() -> None:
    found = product(PRODUCT)
    assert (found.kind, found.registration, found.signal_word) == (ProductKind.PESTICIDE, "99999-41", "CAUTION")
    assert (found.actives[0].name, found.actives[0].printed) == ("brindlac acid", "Brindlac Acid")
    # 4 lb/gal, a gallon of 128 fl oz
    assert found.actives[0].content.pounds_per_base == Fraction(4, 128)
    label = found.label
    assert label
    assert label.precautions == ("Keep pets off until dry.",)
    use = label.uses[0]
    assert (use.site, use.method, use.turf, use.sensitive) == (
        "turf",
        ("broadcast",),
        ("kentucky bluegrass",),
        ("fine fescue",),
    )
    assert [str(rate.high) for rate in use.rates] == ["1.1 fl oz/1000 sq ft", "3 pt/acre"]
    limits = label.limits
    assert limits.wind == LimitLine(parse_speed("10 mph"))
    assert limits.temperature
    assert (limits.temperature.force, limits.temperature.text) == (Force.SHOULD, "Avoid heat.")
    assert (limits.interval_days, limits.applications) == (LimitLine(21), LimitLine(2))
    assert limits.per_year
    assert [str(rate) for rate in limits.per_year.value] == ["6 pt/acre"]
    assert [(name, str(line.value)) for name, line in limits.active_per_year] == [("brindlac acid", "3 lb/acre")]


WRONG: list[tuple[str, str, object, str, str]] = [
    # document, place changed, new value, place of the problem, words of the reason
    ("business", "state", "Minnesota", "state", "two letters"),
    ("business", "timezone", "Chicago", "timezone", "America/Chicago"),
    ("business", "timezone", "../../etc/passwd", "timezone", "no time zone"),
    ("business", "licence", GONE, "licence", "is missing"),
    ("business", "name", " \t ", "name", "is empty"),
    ("business", "name", "Loon\x1b[31m", "name", "U+001B"),
    ("business", "name", "Loon \u202eHollow", "name", "U+202E"),
    ("business", "name", "Loon \ud800", "name", "U+D800"),
    ("business", "name", "x" * 10_000_000, "name", "10,000,000 characters"),
    ("business", "name", 7, "name", "is a number"),
    ("business", "email", "nobody", "email", "name@example.org"),
    ("business", "lisence", "B-1", "lisence", "did you mean licence"),
    ("person", "id", "../mo", "id", "is no id"),
    ("person", "id", GONE, "id", "is missing"),
    ("person", "licences", {"number": "1"}, "licences", "a list of tables"),
    ("person", "licences", ["C-1"], "licences[0]", "a table"),
    ("person", "licences.0.kind", "certfied", "licences[0].kind", "did you mean certified"),
    ("person", "licences.0.to", "2025-12-31", "licences[0].to", "before the first day"),
    ("person", "licences.0.to", "2026-02-30", "licences[0].to", "no day of the calendar"),
    ("person", "licences.0.to", "12/31/2026", "licences[0].to", "year-month-day"),
    ("person", "licences.0.to", datetime(2026, 1, 1, 9, tzinfo=UTC), "licences[0].to", "year-month-day"),
    ("site", "zip", "5529", "zip", "five or nine digits"),
    ("site", "zip", 55290, "zip", "in quotes"),
    ("site", "state", "XX", "state", "no state"),
    ("site", "zones", [], "zones", "at least one"),
    ("site", "zones", GONE, "zones", "at least one"),
    ("site", "zones.1.id", "front", "zones[1].id", "given twice"),
    ("site", "zones.0.area", 4200, "zones[0].area", "without its unit"),
    ("site", "zones.0.area", "4200", "zones[0].area", "unit"),
    ("site", "zones.0.area", "0 sq ft", "zones[0].area", "is zero"),
    ("site", "zones.0.aera", "1 acre", "zones[0].aera", "did you mean area"),
    ("mix", "made_at", "2026-05-12", "made_at", "2026-05-12T07:30"),
    ("mix", "water", "0 gal", "water", "is zero"),
    ("mix", "water", "100 lb", "water", "volume"),
    ("mix", "products.0.amount", "62", "products[0].amount", "unit"),
    ("mix", "products.0.amount", GONE, "products[0].amount", "is missing"),
    ("mix", "products.0.amount", "0 fl oz", "products[0].amount", "is zero"),
    ("product", "exemption", "FIFRA 25(b)", "registration", "does not go with kind minimum-risk"),
    ("product", "actives.0", {"name": " ", "content": "4 lb/gal"}, "actives[0].name", "is empty"),
    ("product", "actives.0.content", "80 g/ha", "actives[0].content", "weight per volume"),
    ("product", "label.limits.window", "", "label.limits.window", "is empty"),
    ("product", "label.limits.per_year", "0 pt/acre", "label.limits.per_year", "is zero"),
    ("product", "registration", GONE, "registration", "is missing"),
    ("product", "registration", "99999-MN-1", "registration", "establishment"),
    ("product", "registration", "99999-RE", "registration", "file symbol"),
    ("product", "registration", "none", "registration", "exemption"),
    ("product", "registration", "", "registration", "is empty"),
    ("product", "kind", "fertilizer", "registration", "does not go with kind fertilizer"),
    ("product", "kind", "minimum-risk", "exemption", "is missing"),
    ("product", "kind", "pestcide", "kind", "did you mean pesticide"),
    ("product", "form", "powder", "form", "liquid, dry, granule"),
    ("product", "form", GONE, "form", "is missing"),
    ("product", "signal_word", "BEWARE", "signal_word", "DANGER-POISON"),
    ("product", "restricted_use", "no", "restricted_use", "true or false"),
    ("product", "density", "9.2", "density", "9.2 lb/gal"),
    ("product", "actives", GONE, "actives", "is missing"),
    ("product", "actives.0.content", "4", "actives[0].content", "4 lb/gal"),
    ("product", "actives.0.content", "120 %", "actives[0].content", "at most the whole"),
    ("product", "actives.0.content", "0 lb/gal", "actives[0].content", "weight per volume"),
    ("product", "actives.0.as", "acid", "actives[0].as", "ai, ae"),
    ("product", "label.revision", GONE, "label.revision", "is missing"),
    ("product", "label.uses", [], "label.uses", "at least one"),
    ("product", "label.uses.0.rates", GONE, "label.uses[0].rates", "at least one"),
    ("product", "label.uses.0.rates.0", {}, "label.uses[0].rates[0]", "neither end"),
    ("product", "label.uses.0.rates.0.max", "0.7 fl oz/1000 sq ft", "label.uses[0].rates[0].min", "more than max"),
    ("product", "label.uses.0.rates.0.max", "3 pt/acre", "label.uses[0].rates[0].min", "an entry of its own"),
    ("product", "label.uses.0.rates.0.max", "0 fl oz/1000 sq ft", "label.uses[0].rates[0].max", "is zero"),
    ("product", "label.uses.0.rates.0.max", "2 oz wt/acre", "label.uses[0].rates[0].max", "the product is liquid"),
    ("product", "label.uses.0.turf.1.tolerance", "tough", "label.uses[0].turf[1].tolerance", "tolerant"),
    ("product", "label.uses.0.turf.1.name", "Kentucky  bluegrass", "label.uses[0].turf[1]", "named twice"),
    ("product", "label.uses.0.target_force", "may", "label.uses[0].target_force", "must, should"),
    ("product", "label.uses.0.limits", {"wnid": "8 mph"}, "label.uses[0].limits.wnid", "did you mean wind"),
    ("product", "label.limits.wind", 10, "label.limits.wind", "without its unit"),
    ("product", "label.limits.wind", {"force": "must"}, "label.limits.wind.value", "is missing"),
    ("product", "label.limits.wind", {"value": "8 mph", "force": "may"}, "label.limits.wind.force", "must, should"),
    ("product", "label.limits.interval", 21, "label.limits.interval", "21 days"),
    ("product", "label.limits.interval", "a while", "label.limits.interval", "21 days"),
    ("product", "label.limits.applications", "2", "label.limits.applications", "whole number"),
    ("product", "label.limits.applications", True, "label.limits.applications", "whole number"),
    ("product", "label.limits.applications", 0, "label.limits.applications", "out of bounds"),
    ("product", "label.limits.applications", 10**5_000, "label.limits.applications", "out of bounds"),
    ("product", "label.limits.per_year", "6 pt", "label.limits.per_year", "not a rate"),
    ("product", "label.limits.per_year", "1 fl oz/gal", "label.limits.per_year", "not per area"),
    ("product", "label.limits.per_year", [], "label.limits.per_year", "0 entries"),
    ("product", "label.limits.per_year", ["6 pt/acre", 7], "label.limits.per_year[1]", "without its unit"),
    ("product", "label.limits.window", "a year", "label.limits.window", "calendar year"),
    ("product", "label.limits.window", {"season_from": "03-01"}, "label.limits.window.season_to", "is missing"),
    (
        "product",
        "label.limits.window",
        {"season_from": "02-29", "season_to": "11-30"},
        "label.limits.window.season_from",
        "no month and day",
    ),
    ("product", "label.limits.active_per_year", {"other": "3 lb/acre"}, "label.limits.active_per_year.other", "active"),
    ("product", "label.spanish", {"uses": []}, "label.spanish.uses", "is not known"),
]


@pytest.mark.parametrize(
    ("kind", "path", "value", "where", "words"),
    WRONG,
    ids=[f"{n}-{kind}-{path}" for n, (kind, path, *_) in enumerate(WRONG)],
)
def test_what_is_wrong_is_told_with_its_place(kind: str, path: str, value: object, where: str, words: str) -> None:
    problems = problems_of(kind, changed(kind, path, value))
    assert any(problem.where == where and words in problem.what for problem in problems), problems
    assert all(problem.what.isprintable() and problem.where.isprintable() for problem in problems)
    assert all(len(problem.what) < 300 for problem in problems)


def test_all_problems_are_told_at_once() -> None:
    doc = changed("product", "label.uses.0.rates.0.max", "high")
    doc["nmae"] = doc.pop("name")
    doc["label"]["limits"]["wind"] = "breeze"
    doc["actives"][0]["content"] = 4
    assert {problem.where for problem in problems_of("product", doc)} == {
        "name",
        "nmae",
        "actives[0].content",
        "label.limits.wind",
        "label.uses[0].rates[0].max",
    }


def test_a_wrong_entry_does_not_shift_the_places_of_the_others() -> None:
    doc = changed("product", "label.uses.0.turf", [7, "tall fescue", "tall fescue"])
    doc["actives"] = ["x", {"name": "a", "content": "1 lb/gal"}, {"name": "a", "content": "1 lb/gal"}]
    wheres = {problem.where for problem in problems_of("product", doc)}
    assert {"label.uses[0].turf[0]", "label.uses[0].turf[2]", "actives[0]", "actives[2].name"} <= wheres
    site = changed("site", "zones", ["x", SITE["zones"][0], SITE["zones"][0]])
    assert [problem.where for problem in problems_of("site", site)] == ["zones[0]", "zones[2].id"]


def test_the_place_of_the_document_comes_first() -> None:
    problems: list[Problem] = []
    read_site(changed("site", "zones.0.area", "big"), problems, "sites[3]")
    assert [problem.where for problem in problems] == ["sites[3].zones[0].area"]


@pytest.mark.parametrize(
    ("document", "kind"),
    [
        ({"registration": "99999-41", "actives": PRODUCT["actives"]}, ProductKind.PESTICIDE),
        ({"exemption": "FIFRA 25(b)", "actives": PRODUCT["actives"]}, ProductKind.MINIMUM_RISK),
        ({}, ProductKind.ADJUVANT),
        ({"kind": "fertilizer"}, ProductKind.FERTILIZER),
        # Some states number adjuvants of their own.
        ({"kind": "adjuvant", "registration": "99999-50007-AA"}, ProductKind.ADJUVANT),
    ],
    ids=["pesticide", "minimum-risk", "adjuvant", "fertilizer", "numbered-adjuvant"],
)
def test_the_kind_follows_from_the_numbers(document: dict[str, Any], kind: ProductKind) -> None:
    assert product({"id": "x", "name": "X", "form": "liquid", **document}).kind is kind


@pytest.mark.parametrize(
    ("form", "content", "density", "expected"),
    [
        ("liquid", "4 lb/gal", None, Fraction(4, 128)),
        # 480 g/L is 4.0 lb/gal (common practice); exactly 480 g x 3.785411784 L/gal / 453.59237 g/lb / 128 fl oz
        ("liquid", "480 g/L", None, Fraction(480) * Fraction("3.785411784") / Fraction("453.59237") / 128),
        ("liquid", "50 %", None, None),
        ("liquid", "50 %", "9.2 lb/gal", Fraction(46, 10) / 128),
        ("dry", "75 %", None, Fraction(3, 4)),
        ("dry", "600 g/kg", None, Fraction(3, 5)),
        ("granule", "0.43 % by weight", None, Fraction(43, 10_000)),
    ],
    ids=["lb/gal", "g/L", "percent-liquid", "percent-density", "percent-dry", "g/kg", "granule"],
)
def test_content_becomes_pounds(form: str, content: str, density: str | None, expected: Fraction | None) -> None:
    doc = changed("product", "actives.0.content", content) | {"form": form, "label": None, "density": density}
    assert product(doc).actives[0].content.pounds_per_base == expected


def test_what_does_not_go_together_is_told() -> None:
    doc = changed("product", "kind", "pesticide") | {"form": "dry", "density": "9 lb/gal", "exemption": "FIFRA 25(b)"}
    doc["actives"] = [{"name": "a", "content": "75 %"}, {"name": " A ", "content": "2 %"}]
    problems = {problem.where: problem.what for problem in problems_of("product", doc)}
    assert "only a liquid" in problems["density"]
    assert "use kind minimum-risk" in problems["exemption"]
    assert "listed twice" in problems["actives[1].name"]
    [problem] = problems_of("equipment", {"id": "a", "name": "A", "output": "0 gal/acre"})
    assert (problem.where, "is zero" in problem.what) == ("output", True)


@pytest.mark.parametrize("form", ["dry", "granule"])
def test_a_volume_does_not_fit_a_dry_product(form: str) -> None:
    doc = changed("product", "form", form)
    wheres = {problem.where for problem in problems_of("product", doc)}
    assert {"actives[0].content", "label.limits.per_year", "label.uses[0].rates[0].max"} <= wheres


@pytest.mark.parametrize(
    ("text", "window"),
    [
        ("Calendar year", Window("calendar year")),
        ("12 months", Window("months", 12)),
        ("12 rolling months", Window("months", 12)),
        ("365 days", Window("days", 365)),
        ({"season_from": "03-01", "season_to": "11-30"}, Window("season", 0, "03-01", "11-30")),
        ("season", Window("season", 0, "01-01", "12-31")),
    ],
    ids=["calendar", "months", "rolling", "days", "season", "season-without-dates"],
)
def test_windows_are_read_and_hold_for_a_use_too(text: object, window: Window) -> None:
    doc = changed("product", "label.limits.window", text)
    doc["label"]["uses"][0]["limits"] = {"wind": "8 mph"}
    label = product(doc).label
    assert label
    assert label.limits.window == window
    assert label.uses[0].limits
    assert label.uses[0].limits.window == window


def test_each_active_of_several_has_its_own_yearly_limit() -> None:
    doc = copy.deepcopy(PRODUCT)
    doc["actives"].append({"name": "mecovane", "content": "1 lb/gal", "as": "ai"})
    [problem] = problems_of("product", doc)
    assert problem.where == "label.limits.active_per_year"
    assert "2 actives ('brindlac acid' and 'mecovane')" in problem.what
    doc["label"]["limits"]["active_per_year"] = {
        "brindlac acid": "3 lb/acre",
        "Mecovane": {"value": "1 lb/acre", "force": "should"},
    }
    label = product(doc).label
    assert label
    assert [(name, line.force) for name, line in label.limits.active_per_year] == [
        ("brindlac acid", Force.MUST),
        ("mecovane", Force.SHOULD),
    ]


def test_printed_spanish_is_kept() -> None:
    doc = changed("product", "label.spanish", {"keep_off": "hasta que se seque", "precautions": ["Uno.", "Dos."]})
    label = product(doc).label
    assert label
    assert label.spanish == (("keep_off", "hasta que se seque"), ("precautions", "Uno."), ("precautions", "Dos."))


def test_names_are_single_spaced_and_composed() -> None:
    problems: list[Problem] = []
    customer = read_customer({"id": "a", "name": " Nguye\u0302\u0303n \n Thị "}, problems)
    assert customer
    assert customer.name == "Nguyễn Thị"


def test_toml_days_and_times_are_read_like_their_texts() -> None:
    problems: list[Problem] = []
    doc = tomllib.loads("made_at = 2026-05-12T07:30:00\nday = 2026-04-13")
    mix = read_mix(MIX | {"made_at": doc["made_at"]}, problems)
    equipment = read_equipment(
        {"id": "can-1", "name": "Hand can", "output": "1 gal/1000 sq ft", "calibrated_on": doc["day"]}, problems
    )
    assert problems == []
    assert mix
    assert mix.made_at == "2026-05-12T07:30"
    assert equipment
    assert equipment.calibrated_on == "2026-04-13"


def test_a_share_of_a_load_is_exact() -> None:
    # A third of a load of 100 gal with 62 fl oz in it.
    part = share(Quantity(Fraction(62), "fl oz"), Quantity(Fraction(100, 3), "gal"), Quantity(Fraction(100), "gal"))
    assert (part.value, part.unit, part.half) == (Fraction(62, 3), "fl oz", Fraction(0))
    read = share(parse_amount("62 fl oz", Form.LIQUID), parse_volume("8.4 gal"), parse_volume("100 gal"))
    assert read.value == Fraction("5.208")
    # the lowest share that the written numbers allow: 61.5 x 8.35 / 100.5
    assert read.value - read.half == Fraction("61.5") * Fraction("8.35") / Fraction("100.5")
    with pytest.raises(ValueError, match="no spray"):
        share(read, read, Quantity(Fraction(0), "gal"))


def test_the_demonstration_firm_is_read() -> None:
    sections = {
        "people": "person",
        "customers": "customer",
        "sites": "site",
        "products": "product",
        "mixes": "mix",
        "packs": "pack",
    }
    files = sorted((Path(__file__).parents[2] / "demo" / "firm").glob("*.toml"))
    assert files
    for file in files:
        for section, docs in tomllib.loads(file.read_text(encoding="utf-8")).items():
            for doc in docs if isinstance(docs, list) else [docs]:
                assert problems_of(sections.get(section, section), doc) == []


WORDS = [
    "id",
    "name",
    "value",
    "force",
    "text",
    "min",
    "max",
    "4 lb/gal",
    "oz/acre",
    "1 oz/acre",
    "21 days",
    "turf",
    "",
]
LEAF = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.decimals()
    | st.sampled_from(WORDS)
    | st.text(st.characters(), max_size=12)
    | st.dates()
    | st.times()
    | st.datetimes()
    | st.just(time(1, 2))
    | st.just(Decimal("sNaN"))
)
KEYS = st.sampled_from(WORDS) | st.text(st.characters(), max_size=8)
ANYTHING = st.recursive(LEAF, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4))


@given(st.sampled_from(sorted(READERS)), ANYTHING)
def test_no_reader_raises_on_anything(kind: str, doc: object) -> None:
    assert all(problem.what.isprintable() for problem in problems_of(kind, doc))


def _places(value: object, path: str = "") -> list[str]:
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else []
    found = [f"{path}{key}" for key, _ in pairs]
    inner = [place for key, one in pairs for place in _places(one, f"{path}{key}.")]
    return found + inner


@given(st.data(), st.sampled_from(sorted(GOOD)), ANYTHING)
def test_no_reader_raises_on_anything_in_any_place(data: st.DataObject, kind: str, value: object) -> None:
    path = data.draw(st.sampled_from(_places(GOOD[kind])))
    problems = problems_of(kind, changed(kind, path, value))
    assert all(problem.what.isprintable() and problem.where.isprintable() for problem in problems)


def test_without_a_form_an_ounce_is_not_compared() -> None:
    doc = changed("product", "form", GONE)
    doc["label"]["uses"][0]["rates"] = [{"min": "2 oz/acre", "max": "1 oz/acre"}]
    assert [problem.where for problem in problems_of("product", doc)] == ["form"]
