"""Every finding code by tables: an entry that raises it, and a near one that does not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from records.domain.findings import Code
from records.services.stocking import log_bought
from tests.kit import ASKED, Kit, of
from tests.rules.cases import ceilings, entry, label, nutrients, partners, people, times, weather

if TYPE_CHECKING:
    from pathlib import Path

    from records.services.closing.service import Outcome
    from tests.rules.case import Case, Json

CASES: list[Case] = [
    *label.CASES,
    *ceilings.CASES,
    *people.CASES,
    *times.CASES,
    *entry.CASES,
    *partners.CASES,
    *nutrients.CASES,
    *weather.CASES,
]


def _close(case: Case, changes: Json, folder: Path) -> Outcome:
    kit = Kit.at(folder)
    try:
        if case.loads:
            kit.load(**case.loads)
        for past in case.past:
            kit.sealed(**past)
        for purchase in case.bought:
            with kit.book.write() as work:
                log_bought(work, kit.clock.now(), at="2025-09-01", **purchase)
                work.commit()
        return kit.close(**changes)
    finally:
        kit.shut()


@pytest.mark.parametrize("case", CASES, ids=[f"{index:03d} {case.name}" for index, case in enumerate(CASES)])
def test_far(case: Case, tmp_path: Path) -> None:
    """What the case says is told, as heavily as it says; a stop or an unanswered question holds the visit."""
    outcome = _close(case, case.far, tmp_path)
    found = [one for one in outcome.findings if one["code"] == case.code and one["severity"] == case.severity]
    assert found, outcome.findings
    if case.at:
        assert case.at in {one["at"] for one in found}
    assert any(case.says in one["message"] for one in found), found
    if case.severity == "stop" or (case.severity == "ask" and case.code not in case.far.get("confirmed", [])):
        assert outcome.status == "held"


@pytest.mark.parametrize("case", CASES, ids=[f"{index:03d} {case.name}" for index, case in enumerate(CASES)])
def test_near(case: Case, tmp_path: Path) -> None:
    """The near entry is not told the code."""
    outcome = _close(case, case.near, tmp_path)
    assert case.code not in {one["code"] for one in outcome.findings}, of(outcome, case.code)


def test_every_code_has_cases() -> None:
    """No finding code is without a case on both sides."""
    assert {case.code for case in CASES} == {code.value for code in Code}


def test_an_answered_question_seals(tmp_path: Path) -> None:
    """Every code that asks is sealed once it stands under `confirmed`, and is still told."""
    for index, case in enumerate(one for one in CASES if one.severity == "ask" and one.code in ASKED):
        folder = tmp_path / str(index)
        folder.mkdir()
        outcome = _close(case, case.far | {"confirmed": [*ASKED, "missing"]}, folder)
        assert outcome.status == "sealed", (case.name, outcome.findings)
        assert case.code in {one["code"] for one in outcome.findings}
