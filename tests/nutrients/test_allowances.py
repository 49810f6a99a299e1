"""What a label still allows on a zone and from which day on: the same as the checks of closing say, day by day."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from records.domain.findings import Severity
from records.rules.engine import evaluate
from records.services.actives import allowance, put_out
from records.services.closing.past import context_of, memory_of
from records.services.closing.reading import read_visit
from records.services.directory import Directory
from tests.kit import AMBREL, Kit, labelled, moment, visit

if TYPE_CHECKING:
    from pathlib import Path

    from records.rules.allowances import Allowance

FULL = {"rate": "0.75 fl oz/1000 sq ft"}
SPOTS = {"method": "spot", "area": "300 sq ft", "rate": "0.75 fl oz/1000 sq ft"}
YEAR = "calendar year"
AGAINST = {"too-soon", "over-count", "over-year", "over-active"}


def allowed(kit: Kit, on: str, zone: str = "front", product: str = "larkin-4", method: str = "broadcast") -> Allowance:
    """Return what is allowed of a product on a zone of the usual site."""
    with kit.book.read() as work:
        directory = Directory(work.catalogue)
        found = directory.site("mill-9")
        assert found is not None
        place, held = found[0].zone(zone), directory.product(product)
        assert place is not None
        assert held is not None
        return allowance(work, found[0], place, held, date.fromisoformat(on), method=method)


def first_by_closing(kit: Kit, on: str, **changes: object) -> date | None:
    """Return the first day on which closing a small application is not told of any limit over time."""
    day = date.fromisoformat(on)
    with kit.book.read() as work:
        memory = memory_of(work)
        for more in range(800):
            then = day + timedelta(more)
            document = visit(then.isoformat(), **({"rate": "0.1 fl oz/1000 sq ft"} | changes))
            entry = read_visit(document, memory.directory)[0]
            findings = evaluate(entry, context_of(work, memory, entry, moment(f"{then}T12:00")))
            if not [one for one in findings if one.code.value in AGAINST and one.severity is not Severity.NOTE]:
                return then
    return None


LIMITS: list[tuple[str, dict[str, Any], list[dict[str, Any]], str, str]] = [
    ("no limits", {}, [{"on": "2026-05-01", **FULL}], "2026-05-02", "2026-05-02"),
    ("an interval", {"interval": "21 days"}, [{"on": "2026-05-01", **FULL}], "2026-05-02", "2026-05-22"),
    ("an interval before", {"interval": "21 days"}, [{"on": "2026-05-20", **FULL}], "2026-05-10", "2026-06-10"),
    (
        "a count in the calendar year",
        {"applications": 2, "window": YEAR},
        [{"on": "2026-03-01", **FULL}, {"on": "2026-04-01", **FULL}],
        "2026-05-01",
        "2027-01-01",
    ),
    (
        "a count in 12 months",
        {"applications": 2, "window": "12 months"},
        [{"on": "2026-03-01", **FULL}, {"on": "2026-06-01", **FULL}],
        "2026-06-02",
        "2027-03-01",
    ),
    (
        "a count in 60 days",
        {"applications": 1, "window": "60 days"},
        [{"on": "2026-03-01", **FULL}],
        "2026-03-02",
        "2026-04-30",
    ),
    (
        "a count in a season",
        {"applications": 1, "window": {"season_from": "03-01", "season_to": "10-31"}},
        [{"on": "2026-03-05", **FULL}],
        "2026-04-01",
        "2026-11-01",
    ),
    (
        "an amount in the calendar year",
        {"per_year": "0.75 fl oz/1000 sq ft", "window": YEAR},
        [{"on": "2026-03-01", **FULL}],
        "2026-05-01",
        "2027-01-01",
    ),
    (
        "an active in 12 months from the last of a month",
        {"active_per_year": "1.02 lb/acre", "window": "12 months"},
        [{"on": "2026-03-31", **FULL}],
        "2026-05-01",
        "2027-03-31",
    ),
    (
        "all of them together",
        {"interval": "30 days", "applications": 3, "per_year": "1.6 fl oz/1000 sq ft", "window": YEAR},
        [{"on": "2026-03-01", **FULL}, {"on": "2026-04-02", **FULL}],
        "2026-04-03",
        "2026-05-02",
    ),
    ("spots", {"interval": "21 days"}, [{"on": "2026-05-01", **SPOTS}], "2026-05-02", "2026-05-22"),
]


@pytest.mark.parametrize(("limits", "past", "on", "first"), [row[1:] for row in LIMITS], ids=[row[0] for row in LIMITS])
def test_the_first_lawful_day(
    limits: dict[str, Any], past: list[dict[str, Any]], on: str, first: str, tmp_path: Path
) -> None:
    """It is the first day on which closing says nothing against an application, counted day by day."""
    kit = Kit.at(tmp_path)
    kit.load(products=[labelled(limits=limits)])
    for one in past:
        kit.sealed(**one)
    found = allowed(kit, on)
    by_closing = first_by_closing(kit, on)
    kit.shut()
    assert str(found.first_day) == first
    assert found.first_day == by_closing
    assert found.is_lawful is (first == on)
    assert bool(found.because) is (first != on)
    assert all("[label of Larkin 4 (99999-51), revision 2025-10]" in reason for reason in found.because)


def test_what_is_left(tmp_path: Path) -> None:
    """Of the product on every printed basis, of the active, and of the applications."""
    kit = Kit.at(tmp_path)
    limits = {"per_year": ["4 pt/acre", "1.5 fl oz/1000 sq ft"], "active_per_year": "2 lb/acre", "applications": 2}
    kit.load(products=[labelled(limits=limits)])
    kit.sealed(on="2026-03-01", **FULL)
    found = allowed(kit, "2026-05-01")
    kit.shut()
    (left,), (active,) = found.product_left, found.actives_left
    assert [left.left_on(limit) for limit in left.limits] == ["1.958 pt/acre", "0.75 fl oz/1000 sq ft"]
    assert (active.what, active.basis, active.left_on(active.best)) == ("larkinic acid", "ae", "0.979 lb/acre")
    assert (found.applications, found.applications_left) == (2, 1)
    assert left.left == left.at_most
    assert left.serials == ("2026-000001",)


def test_spots_leave_more_where_they_did_not_overlap(tmp_path: Path) -> None:
    """What is left wherever the spots lay, and what is left at most."""
    kit = Kit.at(tmp_path)
    kit.load(products=[labelled(limits={"per_year": "2 fl oz/1000 sq ft"})])
    kit.sealed(on="2026-03-01", **SPOTS)
    kit.sealed(on="2026-04-01", **SPOTS)
    (left,) = allowed(kit, "2026-05-01").product_left
    kit.shut()
    assert left.left * 1000 == Fraction("0.5")
    assert left.at_most > left.left
    assert left.put is not None
    assert left.put < left.put_most


def test_a_shared_active_counts_all_products(tmp_path: Path) -> None:
    """A label with a ceiling of the active speaks of a product without one, where it was used."""
    kit = Kit.at(tmp_path)
    other = labelled(AMBREL, use={"rates": [{"max": "20 lb/1000 sq ft"}]})
    kit.load(products=[labelled(limits={"active_per_year": "1.02 lb/acre"}), other])
    before = allowed(kit, "2026-05-01", product="ambrel-g")
    assert before.actives_left == ()
    kit.sealed(on="2026-03-01", **FULL)
    found = allowed(kit, "2026-05-01", product="ambrel-g")
    kit.shut()
    (active,) = found.actives_left
    assert "Larkin 4" in active.source
    assert str(found.first_day) == "2027-01-01"
    assert any("is used up (2026-000001)" in reason for reason in found.because)


def test_a_shared_active_binds_what_is_left_of_a_product(tmp_path: Path) -> None:
    """The tightest of all ceilings speaks, as product, and the day on which the label's lowest rate fits again."""
    kit = Kit.at(tmp_path)
    other = labelled(AMBREL, use={"rates": [{"max": "20 lb/1000 sq ft"}]})
    rates = [{"min": "0.5 fl oz/1000 sq ft", "max": "0.75 fl oz/1000 sq ft"}]
    limits = {"per_year": "4 pt/acre", "active_per_year": "1.5 lb/acre", "applications": 4}
    kit.load(products=[labelled(limits=limits, use={"rates": rates}), other])
    kit.sealed(on="2026-03-01", **FULL)
    before = allowed(kit, "2026-05-01")
    assert before.room is not None
    # 1.5 - 0.75 * 43.56 / 128 * 4 = 0.479 lb/acre, which are 0.352 fl oz/1000 sq ft of 4 lb/gal.
    assert str(before.room) == "0.3519 fl oz/1000 sq ft"
    assert (before.room.ceiling.what, str(before.least)) == ("larkinic acid", "0.5 fl oz/1000 sq ft")
    assert (str(before.first_day), str(before.fits_from)) == ("2026-05-01", "2027-01-01")
    assert allowed(kit, "2026-05-01", product="ambrel-g").fits_from == date(2026, 5, 1)  # its label has no lowest rate
    kit.shut()


def test_what_is_not_labelled_there(tmp_path: Path) -> None:
    """No day is lawful on ground, turf or by a method that the label does not give; without a label any is."""
    kit = Kit.at(tmp_path)
    bed = allowed(kit, "2026-05-01", "bed")
    bare = allowed(kit, "2026-05-01", "south")
    drench = allowed(kit, "2026-05-01", method="drench")
    unlabelled = allowed(kit, "2026-05-01", product="bare-2")
    kit.shut()
    assert (bed.first_day, bed.because) == (None, ("not labelled for ornamental bed (bed)",))
    assert bare.because == ("not labelled for zoysiagrass (south)",)
    assert drench.because == ("not labelled for drench (front)",)
    assert unlabelled.is_lawful


def test_without_a_method_the_strictest_use_speaks(tmp_path: Path) -> None:
    """Broadcast work of the label has a longer interval than its spot work."""
    kit = Kit.at(tmp_path)
    product = labelled(limits={"interval": "14 days"})
    product["label"]["uses"][0]["limits"] = {"interval": "40 days"}
    kit.load(products=[product])
    kit.sealed(on="2026-05-01", **FULL)
    days = [str(allowed(kit, "2026-05-02", method=method).first_day) for method in ("spot", "broadcast", "")]
    kit.shut()
    assert days == ["2026-05-15", "2026-06-10", "2026-06-10"]


def test_advice_holds_nobody_off(tmp_path: Path) -> None:
    """A `should` line is no reason for a later day."""
    kit = Kit.at(tmp_path)
    kit.load(products=[labelled(limits={"interval": {"value": "21 days", "force": "should"}})])
    kit.sealed(on="2026-05-01", **FULL)
    found = allowed(kit, "2026-05-02")
    kit.shut()
    assert found.is_lawful
    assert found.because == ()


def test_actives_of_a_site(tmp_path: Path) -> None:
    """Each zone and active once, sums by the acre, ceilings of labels, and every product that holds it."""
    kit = Kit.at(tmp_path)
    kit.load(products=[labelled(limits={"active_per_year": "3 lb/acre", "interval": "21 days"})])
    kit.sealed(on="2026-03-01", **FULL)
    kit.sealed(on="2026-05-01", **SPOTS)
    kit.sealed(on="2026-05-02", zones=["wild"], area="200 sq ft", rate="0.7 fl oz/1000 sq ft")
    with kit.book.read() as work:
        found = Directory(work.catalogue).site("mill-9")
        assert found is not None
        every = put_out(work, found[0], date(2026, 5, 3))
        only = put_out(work, found[0], date(2026, 5, 3), "front")
        later = put_out(work, found[0], date(2028, 5, 3), "front")
    kit.shut()
    assert [(one.zone, one.active) for one in every] == [("front", "larkinic acid"), ("wild", "larkinic acid")]
    (front,) = only
    assert front.basis == "ae"
    assert front.put is not None
    assert front.put < front.put_most
    assert every[1].put is None
    assert str(front.products[0].first_day) == "2026-05-22"
    assert front.serials == ("2026-000001", "2026-000002")
    assert later[0].put_most == 0
