"""Cost: by lot, first in first out, by the average until the day; per visit, product, site and month; side by side."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import NotFoundError, UsageError
from records.services.costing import PER, CostReport, Plan, compare, cost
from records.services.costing.words import cost_document, dollars, exact, plans_document
from records.services.stocking import log_bought, log_disposed
from tests.account.test_stocking import body
from tests.bodies import application, treatment, visit_body
from tests.storage.chain import fill

if TYPE_CHECKING:
    from tests.kit import Kit

FIRST, LAST = date(2026, 1, 1), date(2026, 12, 31)


def bought(kit: Kit, product: str, packs: str, price: str, at: str = "2026-05-01", *, lot: str | None = None) -> None:
    with kit.book.write() as work:
        log_bought(work, kit.clock.now(), product, packs, price=price, at=at, lot=lot)
        work.commit()


def used(number: int, day: str, amount: str = "8 fl oz", **changes: object) -> dict[str, Any]:
    """Return a sealed body that put out so much of larkin-4 over 4,200 sq ft."""
    when = {"date": day, "period": day[:7], "started": {"local": "", "utc": f"{day}T14:{number:02d}:00Z"}}
    return body(number, amount=amount, **changes) | when


def report(kit: Kit, per: str = "product", first: date = FIRST, last: date = LAST) -> CostReport:
    with kit.book.read() as work:
        return cost(work, per, first, last)


def plans(kit: Kit, *texts: str, method: str = "broadcast", output: str | None = None) -> list[Plan]:
    with kit.book.read() as work:
        return compare(work, texts, LAST, method=method, output=output)


def test_a_lot_costs_what_was_paid_for_it(kit: Kit) -> None:
    """8 fl oz of a jug of 128 fl oz for $64.00 are $4.00: $0.952381 per 1,000 sq ft, $41.485714 an acre."""
    bought(kit, "larkin-4", "1 gal", "64.00", lot="B2207")
    bought(kit, "larkin-4", "1 gal", "128.00", lot="other")
    fill(kit.book, used(1, "2026-05-14"))
    found = report(kit)
    (row,) = found.rows
    assert [row.cost, row.by_lot, row.by_average, row.unpriced] == [4, 1, 0, 0]
    assert row.per_thousand == Fraction(4000, 4200)
    assert row.per_acre == Fraction(4 * 43560, 4200)
    assert cost_document(found)["rows"][0]["per_acre"] == "41.485714"
    assert found.total.cost == 4


def test_without_a_lot_it_costs_the_average_until_the_day(kit: Kit) -> None:
    """$0.50 a fl oz until 1 June, then $0.75; a lot that was never bought is no lot either."""
    kit.set("2026-07-01T12:00")
    bought(kit, "larkin-4", "1 gal", "64", at="2026-04-01")
    bought(kit, "larkin-4", "1 gal", "128", at="2026-05-20", lot="L9")
    fill(kit.book, used(1, "2026-05-14", lot=None), used(2, "2026-06-14", lot="X"), used(3, "2026-03-01", lot=None))
    (row,) = report(kit).rows
    assert [row.cost, row.by_average, row.by_lot, row.unpriced] == [4 + 6, 2, 0, 1]
    assert [one.cost for one in report(kit, "month").rows] == [0, 4, 6]
    assert cost_document(report(kit, "month"))["rows"][0]["cost"] is None  # nobody knows; that is not nothing


def test_a_lot_bought_at_two_prices_is_used_up_in_order(kit: Kit) -> None:
    """10 fl oz at $1, then at $2; a disposal uses packs up as well; what was used before the span counts."""
    bought(kit, "larkin-4", "10 fl oz", "10", at="2026-04-01", lot="B2207")
    bought(kit, "larkin-4", "128 fl oz", "256", at="2026-04-02", lot="B2207")
    fill(kit.book, used(1, "2026-05-01", "4 fl oz"), used(3, "2026-05-10", "4 fl oz"), used(2, "2026-05-09", "3 fl oz"))
    kit.set("2026-07-01T12:00")
    with kit.book.write() as work:
        log_disposed(work, kit.clock.now(), "larkin-4", "2 fl oz", how="x", lot="B2207", at="2026-05-03")
        work.commit()
    found = {row.key: row.cost for row in report(kit, "visit").rows}
    # 4 at 1; 2 thrown away; 3 at 1; then 1 at 1 and 3 at 2
    assert list(found.values()) == [4, 7, 3]
    assert report(kit, "visit", first=date(2026, 5, 10)).total.cost == 7
    for per in PER:
        assert report(kit, per).total.cost == 14
    fill(kit.book, used(4, "2026-05-11", "3 g"), used(5, "2026-05-12", "2 fl oz", lot="B2207"))
    assert report(kit).total.cost == 18


def test_each_way_of_telling_has_the_same_sum_and_each_area_once(kit: Kit) -> None:
    """Two products of one treatment share its ground; the surfactant is part of the cost, and told apart."""
    bought(kit, "larkin-4", "1 gal", "64")
    bought(kit, "stickfast", "1 gal", "12.80")
    lines = [
        application()["product"] | {"id": key, "kind": kind}
        for key, kind in (("larkin-4", "pesticide"), ("stickfast", "adjuvant"))
    ]
    both = treatment(applications=[application(one, amount="10 fl oz") for one in lines])
    fill(kit.book, visit_body(treatments=[both]))
    for per in PER:
        found = report(kit, per)
        assert [found.total.cost, found.total.adjuvants] == [6, 1]
        assert (found.total.area, found.total.applications) == (4200 * 10**9, 2)
        assert sum((row.cost for row in found.rows), Fraction(0)) == 6
    (site,) = report(kit, "site").rows
    assert (site.key, site.words, site.per_thousand) == ("lark-lane-7", "7 Lark Lane", Fraction(6000, 4200))
    (visit,) = report(kit, "visit").rows
    assert visit.words == "2026-05-14 7 Lark Lane"
    assert [row.key for row in report(kit).rows] == ["larkin-4", "stickfast"]
    assert report(kit, last=date(2026, 5, 13)).rows == ()


def test_what_cannot_be_priced_is_counted(kit: Kit) -> None:
    """No amount, a bare ounce, a product that nobody bought, one that the catalogue does not have."""
    bought(kit, "larkin-4", "1 gal", "64")
    fill(
        kit.book,
        used(1, "2026-05-14", product={"id": None, "registration": "99999-7"}),
        used(2, "2026-05-14", "3 oz"),
        body(3, amount=None) | {"date": None, "period": "2026-05", "started": None, "finished": None},
        used(4, "2026-05-14", product={"id": "bare-2"}),
        body(5, amount="8 fl oz", lot=None) | {"date": None, "period": "2026-05", "site": None},
    )
    found = report(kit)
    assert {row.key: [row.cost, row.unpriced] for row in found.rows} == {
        "larkin-4": [4, 2],
        "99999-7": [0, 1],
        "bare-2": [0, 1],
    }
    assert found.total.unpriced == 4
    assert {row.key for row in report(kit, "site").rows} == {"lark-lane-7", "(not known)"}
    assert report(kit, first=date(2026, 5, 2)).total.applications == 3  # a month's total counts from its first day


def test_ground_without_a_price_is_left_out_of_the_cost_per_area(kit: Kit) -> None:
    """$4 on 4,200 sq ft are $0.952 per 1,000 sq ft, whatever else got a product that nobody bought."""
    bought(kit, "larkin-4", "1 gal", "64")
    bare = application()["product"] | {"id": "bare-2"}
    larkin = application()["product"] | {"id": "larkin-4"}
    both = treatment(applications=[application(bare, amount="1 lb"), application(larkin, amount="8 fl oz")])
    fill(
        kit.book,
        used(1, "2026-05-14"),
        used(2, "2026-05-14", product={"id": "bare-2"}),
        used(3, "2026-05-15") | {"treatments": body(3, amount=None)["treatments"]},
        visit_body(treatments=[both]),
    )
    for per in PER:
        found = report(kit, per)
        assert [found.total.cost, found.total.area] == [8, 4 * 4200 * 10**9]
        assert found.total.unpriced_area == 2 * 4200 * 10**9  # the second and third; the last got larkin-4, too
        assert found.total.per_thousand == Fraction(8000, 2 * 4200)
    rows = {row.key: row for row in report(kit).rows}
    assert rows["larkin-4"].unpriced_area == 4200 * 10**9
    assert rows["larkin-4"].per_thousand == Fraction(8000, 2 * 4200)
    assert rows["bare-2"].per_thousand is None
    document = cost_document(report(kit, "month"))
    assert document["total"]["unpriced_area"] == "8400 sq ft"
    assert document["total"]["per_1000_sq_ft"] == "0.952381"


def test_plans_stand_side_by_side(kit: Kit) -> None:
    """0.75 fl oz at $0.50 are $0.375 per 1,000 sq ft; 0.25 % of 2 gal (0.64 fl oz) at $0.10 are $0.064 more."""
    bought(kit, "larkin-4", "1 gal", "64")
    bought(kit, "stickfast", "1 gal", "12.80")
    bought(kit, "sedger-75", "1 lb", "160")
    one, two, dry = plans(
        kit,
        "larkin-4=0.75 fl oz/1000 sq ft",
        "larkin-4=0.75 fl oz/1000 sq ft + stickfast=0.25 % v/v",
        "sedger-75=0.03 oz/1000 sq ft",
        output="2 gal/1000 sq ft",
    )
    assert (one.per_thousand, one.per_acre) == (Fraction(3, 8), Fraction("16.335"))
    assert two.per_thousand == Fraction("0.439")
    assert dry.per_thousand == Fraction("0.3")
    assert plans_document([two])["plans"][0]["per_1000_sq_ft"] == "0.439"


def test_a_plan_without_a_rate_takes_the_median_of_what_was_used(kit: Kit) -> None:
    """The middle of three; of another way of applying where it is asked for."""
    bought(kit, "larkin-4", "1 gal", "64")
    fill(kit.book, *(used(number, "2026-05-14", f"{4.2 * number:.1f} fl oz") for number in (1, 2, 5)))
    (plan,) = plans(kit, "larkin-4")
    (part,) = plan.parts
    assert [part.rate, part.how, plan.per_thousand] == ["2 fl oz/1000 sq ft", "median of 3", 1]
    with pytest.raises(UsageError, match="no spot application"):
        plans(kit, "larkin-4", method="spot")


def test_a_plan_without_a_price_has_no_cost(kit: Kit) -> None:
    (plan,) = plans(kit, "larkin-4=1 fl oz/1000 sq ft")
    assert (plan.per_thousand, plan.per_acre, plan.parts[0].price) == (None, None, None)
    assert plans_document([plan])["plans"][0]["per_acre"] is None


def test_what_makes_no_sense_is_refused(kit: Kit) -> None:
    for texts, words in (
        ((), "nothing is named"),
        (("+",), "names no product"),
        (("larkin-4=3 g/1000 sq ft",), "larkin-4: rate in g"),
        (("larkin-4=0.5 % v/v",), "--output"),
    ):
        with pytest.raises(UsageError, match=words):
            plans(kit, *texts)
    with pytest.raises(UsageError, match="output"):
        plans(kit, "larkin-4=1 fl oz/1000 sq ft", output="2 gal")
    with pytest.raises(NotFoundError):
        plans(kit, "nothing=1 fl oz/1000 sq ft")
    with pytest.raises(UsageError, match="--per"):
        report(kit, "moon")


def test_money_is_written_with_two_decimals() -> None:
    """Half a cent goes to the even one; nothing known is no text."""
    assert [dollars(Fraction(cents, 1000)) for cents in (5, 15, 1234567, -10)] == [
        "$0.00",
        "$0.02",
        "$1,234.57",
        "-$0.01",
    ]
    assert (dollars(None), exact(None), exact(Fraction(1, 3))) == ("", None, "0.333333")
