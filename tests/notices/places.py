"""An invented firm that works in several states, with neighbours to tell and customers who take e-mail."""

from __future__ import annotations

from typing import Any

from tests.kit import BUSINESS, labelled, licence

Json = dict[str, Any]

PACKS = ["us-mn", "us-wi", "us-mi", "us-in", "us-ks", "us-md", "us-ia", "us-oh", "us-ma", "us-ct", "us-tx-ag", "us-ny"]
STATES = ("MN", "WI", "MI", "IN", "KS", "MD", "IA", "OH", "MA", "CT", "TX", "PA", "NY", "FL", "VA")
LUND: Json = {
    "id": "lund",
    "name": "Nora Lund",
    "why": "registry",
    "lead": "12 hours",
    "phone": "608-555-0121",
    "from": "2026-03-15",
    "to": "2026-12-31",
}
HART: Json = {"id": "hart", "name": "Piet Hart", "why": "asked", "email": "piet@example.org"}
INSURED: Json = {"insurer": "Invented Mutual", "insured": "1,000,000 USD"}
WHOLE: Json = {"spray": "8 gal", "equipment": "can-1", "incident": "none"}  # what some states ask besides
LABEL: Json = {"precautions": ["Keep off until dry."], "keep_off": "until the spray has dried"}


def site(state: str, **changes: object) -> Json:
    """Return the site of a state."""
    made: Json = {
        "id": f"site-{state.lower()}",
        "customer": "berg",
        "address": f"7 {state} Lane",
        "city": "Fairbank",
        "county": "Dell",
        "state": state,
        "zip": "54990",
        "zones": [{"id": "front", "kind": "turf", "turf": ["kentucky bluegrass"], "area": "4000 sq ft"}],
    }
    return made | changes


def firm() -> Json:
    """Return what is loaded into the kit's book."""
    larkin = labelled()
    larkin["label"].update(LABEL)
    licences = [licence(state=state, number=f"{state}-C-7") for state in STATES]
    return {
        "business": BUSINESS | {"packs": PACKS, "email": "office@otterbend.example"} | INSURED,
        "people": [{"id": "vera", "name": "Vera Moss", "licences": licences}],
        "customers": [
            {
                "id": "berg",
                "name": "Ola Berg",
                "address": "7 Long Road",
                "email": "ola@berg.example",
                "email_consent": "2026-04-01",
            },
            {
                "id": "ruiz",
                "name": "Inés Ruiz",
                "language": "es",
                "email": "ines@ruiz.example",
                "address": "3 Casa Way",
            },
        ],
        "sites": [
            *(site(state) for state in STATES),
            site("WI", id="casa-wi", customer="ruiz", address="3 Casa Way"),
            site("WI", id="near-wi", address="9 Near Way", notify=[LUND, HART]),
        ],
        "products": [larkin],
    }
