"""Which looks are due: by mode of action, by promise, and not after a repeat."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.follow_up import Rating, due_looks
from records.domain.product import ProductKind
from records.rules.looks import look_of, looks
from records.services.follow_up import Order, rate
from records.services.follow_up.looking import (
    GRACE,
    LookDue,
    current,
    expect_words,
    look_document,
    looks_due,
    rate_command,
)
from records.services.follow_up.treated import Treated, Used
from tests.kit import zone_treatment

if TYPE_CHECKING:
    from tests.kit import Kit

TREATED = date(2026, 5, 14)
BLANK = Rating("E-1", "2026-000001", 0, "plantain", TREATED, 0, Fraction(50), "", None, None, None, None, "", "")
TREATMENT = Treated(
    serial="2026-000001",
    index=0,
    day=TREATED,
    site="mill-9",
    address="9 Mill Path",
    zones=("front",),
    turf=(),
    method="broadcast",
    targets=("plantain",),
    area=None,
    is_estimate=False,
    extent="",
    applicator="",
    customer="",
    follow_up=None,
    plot="",
    used=(),
)


def rated(days: int) -> Rating:
    return replace(BLANK, day=TREATED + timedelta(days=days), days=days)


def due(kit: Kit, day: str, ahead: int = 0) -> list[LookDue]:
    with kit.book.read() as work:
        return looks_due(work, date.fromisoformat(day), ahead)


@given(st.lists(st.integers(0, 60), max_size=6))
def test_a_rating_takes_the_look_it_lies_nearest_to(days: list[int]) -> None:
    plan = (14, 28, 42)
    found = due_looks(TREATED, plan, [rated(one) for one in days])
    for look in found:
        near = [
            one
            for one in days
            if one >= 7 and min(plan, key=lambda each: (abs(each - one), -each)) == look.days
        ]  # fmt: skip
        assert (look.taken is not None) == bool(near)
        assert look.day == TREATED + timedelta(days=look.days)


def test_every_line_of_the_table_says_how_it_is_known() -> None:
    for look in looks().values():
        assert list(look.days) == sorted(set(look.days))
        for fact in (look.when, look.first, look.dead):
            assert fact.status in {"verified", "memory"}
            assert bool(fact.url) == bool(fact.source) == (fact.status == "verified")


@pytest.mark.parametrize(
    ("groups", "group"), [(("4",), "4"), (("4", "2"), "2"), ((), ""), (("99",), ""), (("4", "3"), "3")]
)
def test_the_slowest_group_says_when(groups: tuple[str, ...], group: str) -> None:
    assert look_of(groups).group == group


def test_a_look_is_due_on_its_day_and_not_before(kit: Kit) -> None:
    kit.sealed(targets=["plantain", "ground ivy"])
    assert due(kit, "2026-05-20") == []
    (first,) = due(kit, "2026-05-21")
    assert (first.days, first.targets, first.missed) == (7, ("plantain", "ground ivy"), 0)
    assert [one.days for one in due(kit, "2026-05-20", ahead=1)] == [7]
    (late,) = due(kit, "2026-06-12")
    assert (late.days, late.missed) == (28, 2)
    last = TREATED + timedelta(days=28 + GRACE)
    assert due(kit, str(last))
    assert not due(kit, str(last + timedelta(days=1)))


def test_what_was_rated_is_due_no_more(kit: Kit) -> None:
    serial = kit.sealed(targets=["plantain", "ground ivy"]).serial or ""
    kit.set("2026-05-21T17:00")
    rate(kit.book, kit.clock, Order(serial, ("plantain=50",), by="ruth"))
    (left,) = due(kit, "2026-05-22")
    assert left.targets == ("ground ivy",)
    rate(kit.book, kit.clock, Order(serial, ("ground ivy=50",), by="ruth"))
    assert not due(kit, "2026-05-27")
    assert [one.days for one in due(kit, "2026-05-28")] == [14]


def test_a_repeat_takes_the_place_of_what_came_before(kit: Kit) -> None:
    kit.sealed(targets=["plantain", "ground ivy"])
    kit.sealed("2026-06-10", targets=["plantain"])
    found = {(one.treated.serial, one.targets) for one in due(kit, "2026-06-17")}
    assert found == {("2026-000001", ("ground ivy",)), ("2026-000002", ("plantain",))}


def test_a_promised_day_is_due_until_somebody_looked(kit: Kit) -> None:
    serial = kit.sealed(follow_up="2026-05-18").serial or ""
    (promised,) = due(kit, "2026-05-18")
    assert (promised.is_promised, promised.days) == (True, 4)
    assert look_document(promised, date(2026, 5, 20))["overdue"]
    kit.set("2026-05-18T17:00")
    rate(kit.book, kit.clock, Order(serial, ("plantain=20",), by="ruth"))
    assert not due(kit, "2026-05-18")


def test_what_a_repeat_takes_the_place_of_is_said(kit: Kit) -> None:
    first = kit.sealed(targets=["plantain", "ground ivy"]).serial
    kit.sealed("2026-06-10", targets=["plantain"])
    by_targets = {one.targets: one for one in due(kit, "2026-06-17")}
    again = by_targets["plantain",]
    assert again.repeats == (first,)
    assert f"takes the place of the look at {first}" in expect_words(again, date(2026, 6, 17))
    assert by_targets["ground ivy",].repeats == ()
    assert look_document(again, date(2026, 6, 17))["repeats"] == [first]


def test_other_ground_is_no_repeat(kit: Kit) -> None:
    kit.sealed()
    kit.sealed("2026-06-10", zones=["shade"], area="2000 sq ft")
    found = due(kit, "2026-06-17")
    assert [one.repeats for one in found] == [(), ()]


def test_fertilizer_alone_is_not_looked_at() -> None:
    feed = Used("nidder", "Nidder", "", (), ProductKind.FERTILIZER, "", "", "", None)
    kill = replace(feed, kind=ProductKind.PESTICIDE)
    only = replace(TREATMENT, used=(feed,))
    assert not list(current([only]))
    assert [targets for _, targets in current([replace(only, used=(feed, kill))])] == [("plantain",)]


@pytest.mark.parametrize(
    ("treated", "alone", "told"),
    [
        ({}, True, "swathbook rate 2026-000001 plantain="),
        ({}, False, "swathbook rate 2026-000001 plantain= --treatment 1"),
        ({"targets": ("ground ivy",)}, True, "swathbook rate 2026-000001 'ground ivy='"),
        ({"targets": ("$(reboot)'",)}, True, """swathbook rate 2026-000001 '$(reboot)'"'"'='"""),
        ({"plot": "ivy-2026/3"}, False, "swathbook trial rate ivy-2026 3="),
    ],
)
def test_the_command_that_rates_it(treated: dict[str, Any], *, alone: bool, told: str) -> None:
    one = replace(TREATMENT, **treated)
    look = LookDue(
        one, one.targets, TREATED, 7, is_promised=False, missed=0, look=look_of("4"), last=None, is_alone=alone
    )
    assert rate_command(one=look) == told


def test_two_treatments_of_a_visit_against_one_weed_are_told_apart(kit: Kit) -> None:
    kit.sealed(rest=[zone_treatment(zones=["shade"], area="2000 sq ft", targets=["plantain", "ground ivy"])])
    assert [rate_command(one) for one in due(kit, "2026-05-21")] == [
        "swathbook rate 2026-000001 plantain= --treatment 1",
        "swathbook rate 2026-000001 plantain= 'ground ivy=' --treatment 2",
    ]
    kit.set("2026-05-21T17:00")
    rate(kit.book, kit.clock, Order("2026-000001", ("ground ivy=50",), treatment=2, by="ruth"))
    assert [one.targets for one in due(kit, "2026-05-22")] == [("plantain",), ("plantain",)]
