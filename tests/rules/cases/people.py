"""Cases of who may do the work on that day."""

from __future__ import annotations

from tests.kit import LARKIN, licence
from tests.rules.case import Case

RESTRICTED = {"product": "torvane-r", "rate": "1 fl oz/1000 sq ft"}
TWO_LICENCES = {
    "people": [
        {
            "id": "lena",
            "name": "Lena Moen",
            "licences": [
                licence(number="MN-C-6", categories=["ornamental"]),
                licence(number="MN-C-8", categories=["turf"]),
            ],
        }
    ]
}
CASES = [
    Case(
        "licence-missing",
        "no licence at all in the book (state law; licence data of the book)",
        {"applicator": "nils"},
        {"applicator": "ruth"},
        at="applicator",
    ),
    Case(
        "licence-missing",
        "a Wisconsin licence is none in Minnesota",
        {"applicator": "olga"},
        {"applicator": "olga", "site": "dock-2"},
        says="no MN licence",
    ),
    Case(
        "licence-missing",
        "a Minnesota licence is none in Wisconsin",
        {"site": "dock-2"},
        {"site": "mill-9"},
        says="no WI licence",
    ),
    Case(
        "licence-missing",
        "no licence is needed for a surfactant alone",
        {"applicator": "nils"},
        {"applicator": "nils", "product": "stickfast", "rate": "0.25 % v/v", "spray": "4 gal"},
    ),
    Case(
        "licence-lapsed",
        "the last valid day still counts, the day after does not",
        {"on": "2026-05-15", "applicator": "karl"},
        {"on": "2026-05-14", "applicator": "karl"},
        says="2026-05-15",
    ),
    Case(
        "licence-lapsed",
        "before the first valid day",
        {"on": "2025-12-31", "applicator": "emil", "supervisor": "ruth"},
        {"on": "2026-01-01", "applicator": "emil", "supervisor": "ruth"},
    ),
    Case(
        "licence-lapsed",
        "the day of the work counts, not the day of the entry",
        {"on": "2026-05-16", "now": "2026-05-16T10:00", "applicator": "karl"},
        {"on": "2026-05-14", "now": "2026-06-20T10:00", "applicator": "karl"},
    ),
    Case(
        "licence-lapsed",
        "a supervisor whose licence has run out",
        {"on": "2026-05-15", "applicator": "emil", "supervisor": "karl"},
        {"on": "2026-05-14", "applicator": "emil", "supervisor": "karl"},
        at="supervisor",
    ),
    Case(
        "licence-category",
        "a licence for ornamentals alone does not cover turf (plain category words only)",
        {"applicator": "siri"},
        {"applicator": "ruth"},
        says="not turf",
    ),
    Case(
        "licence-category",
        "a second valid licence may hold the category",
        {"applicator": "emil", "supervisor": "siri"},
        {"applicator": "lena"},
        loads=TWO_LICENCES,
    ),
    Case(
        "supervision",
        "a technician works under a named certified person",
        {"applicator": "emil"},
        {"applicator": "emil", "supervisor": "ruth"},
        at="supervisor",
    ),
    Case(
        "supervision",
        "restricted use: a trainee without supervisor (40 CFR 171.201)",
        {"applicator": "tove"} | RESTRICTED,
        {"applicator": "tove", "supervisor": "ruth"} | RESTRICTED,
        says="Torvane R is for restricted use",
    ),
    Case(
        "supervision",
        "a certified applicator needs none, for restricted use either",
        {"applicator": "emil", "supervisor": "tove"} | RESTRICTED,
        {"applicator": "ruth"} | RESTRICTED,
        says="Tove Lind is not certified",
    ),
    Case(
        "registration-format",
        "an establishment number in the product's place (40 CFR 156.10(f))",
        {"product": "99999-MN-1"},
        {"product": "99999-51"},
        at="treatments[0].products[0].product",
    ),
    Case(
        "registration-format",
        "a file symbol from before registration (EPA Label Review Manual, chapter 14)",
        {"product": "99999-RG"},
        {"product": "EPA Reg. No. 99999-51"},
    ),
    Case(
        "product-unknown",
        "a number that no loaded product has, one digit off",
        {"product": "99999-57"},
        {"product": "99999-51"},
    ),
    Case(
        "product-unknown",
        "a name that is not in the catalogue is no free text at the stop; the nearest is named",
        {"product": "larkin-3"},
        {"product": "larkin-4"},
        says="did you mean larkin-4?",
    ),
    Case(
        "product-unknown",
        "two catalogue entries under one number: name the one in the jug",
        {"product": "99999-51"},
        {"product": "larkin-4"},
        loads={"products": [LARKIN | {"id": "larkin-drum"}]},
        says="several products carry 99999-51: larkin-4, larkin-drum",
    ),
]
