"""The lines of a periodic report: what one line is, under whom it is filed, in which unit it stands."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from records.services.periodic.engine import Wanted, gather
from records.services.periodic.layout import find_layout, layout_by
from records.services.periodic.model import measure_of
from records.services.periodic.uses import filer_of
from records.services.periodic.words import number_text
from tests.bodies import MO, application, treatment
from tests.periodic.making import LICENCE, PERSON, SITE, body, sealed

NY, CA, ME = find_layout("ny-annual"), find_layout("ca-monthly"), find_layout("me-annual")
YEAR = Wanted(date(2026, 1, 1), date(2026, 12, 31))
DRY = {"form": "granule", "id": "g", "name": "Grit", "registration": "99999-9"}


def told(got: object, *sources: str) -> list[tuple[str, ...]]:
    """Return some columns of numbers of each line, as written."""
    lines = got.lines  # type: ignore[attr-defined]
    return [
        tuple(
            line.unit if source == "unit" else number_text(measure_of(line, source) or Fraction(0))
            for source in sources
        )
        for line in lines
    ]


def test_one_line_is_one_product_one_day_one_address() -> None:
    """Front and back of a yard on one day are one line; another day or address is another."""
    twice = body()
    twice["treatments"] = [
        treatment(applications=[application()]),
        treatment(applications=[application(amount="1 pt")]),
    ]
    bodies = [twice, body(date="2026-05-15"), body(site=SITE | {"id": "x", "address": "5 Elm Court"})]
    got = gather(sealed(*bodies), NY, YEAR)
    assert told(got, "quantity", "unit", "applications") == [
        ("20.62", "fl oz", "2"),  # 4.62 fl oz and a pint of 16
        ("4.62", "fl oz", "1"),
        ("4.62", "fl oz", "1"),
    ]


def test_who_reports() -> None:
    """DEC policy DSHM-PES-05-10: each certified applicator and technician. Help pages of the reporting service: what an
    apprentice did is reported under the number of the certified applicator who supervised."""
    technician = PERSON | {"id": "tess", "licence": LICENCE | {"kind": "technician", "number": "T1"}}
    trainee = PERSON | {"id": "tod", "licence": LICENCE | {"kind": "trainee", "number": "A1"}}
    imported = PERSON | {"id": "imp", "licence": LICENCE | {"kind": None, "number": "Q1"}}
    bare = PERSON | {"id": "bare", "licence": None}
    assert filer_of(body())[:3] == ("ada", "Ada Brook", "C1182903")
    assert filer_of(body(applicator=technician, supervisor=PERSON))[:3:2] == ("tess", "T1")
    assert filer_of(body(applicator=trainee, supervisor=PERSON))[:3:2] == ("ada", "C1182903")
    assert filer_of(body(applicator=imported))[:3:2] == ("imp", "Q1")
    assert filer_of(body(applicator=bare, supervisor=PERSON))[:3:2] == ("ada", "C1182903")
    assert filer_of(body(applicator=trainee, supervisor=MO)).trouble  # a technician supervises nobody
    assert filer_of(body(applicator=None)).trouble


def test_all_lines_of_a_product_stand_in_one_unit() -> None:
    """The largest in which none of them is less than one; sums by product stay sums."""
    bodies = [
        body({"amount": "3 gal"}),
        body({"amount": "64 fl oz"}, date="2026-05-15"),
        body({"amount": "12.5 lb", "product": DRY}),
        body({"amount": "16 oz wt", "product": DRY}, date="2026-05-15"),
    ]
    assert told(gather(sealed(*bodies), NY, YEAR), "quantity", "unit") == [
        ("384", "fl oz"),
        ("64", "fl oz"),
        ("12.5", "lb"),
        ("1", "lb"),
    ]


def test_every_digit_is_written() -> None:
    """0.000000001 fl oz is 7.8125e-12 gal: no digit is lost; a gram in ounces has no last one."""
    got = gather(sealed(body({"amount": "123.000000001 fl oz"})), layout_by("product"), YEAR)
    assert told(got, "gallons") == [("0.9609375000078125",)]
    got = gather(sealed(body({"amount": "0.36 g", "product": DRY})), NY, YEAR)
    # NIST Handbook 44 (2024), appendix C: 1 ounce avoirdupois = 28.349 523 125 grams
    assert told(got, "quantity", "unit") == [("0.012698626", "oz wt")]


def test_a_month_by_county_and_site() -> None:
    place = SITE | {"state": "CA", "county": "Plumas"}
    other = place | {"county": "PLUMAS COUNTY"}
    total = body({"count": 12, "amount": "2 gal"}, date=None, started=None, finished=None, kind="usage", site=other)
    got = gather(sealed(body(site=place), total), CA, Wanted(date(2026, 5, 1), date(2026, 5, 31)))
    assert got.troubles == []
    assert [line.keys[:3] for line in got.lines] == [("Plumas", "2026-05", "turf")]
    assert told(got, "quantity", "unit", "applications") == [("2.03609375", "gal", "13")]


def test_a_year_by_site_with_its_area() -> None:
    place = SITE | {"state": "ME", "county": ""}
    spot = body({"amount": "1 fl oz", "area": None}, site=place)
    got = gather(sealed(body(site=place), spot), ME, YEAR)
    assert told(got, "quantity", "area_sq_ft", "without_area") == [("5.62", "4200", "1")]


def test_a_minimum_risk_product_has_no_number() -> None:
    exempt = {"kind": "minimum-risk", "registration": None, "exemption": "FIFRA 25(b), 40 CFR 152.25(f)"}
    got = gather(sealed(body({"product": exempt}, site=SITE | {"state": "ME"})), ME, YEAR)
    assert got.troubles == []
    assert got.lines[0].keys[1] == "exempt"


def test_one_person_and_one_county() -> None:
    tess = PERSON | {"id": "tess", "licence": LICENCE | {"kind": "technician", "number": "T1"}}
    got = gather(sealed(body(), body(applicator=tess)), NY, Wanted(YEAR.since, YEAR.until, person="tess"))
    assert [line.part for line in got.lines] == ["tess"]
    assert dict(got.why_other) == {"reported by somebody else": 1}
    place = SITE | {"state": "CA", "county": "Plumas"}
    wanted = Wanted(YEAR.since, YEAR.until, county="plumas county")
    got = gather(sealed(body(site=place), body(site=place | {"county": "Sierra"})), CA, wanted)
    assert [line.part for line in got.lines] == ["Plumas"]
    assert dict(got.why_other) == {"in another county": 1}


def test_a_target_for_each_line() -> None:
    both = body({"targets": ["ground ivy", "plantain"]})
    got = gather(sealed(both, body({"targets": []})), layout_by("target"), YEAR)
    assert [line.keys for line in got.lines] == [(None,), ("ground ivy",), ("plantain",)]
