"""Every check of a periodic report: what it finds, and the near case that it lets pass.

What the New York reporting service rejects stands on its help pages ("Incorrect or Invalid Quantity Applied", the same
of units and of dates): product with diluent, units that cannot be converted such as each and bags, ranges of days, a
wrong number of the person. That an address may not be a post box stands in its data dictionary.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from records.services.periodic.engine import Wanted, gather
from records.services.periodic.layout import find_layout, layout_by
from tests.bodies import MO, SPREADWELL
from tests.periodic.making import LICENCE, PERSON, SITE, body, sealed

NY = find_layout("ny-annual")
YEAR = Wanted(date(2026, 1, 1), date(2026, 12, 31))
Json = dict[str, Any]
DRY = {"form": "dry", "id": "sedgeline-75", "name": "Sedgeline 75 WG", "registration": "99999-63"}
MISSING = {"code": "missing", "severity": "note", "at": "treatments[0].applications[0].amount", "source": ""}
TRAINEE = PERSON | {"licence": LICENCE | {"kind": "trainee", "number": "A77"}}


def gap(text: str) -> list[Json]:
    """Return the finding of an import that knows no amount."""
    return [MISSING | {"message": f"the amount of product is missing: {text}", "limit": "", "found": ""}]


def site(**parts: object) -> Json:
    """Return the site with parts replaced."""
    return SITE | parts


WRONG: dict[str, list[Json]] = {
    "state": [body(site=site(state=""))],
    "day": [body(date=None, started=None, finished=None, kind="usage")],
    "day-range": [body(finished={"local": "2026-05-16T10:00-04:00", "utc": "2026-05-16T14:00:00Z"})],
    "person": [body(applicator=None), body(applicator=TRAINEE), body(applicator=TRAINEE, supervisor=TRAINEE)],
    "licence": [
        body(applicator=PERSON | {"licence": None}),
        body(applicator=PERSON | {"licence": LICENCE | {"number": ""}}),
    ],
    "licence-state": [body(applicator=MO)],
    "registration": [body({"product": {"registration": None}}), body({"product": {"registration": ""}})],
    "registration-format": [
        body({"product": {"registration": "99999-NY-002"}}),  # an establishment
        body({"product": {"registration": "9999941"}}),
    ],
    "address": [body(site=site(address=""))],
    "post-box": [body(site=site(address="P.O. Box 12")), body(site=site(address="PO Box 7, Elm Court"))],
    "zip": [body(site=site(zip="")), body(site=site(zip="1420")), body(site=site(zip="ABCDE"))],
    "county": [body(site=site(county=""))],
    "county-unknown": [body(site=site(county="Hennepin"))],
    "amount": [body({"amount": None}), body({"amount": None}, findings=gap("the cell is empty"))],
    "unit": [body({"amount": None}, findings=gap("3 each")), body({"amount": "3 bag"}), body({"amount": "2 acre"})],
    "ounce": [body({"amount": "12.5 oz"})],
    "unit-kind": [
        body({"amount": "4 lb"}),  # a liquid by weight: the active ingredient, maybe
        body({"amount": "2 gal", "product": DRY}),  # a dry product by volume: the mix, maybe
    ],
    "mix": [body({"amount": "8.4 gal"}), body({"amount": "1075.2 fl oz"}), body({"amount": "9 gal"})],
    "zero": [body({"amount": "0 fl oz"})],
}  # fmt: skip
RIGHT: dict[str, list[Json]] = {
    "day-range": [
        body(  # one night
            started={"local": "2026-05-14T21:30-04:00", "utc": "2026-05-15T01:30:00Z"},
            finished={"local": "2026-05-15T00:10-04:00", "utc": "2026-05-15T04:10:00Z"},
        )
    ],
    "person": [body(applicator=TRAINEE, supervisor=PERSON)],
    "licence": [body(applicator=PERSON | {"licence": LICENCE | {"kind": "technician", "number": "T9"}})],
    "registration": [body({"product": {"registration": "99999-41-88888"}})],
    "post-box": [body(site=site(address="12 Box Elder Road"))],
    "zip": [body(site=site(zip="00501")), body(site=site(zip="14201-1234"))],
    "county": [body(site=site(county="erie COUNTY"))],
    "ounce": [body({"amount": "12.5 fl oz"})],
    "unit-kind": [body({"amount": "1 L"}), body({"amount": "0.36 g", "product": DRY})],
    "mix": [body({"amount": "8.39 gal"}), body({"amount": "8.4 gal"}, {"dilution": "undiluted"})],
    "zero": [body({"amount": "0.000000001 fl oz"})],
}


@pytest.mark.parametrize(
    ("code", "number"), [(code, number) for code, cases in WRONG.items() for number in range(len(cases))]
)
def test_a_line_with_something_wrong_is_named_and_left_out(code: str, number: int) -> None:
    """By the record's serial, with what to do; and it stands in no line."""
    got = gather(sealed(body(), WRONG[code][number]), NY, YEAR)
    assert {one.code for one in got.troubles} == {code}
    assert {one.serial for one in got.troubles} == {"2026-000002"}
    assert all(one.do and one.message for one in got.troubles)
    assert len(got.lines) == 1
    assert [sums.applications for sums in got.left_out.values()] == [1]


@pytest.mark.parametrize(
    ("code", "number"), [(code, number) for code, cases in RIGHT.items() for number in range(len(cases))]
)
def test_what_is_right_passes(code: str, number: int) -> None:
    got = gather(sealed(RIGHT[code][number]), NY, YEAR)
    assert got.troubles == []
    assert len(got.lines) == 1


def test_every_check_of_the_layout_is_tried() -> None:
    tried = {*WRONG, "both-kinds"}  # below
    assert tried == NY.refuse


def test_one_product_by_volume_and_by_weight() -> None:
    """A known fault of such data: the rarer kind is named and left out."""
    unknown = {"form": "unknown"}
    bodies = [
        body({"product": unknown, "amount": "4 fl oz"}),
        body({"product": unknown, "amount": "5 fl oz"}, date="2026-05-15"),
        body({"product": unknown, "amount": "2 lb"}, date="2026-05-16"),
    ]
    got = gather(sealed(*bodies), NY, YEAR)
    assert [(one.code, one.serial) for one in got.troubles] == [("both-kinds", "2026-000003")]
    assert len(got.lines) == 2
    assert gather(sealed(*bodies[:2]), NY, YEAR).troubles == []


def test_a_month_is_not_divided() -> None:
    """A month's total goes into a report of whole months, and into none of some days of it."""
    total = body(date=None, started=None, finished=None, kind="usage")
    layout = layout_by("month")
    whole = gather(sealed(total), layout, Wanted(date(2026, 5, 1), date(2026, 5, 31)))
    assert (whole.troubles, len(whole.lines)) == ([], 1)
    part = gather(sealed(total), layout, Wanted(date(2026, 5, 2), date(2026, 12, 31)))
    assert [one.code for one in part.troubles] == ["part-month"]
    other = gather(sealed(total), layout, Wanted(date(2026, 6, 1), date(2026, 6, 30)))
    assert (other.troubles, dict(other.why_other)) == ([], {"on other days": 1})


def test_what_a_report_does_not_ask_for_is_counted() -> None:
    adjuvant = body({"product": SPREADWELL, "amount": "2 fl oz"})
    got = gather(
        sealed(body(), adjuvant, body(site=site(state="PA")), body(date="2025-05-14", period="2025-05")), NY, YEAR
    )
    assert dict(got.why_other) == {"of kind adjuvant": 1, "in PA": 1, "on other days": 1}
    assert got.troubles == []


def test_voided_records_are_passed_over() -> None:
    assert gather(sealed(body(), action="voided"), NY, YEAR).lines == []
