"""Sealed revisions for periodic reports, and the annual summary worked out of them without the engine."""

from __future__ import annotations

import json
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from records.services.ports import StoredRevision, UseRow
from records.storage.mapping import derive
from tests.bodies import ADA, application, treatment, visit_body

if TYPE_CHECKING:
    from collections.abc import Iterable

Json = dict[str, Any]
NEW_YORK = {"id": "elm-3", "address": "3 Elm Court", "city": "Perth Mill", "county": "Erie", "state": "NY"}
SITE: Json = NEW_YORK | {"zip": "14201", "version": 1}
LICENCE: Json = ADA["licence"] | {"number": "C1182903", "state": "NY"}
PERSON: Json = ADA | {"licence": LICENCE}


def body(line: Json | None = None, ground: Json | None = None, **parts: object) -> Json:
    """Return the body of a visit in New York with one product line, any part of it replaced.

    Args:
        line: parts of the application; those of its product under `product`.
        ground: parts of the treatment.
        parts: of the body; `site` and `applicator` are whole.
    """
    line = dict(line or {})
    made = application(**{key: value for key, value in line.items() if key != "product"})
    made["product"] |= line.get("product", {})
    ground = treatment(applications=[made]) | (ground or {})
    usual = {"site": SITE, "applicator": PERSON, "supervisor": None, "treatments": [ground]}
    return visit_body(**(usual | parts))


def sealed(*bodies: Json, action: str = "sealed") -> list[StoredRevision]:
    """Return bodies as revisions, numbered in order."""
    return [
        StoredRevision(number, f"2026-{number:06d}", 1, action, "2026-05-14T15:00:00Z", "", "", one)
        for number, one in enumerate(bodies, 1)
    ]


def use_rows(revisions: Iterable[StoredRevision]) -> list[UseRow]:
    """Return what the database would sum up: the rows that storage derives, grouped by their facts."""
    groups: defaultdict[str, list[int]] = defaultdict(lambda: [0] * 5)
    for revision in revisions:
        if revision.action == "voided":
            continue
        derived = derive(revision, 1, "", 1)
        for row, (_, facts) in zip(derived.applications, derived.groups, strict=True):
            amount, area, uses = row[-8], row[-6], row[-4]  # mix, lot and label stand behind them
            sums = groups[facts]
            for place, value in enumerate(
                (uses, amount or 0, area or 0, uses if amount is None else 0, uses if area is None else 0)
            ):
                sums[place] += value
    return [UseRow._make((*json.loads(facts)[:15], *sums)) for facts, sums in groups.items()]
