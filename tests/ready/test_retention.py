"""How long a record has to be kept: calendar years, classes of products, what starts them.

Sources as the packs cite them: R 285.636.15 (Michigan: 3 years restricted use, 1 year the rest), ATCP 29.21 with ATCP
30.31(5) (Wisconsin: 2 years, 3 for atrazine), Conn. Gen. Stat. 22a-66g (5 years from making or amendment, whichever is
later), RCW 17.21.100 (Washington: 7 years, the longest).
"""

from __future__ import annotations

import calendar
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.rules.packs import newest, pack_ids
from records.rules.retention import (
    DEFAULT,
    DEFAULT_YEARS,
    Classes,
    Starts,
    add_years,
    applies,
    needs_classes,
    terms,
)

DAYS = st.dates(date(1995, 1, 1), date(2060, 12, 31))
STARTS = Starts(date(2026, 5, 14), date(2026, 5, 15), date(2026, 9, 1))


@pytest.mark.parametrize(
    ("day", "years", "end"),
    [
        ("2026-05-14", 2, "2028-05-14"),
        ("2024-02-29", 4, "2028-02-29"),
        ("2024-02-29", 1, "2025-03-01"),  # never a day early
        ("2024-02-29", 3, "2027-03-01"),
        ("2023-02-28", 1, "2024-02-28"),
        ("2096-02-29", 4, "2100-03-01"),  # 2100 is no leap year
        ("2026-12-31", 7, "2033-12-31"),
        ("2026-05-14", 0, "2026-05-14"),
        ("9998-05-14", 7, "9999-05-14"),  # the last year there is
    ],
)
def test_add_years(day: str, years: int, end: str) -> None:
    """Years are added by the calendar."""
    assert add_years(date.fromisoformat(day), years).isoformat() == end


@given(DAYS, st.integers(0, 10))
def test_years_are_whole(day: date, years: int) -> None:
    """So many years on is the same day of the year, or March 1 for a February 29 that is not there."""
    end = add_years(day, years)
    assert end.year == day.year + years
    if (day.month, day.day) == (2, 29) and not calendar.isleap(end.year):
        assert (end.month, end.day) == (3, 1)
    else:
        assert (end.month, end.day) == (day.month, day.day)


@given(DAYS, st.integers(0, 10), st.integers(0, 800))
def test_later_work_is_never_free_earlier(day: date, years: int, more: int) -> None:
    """A later start or more years never end earlier."""
    assert add_years(day + timedelta(more), years) >= add_years(day, years)
    assert add_years(day, years + 1) > add_years(day, years)


HELD = st.builds(Classes, st.booleans(), st.booleans(), st.just(frozenset({"atrazine"})), st.booleans())


@given(st.builds(Starts, DAYS, DAYS, DAYS), st.lists(st.sampled_from(pack_ids()), max_size=5), HELD)
def test_no_fact_is_undercut(starts: Starts, names: list[str], held: Classes) -> None:
    """The end told is the latest of all facts that are about the record, from memory or not; there always is one."""
    packs = [newest(name) for name in names]
    found = terms(packs, held, starts)
    assert found
    for pack in packs:
        for fact in pack.retention:
            if applies(fact, held):
                assert found[0].last_day >= add_years(starts.of(fact.starts), fact.years)
    assert [term.last_day for term in found] == sorted((term.last_day for term in found), reverse=True)


def test_default() -> None:
    """Where no rule was seen the longest known holds, and says so: it is that of Washington in the packs."""
    known = {key: max((fact.years for fact in newest(key).retention), default=0) for key in pack_ids()}
    assert DEFAULT_YEARS == known["us-wa"] == max(known.values())
    (term,) = terms([newest("us-ks")], Classes(), STARTS)
    assert (term.last_day, term.pack, term.citation) == (date(2033, 5, 15), "", DEFAULT)
    assert term.rule == f"7 years from the making of the record: {DEFAULT}"


@pytest.mark.parametrize(
    ("pack", "held", "years"),
    [
        ("us-mi", Classes(restricted=True, other=False), [3]),
        ("us-mi", Classes(restricted=False, other=True), [1]),
        ("us-mi", Classes(restricted=True, other=True), [3, 1]),
        ("us-wi", Classes(actives=frozenset({"atrazine"})), [3, 2]),
        ("us-wi", Classes(actives=frozenset({"atrazine, technical"})), [3, 2]),
        ("us-wi", Classes(actives=frozenset({"larkinic acid"})), [2]),
        ("us-wi", Classes(is_sure=False), [3, 2]),  # nobody knows that it was not atrazine
        ("us-mn", Classes(), [5]),
    ],
)
def test_classes(pack: str, held: Classes, years: list[int]) -> None:
    """Years by class of product; what is not known counts as the longer one."""
    assert [term.years for term in terms([newest(pack)], held, STARTS)] == years


def test_needs_classes() -> None:
    """Only rules that tell classes apart need to know the products."""
    assert needs_classes([newest("us-mn"), newest("us-mi")])
    assert needs_classes([newest("us-wi")])
    assert not needs_classes([newest("us-mn"), newest("us-ct"), newest("us-40cfr171")])


@pytest.mark.parametrize(
    ("pack", "start", "end"),
    [
        ("us-ma", "2026-05-14", "2029-05-14"),  # from the application
        ("us-va", "2026-05-15", "2028-05-15"),  # from the making
        ("us-ct", "2026-09-01", "2031-09-01"),  # a correction starts the five years again
    ],
)
def test_starts(pack: str, start: str, end: str) -> None:
    """What the years are counted from."""
    (term,) = terms([newest(pack)], Classes(), STARTS)
    assert (term.start.isoformat(), term.last_day.isoformat()) == (start, end)


def test_several_packs() -> None:
    """Restricted-use work in Minnesota is kept for the state's five years, not the federal two; both are cited."""
    found = terms([newest("us-40cfr171"), newest("us-mn")], Classes(restricted=True), STARTS)
    assert [(term.pack, term.years, term.status) for term in found] == [
        ("us-mn", 5, "from memory, not checked"),
        ("us-40cfr171", 2, "secondary"),
    ]
