"""Cases of the entry itself: what is missing, not understood, unknown, of the wrong kind, contradictory."""

from __future__ import annotations

from tests.kit import ABSENT, SITES, UNLABELLED, zone_treatment
from tests.rules.case import Case, Json

SPOTS = {"method": "spot", "area": "100 sq ft", "spray": "0.1 gal", "rate": "0.6 fl oz/gal"}
DRY = {"product": "sedger-75", "targets": ["yellow nutsedge"]}
MIX = {"mix": "load-a", "targets": ["plantain", "yellow nutsedge"]}
# A load so thin that no stop of it comes near a limit of its label
THIN = {"mix": "load-t", "targets": ["plantain"]}
THIN_LOAD = {
    "mixes": [
        {
            "id": "load-t",
            "made_at": "2026-05-14T07:00",
            "water": "50 gal",
            "products": [{"product": "larkin-4", "amount": "1 fl oz"}],
        }
    ]
}


def missing(why: str, at: str, far: Json, near: Json | None = None) -> Case:
    """Return a case of the common record list."""
    return Case("missing", f"{why} (common record list)", far, near or {}, at=at)


CASES = [
    # --- missing --------------------------------------------------------------------------------------------------
    missing("start", "started", {"started": ABSENT}),
    missing("end", "finished", {"finished": None}),
    missing("site", "site", {"site": ""}),
    missing("applicator", "applicator", {"applicator": ABSENT}),
    missing("wind speed", "weather.wind_speed", {"wind_speed": ABSENT}),
    missing(
        "wind direction; calm needs none",
        "weather.wind_from",
        {"wind_from": ABSENT},
        {"wind_speed": "calm", "wind_from": ABSENT},
    ),
    missing("temperature", "weather.temperature", {"temperature": ""}),
    missing("all of the weather", "weather.temperature", {"weather": ABSENT}),
    missing("treatments", "treatments", {"treatments": []}),
    missing("zones", "treatments[0].zones", {"zones": []}),
    missing("method", "treatments[0].method", {"method": ABSENT}),
    missing("target of a pesticide", "treatments[0].targets", {"targets": []}),
    missing(
        "target, which a surfactant needs not",
        "treatments[0].targets",
        {"targets": []},
        {"targets": [], "product": "stickfast", "rate": "0.25 % v/v", "spray": "4 gal"},
    ),
    missing("area of a broadcast, described or not", "treatments[0].area", {"area": ABSENT, "extent": "most of it"}),
    missing(
        "area of a broadcast is not estimated from the spray put out",
        "treatments[0].area",
        {"area": ABSENT, "spray": "4 gal", "equipment": "can-1"},
        {"method": "spot", "area": ABSENT, "spray": "0.1 gal", "equipment": "can-1", "rate": "0.6 fl oz/gal"},
    ),
    missing(
        "area or a description of spot work",
        "treatments[0].area",
        SPOTS | {"area": ABSENT},
        SPOTS | {"area": ABSENT, "extent": "12 plants along the walk"},
    ),
    missing("products", "treatments[0].products", {"products": []}),
    missing("product of a line", "treatments[0].products[0].product", {"product": None}),
    missing(
        "rate and amount", "treatments[0].products[0].rate", {"rate": ABSENT}, {"rate": ABSENT, "amount": "3 fl oz"}
    ),
    missing(
        "amount that does not follow: a dose per gallon without the spray",
        "treatments[0].products[0].amount",
        SPOTS | {"spray": ABSENT},
        SPOTS,
    ),
    missing(
        "rate that follows from neither area nor spray",
        "treatments[0].products[0].rate",
        {"method": "spot", "area": ABSENT, "extent": "6 plants", "rate": ABSENT, "amount": "0.1 fl oz"},
        {
            "method": "spot",
            "area": ABSENT,
            "extent": "6 plants",
            "rate": ABSENT,
            "amount": "0.1 fl oz",
            "spray": "0.2 gal",
        },
    ),
    missing("spray of a load", "treatments[0].spray", MIX, MIX | {"spray": "4 gal"}),
    Case(
        "missing",
        "not measured is a stated fact with its reason: asks",
        {"temperature": None, "not_measured": {"temperature": "thermometer broken"}},
        {"temperature": "71 degF"},
        severity="ask",
        says="thermometer broken",
    ),
    # --- not understood -------------------------------------------------------------------------------------------
    Case("not-understood", "a bare number as area", {"area": "0.25"}, {"area": "4000 sq ft"}, at="treatments[0].area"),
    Case("not-understood", "a number that is no text", {"area": 4000}, {"area": "4,000 sq ft"}),
    Case("not-understood", "an area of nothing", {"area": "0 sq ft"}, {"area": "4 M"}),
    Case(
        "not-understood",
        "an amount of nothing",
        {"rate": None, "amount": "0 fl oz"},
        {"rate": None, "amount": "3 fl oz"},
    ),
    Case("not-understood", "a rate of nothing", {"rate": "0 fl oz/1000 sq ft"}, {"rate": "2 pt/acre"}),
    Case("not-understood", "a date alone", {"started": "2026-05-14"}, {"started": "2026-05-14 09:10"}),
    Case("not-understood", "a day the calendar has not", {"finished": "2026-02-30T09:10"}, {}),
    Case("not-understood", "a year that is a slip", {"started": "0026-05-14T09:10"}, {}, at="started"),
    Case("not-understood", "a wind that goes somewhere", {"wind_from": "to NW"}, {"wind_from": "from the NW"}),
    Case("not-understood", "a wind no gust ever had", {"wind_speed": "300 mph"}, {"wind_speed": "9 mph"}),
    Case("not-understood", "a heat no air ever had", {"temperature": "710 degF"}, {"temperature": "71 degF"}),
    Case("not-understood", "a control character in the remarks", {"remarks": "a\x1b[31mb"}, {"remarks": "line\nline"}),
    Case("not-understood", "a direction mark in a lot", {"lot": "L\u202e77"}, {"lot": "L77"}),
    Case("not-understood", "a follow-up that is no day", {"follow_up": "in two weeks"}, {"follow_up": "2026-05-28"}),
    Case("not-understood", "a list where a name belongs", {"site": ["mill-9"]}, {"zones": "front"}),
    # --- unknown --------------------------------------------------------------------------------------------------
    Case("unknown-key", "a misspelled part", {"remark": "x"}, {"remarks": "x"}, says="did you mean remarks?"),
    Case("unknown-name", "a site the book has not", {"site": "mill-8"}, {}, says="did you mean mill-9?"),
    Case("unknown-name", "a person the book has not", {"applicator": "rut"}, {}, says="did you mean ruth?"),
    Case("unknown-name", "a zone the site has not", {"zones": ["frnt"]}, {}, at="treatments[0].zones[0]"),
    Case(
        "unknown-name", "a load the book has not", MIX | {"mix": "load-b", "spray": "4 gal"}, MIX | {"spray": "4 gal"}
    ),
    # --- unit-kind ------------------------------------------------------------------------------------------------
    Case(
        "unit-kind",
        "a weight on a liquid",
        {"rate": "0.5 oz wt/1000 sq ft"},
        {"rate": "0.5 oz/1000 sq ft"},
        at="treatments[0].products[0].rate",
    ),
    Case(
        "unit-kind",
        "a volume on a dry product: a dry ounce is no fluid ounce (extension texts)",
        DRY | {"rate": "0.03 fl oz/1000 sq ft"},
        DRY | {"rate": "0.03 oz/1000 sq ft"},
    ),
    Case(
        "unit-kind",
        "a fluid amount of a granule",
        {"product": "ambrel-g", "rate": None, "amount": "12 cups"},
        {"product": "ambrel-g", "rate": None, "amount": "12 lb"},
    ),
    Case("unit-kind", "an area where spray belongs", SPOTS | {"spray": "100 sq ft"}, SPOTS),
    # --- disagree -------------------------------------------------------------------------------------------------
    Case(
        "disagree",
        "0.75 (0.745 to 0.755) over 4000 sq ft (3999.5 to 4000.5) makes 2.98 to 3.02; 3.2 stands for 3.15 or more",
        {"amount": "3.2 fl oz"},
        {"amount": "3.0 fl oz"},
        at="treatments[0].products[0].amount",
    ),
    Case(
        "disagree",
        "3.04 reads 3.035 or more: outside; 3.02 is inside",
        {"amount": "3.04 fl oz"},
        {"amount": "3.02 fl oz"},
    ),
    Case(
        "disagree",
        "the meter read is not the one of this address: lawns were treated at a neighbour's (trade practice)",
        {"meter": "WX 2291-8"},
        {"meter": "wx-0022917"},
        at="meter",
        loads={"sites": [SITES[0] | {"meter": "WX 0022917"}]},
        says="this looks like another address",
    ),
    Case(
        "disagree",
        "a number printed with leading zeros is the same number; one nobody read is none",
        {"meter": "4471930"},
        {"meter": ""},
        at="meter",
        loads={"sites": [SITES[0] | {"meter": "00447193"}]},
    ),
    Case(
        "disagree",
        "ten times too much is named as such",
        {"amount": "30 fl oz"},
        {"amount": "3 fl oz"},
        says="ten times as much: a slipped decimal point?",
    ),
    Case(
        "disagree",
        "more sprayed than the load made",
        MIX | {"spray": "51 gal"},
        MIX | {"spray": "4 gal"},
        at="treatments[0].spray",
    ),
    Case(
        "disagree",
        "the stops of one load took more than it made; N.J.A.C. 7:30-7.3 asks for the mixture used at each",
        THIN | {"spray": "25 gal"},
        THIN | {"spray": "20 gal"},
        at="treatments[0].spray",
        loads=THIN_LOAD,
        past=(THIN | {"spray": "30 gal", "on": "2026-05-14", "zones": ["side"], "area": "1000 sq ft"},),
        says="its stops took 55 gal together",
    ),
    Case(
        "disagree",
        "50.4 of 50 gal are within the readings of the gauges: it asks",
        THIN | {"spray": "20.4 gal"},
        THIN | {"spray": "20 gal"},
        severity="ask",
        loads=THIN_LOAD,
        past=(THIN | {"spray": "30 gal", "on": "2026-05-14", "zones": ["side"], "area": "1000 sq ft"},),
    ),
    Case(
        "disagree", "a load and a list of products", {"rest": [zone_treatment(spray="1 gal") | {"mix": "load-a"}]}, {}
    ),
    Case("disagree", "calm with a wind", {"wind_from": "calm"}, {"wind_speed": "0 mph", "wind_from": "calm"}),
    Case("disagree", "a zone named twice", {"zones": ["front", "front"]}, {"zones": ["front"]}),
    # --- area -----------------------------------------------------------------------------------------------------
    Case(
        "area-over-zone",
        "more treated than measured; the written number has its reading",
        {"area": "4001 sq ft"},
        {"area": "4000 sq ft"},
        severity="ask",
        at="treatments[0].area",
    ),
    Case(
        "area-over-zone",
        "a coarse acre helps by 2 % at most: 0.1 acre is 4,356 sq ft, 0.09 is 3,920",
        {"area": "0.1 acre"},
        {"area": "0.09 acre"},
        severity="ask",
        says="4356 sq ft (0.1 acre)",
    ),
    Case(
        "area-over-zone",
        "two zones are measured together",
        {"zones": ["front", "side"], "area": "5100 sq ft"},
        {"zones": ["front", "side"], "area": "5000 sq ft"},
        severity="ask",
        says="front, side measures 5000 sq ft",
    ),
    # --- lot-expired ----------------------------------------------------------------------------------------------
    Case(
        "lot-expired",
        "the day after the last day of use that the purchase names; the last day itself is lawful",
        {"lot": "L76"},
        {"lot": "L77"},
        severity="note",
        at="treatments[0].products[0].lot",
        bought=(
            {"key": "larkin-4", "packs": "1 gal", "lot": "L76", "expires": "2026-05-13"},
            {"key": "larkin-4", "packs": "1 gal", "lot": "L77", "expires": "2026-05-14"},
            {"key": "sedger-75", "packs": "1 lb", "lot": "L77", "expires": "2026-01-01"},
        ),
        says="lot L76 of Larkin 4 was good until 2026-05-13, and was used on 2026-05-14",
    ),
    Case(
        "missing",
        "a pesticide without number: cannot be loaded, so only an import has it",
        {"products": [{"product": ""}]},
        {"product": UNLABELLED["id"], "confirmed": ["not-checkable"]},
    ),
]
