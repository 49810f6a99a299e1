"""Granular fertilizer in states that ask how much finished mix was put out: the granules are it."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING

import pytest

from tests.kit import BUSINESS, PEOPLE, SITES, Kit

if TYPE_CHECKING:
    from pathlib import Path

FEED = {
    "id": "feed",
    "name": "Feed 28-0-4",
    "kind": "fertilizer",
    "form": "granule",
    "analysis": "28-0-4",
    "slow_release": "30 %",
}


@pytest.mark.parametrize("state", ["NJ", "VA"])
def test_no_spray_is_asked_of_granules(tmp_path: Path, state: str) -> None:
    """Two states ask for the total put out (their packs say where); of granules that is the product itself."""
    kit = Kit.at(tmp_path)
    site, people = copy.deepcopy(SITES[0]), copy.deepcopy(PEOPLE[:1])
    site["state"] = state
    for licence in people[0]["licences"]:
        licence["state"] = state
    kit.load(business={**BUSINESS, "packs": [f"us-{state.lower()}"]}, sites=[site], people=people)
    kit.load(products=[FEED])
    line = {"product": "feed", "rate": "3 lb/1000 sq ft"}
    treatment = {"zones": ["front"], "method": "broadcast", "area": "4000 sq ft", "targets": [], "products": [line]}
    outcome = kit.close(treatments=[treatment])
    kit.shut()
    asked = [finding["at"] for finding in outcome.findings if finding["code"] == "missing"]
    assert not [at for at in asked if at.endswith(".spray")]
