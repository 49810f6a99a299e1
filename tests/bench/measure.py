"""Times two things in turn, so that a busy machine slows both: medians, ratios and peak memory."""

from __future__ import annotations

import os
import platform
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Figure:
    """One row of the table: what was measured, its floor beside it, how far apart they are and may be."""

    name: str
    floor: str
    subject: str
    ratio: float
    target: float
    at_least: bool = False  # whether the target is a lower limit
    is_target: bool = True  # else told for comparison only

    @property
    def is_met(self) -> bool:
        """Tell whether the figure is as good as it has to be."""
        return not self.is_target or (self.ratio >= self.target if self.at_least else self.ratio <= self.target)

    def row(self) -> str:
        """Return the figure as a row of a Markdown table."""
        sign = "≥" if self.at_least else "≤"
        wanted = f"{sign} {self.target:g}" if self.is_target else "(for comparison)"
        verdict = ("met" if self.is_met else "MISSED") if self.is_target else ""
        return f"| {self.name} | {self.floor} | {self.subject} | {self.ratio:.3g} | {wanted} | {verdict} |"


HEAD = "| measured | floor | swathbook | ratio | target | |\n|---|---|---|---|---|---|"


def machine() -> str:
    """Return what kind of machine this is, without saying which."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return f"{cores} cores, {platform.machine()}, {platform.system()}, Python {platform.python_version()}"


def interleaved(floor: Callable[[], float], subject: Callable[[], float], runs: int) -> tuple[float, float]:
    """Return the medians of two measurements taken in turn; the first of each warms up and does not count."""
    pairs = [(floor(), subject()) for _ in range(runs + 1)][1:]
    return statistics.median(one for one, _ in pairs), statistics.median(other for _, other in pairs)


def seconds(work: Callable[[], object]) -> float:
    """Return how long a call takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


@dataclass(frozen=True, slots=True)
class Ran:
    """What a process took."""

    seconds: float
    peak: int  # KiB of resident memory


def run(command: Sequence[str | Path], *, book: Path | None = None, out: Path | None = None) -> Ran:
    """Run a command to its end.

    Raises:
        RuntimeError: it failed.
    """
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("SWATHBOOK_", "PYTHON"))}
    if book is not None:
        environment["SWATHBOOK_BOOK"] = str(book)
    with open(out or os.devnull, "wb") as stream:  # noqa: PTH123 - a path or the null device
        start = time.perf_counter()
        process = subprocess.Popen([str(part) for part in command], stdout=stream, env=environment)
        _, status, used = os.wait4(process.pid, 0)
        taken = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"{' '.join(map(str, command))} ended with {process.returncode}")
    return Ran(taken, used.ru_maxrss)


def swathbook(*words: str | Path) -> list[str | Path]:
    """Return the command line of the installed command: what its script does, in this interpreter."""
    code = "from records.cli.app import entrypoint; entrypoint()"
    return [sys.executable, "-c", code, *words]


def milliseconds(value: float) -> str:
    """Write a time."""
    return f"{value * 1000:.1f} ms"
