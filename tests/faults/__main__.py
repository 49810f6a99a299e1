"""Kills every writing command at random moments and prints the tally: python -m tests.faults [--kills N] [--seed N]."""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from pathlib import Path

from tests.faults.kills import Tally
from tests.faults.scenes import Scenes


def tally_of(kills: int, seed: int, folder: Path) -> dict[str, Tally]:
    """Kill as many commands, the same number of each kind.

    Args:
        kills: processes to kill; those that had finished before do not count.
        seed: of the moments.
        folder: to work in.
    """
    chance = random.Random(seed)  # noqa: S311 - moments, no secrets
    found: dict[str, Tally] = {}
    scenes = Scenes(folder).all()
    share = -(-kills // len(scenes))
    for trials in scenes:
        trials.measure()
        tally = found[trials.name] = Tally()
        while tally.killed < share and tally.trials < 4 * share:
            trials.trial(chance, tally)
    return found


def table(found: dict[str, Tally]) -> str:
    """Return the tally as lines of text."""
    lines = [f"{'command':<14}{'runs':>6}{'killed':>8}{'told as sealed':>16}{'lost':>6}{'partial':>9}{'broken':>8}"]
    total = Tally()
    for tally in found.values():
        total.add(tally)
    for name, tally in [*found.items(), ("all", total)]:
        lines.append(
            f"{name:<14}{tally.trials:>6}{tally.killed:>8}{tally.acknowledged:>16}"
            f"{len(tally.lost):>6}{len(tally.partial):>9}{len(tally.broken):>8}"
        )
    return "\n".join([*lines, *total.faults[:20]])


def run(arguments: list[str]) -> int:
    """Run the trials; return 1 when something was lost or broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        found = tally_of(chosen.kills, chosen.seed, Path(folder))
    sys.stdout.write(table(found) + "\n")
    return 1 if any(tally.faults for tally in found.values()) else 0


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
