"""How good `unlikely-amount` is, measured on public files, and its exact edges.

Sources: California Department of Pesticide Regulation, pesticide use report 2018 (see `tests/import_data/README.md`).
`use_report_reported_accepted.csv` holds every use of 25 counties whose amount, area or area unit DPR's outlier check
altered. The accepted rate is DPR's estimate, mostly the median for product and site, so reported over accepted stands
for "rate over the usual rate". `use_report_turf_rates.csv` holds all 886 turf and landscape uses of the same year
that have an amount and an area; each is judged against the others of its product and site (leave one out).

Partial in two ways: the second file is what DPR stored after its check, and only one use is in both files.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from fractions import Fraction
from pathlib import Path

import pytest

from records.domain.unlikely import FACTOR, MINIMUM, unlikely

DATA = Path(__file__).parents[1] / "import_data"
ALL_USES = 2_432  # turf and landscape uses of the public excerpt, with or without an area
LARGEST = "4718472234M"  # the one grower behind most of what is flagged


def _read(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _caught(factor: int) -> dict[str, tuple[int, int]]:
    """Return by what was altered: caught, and altered with a rate on both sides."""
    counts: dict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for line in _read("use_report_reported_accepted.csv"):
        if line["rate_ratio_reported_to_accepted"]:
            ratio = Fraction(line["rate_ratio_reported_to_accepted"])
            caught, known = counts[line["changed"]]
            verdict = unlikely(ratio, [Fraction(1)] * MINIMUM, factor)
            counts[line["changed"]] = (caught + (verdict is not None), known + 1)
    return counts


def _rates() -> dict[tuple[str, str], list[tuple[str, Fraction]]]:
    """Return grower and lb of product per sq ft of each use, by product and site."""
    groups: dict[tuple[str, str], list[tuple[str, Fraction]]] = defaultdict(list)
    for line in _read("use_report_turf_rates.csv"):
        feet = Fraction(line["acre_treated"]) * (43_560 if line["unit_treated"] == "A" else 1)
        groups[line["prodno"], line["site_code"]].append((line["grower_id"], Fraction(line["lbs_prd_used"]) / feet))
    return groups


def _flagged(factor: int, minimum: int, without: str = "") -> tuple[int, int]:
    """Return how many uses are flagged, and how many can be judged."""
    flagged = judged = 0
    for uses in _rates().values():
        kept = [rate for grower, rate in uses if grower != without or not without]
        for index, rate in enumerate(kept):
            others = kept[:index] + kept[index + 1 :]
            judged += len(others) >= minimum
            flagged += unlikely(rate, others, factor, minimum) is not None
    return flagged, judged


def test_share_of_altered_records_caught() -> None:
    """Five times the median catches 158 of the 176 altered uses that have a rate, of 186 altered in all."""
    caught = _caught(FACTOR)
    assert caught == {"AMT_PRD_USED": (133, 138), "ACRE_TREATED": (15, 28), "UNIT_TREATED": (10, 10)}
    assert len(_read("use_report_reported_accepted.csv")) == 186
    assert round(100 * 158 / 176, 1) == 89.8
    assert round(100 * 158 / 186, 1) == 84.9
    assert [sum(part[0] for part in _caught(factor).values()) for factor in (3, 10)] == [160, 148]


def test_share_of_all_records_flagged() -> None:
    """It flags 40 of the 527 uses that can be judged (886 have a rate, of 2,432 in all); one grower has 32 of them."""
    assert sum(len(uses) for uses in _rates().values()) == 886
    assert _flagged(FACTOR, MINIMUM) == (40, 527)
    assert [round(100 * 40 / whole, 1) for whole in (527, 886, ALL_USES)] == [7.6, 4.5, 1.6]
    assert _flagged(FACTOR, MINIMUM, without=LARGEST) == (8, 371)


@pytest.mark.parametrize(("minimum", "expected"), [(3, (45, 614)), (5, (40, 527)), (8, (40, 433)), (12, (40, 319))])
def test_five_earlier_records_are_enough(minimum: int, expected: tuple[int, int]) -> None:
    """From five up a longer history flags the same 40 uses and leaves more of them unjudged; three flags more."""
    assert _flagged(FACTOR, minimum) == expected


def test_the_factor_trades_catching_for_asking() -> None:
    """Three times would ask for 66 of 527, ten times for 8."""
    assert [_flagged(factor, MINIMUM)[0] for factor in (3, 10)] == [66, 8]


def test_exactly_five_times_is_within() -> None:
    """The edge itself is within, both ways; the least above it is not."""
    usual = [Fraction(n) for n in (9, 10, 10, 10, 400)]
    least = Fraction(1, 10**9)
    assert unlikely(Fraction(50), usual) is None
    assert unlikely(Fraction(2), usual) is None
    above, below = unlikely(50 + least, usual), unlikely(2 - least, usual)
    assert above is not None
    assert below is not None
    assert above.median == 10
    assert above.count == 5
    assert above.ratio > 5
    assert below.ratio < Fraction(1, 5)


def test_little_history_tells_nothing() -> None:
    """Fewer than five earlier rates, or only rates of zero, give no verdict; an even number takes the middle of two."""
    assert unlikely(Fraction(1000), [Fraction(1)] * 4) is None
    assert unlikely(Fraction(1000), [Fraction(0)] * 9) is None
    assert unlikely(Fraction(0), [Fraction(1)] * 9) is None
    assert unlikely(Fraction(1), [], minimum=0) is None
    even = unlikely(Fraction(100), [Fraction(n) for n in (1, 1, 1, 3, 3, 3)])
    assert even is not None
    assert even.median == 2
