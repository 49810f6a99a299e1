"""Cases of fertilizer law: nutrients at one time and in a year, days, ground, water, pavement, phosphorus.

Each names the fact of the pack it stands on; the facts themselves are held to their sources in test_fertilizer_law.py.
"""

from __future__ import annotations

from tests.kit import ABSENT, licence
from tests.rules.case import Case, Json

PLAIN: Json = {"id": "plain-24", "name": "Plain 24", "form": "granule", "analysis": "24-0-10", "slow_release": "30 %"}
STARTER: Json = {"id": "start-16", "name": "Start 16", "form": "granule", "analysis": "16-4-8", "slow_release": "30 %"}
QUICK: Json = {"id": "quick-20", "name": "Quick 20", "form": "granule", "analysis": "20-0-5", "slow_release": "10 %"}
UNTOLD: Json = {"id": "untold-20", "name": "Untold 20", "form": "granule", "analysis": "20-0-5"}
COATED: Json = {
    "id": "coat-40",
    "name": "Coat 40",
    "form": "granule",
    "analysis": "40-0-0",
    "slow_release": "90 %",
    "nutrient_kind": "enhanced",
}
COMPOST: Json = {
    "id": "meal-8",
    "name": "Meal 8",
    "form": "granule",
    "analysis": "8-2-0",
    "slow_release": "90 %",
    "nutrient_kind": "organic",
}
PRODUCTS = [PLAIN, STARTER, QUICK, UNTOLD, COATED, COMPOST]


def there(state: str) -> Json:
    """Return a load of a site in a state, someone licensed there, and fertilizers."""
    zones: list[Json] = [
        {"id": "lawn", "kind": "turf", "turf": ["tall fescue"], "area": "4000 sq ft"},
        {"id": "green", "kind": "turf", "turf": ["bermudagrass"], "area": "4000 sq ft"},
        {"id": "drive", "kind": "hardscape", "area": "400 sq ft"},
        {"id": "bed", "kind": "ornamental bed", "area": "400 sq ft"},
    ]
    site: Json = {"id": f"at-{state.lower()}", "customer": "aune", "address": "9 Mill Path", "city": "Reedham"}
    site |= {"county": "Reed", "state": state, "zip": "20999", "zones": zones}
    number = f"{state}-C-1"
    holds = licence(number=number, state=state, **{"from": "2025-01-01", "to": "2030-12-31"})
    person: Json = {"id": "vera", "name": "Vera Lund", "licences": [holds]}
    return {"sites": [site], "people": [person], "products": PRODUCTS}


def fed(state: str = "MD", product: Json = PLAIN, rate: str = "3.5 lb/1000 sq ft", **changes: object) -> Json:
    """Return a lawful visit that fertilizes a lawn in a state, parts replaced."""
    usual: Json = {
        "site": f"at-{state.lower()}",
        "applicator": "vera",
        "zones": ["lawn"],
        "area": "4000 sq ft",
        "equipment": "drop spreader",
        "product": product["id"],
        "rate": rate,
        "targets": ABSENT,
        "lot": ABSENT,
        "on": "2026-09-10",
        "water_distance": "60 ft",
    }
    return usual | changes


MD, VA, PA, NJ, NY, MN, FL = map(there, ("MD", "VA", "PA", "NJ", "NY", "MN", "FL"))

CASES = [
    Case(
        "over-nutrient",
        "MD Agric. 6-224(a)(1)(ii): 3.9 lb of 24 % is 0.936 lb N, over 0.9; 3.75 lb is exactly 0.9 with 0.63 soluble",
        fed(rate="3.9 lb/1000 sq ft"),
        fed(rate="3.75 lb/1000 sq ft"),
        loads=MD,
        says="N on lawn comes to 0.936 lb/1000 sq ft in one application; the law of MD allows 0.9",
    ),
    Case(
        "over-nutrient",
        "MD Agric. 6-224(a)(1)(i): soluble nitrogen over 0.7 lb, here 0.72 of 0.8",
        fed(product=QUICK, rate="4 lb/1000 sq ft"),
        fed(product=QUICK, rate="4 lb/1000 sq ft", zones=["bed"], area="400 sq ft"),
        loads=MD,
        says="soluble N on lawn comes to 0.72",
    ),
    Case(
        "over-nutrient",
        "MD Agric. 6-224(a)(1)(ii): less than 20 % slow-release asks: the text may mean only what goes to 0.9 lb",
        fed(product=QUICK, rate="2 lb/1000 sq ft"),
        fed(rate="2 lb/1000 sq ft"),
        severity="ask",
        loads=MD,
        says="at least 20 % of it",
    ),
    Case(
        "over-nutrient",
        "a slow-release share that the book does not know: 0.8 lb N may be all soluble, 0.6 lb is within 0.7 anyway",
        fed(product=UNTOLD, rate="4 lb/1000 sq ft"),
        fed(product=UNTOLD, rate="3 lb/1000 sq ft"),
        severity="ask",
        loads=MD,
        says="the product in the book does not say",
    ),
    Case(
        "over-nutrient",
        "two passes of one day are one application (Rutgers: half the rate each pass): 0.48 + 0.48 lb N",
        fed(rate="2 lb/1000 sq ft", confirmed=["same-day", "unlikely-amount"]),
        fed(rate="2 lb/1000 sq ft", on="2026-09-11"),
        loads=MD,
        past=(fed(rate="2 lb/1000 sq ft"),),
        says="0.96 lb/1000 sq ft in one application with 2026-000001",
    ),
    Case(
        "over-nutrient",
        "MD Agric. 6-224(b)(1): 2.5 lb N a year of enhanced-efficiency fertilizer, which alone it counts",
        fed(product=COATED, rate="3.5 lb/1000 sq ft"),
        fed(product=COATED, rate="3 lb/1000 sq ft"),
        loads=MD,
        past=(fed(product=COATED, rate="3.25 lb/1000 sq ft", on="2026-05-02"), fed(on="2026-06-02")),
        says="2.7 lb/1000 sq ft in the calendar year 2026",
    ),
    Case(
        "over-nutrient",
        "MD Agric. 6-224(a)(2): phosphorus only with a soil test of the last 3 years, new or repaired turf, or organic",
        fed(product=STARTER, soil_test="2023-09-09"),
        fed(product=STARTER, soil_test="2023-09-10"),
        loads=MD,
        says="is not one of the last 3 years",
    ),
    Case(
        "over-nutrient",
        "MD: turf being repaired lets phosphorus go on",
        fed(product=STARTER),
        fed(product=STARTER, turf_stage="repair"),
        loads=MD,
    ),
    Case(
        "over-nutrient",
        "MD: natural organic fertilizer lets phosphorus go on",
        fed(product=STARTER),
        fed(product=COMPOST),
        loads=MD,
    ),
    Case(
        "over-nutrient",
        "MN 18C.60: phosphorus without a test; the first growing season lets it",
        fed("MN", STARTER),
        fed("MN", STARTER, turf_stage="new"),
        loads=MN,
    ),
    Case(
        "over-nutrient",
        "MN 18C.60 knows no repair of turf as a cause",
        fed("MN", STARTER, turf_stage="repair"),
        fed("MN", PLAIN),
        loads=MN,
    ),
    Case(
        "over-nutrient",
        "NY ECL 17-2101: fertilizer up to 0.67 % P2O5 is no phosphorus fertilizer",
        fed("NY", STARTER),
        fed("NY", PLAIN),
        loads=NY,
        says="holds phosphorus",
    ),
    Case(
        "over-nutrient",
        "PA 3 Pa.C.S. 6813(a)(3)(iii): 0.25 lb of the element; 28 lb of 2 % P2O5 are 0.244 lb P, 30 lb 0.262",
        fed("PA", COMPOST, "30 lb/1000 sq ft", on="2026-09-10"),
        fed("PA", COMPOST, "11 lb/1000 sq ft"),
        loads=PA,
        says="P on lawn comes to 0.26184",
    ),
    Case(
        "over-nutrient",
        "VA by month, from memory: asks over 0.9 lb on cool-season turf, not on warm-season turf",
        fed("VA", PLAIN, "4 lb/1000 sq ft"),
        fed("VA", PLAIN, "4 lb/1000 sq ft", zones=["green"]),
        severity="ask",
        loads=VA,
    ),
    Case(
        "over-nutrient",
        "FL EP353: no more than 0.7 lb soluble nitrogen at one time, whatever is slow-release",
        fed("FL", COATED, "20 lb/1000 sq ft"),
        fed("FL", COATED, "5 lb/1000 sq ft"),
        loads=FL,
        says="soluble N on lawn comes to 0.8",
    ),
    Case(
        "over-nutrient",
        "NY guidance of 1 lb N at one time is no law: noted",
        fed("NY", PLAIN, "5 lb/1000 sq ft"),
        fed("NY", PLAIN, "4 lb/1000 sq ft"),
        severity="note",
        loads=NY,
        says="good practice",
    ),
    Case(
        "not-checkable",
        "a yearly sum with a fertilizer of unknown weight among it is noted",
        fed(product=COATED, rate="1 lb/1000 sq ft", on="2026-10-10"),
        fed(on="2026-10-10"),
        severity="note",
        loads=MD,
        past=(fed(product=COATED, rate="1 lb/gal", area=ABSENT, extent="along the walk", method="spot"),),
        says="the yearly N on lawn could not be checked in full",
    ),
    Case(
        "not-checkable",
        "MD Agric. 6-224(b)(2), (3): release of 0.7 lb a month and 80 % of a yearly rate are asked over 0.7 lb N",
        fed(product=COATED, rate="2 lb/1000 sq ft"),
        fed(product=COATED, rate="1.75 lb/1000 sq ft"),
        severity="ask",
        loads=MD,
        says="comes to 0.8 lb/1000 sq ft in one application; the law of MD allows that only where no more than 0.7",
    ),
    Case(
        "not-checkable",
        "PA 3 Pa.C.S. 6813(a)(2): no more than 0.7 lb of enhanced-efficiency nitrogen released at any given time",
        fed("PA", COATED, "2 lb/1000 sq ft"),
        fed("PA", PLAIN, "3 lb/1000 sq ft"),
        severity="ask",
        loads=PA,
        says="released at any given time",
    ),
    Case(
        "over-nutrient",
        "3.8 lb may be 3.75 lb, which hold 0.9 lb N: over only within the reading is noted, and named so",
        fed(rate="3.8 lb/1000 sq ft"),
        fed(rate="3.75 lb/1000 sq ft"),
        severity="note",
        loads=MD,
        says="0.912 lb/1000 sq ft in one application; the law of MD allows 0.9 lb/1000 sq ft: over only within",
    ),
    Case(
        "blackout",
        "PA 3 Pa.C.S. 6813(b)(4): 2.1 lb may be 2.05 lb, which hold less than 0.5 lb N: noted in the winter",
        fed("PA", PLAIN, "2.1 lb/1000 sq ft", on="2026-12-20"),
        fed("PA", PLAIN, "2 lb/1000 sq ft", on="2026-12-20"),
        severity="note",
        loads=PA,
        says="0.504 lb/1000 sq ft; the law of PA allows 0.5 lb/1000 sq ft from 12-16 to 02-29: over only within",
    ),
    Case(
        "setback",
        "NY ECL 17-2103(3)(c) excepts turf in its first season: what the visit says of the turf is no question",
        fed("NY", PLAIN, water_distance="5 ft"),
        fed("NY", PLAIN, water_distance="5 ft", turf_stage="new"),
        severity="ask",
        loads=NY,
        says="unless a continuous natural vegetative buffer",
    ),
    Case(
        "not-understood",
        "a stage of turf, a state of ground and a deflector that nobody knows",
        fed(turf_stage="old", ground="wet", deflector="maybe"),
        fed(turf_stage="established", ground="open", deflector="yes"),
        loads=MD,
        at="treatments[0].turf_stage",
    ),
    Case(
        "blackout",
        "NJSA 58:10A-62 b: professionals not after December 1; December 1 itself is allowed",
        fed("NJ", on="2026-12-02"),
        fed("NJ", on="2026-12-01"),
        loads=NJ,
        at="started",
    ),
    Case(
        "blackout",
        "NJSA 58:10A-62 b: not before March 1; March 1 itself is allowed, homeowners' November 15 binds no firm",
        fed("NJ", on="2026-02-28"),
        fed("NJ", on="2026-11-20"),
        loads=NJ,
    ),
    Case(
        "blackout",
        "PA 6813(b)(4): more than 0.5 lb N after December 15; 2 lb of 24 % are 0.48",
        fed("PA", PLAIN, "2.5 lb/1000 sq ft", on="2026-12-16"),
        fed("PA", PLAIN, "2 lb/1000 sq ft", on="2026-12-16"),
        loads=PA,
    ),
    Case(
        "blackout",
        "NY ECL 17-2103(3)(a): any fertilizer between December first and April first",
        fed("NY", on="2026-04-01"),
        fed("NY", on="2026-04-02"),
        loads=NY,
    ),
    Case(
        "blackout",
        "MD Agric. 8-803.5(c)(2)(ii): frozen ground on any day",
        fed(ground="frozen"),
        fed(ground="open"),
        loads=MD,
        at="treatments[0].ground",
    ),
    Case(
        "blackout",
        "PA 6813(b)(2): snow",
        fed("PA", ground="snow"),
        fed("PA", ground="saturated"),
        loads=PA,
        says="snow covered",
    ),
    Case(
        "setback",
        "MD Agric. 8-803.5(d): 15 ft, 10 ft with a drop spreader, deflector or targeted liquid",
        fed(water_distance="12 ft"),
        fed(water_distance="12 ft", deflector=True),
        loads=MD,
        at="treatments[0].water_distance",
        says="15 ft",
    ),
    Case(
        "setback",
        "MD: closer than 10 ft stops with a deflector too",
        fed(water_distance="9 ft", deflector=True),
        fed(water_distance="10 ft", deflector=True),
        loads=MD,
        says="the law keeps it 10 ft",
    ),
    Case(
        "setback",
        "NY ECL 17-2103(3)(c): 20 ft, unless a natural buffer lies between, which only the person there can tell",
        fed("NY", water_distance="15 ft"),
        fed("NY", water_distance="20 ft"),
        severity="ask",
        loads=NY,
        says="vegetative buffer",
    ),
    Case(
        "setback",
        "where the distance is not recorded, the law is noted",
        fed(water_distance=ABSENT),
        fed(),
        severity="note",
        loads=MD,
    ),
    Case(
        "setback",
        "MD Agric. 8-803.5(c)(1): no turf fertilizer on an impervious surface",
        fed(zones=["drive"], area="400 sq ft"),
        fed(zones=["bed"], area="400 sq ft"),
        loads=MD,
        at="treatments[0].zones",
    ),
    Case(
        "setback",
        "FL best practice, from memory: noted",
        fed("FL", water_distance="5 ft"),
        fed("FL", water_distance="5 ft", deflector=True),
        severity="note",
        loads=FL,
        says="good practice",
    ),
]
