"""A small firm with partners to mix, its book, and a day to plan in it."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

import pytest

from records.services.planning.service import plan
from tests.kit import LARKIN, SEDGER, Kit, template

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from records.services.planning.model import Load, Plan, Stop

Json = dict[str, Any]
DAY = "2026-05-14"
WETT: Json = {
    "id": "wett",
    "name": "Wett NIS",
    "kind": "adjuvant",
    "form": "liquid",
    "formulation": "NIS",
    "label": {"revision": "1", "uses": [{"site": "turf", "rates": [{"min": "0.25 % v/v", "max": "0.5 % v/v"}]}]},
}
RIGS: list[Json] = [
    {"id": "rig", "name": "Rig", "kind": "tank", "output": "2 gal/1000 sq ft", "tank": "20 gal"},
    {"id": "can", "name": "Can", "kind": "hand can", "output": "1 gal/1000 sq ft", "tank": "2 gal"},
    {"id": "bare", "name": "Bare tank", "kind": "tank"},
    {"id": "spreader", "name": "Spreader", "kind": "spreader", "tank": "50 lb"},
]
LINE: Json = {"product": "larkin-4", "rate": "0.75 fl oz/1000 sq ft"}


class Bench(Kit):
    """A kit that plans."""

    def planned(self, *loads: Json, **day: object) -> Plan:
        """Return the plan of a day, which has to be one."""
        made = plan(self.book, {"on": DAY, "loads": list(loads), **day})
        assert made.plan is not None, made.problems
        return made.plan

    def load_of(self, **parts: object) -> Load:
        """Return the only load of a plan."""
        return self.planned(load(**parts)).loads[0]

    def stop_of(self, site: str, **parts: object) -> Stop:
        """Return the only stop of a plan for one site."""
        return self.planned(load(stops=[site], **parts)).loads[0].stops[0]

    def problems(self, *loads: Json, **day: object) -> str:
        """Return why a day cannot be planned."""
        made = plan(self.book, {"on": DAY, "loads": list(loads), **day})
        assert made.plan is None
        return "\n".join(made.problems)


def load(**parts: object) -> Json:
    """Return a load of the usual product in the rig, parts replaced; None takes one away."""
    made: Json = {"equipment": "rig", "targets": ["plantain"], "products": [LINE], "stops": ["mill-9:front"]}
    return {key: value for key, value in (made | parts).items() if value is not None}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """Return the firm, with equipment and partners loaded."""
    kit = Bench(shutil.copyfile(template(), tmp_path / "book.db"))
    kit.load(equipment=RIGS, products=[LARKIN | {"formulation": "EC"}, SEDGER | {"formulation": "WDG"}, WETT])
    yield kit
    kit.shut()
