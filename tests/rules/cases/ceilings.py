"""Cases of what a label allows per zone over time: amounts, actives, counts, intervals, windows."""

from __future__ import annotations

from tests.kit import AMBREL, ASKED, BROADCAST, LARKIN, SPOT, labelled, zone_treatment
from tests.rules.case import Case, twice

FULL = {"rate": "0.75 fl oz/1000 sq ft"}
SPOTS = {"method": "spot", "area": "300 sq ft", "rate": "0.75 fl oz/1000 sq ft"}
BOTH = ["4 pt/acre", "1.5 fl oz/1000 sq ft"]


def limited(**limits: object) -> dict[str, object]:
    """Return a load of the usual product with these limits."""
    return {"products": [labelled(limits=limits)]}


def shared(ceiling: str = "3 lb/acre", **changes: object) -> dict[str, object]:
    """Return a load of two products with one active, the first with its yearly ceiling."""
    limits = {"active_per_year": ceiling} | changes
    return {"products": [labelled(limits=limits), labelled(AMBREL, use={"rates": [{"max": "20 lb/1000 sq ft"}]})]}


CASES = [
    # --- over-year ------------------------------------------------------------------------------------------------
    Case(
        "over-year",
        "printed 4 pt/acre = 1.5 fl oz/1000 sq ft: twice the printed 0.75 is within it, a third is not",
        {"on": "2026-06-01", **FULL},
        {"on": "2027-03-02", **FULL},
        loads=limited(per_year=BOTH),
        past=twice(FULL),
        says="2.25 fl oz/1000 sq ft in the calendar year 2026",
    ),
    Case(
        "over-year",
        "the second of two 0.75 is exactly at 1.5; what the sealed 3 fl oz may stand for helps by 2 % at most",
        {"on": "2026-06-01", "rate": "0.79 fl oz/1000 sq ft"},
        {"on": "2026-06-01", **FULL},
        loads={"products": [labelled(use={"rates": [{"max": "1 fl oz/1000 sq ft"}]}, limits={"per_year": BOTH})]},
        past=twice(FULL, 1),
    ),
    Case(
        "over-year",
        "per acre alone 4 pt: twice 2 pt/acre is within, twice 0.75 fl oz/1000 sq ft is 4.08 pt and over",
        {"on": "2026-06-01", "rate": "0.75 fl oz/1000 sq ft"},
        {"on": "2026-06-01", "rate": "0.71 fl oz/1000 sq ft"},
        loads=limited(per_year="4 pt/acre"),
        past=twice(FULL, 1),
    ),
    Case(
        "within-reading",
        "4 pt/acre is 1.469 fl oz/1000 sq ft: 0.75 and 0.72 are over it by arithmetic, 0.745 and 0.715 are not",
        {"on": "2026-06-01", "rate": "0.72 fl oz/1000 sq ft"},
        {"on": "2026-06-01", "rate": "0.71 fl oz/1000 sq ft"},
        severity="note",
        loads=limited(per_year="4 pt/acre"),
        past=twice(FULL, 1),
        says="over 4 pt/acre by arithmetic and within it by the reading",
    ),
    Case(
        "over-year",
        "spread over the whole lawn it is within, on the same spots it would not be: asks",
        {"on": "2026-06-01", **SPOTS},
        {"on": "2026-06-01", **SPOTS, "rate": "0.4 fl oz/1000 sq ft"},
        severity="ask",
        loads=limited(per_year="1.2 fl oz/1000 sq ft"),
        past=twice(SPOTS, 1),
        says="if the treatments hit the same ground",
    ),
    Case(
        "over-year",
        "spots on a lawn that was treated all over are certainly on treated ground: stops",
        {"on": "2026-06-01", **SPOTS},
        {"on": "2026-06-01", **SPOTS, "rate": "0.4 fl oz/1000 sq ft"},
        loads=limited(per_year="1.2 fl oz/1000 sq ft"),
        past=twice(FULL, 1),
    ),
    Case(
        "over-year",
        "one spot alone above the yearly ceiling is certain, however small it is",
        {**SPOTS, "rate": "0.7 fl oz/1000 sq ft"},
        {**SPOTS, "rate": "0.5 fl oz/1000 sq ft"},
        loads=limited(per_year="0.6 fl oz/1000 sq ft"),
    ),
    Case(
        "over-year",
        "an older visit entered later is summed with the one after it in the same year",
        {"on": "2026-03-15", **FULL},
        {"on": "2025-03-15", **FULL},
        loads=limited(per_year="1.2 fl oz/1000 sq ft"),
        past=({"on": "2026-05-01", **FULL},),
    ),
    Case(
        "over-year",
        "two treatments of one visit on the zone count both",
        {"rate": "0.5 fl oz/1000 sq ft", "rest": [zone_treatment(rate="0.25 fl oz/1000 sq ft")]},
        {
            "rate": "0.5 fl oz/1000 sq ft",
            "rest": [zone_treatment(zones=["side"], area="1000 sq ft", rate="0.5 fl oz/1000 sq ft")],
        },
        loads=limited(per_year="0.7 fl oz/1000 sq ft"),
    ),
    Case(
        "over-year",
        "a treatment over two zones is split by their areas: each gets its share, not the whole",
        {"on": "2026-06-01", "zones": ["front", "side"], "area": "5000 sq ft", **FULL},
        {"on": "2026-06-01", "zones": ["front"], **FULL},
        loads=limited(per_year="1.2 fl oz/1000 sq ft"),
        past=({"on": "2026-04-01", "zones": ["side"], "area": "1000 sq ft", **FULL},),
        says="side",
    ),
    Case(
        "over-year",
        "the same product under another catalogue name: the registration number makes it one",
        {"on": "2026-06-01", "product": "larkin-drum", **FULL},
        {"on": "2026-06-01", "product": "larkin-drum", "rate": "0.4 fl oz/1000 sq ft"},
        loads={
            "products": [
                labelled(limits={"per_year": "1.2 fl oz/1000 sq ft"}),
                labelled(limits={"per_year": "1.2 fl oz/1000 sq ft"}, id="larkin-drum", name="Larkin 4 drum"),
            ]
        },
        past=twice(FULL, 1),
    ),
    Case(
        "over-year",
        "a should line over a year is a note",
        {"on": "2026-06-01", **FULL},
        {"on": "2027-06-01", **FULL},
        severity="note",
        loads=limited(per_year={"value": "1.2 fl oz/1000 sq ft", "force": "should"}),
        past=twice(FULL, 1),
    ),
    # --- windows --------------------------------------------------------------------------------------------------
    Case(
        "over-year",
        "12 rolling months: from 15 May to 14 May is within twelve months, to 15 May is not",
        {"on": "2026-05-14", **FULL},
        {"on": "2026-05-15", **FULL},
        loads=limited(per_year="1.2 fl oz/1000 sq ft", window="12 months"),
        past=({"on": "2025-05-15", **FULL},),
        says="12 months from 2025-05-15",
    ),
    Case(
        "over-year",
        "12 rolling months around a leap day: 29 February 2028 is still counted on 28 February 2029",
        {"on": "2029-02-28", **FULL},
        {"on": "2029-03-01", **FULL},
        loads=limited(per_year="1.2 fl oz/1000 sq ft", window="12 months"),
        past=({"on": "2028-02-29", **FULL},),
    ),
    Case(
        "over-year",
        "a rolling window that ends on a later visit holds an older one entered afterwards",
        {"on": "2026-03-01", **FULL},
        {"on": "2025-12-01", **FULL},
        loads=limited(per_year="1.2 fl oz/1000 sq ft", window="90 days"),
        past=({"on": "2026-05-14", **FULL},),
    ),
    Case(
        "over-year",
        "a season across New Year is one window: November and February add up",
        {"on": "2027-02-10", **FULL},
        {"on": "2027-04-10", **FULL},
        loads=limited(per_year="1.2 fl oz/1000 sq ft", window={"season_from": "10-01", "season_to": "03-31"}),
        past=({"on": "2026-11-05", **FULL},),
        says="the season 10-01 to 03-31",
    ),
    Case(
        "over-year",
        "the calendar year begins anew on 1 January",
        {"on": "2026-12-31", **FULL},
        {"on": "2027-01-01", **FULL},
        loads=limited(per_year="1.2 fl oz/1000 sq ft"),
        past=({"on": "2026-11-05", **FULL},),
    ),
    Case(
        "over-year",
        "a use that prints the calendar year keeps it, though the label's other lines count 12 months",
        {"on": "2026-12-01", **FULL},
        {"on": "2027-01-10", **FULL},
        loads={
            "products": [
                labelled(
                    use={"limits": {"per_year": "1.2 fl oz/1000 sq ft", "window": "calendar year"}},
                    limits={"window": "12 months"},
                )
            ]
        },
        past=({"on": "2026-11-05", **FULL},),
    ),
    # --- over-active ----------------------------------------------------------------------------------------------
    Case(
        "over-active",
        "4 lb a.e./gal at 2 pt/acre is 1 lb/acre: the label's ceiling of 1 lb/acre is met, not passed",
        {"rate": "2.1 pt/acre", "confirmed": ASKED},
        {"rate": "2 pt/acre"},
        loads=limited(active_per_year="1 lb/acre"),
    ),
    Case(
        "over-active",
        "a granule with the same active adds to the spray: 10 lb/1000 sq ft of 1 % is 4.356 lb a.e./acre",
        {"on": "2026-06-01", "product": "ambrel-g", "rate": "10 lb/1000 sq ft"},
        {"on": "2026-06-01", "product": "ambrel-g", "rate": "4 lb/1000 sq ft"},
        loads=shared(),
        past=twice(FULL, 1),
        says="larkinic acid (a.e., all products together)",
    ),
    Case(
        "over-active",
        "two products in one visit that share the active are summed",
        {"more": [{"product": "ambrel-g", "rate": "10 lb/1000 sq ft"}]},
        {"more": [{"product": "ambrel-g", "rate": "4 lb/1000 sq ft"}]},
        loads=shared(),
    ),
    Case(
        "over-active",
        "last year's product binds only while its use is in the window",
        {"on": "2026-06-01", "product": "ambrel-g", "rate": "10 lb/1000 sq ft"},
        {"on": "2027-06-01", "product": "ambrel-g", "rate": "10 lb/1000 sq ft"},
        loads=shared(),
        past=twice(FULL, 1),
    ),
    Case(
        "over-active",
        "a salt counted as a.i. may be more than its acid: what is stated on the other basis can only make it ask",
        {"on": "2026-06-01", "product": "ambrel-g", "rate": "10 lb/1000 sq ft"},
        {"on": "2026-06-01", "product": "ambrel-g", "rate": "4 lb/1000 sq ft"},
        severity="ask",
        loads={
            "products": [
                labelled(limits={"active_per_year": "3 lb/acre"}),
                labelled(
                    AMBREL,
                    use={"rates": [{"max": "20 lb/1000 sq ft"}]},
                    actives=[{"name": "larkinic acid", "content": "1 %", "as": "ai"}],
                ),
            ]
        },
        past=twice(FULL, 1),
    ),
    # --- over-count -----------------------------------------------------------------------------------------------
    Case(
        "over-count",
        "two applications a year: the third stops, the second does not",
        {"on": "2026-06-01", **FULL},
        {"on": "2026-06-01", "zones": ["side"], "area": "1000 sq ft"},
        loads=limited(applications=2),
        past=twice(FULL),
        says="3rd time in the calendar year 2026; the label allows 2 (before: 2026-000001, 2026-000002)",
    ),
    Case(
        "over-count",
        "three rounds of small spots may never have met: asks",
        {"on": "2026-06-01", **SPOTS},
        {"on": "2027-06-01", **SPOTS},
        severity="ask",
        loads=limited(applications=2),
        past=twice(SPOTS),
    ),
    Case(
        "over-count",
        "several treatments of a zone in one visit are one application of it",
        {"on": "2026-06-01", "rate": "0.3 fl oz/1000 sq ft"},
        {
            "on": "2027-06-01",
            "rate": "0.3 fl oz/1000 sq ft",
            "rest": [zone_treatment(rate="0.3 fl oz/1000 sq ft")],
        },
        loads=limited(applications=1),
        past=twice(FULL, 1),
    ),
    # --- too-soon -------------------------------------------------------------------------------------------------
    Case(
        "too-soon",
        "an interval of 21 days: the 20th day is too soon, the 21st is not",
        {"on": "2026-03-21", **FULL},
        {"on": "2026-03-22", **FULL},
        loads=limited(interval="21 days"),
        past=twice(FULL, 1),
        says="so 2026-03-22 at the earliest",
    ),
    Case(
        "too-soon",
        "3 weeks are 21 days",
        {"on": "2026-03-21", **FULL},
        {"on": "2026-03-22", **FULL},
        loads=limited(interval="3 weeks"),
        past=twice(FULL, 1),
    ),
    Case(
        "too-soon",
        "an older visit entered later is too close to the one that followed",
        {"on": "2026-04-15", **FULL},
        {"on": "2026-04-10", **FULL},
        loads=limited(interval="21 days"),
        past=({"on": "2026-05-01", **FULL},),
        says="16 days before 2026-000001 of 2026-05-01",
    ),
    Case(
        "too-soon",
        "an entry between two visits: far enough from the one before, too close to the one after",
        {"on": "2026-04-05", **FULL},
        {"on": "2026-03-29", **FULL},
        loads=limited(interval="28 days"),
        past=({"on": "2026-03-01", **FULL}, {"on": "2026-04-26", **FULL}),
    ),
    Case(
        "too-soon",
        "spots within the interval may be other spots: asks",
        {"on": "2026-03-08", **SPOTS},
        {"on": "2026-03-22", **SPOTS},
        severity="ask",
        loads=limited(interval="21 days"),
        past=twice(SPOTS, 1),
    ),
    Case(
        "too-soon",
        "a use with a longer interval of its own counts, though it is the visit's second treatment",
        {
            "on": "2026-03-20",
            **FULL,
            "rate": "0.3 fl oz/1000 sq ft",
            "rest": [zone_treatment(**SPOTS | {"rate": "0.3 fl oz/1000 sq ft"})],
        },
        {"on": "2026-03-20", **FULL},
        loads={
            "products": [
                labelled(
                    LARKIN
                    | {
                        "label": {
                            "revision": "1",
                            "limits": {"interval": "14 days"},
                            "uses": [BROADCAST, SPOT | {"limits": {"interval": "30 days"}}],
                        }
                    }
                )
            ]
        },
        past=twice(FULL, 1),
    ),
    # --- not-checkable --------------------------------------------------------------------------------------------
    Case(
        "not-checkable",
        "a described spot leaves the yearly sum open: a note",
        {"method": "spot", "area": None, "extent": "6 plants", "rate": None, "amount": "0.1 fl oz", "spray": "0.2 gal"},
        SPOTS,
        severity="note",
        loads=limited(per_year="6 pt/acre"),
        says="amount per year",
    ),
    Case(
        "not-checkable",
        "a described spot of the past leaves it open too",
        {"on": "2026-06-01", **FULL},
        {"on": "2027-06-01", **FULL},
        severity="note",
        loads=limited(per_year="6 pt/acre"),
        past=(
            {
                "on": "2026-03-01",
                "method": "spot",
                "area": None,
                "extent": "6 plants",
                "rate": "0.6 fl oz/gal",
                "spray": "0.2 gal",
            },
        ),
        says="2026-000001 counted",
    ),
]
