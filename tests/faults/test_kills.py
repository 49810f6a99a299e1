"""Two hundred kills in each run of the tests; `python -m tests.faults` has as many as one likes."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest

from tests.faults.kills import Tally
from tests.faults.scenes import Scenes

if TYPE_CHECKING:
    from pathlib import Path

KILLS = 23  # of each of nine commands


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> Scenes:
    """Return books and files for the trials."""
    return Scenes(tmp_path_factory.mktemp("faults"))


@pytest.mark.parametrize("name", Scenes.NAMES)
def test_nothing_is_lost_or_half_done(scenes: Scenes, name: str, tmp_path: Path) -> None:
    """Killed at any moment, a command leaves a whole book with all that it had told, and can be given again."""
    trials = scenes.trials(name, tmp_path / "trial")
    trials.measure()
    tally, chance = Tally(), random.Random(20260514)  # noqa: S311 - moments, no secrets
    while tally.killed < KILLS and tally.trials < 4 * KILLS:
        trials.trial(chance, tally)
    assert tally.faults == []
    assert tally.killed >= KILLS // 2
