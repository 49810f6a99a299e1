"""Cases of what may go into one mix: partner lines of the labels, and the adjuvants they ask for or forbid."""

from __future__ import annotations

from tests.kit import LARKIN, SEDGER
from tests.rules.case import Case

Json = dict[str, object]

SURFACTANT: Json = {"id": "wett", "name": "Wett NIS", "kind": "adjuvant", "form": "liquid", "formulation": "NIS"}
OIL: Json = SURFACTANT | {"id": "oily", "name": "Oily COC", "formulation": "COC"}
NAMELESS: Json = {"id": "soap", "name": "Soapy", "kind": "adjuvant", "form": "liquid"}

LINE = {"product": "larkin-4", "rate": "0.7 fl oz/1000 sq ft"}
SEDGE = {"product": "sedger-75", "rate": "0.02 oz/1000 sq ft", "targets": ["yellow nutsedge"]}
WETT = {"product": "wett", "rate": "0.25 % v/v"}
SPRAY = {"spray": "8 gal"}
ALONE = SPRAY | {"products": [LINE]}
PAIR = SPRAY | {"products": [LINE, SEDGE]}
WETTED = SPRAY | {"products": [LINE, WETT]}


def mixing(**lines: object) -> Json:
    """Return a load of the usual product with these mixing lines on its label, and partners for it."""
    label = LARKIN["label"] | {"mixing": lines}
    return {"products": [LARKIN | {"label": label}, SEDGER, SURFACTANT, OIL, NAMELESS]}


CASES = [
    # --- partner-not-allowed ---------------------------------------------------------------------------------------
    Case(
        "partner-not-allowed",
        "the label names the other product by its id, and prints why (label line)",
        PAIR,
        ALONE,
        at="treatments[0].products[1].product",
        says="Do not mix with sulfonylureas.",
        loads=mixing(forbidden=[{"with": "sedger-75", "text": "Do not mix with sulfonylureas."}]),
    ),
    Case(
        "partner-not-allowed",
        "the label names an active of the other product (label line)",
        PAIR,
        WETTED,
        says="not with sedgesulfuron",
        loads=mixing(forbidden="sedgesulfuron"),
    ),
    Case("partner-not-allowed", "by its group (label line)", PAIR, ALONE, loads=mixing(forbidden=["group 2"])),
    Case("partner-not-allowed", "by its formulation (label line)", WETTED, PAIR, loads=mixing(forbidden=["nis"])),
    Case("partner-not-allowed", "adjuvants as a whole (label line)", WETTED, PAIR, loads=mixing(forbidden="Adjuvants")),
    Case(
        "partner-not-allowed",
        "a line that only advises is noted (label line)",
        PAIR,
        ALONE,
        severity="note",
        loads=mixing(forbidden=[{"with": "sedger-75", "force": "should"}]),
    ),
    Case(
        "partner-not-allowed",
        "a ready-made product takes no adjuvant (label line)",
        WETTED,
        PAIR,
        says="no adjuvant may be added",
        loads=mixing(forbids_adjuvant=True),
    ),
    Case(
        "partner-not-allowed",
        "what the label does not name under only with (label line)",
        PAIR,
        WETTED,
        says="only with wett",
        loads=mixing(only_with=["wett"]),
    ),
    Case(
        "partner-not-allowed",
        "more partners than the label allows; an adjuvant is none (label line)",
        PAIR,
        WETTED,
        says="no partner",
        loads=mixing(max_partners=0),
    ),
    # --- adjuvant-missing ------------------------------------------------------------------------------------------
    Case(
        "adjuvant-missing",
        "the label asks for an adjuvant, and none is in the mix (label line)",
        ALONE,
        WETTED,
        at="treatments[0].products[0].product",
        says="Always add a surfactant",
        loads=mixing(needs_adjuvant="Always add a surfactant"),
    ),
    Case(
        "adjuvant-missing",
        "an oil is no surfactant (label line)",
        SPRAY | {"products": [LINE, {"product": "oily", "rate": "1 % v/v"}]},
        WETTED,
        says="another kind",
        loads=mixing(needs_adjuvant={"text": "Add NIS", "kinds": ["NIS"]}),
    ),
    Case(
        "adjuvant-missing",
        "a line that only advises is noted (label line)",
        ALONE,
        WETTED,
        severity="note",
        loads=mixing(needs_adjuvant={"text": "Add NIS", "force": "should"}),
    ),
    Case(
        "not-checkable",
        "the book does not say what kind the adjuvant is, so it may be the one the label asks for",
        SPRAY | {"products": [LINE, {"product": "soap", "rate": "0.25 % v/v"}]},
        WETTED,
        severity="note",
        says="what kind Soapy is",
        loads=mixing(needs_adjuvant={"text": "Add NIS", "kinds": ["NIS"]}),
    ),
]
