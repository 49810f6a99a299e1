"""Cases of what the label says about one application: ground, turf, method, target, rate, weather."""

from __future__ import annotations

from tests.kit import AMBREL, BROADCAST, LARKIN, SEDGER, SPOT, labelled, zone_treatment
from tests.rules.case import Case

AT_MOST = "0.75 fl oz/1000 sq ft"
SPOTS = {"method": "spot", "area": "100 sq ft", "spray": "0.1 gal"}
MUST_MIN = {"products": [labelled(use={"minimum_force": "must"})]}
ONLY_NAMED = {"products": [labelled(use={"target_force": "must"})]}


def limited(**limits: object) -> dict[str, object]:
    """Return a load of the usual product with these limits."""
    return {"products": [labelled(limits=limits)]}


CASES = [
    # --- over-rate -------------------------------------------------------------------------------------------------
    Case(
        "over-rate",
        "the next reading above the printed 0.75 fl oz/1000 sq ft (label line; extension tables print 2 pt and 0.75)",
        {"rate": "0.76 fl oz/1000 sq ft"},
        {"rate": AT_MOST},
        at="treatments[0].products[0].rate",
        says="0.75 fl oz/1000 sq ft or 2 pt/acre",
    ),
    Case(
        "over-rate",
        "per acre: 2 pt is the label line; 2.1 pt is over it and 0.771 fl oz/1000 sq ft over the other basis",
        {"rate": "2.1 pt/acre"},
        {"rate": "2 pt/acre"},
    ),
    Case(
        "over-rate",
        "0.74 fl oz/1000 sq ft is 2.014 pt/acre: within one printed basis is within the label (both are rounded)",
        {"rate": "0.771 fl oz/1000 sq ft"},
        {"rate": "0.74 fl oz/1000 sq ft"},
    ),
    Case(
        "over-rate",
        "2.04 pt/acre is 0.7493 fl oz/1000 sq ft: over 2 pt/acre, within the other printed basis",
        {"rate": "2.05 pt/acre"},
        {"rate": "2.04 pt/acre"},
    ),
    Case(
        "over-rate",
        "a coarse reading helps by 2 % of the limit at most: 0.8 could be 0.75, but it is 6.7 % over",
        {"rate": "0.8 fl oz/1000 sq ft"},
        {"rate": "0.7 fl oz/1000 sq ft"},
    ),
    Case(
        "over-rate",
        "2 % cap: 0.77 acre-rate reading 1.04 lb of a 1.02 lb limit; 1 lb reads 0.5 to 1.5 and 1 is within",
        {"product": "ambrel-g", "rate": "5 lb/1000 sq ft"},
        {"product": "ambrel-g", "rate": "4 lb/1000 sq ft"},
    ),
    Case(
        "over-rate",
        "a whole number above a limit in tenths: 4.1 lb stands for 4.05 or more, and 4 is printed",
        {"product": "ambrel-g", "rate": "4.1 lb/1000 sq ft"},
        {"product": "ambrel-g", "rate": "4.0 lb/1000 sq ft"},
    ),
    Case(
        "over-rate",
        "the amount over the area counts as well as a rate: 3.1 fl oz on 4000 sq ft is 0.775",
        {"rate": None, "amount": "3.1 fl oz"},
        {"rate": None, "amount": "3 fl oz"},
        at="treatments[0].products[0].amount",
    ),
    Case(
        "over-rate",
        "spot dose: 0.61 fl oz/gal reads 0.605 or more, the label line is 0.6 fl oz/gal",
        SPOTS | {"rate": "0.61 fl oz/gal"},
        SPOTS | {"rate": "0.6 fl oz/gal"},
    ),
    Case(
        "over-rate",
        "spot dose within the gallon, but 0.3 gal of it on 100 sq ft is 1.8 fl oz/1000 sq ft",
        SPOTS | {"rate": "0.6 fl oz/gal", "spray": "0.3 gal"},
        SPOTS | {"rate": "0.6 fl oz/gal", "spray": "0.125 gal"},
    ),
    Case(
        "over-rate",
        "spot amount in the can is judged per gallon too: 0.13 fl oz in 0.2 gal is 0.65 fl oz/gal",
        SPOTS | {"rate": None, "amount": "0.13 fl oz", "spray": "0.2 gal", "area": "200 sq ft"},
        SPOTS | {"rate": None, "amount": "0.12 fl oz", "spray": "0.2 gal", "area": "200 sq ft"},
    ),
    Case(
        "over-rate",
        "per cent by volume: 0.51 % v/v of a surfactant whose label line is 0.5 % v/v",
        {"spray": "4 gal", "more": [{"product": "stickfast", "rate": "0.51 % v/v"}]},
        {"spray": "4 gal", "more": [{"product": "stickfast", "rate": "0.5 % v/v"}]},
    ),
    Case(
        "over-rate",
        "an area estimated from the calibrated can asks, as the estimate may be wrong (common practice, 1 gal/M)",
        {"method": "spot", "area": None, "equipment": "can-1", "spray": "0.1 gal", "rate": None, "amount": "0.1 fl oz"},
        {"method": "spot", "area": None, "equipment": "can-1", "spray": "0.1 gal", "rate": "0.6 fl oz/gal"},
        severity="ask",
        loads={"products": [labelled(use={"rates": [{"max": "0.75 fl oz/1000 sq ft"}]})]},
    ),
    Case(
        "calibration-stale",
        "an area estimated by a calibration of 366 days ago is noted, one of this season is not (common practice)",
        {"method": "spot", "area": None, "equipment": "can-8", "spray": "0.1 gal", "rate": "0.6 fl oz/gal"},
        {"method": "spot", "area": None, "equipment": "can-9", "spray": "0.1 gal", "rate": "0.6 fl oz/gal"},
        severity="note",
        loads={
            "equipment": [
                {"id": "can-8", "name": "Can 8", "output": "1 gal/1000 sq ft", "calibrated_on": "2025-05-13"},
                {"id": "can-9", "name": "Can 9", "output": "1 gal/1000 sq ft", "calibrated_on": "2026-01-02"},
            ]
        },
        says="days old",
    ),
    Case(
        "over-rate",
        "a typed rate over the label is over whatever the estimate of the area is worth",
        {"method": "spot", "area": None, "equipment": "can-1", "spray": "0.1 gal", "rate": "2 fl oz/1000 sq ft"},
        {"method": "spot", "area": None, "equipment": "can-1", "spray": "0.1 gal", "rate": "0.7 fl oz/1000 sq ft"},
    ),
    Case(
        "over-rate",
        "two passes over one zone in one visit add up: 0.5 and 0.5 is over 0.75 (one application is one day's work)",
        {"rate": "0.5 fl oz/1000 sq ft", "rest": [zone_treatment(rate="0.5 fl oz/1000 sq ft")]},
        {"rate": "0.5 fl oz/1000 sq ft", "rest": [zone_treatment(zones=["side"], area="1000 sq ft")]},
        says="one day",
    ),
    Case(
        "over-rate",
        "two lots on two lines of one treatment are one application",
        {"rate": "0.5 fl oz/1000 sq ft", "more": [{"product": "larkin-4", "rate": "0.5 fl oz/1000 sq ft"}]},
        {"rate": "0.5 fl oz/1000 sq ft", "more": [{"product": "larkin-4", "rate": "0.25 fl oz/1000 sq ft"}]},
    ),
    Case(
        "over-rate",
        "two sets of spots may have been on other ground: asks",
        SPOTS | {"rate": "0.6 fl oz/gal", "rest": [zone_treatment(**SPOTS, rate="0.6 fl oz/gal")]},
        SPOTS
        | {"rate": "0.6 fl oz/gal", "rest": [zone_treatment(**(SPOTS | {"zones": ["side"]}), rate="0.6 fl oz/gal")]},
        severity="ask",
    ),
    Case(
        "over-rate",
        "two technicians on one day: the sum of both visits is judged",
        {"rate": "0.5 fl oz/1000 sq ft", "confirmed": ["same-day"]},
        {"rate": "0.25 fl oz/1000 sq ft", "confirmed": ["same-day"]},
        past=({"rate": "0.5 fl oz/1000 sq ft"},),
    ),
    Case(
        "over-rate",
        "spray out of a load: 16 of 50 gal with 37.5 fl oz is 12 fl oz, over 3 fl oz for 4000 sq ft",
        {"mix": "load-a", "spray": "16 gal", "targets": ["plantain", "yellow nutsedge"]},
        {"mix": "load-a", "spray": "4 gal", "targets": ["plantain", "yellow nutsedge"]},
    ),
    Case(
        "over-rate",
        "tiny dry rates need their decimals: 0.031 oz wt/M against the label's 0.03",
        {"product": "sedger-75", "rate": "0.031 oz/1000 sq ft", "targets": ["yellow nutsedge"]},
        {"product": "sedger-75", "rate": "0.03 oz/1000 sq ft", "targets": ["yellow nutsedge"]},
    ),
    # --- below-rate -----------------------------------------------------------------------------------------------
    Case(
        "below-rate",
        "less than the minimum is lawful unless the label forbids it: a note (FIFRA section 2(ee)(2))",
        {"rate": "0.4 fl oz/1000 sq ft"},
        {"rate": "0.5 fl oz/1000 sq ft"},
        severity="note",
    ),
    Case(
        "below-rate",
        "a label that forbids less than its minimum stops",
        {"rate": "0.4 fl oz/1000 sq ft"},
        {"rate": "0.5 fl oz/1000 sq ft"},
        loads=MUST_MIN,
    ),
    # --- site, turf, method ----------------------------------------------------------------------------------------
    Case(
        "site-not-listed",
        "an ornamental bed is no site of a turf label: never an unlisted site (FIFRA section 12(a)(2)(G))",
        {"zones": ["bed"], "area": "500 sq ft"},
        {"zones": ["side"], "area": "1000 sq ft"},
        at="treatments[0].zones[0]",
    ),
    Case(
        "site-not-listed",
        "each zone of a treatment is judged: turf and bed in one go",
        {"zones": ["side", "bed"], "area": "1500 sq ft"},
        {"zones": ["side", "front"], "area": "5000 sq ft"},
        at="treatments[0].zones[1]",
    ),
    Case(
        "turf-not-listed",
        "zoysiagrass is not among the label's species",
        {"zones": ["south"], "area": "1500 sq ft"},
        {"zones": ["side"], "area": "1000 sq ft"},
        says="zoysiagrass",
    ),
    Case(
        "turf-sensitive",
        "a species named as not to be treated stops",
        {"zones": ["green"], "area": "900 sq ft"},
        {"zones": ["side"], "area": "1000 sq ft"},
    ),
    Case(
        "turf-sensitive",
        "a mixed lawn with a species the label calls sensitive asks",
        {"zones": ["shade"], "area": "2000 sq ft"},
        {"zones": ["front"]},
        severity="ask",
    ),
    Case(
        "method-not-allowed",
        "the label prints broadcast only; an unlisted method of a listed one stops",
        SPOTS,
        {"method": "broadcast"},
        loads={"products": [labelled(LARKIN | {"label": {"revision": "1", "uses": [BROADCAST]}})]},
        at="treatments[0].method",
    ),
    # --- targets ---------------------------------------------------------------------------------------------------
    Case(
        "target-not-listed",
        "a weed the label does not name on a listed site is lawful federally: a note (FIFRA section 2(ee)(1))",
        {"targets": ["wild violet"]},
        {"targets": ["Ground-Ivy"]},
        severity="note",
    ),
    Case(
        "target-not-listed",
        "a label that allows only its own targets stops",
        {"targets": ["wild violet"]},
        {"targets": ["plantain"]},
        loads=ONLY_NAMED,
    ),
    Case(
        "target-not-listed",
        "a broadleaf and a sedge product in one can: each weed on one of the two labels is enough (common practice)",
        {
            "targets": ["plantain", "wild violet"],
            "more": [{"product": "sedger-75", "rate": "0.03 oz/1000 sq ft"}],
        },
        {
            "targets": ["plantain", "yellow nutsedge"],
            "more": [{"product": "sedger-75", "rate": "0.03 oz/1000 sq ft"}],
        },
        severity="note",
    ),
    Case(
        "target-not-listed",
        "a label that allows only its targets is content when the other weed is the other product's",
        {"targets": ["wild violet"], "more": [{"product": "sedger-75", "rate": "0.03 oz/1000 sq ft"}]},
        {
            "targets": ["plantain", "yellow nutsedge"],
            "more": [{"product": "sedger-75", "rate": "0.03 oz/1000 sq ft"}],
        },
        loads=ONLY_NAMED,
    ),
    Case(
        "target-not-listed",
        "targets written per product are judged too",
        {
            "targets": None,
            "products": [
                {"product": "larkin-4", "rate": AT_MOST, "targets": ["plantain", "wild violet"]},
            ],
        },
        {"targets": None, "products": [{"product": "larkin-4", "rate": AT_MOST, "targets": ["plantain"]}]},
        severity="note",
    ),
    # --- wind and heat ---------------------------------------------------------------------------------------------
    Case(
        "over-wind",
        "10 mph measured is within a limit of 10 mph, 11 mph is not (label line)",
        {"wind_speed": "11 mph"},
        {"wind_speed": "10 mph"},
        loads=limited(wind="10 mph"),
    ),
    Case(
        "over-wind",
        "17 km/h stands for 16.5 or more, which is 10.25 mph; 16 km/h is 9.9 mph",
        {"wind_speed": "17 km/h"},
        {"wind_speed": "16 km/h"},
        loads=limited(wind="10 mph"),
    ),
    Case(
        "over-wind",
        "a should line is a note: advisory wording does not bind (EPA PR Notice 2000-5)",
        {"wind_speed": "14 mph"},
        {"wind_speed": "10 mph"},
        severity="note",
        loads=limited(wind={"value": "10 mph", "force": "should", "text": "Avoid spraying above 10 mph."}),
        says="Avoid spraying above 10 mph.",
    ),
    Case(
        "over-wind",
        "a stricter limit of the second treatment's use counts though the first has none",
        {"wind_speed": "9 mph", "rest": [zone_treatment(**SPOTS, rate="0.5 fl oz/gal")]},
        {"wind_speed": "9 mph"},
        loads={
            "products": [
                labelled(
                    LARKIN | {"label": {"revision": "1", "uses": [BROADCAST, SPOT | {"limits": {"wind": "5 mph"}}]}}
                )
            ]
        },
    ),
    Case(
        "over-temperature",
        "90 degF is within 90 degF, 91 degF is not (label line)",
        {"temperature": "91 degF"},
        {"temperature": "90 degF"},
        loads=limited(temperature="90 degF"),
    ),
    Case(
        "over-temperature",
        "degrees Celsius against a Fahrenheit line: 33 degC is 91.4, 32 degC is 89.6 degF",
        {"temperature": "33 degC"},
        {"temperature": "32 degC"},
        loads=limited(temperature="90 degF"),
    ),
    Case(
        "over-temperature",
        "the caution from 85 degF is advice",
        {"temperature": "89 degF"},
        {"temperature": "85 degF"},
        severity="note",
        loads=limited(temperature={"value": "85 degF", "force": "should", "text": "Turf may be injured above 85 F."}),
    ),
    # --- what cannot be checked ------------------------------------------------------------------------------------
    Case(
        "not-checkable",
        "no label in the book: nothing can be checked against it",
        {"product": "bare-2"},
        {"product": "larkin-4"},
        severity="ask",
    ),
    Case(
        "not-checkable",
        "the grass of the zone is not in the book, and the label has a list of grasses",
        {"zones": ["patch"], "area": "800 sq ft"},
        {"zones": ["side"], "area": "1000 sq ft"},
        severity="ask",
    ),
    Case(
        "not-checkable",
        "a limit of wind and no wind measured",
        {"wind_speed": None, "not_measured": {"wind_speed": "meter broken"}, "confirmed": ["missing"]},
        {},
        severity="ask",
        loads=limited(wind="10 mph"),
    ),
    Case(
        "not-checkable",
        "spots described in words: the label's rate per area could not be checked (a note)",
        {
            "method": "spot",
            "area": None,
            "extent": "12 plants along the walk",
            "spray": "0.1 gal",
            "rate": "0.6 fl oz/gal",
        },
        SPOTS | {"rate": "0.6 fl oz/gal"},
        severity="note",
    ),
    Case(
        "not-checkable",
        "a granule label without a rate for this use cannot be judged",
        {"product": "ambrel-g", "rate": "1 lb/1000 sq ft"},
        {"product": "sedger-75", "rate": "0.03 oz/1000 sq ft", "targets": ["yellow nutsedge"]},
        severity="ask",
        loads={"products": [labelled(AMBREL, use={"rates": [{"max": "1 oz wt/gal"}]}), SEDGER]},
    ),
]
