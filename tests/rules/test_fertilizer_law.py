"""Every fact of fertilizer law in the packs beside the text it was taken from, with how it is known.

A row names pack, what the fact says, its status, and the words of the source as they were read (an archived copy of the
page that the fact's source names). A fact that is in a pack and in no row fails, and so does one that claims to be
known better than it was seen.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from records.rules.pack_reading import read_pack_table
from records.rules.packs import FERTILIZER, newest, pack_ids, packs_for

if TYPE_CHECKING:
    from records.domain.loaded import Problem

NOT_SEEN = "not seen: from memory, so it asks and never stops"

FACTS: list[tuple[str, str, str, str]] = [
    # --- Maryland -------------------------------------------------------------------------------------------------
    (
        "md",
        "soluble N: at most 0.7 lb/1000 sq ft at one time; plain and organic fertilizer",
        "verified",
        "6-224(a)(1)(i): may not result in more than 0.7 pounds per 1,000 square feet of water-soluble nitrogen",
    ),
    (
        "md",
        "N: at most 0.9 lb/1000 sq ft at one time; at least 20 % of it slow-release; plain and organic fertilizer",
        "verified",
        "6-224(a)(1)(ii): more than 0.9 pounds of total nitrogen, at least 20% of which shall be slow-release",
    ),
    (
        "md",
        "N: at most 2.5 lb/1000 sq ft in a calendar year; enhanced fertilizer",
        "verified",
        "6-224(b)(1): an annual application of more than 2.5 pounds per 1,000 square feet of total nitrogen",
    ),
    (
        "md",
        (
            "N (enhanced fertilizer): over 0.7 lb/1000 sq ft at one time, only where no more than 0.7 lb/1000 sq ft of "
            "it is released a month, and it is at most 80 % of the University's yearly rate"
        ),
        "verified",
        "6-224(b)(2), (3): more than 80% of the annual recommended rate; release of more than 0.7 pounds ... per month",
    ),
    (
        "md",
        "N: at most 0.5 lb/1000 sq ft at one time; 11-16 to 11-30",
        "memory",
        NOT_SEEN + " (told of golf turf only)",
    ),
    (
        "md",
        (
            "no fertilizer with phosphorus on turf, unless a soil test shows the need (not older than "
            "3 years) or the turf "
            "is established for the first time or the turf is repaired or established again or it is a "
            "natural organic or "
            "organic-based fertilizer"
        ),
        "verified",
        (
            "6-224(a)(2): soil test no more than 3 years before; establishing for the first time; reestablishing or "
            "repairing; organic and natural organic sold to a professional"
        ),
    ),
    (
        "md",
        "11-16 to 02-29, homeowner: N or P2O5",
        "verified",
        "8-803.5(c)(2)(i): before March 1 or after November 15 of any calendar year",
    ),
    (
        "md",
        "12-01 to 02-29, professional: N or P2O5",
        "secondary",
        "golf course practices: between December 1 and March 1, N fertilizers cannot be applied",
    ),
    (
        "md",
        "N or P2O5 on ground that is frozen",
        "verified",
        "8-803.5(c)(2)(ii): at any time when the ground is frozen",
    ),
    (
        "md",
        "15 ft from water; 10 ft with a drop spreader, deflector or targeted liquid",
        "verified",
        "8-803.5(d): within 15 feet; with drop spreader, rotary with a deflector or targeted spray liquid 10 feet",
    ),
    (
        "md",
        "fertilizer for turf may not be put on an impervious surface",
        "verified",
        "8-803.5(c)(1): apply fertilizer intended for use on turf to an impervious surface",
    ),
    # --- Virginia -------------------------------------------------------------------------------------------------
    ("va", "N: at most 3.5 lb/1000 sq ft in a calendar year; cool-season", "memory", NOT_SEEN),
    ("va", "N: at most 0.9 lb/1000 sq ft at one time; cool-season", "memory", NOT_SEEN),
    ("va", "N: at most 0.5 lb/1000 sq ft at one time; cool-season; 05-01 to 05-31", "memory", NOT_SEEN),
    ("va", "N: at most 4 lb/1000 sq ft in a calendar year; warm-season", "memory", NOT_SEEN),
    ("va", "N: at most 1 lb/1000 sq ft at one time; warm-season", "memory", NOT_SEEN),
    # --- Pennsylvania ---------------------------------------------------------------------------------------------
    (
        "pa",
        "soluble N: at most 0.7 lb/1000 sq ft at one time",
        "verified",
        "6813(a)(1): shall not exceed 0.7 pounds of readily available nitrogen per 1,000 square feet per application",
    ),
    (
        "pa",
        "N: at most 0.9 lb/1000 sq ft at one time; plain and organic fertilizer",
        "verified",
        "6813(a)(2): shall not exceed 0.9 pounds of total nitrogen, except when labeled as enhanced-efficiency",
    ),
    (
        "pa",
        (
            "N (enhanced fertilizer): over 0.7 lb/1000 sq ft at one time, only where no more than 0.7 lb/1000 sq ft of "
            "it is released at any given time"
        ),
        "verified",
        "6813(a)(2): enhanced-efficiency nitrogen: no more than 0.7 pounds released at any given time",
    ),
    (
        "pa",
        "P: at most 0.25 lb/1000 sq ft at one time; enhanced and organic fertilizer",
        "verified",
        "6813(a)(3)(iii): does not exceed 0.25 pounds of phosphorus per 1,000 square feet per application",
    ),
    (
        "pa",
        "P: at most 0.5 lb/1000 sq ft in a calendar year; enhanced and organic fertilizer",
        "verified",
        "6813(a)(3)(iii): a maximum total annual application of 0.5 pounds of phosphorus per 1,000 square feet",
    ),
    (
        "pa",
        (
            "no fertilizer with phosphorus on turf, unless the turf is established for the first time or the turf is "
            "repaired or established again or it is an enhanced-efficiency fertilizer or it is a natural organic or "
            "organic-based fertilizer"
        ),
        "verified",
        "6813(a)(3): zero phosphorus, except establishing, reestablishing or repairing, or enhanced, organic",
    ),
    (
        "pa",
        "12-16 to 02-29, everyone: N, more than 0.5 lb/1000 sq ft N at one time",
        "verified",
        "6813(b)(4): more than 0.5 pounds of total nitrogen after December 15 and before March 1",
    ),
    (
        "pa",
        "N or P2O5 on ground that is frozen or snow (frozen to a depth of at least two inches, or snow covered)",
        "verified",
        "6813(b)(2): when the ground is frozen to a depth of at least two inches or snow covered",
    ),
    (
        "pa",
        (
            "15 ft from water, unless a drop spreader, deflector or targeted technology is used to "
            "establish and maintain "
            "a stream buffer"
        ),
        "secondary",
        "Penn State: within 15 feet of the top of a bank of a lake, pond, wetland, or flowing body of water",
    ),
    (
        "pa",
        (
            "turf fertilizer may not be put on an impervious surface; what falls there is removed right after the "
            "application"
        ),
        "verified",
        "6813(b)(1): inadvertently applied: removed from the impervious surface immediately following",
    ),
    # --- New Jersey -----------------------------------------------------------------------------------------------
    ("nj", "N: at most 0.9 lb/1000 sq ft at one time; at least 20 % of it slow-release", "memory", NOT_SEEN),
    ("nj", "soluble N: at most 0.7 lb/1000 sq ft at one time", "memory", NOT_SEEN),
    ("nj", "N: at most 4.25 lb/1000 sq ft in a calendar year", "memory", NOT_SEEN),
    (
        "nj",
        (
            "no fertilizer with phosphorus on turf, unless a soil test shows the need or the turf is "
            "established for the "
            "first time or the turf is repaired or established again"
        ),
        "memory",
        NOT_SEEN,
    ),
    (
        "nj",
        "11-16 to 02-29, homeowner: N or P2O5",
        "verified",
        "58:10A-62 a.(3): before March 1st or after November 15th in any calendar year",
    ),
    (
        "nj",
        "12-02 to 02-29, professional: N or P2O5",
        "verified",
        "58:10A-62 b.: no professional before March 1st or after December 1st in any calendar year",
    ),
    ("nj", "N or P2O5 on ground that is frozen", "verified", "58:10A-62 a.(3), b.: when the ground is frozen"),
    (
        "nj",
        (
            "any fertilizer on ground that is saturated (and a potential for movement off-site exists; "
            "nor when heavy rain "
            "falls or is predicted)"
        ),
        "verified",
        "58:10A-62 a.(1): soils are saturated and a potential for fertilizer movement off-site exists",
    ),
    ("nj", "25 ft from water; 10 ft with a drop spreader, deflector or targeted liquid", "memory", NOT_SEEN),
    (
        "nj",
        (
            "turf fertilizer may not be put on an impervious surface; what falls there is swept or blown back onto the "
            "turf or taken up"
        ),
        "verified",
        "58:10A-62 a.(2): swept or blown back onto the target surface or returned to a container",
    ),
    # --- New York -------------------------------------------------------------------------------------------------
    (
        "ny",
        "N: at most 1 lb/1000 sq ft at one time; advice",
        "secondary",
        "guidance on a host copy, its author not shown; the law sets no rate of nitrogen",
    ),
    (
        "ny",
        (
            "no fertilizer with phosphorus over 0.67 % P2O5 on turf, unless a soil test shows the need or the turf is "
            "established for the first time"
        ),
        "verified",
        "17-2101: P2O5 content greater than 0.67 percent by weight; 17-2103(1): soil test; first growing season",
    ),
    (
        "ny",
        "12-01 to 04-01, everyone: any fertilizer",
        "verified",
        "17-2103(3)(a): between December first and April first, annually",
    ),
    (
        "ny",
        (
            "20 ft from water; 3 ft with a drop spreader, deflector or targeted liquid, unless a continuous natural "
            "vegetative buffer at least 10 ft wide lies between, or the turf is in its first season"
        ),
        "verified",
        "17-2103(3)(c): within twenty feet; buffer at least ten feet wide; spreader guard, deflector: three feet",
    ),
    (
        "ny",
        (
            "no fertilizer on parking lots, roadways, sidewalks and other impervious surfaces; what falls there is "
            "contained at once"
        ),
        "verified",
        "17-2103(3)(b): any impervious surface including parking lots, roadways, and sidewalks",
    ),
    # --- Minnesota ------------------------------------------------------------------------------------------------
    (
        "mn",
        (
            "no fertilizer with phosphorus on turf, unless a soil test shows the need (not older than "
            "3 years) or the turf "
            "is established for the first time"
        ),
        "verified",
        "18C.60 subd. 2(b): test within the last three years; first establishing turf, first growing season",
    ),
    (
        "mn",
        "state law bars fertilizer on streets, sidewalks, driveways and other impervious surfaces",
        "secondary",
        "farm paper, 2010: state law prohibits application to streets, sidewalks, or driveways",
    ),
    # --- Florida --------------------------------------------------------------------------------------------------
    (
        "fl",
        "soluble N: at most 0.7 lb/1000 sq ft at one time",
        "secondary",
        "EP353: no more than 0.7 lbs of soluble (quick release) N per 1,000 square feet at any one time",
    ),
    (
        "fl",
        "N: at most 2 lb/1000 sq ft at one time",
        "secondary",
        "EP353: up to 2 lbs of N in the spring or summer with at least 65% controlled release nitrogen",
    ),
    (
        "fl",
        "N: at most 1 lb/1000 sq ft at one time; where less than 65 % of it is slow-release",
        "memory",
        NOT_SEEN + " for the state; Marion County 19-247: no more than one pound total nitrogen",
    ),
    (
        "fl",
        "P2O5: at most 0.25 lb/1000 sq ft at one time",
        "secondary",
        "EP353 copy: 0.25 pounds of P2O5 per 1,000 square feet for any single application",
    ),
    (
        "fl",
        "P2O5: at most 0.5 lb/1000 sq ft in a calendar year",
        "secondary",
        "EP353 copy: no more than 0.50 pounds of P2O5 per 1,000 square feet annually",
    ),
    ("fl", "10 ft from water; 3 ft with a drop spreader, deflector or targeted liquid (advice)", "memory", NOT_SEEN),
]
KEYS = sorted({state for state, *_ in FACTS})


@pytest.mark.parametrize("state", KEYS)
def test_every_fact_stands_beside_its_source(state: str) -> None:
    """The pack says what was read, no more, and claims no better status than how it was read."""
    law = newest(f"us-{state}{FERTILIZER}").fertilizer
    assert law is not None
    said = [(says, source.status.value) for _, says, _, source in law.facts()]
    assert sorted(said) == sorted((says, status) for key, says, status, _ in FACTS if key == state)
    for says, status, words in ((says, status, words) for key, says, status, words in FACTS if key == state):
        assert words.startswith(NOT_SEEN) == (status == "memory"), says


def test_every_pack_of_fertilizer_is_looked_at() -> None:
    """No pack of fertilizer law is without its rows."""
    assert [key for key in pack_ids() if key.endswith(FERTILIZER)] == [f"us-{state}{FERTILIZER}" for state in KEYS]


@pytest.mark.parametrize(
    ("state", "fields", "years"),
    [
        # COMAR 15.20.10.13: applicator, date, area, address, analysis, rate, total, copy of the label; three years
        ("md", "applicator_name date area site_address analysis rate amount", 3),
        # 2VAC5-405-100 A: customer, address of the site if different, person, date, weather, area, analysis, amount,
        # equipment; three years
        (
            "va",
            (
                "customer_name customer_address customer_phone site_address applicator_name date "
                "temperature area analysis "
                "amount equipment"
            ),
            3,
        ),
        ("pa", "", 0),  # Penn State article: no record keeping of applications in Act 83
        ("nj", "", 0),  # none seen
        ("ny", "", 0),  # none seen
        ("mn", "", 0),  # none seen
        ("fl", "", 0),  # no list seen
    ],
)
def test_what_a_fertilizer_record_holds(state: str, fields: str, years: int) -> None:
    """Fields in the rule's own order, and how long they are kept."""
    pack = newest(f"us-{state}{FERTILIZER}")
    assert " ".join(asked.field for asked in pack.asked) == fields
    assert [kept.years for kept in pack.retention] == ([years] if years else [])


def test_the_law_binds_whether_named_or_not() -> None:
    """A state's fertilizer law judges work with fertilizer there, and no other."""
    day = date(2026, 5, 1)

    def ids(*names: str, state: str = "MD", fed: bool = True) -> list[str]:
        return [one.id for one in packs_for(names, state, day, has_restricted=False, has_fertilizer=fed)]

    assert ids("us-md") == ["us-md", "us-md-fertilizer"]
    assert ids() == ["common", "us-md-fertilizer"]
    assert ids("us-md", fed=False) == ["us-md"]
    assert ids("us-md", "us-md-fertilizer") == ["us-md", "us-md-fertilizer"]
    assert ids("us-md-fertilizer", fed=False) == ["common"]
    assert ids(state="TX") == ["common"]
    assert [one.id for one in packs_for([], "PA", date(2022, 7, 10), has_restricted=False, has_fertilizer=True)] == [
        "common"
    ]


def overlay(**part: object) -> dict[str, Any]:
    """Return a firm's own pack that speaks of fertilizer."""
    return {
        "id": "county",
        "version": "1",
        "title": "County",
        "jurisdiction": "US-MD",
        "sources": {"code": {"citation": "County Code 1"}},
        "fertilizer": part,
    }


LIMIT: dict[str, Any] = {"nutrient": "N", "per": "application", "most": "0.5 lb/1000 sq ft", "source": "code"}


@pytest.mark.parametrize(
    ("part", "where", "says"),
    [
        ({"limits": [LIMIT | {"nutrient": "Fe"}]}, "nutrient", "not known"),
        ({"limits": [LIMIT | {"most": "0.5 lb"}]}, "most", "not a rate"),
        ({"limits": [LIMIT | {"most": "0.5 lb/gal"}]}, "most", "not per area"),
        ({"limits": [LIMIT | {"from": "05-01"}]}, "limits[0]", "one end"),
        ({"limits": [LIMIT | {"from": "02-30", "to": "05-01"}]}, "from", "no month and day"),
        ({"limits": [LIMIT | {"slow_least": "120 %"}]}, "slow_least", "no share"),
        ({"limits": [LIMIT | {"products": ["liquid"]}]}, "products", "not known"),
        ({"limits": [{"source": "code"}]}, "most", "is missing"),
        ({"blackout": [{"from": "12-01", "for": "everyone", "source": "code"}]}, "to", "is missing"),
        ({"ground": [{"source": "code"}]}, "states", "is missing"),
        ({"setback": [{"distance": "15", "source": "code"}]}, "distance", "unit"),
        ({"setback": [{"source": "code"}]}, "distance", "is missing"),
        ({"phosphorus": [{"allowed": ["luck"], "source": "code"}]}, "allowed", "not known"),
        ({"hard": [{"source": "code"}]}, "words", "is missing"),
        ({"rain": []}, "rain", "not known"),
        ({"limits": [LIMIT | {"source": "other"}]}, "source", "no source"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(part: dict[str, Any], where: str, says: str) -> None:
    """Every key is known, every fact has its source, every problem names its key."""
    problems: list[Problem] = []
    assert read_pack_table(overlay(**part), problems, is_overlay=True) is None
    told = [problem for problem in problems if problem.where.endswith(where)]
    assert told, problems
    assert any(says in problem.what for problem in told), told


def test_a_firm_may_write_its_county_down() -> None:
    """A firm's own pack binds, and tells its facts."""
    problems: list[Problem] = []
    blackout = {"from": "06-01", "to": "09-30", "for": "everyone", "source": "code"}
    pack = read_pack_table(overlay(limits=[LIMIT], blackout=[blackout]), problems, is_overlay=True)
    assert problems == []
    assert pack is not None
    assert pack.fertilizer is not None
    assert [says for _, says, _, _ in pack.fertilizer.facts()] == [
        "N: at most 0.5 lb/1000 sq ft at one time",
        "06-01 to 09-30, everyone: any fertilizer",
    ]
    assert all(source.status.binds for _, _, _, source in pack.fertilizer.facts())
