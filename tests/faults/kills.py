"""Kills the tool at random moments and looks at what is left.

Each trial forks a process that has the tool loaded already, lets it run one command, and kills it (SIGKILL) after a
random part of the time the command takes when it is left alone. What the command had told on its standard output is
what it had acknowledged. Then the book has to be whole, hold all that was acknowledged and nothing by halves, and the
same command, given again, has to come to its end.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from records.cli.app import main
from records.clock import FixedClock
from records.storage.integrity import verify
from records.storage.unit_of_work import SqlBook

if TYPE_CHECKING:
    import random
    from collections.abc import Callable
    from pathlib import Path

NOW = FixedClock(datetime.fromisoformat("2026-10-21T18:00-05:00"))
LATER = FixedClock(NOW.now() + timedelta(minutes=5))
KILLED = -signal.SIGKILL
_PATIENCE = 60  # seconds that any of the commands may take


@dataclass(slots=True)
class Tally:
    """What a run of trials came to."""

    trials: int = 0
    killed: int = 0  # before the command was done; the others had finished
    acknowledged: int = 0  # records that were told as sealed
    lost: list[str] = field(default_factory=list)
    partial: list[str] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)

    @property
    def faults(self) -> list[str]:
        """Return everything that must not be."""
        return [*self.lost, *self.partial, *self.broken]

    def add(self, other: Tally) -> None:
        """Count another run in."""
        for name in ("trials", "killed", "acknowledged"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("lost", "partial", "broken"):
            getattr(self, name).extend(getattr(other, name))


@dataclass(slots=True)
class Run:
    """One command that ran in a process of its own."""

    code: int  # what it ended with; KILLED
    out: str
    err: str
    seconds: float


def run(words: list[str], folder: Path, kill_after: float | None = None) -> Run:
    """Run a command line in a fork of this process, and kill it after a while."""
    out, err = folder / "out", folder / "err"
    out.write_bytes(b"")
    err.write_bytes(b"")
    begun = time.monotonic()
    child = os.fork()
    if child == 0:
        code = 99
        try:
            os.chdir(folder)
            for number, path in ((1, out), (2, err)):
                os.dup2(os.open(path, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), number)
            sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
            sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False)
            code = main(words, NOW)
            sys.stdout.flush()
        finally:
            os._exit(code)
    signal.alarm(_PATIENCE)  # a command that hangs ends the run with a traceback
    ended, status = 0, 0
    if kill_after is not None:
        while not ended and (left := begun + kill_after - time.monotonic()) > 0:
            time.sleep(min(left, 0.002))
            ended, status = os.waitpid(child, os.WNOHANG)  # one that is done is not waited for any longer
        if not ended:
            os.kill(child, signal.SIGKILL)  # it is not waited for yet, so the number is still its own
    if not ended:
        _, status = os.waitpid(child, 0)
    signal.alarm(0)
    seconds = time.monotonic() - begun
    return Run(os.waitstatus_to_exitcode(status), out.read_text("utf-8"), err.read_text("utf-8"), seconds)


def sealed_in(out: str) -> dict[str, str]:
    """Return the references and serials that an answer acknowledges, by its whole lines."""
    found = {}
    whole_lines = [line for line in out.splitlines(keepends=True) if line.endswith("\n")]
    for text in (out, *whole_lines):  # one document over many lines, or one a line
        try:
            answer = json.loads(text)
        except ValueError:
            continue  # it was cut
        if isinstance(answer, dict) and answer.get("serial"):
            found[str(answer["serial"])] = str(answer.get("status"))
    return found


def serials(book: SqlBook) -> dict[str, int]:
    """Return the serials of a book with their number of revisions."""
    found: dict[str, int] = {}
    with book.read() as unit:
        for revision in unit.records.walk():
            found[revision.serial] = max(found.get(revision.serial, 0), revision.revision)
    return found


class Trials:
    """Trials of one command."""

    def __init__(self, name: str, folder: Path, prepare: Callable[[Path], list[str]]) -> None:
        """Name the trials.

        Args:
            name: of the command.
            folder: to work in.
            prepare: puts all that the command needs into an empty folder, with the book as `book.db`; returns its
                words, which run in that folder.
        """
        self.name = name
        self._folder = folder
        self._prepare = prepare
        self._usual = 0.0

    def _fresh(self) -> list[str]:
        shutil.rmtree(self._folder, ignore_errors=True)
        self._folder.mkdir(parents=True)
        return ["--book", "book.db", *self._prepare(self._folder)]

    def measure(self) -> None:
        """Let the command run to its end five times; the middle one, so that one held up by others does not count."""
        times = []
        for _ in range(5):
            done = run(self._fresh(), self._folder)
            assert done.code in {0, 1}, (self.name, done.code, done.err)
            times.append(done.seconds)
        self._usual = sorted(times)[2]

    def trial(self, chance: random.Random, tally: Tally) -> None:
        """Kill the command once."""
        words = self._fresh()
        path = self._folder / "book.db"
        before = serials(SqlBook(path)) if self.name not in {"init", "import"} else {}
        done = run(words, self._folder, chance.uniform(0, self._usual * 1.15))
        tally.trials += 1
        tally.killed += done.code == KILLED
        told = sealed_in(done.out)
        tally.acknowledged += len(told)
        name = f"{self.name} trial {tally.trials}"
        self._look(name, path, before, told, tally)
        again = run(words, self._folder)
        if again.code not in {0, 1} and not self._may_refuse(again):
            tally.broken.append(f"{name}: given again, it ended with {again.code}: {again.err.strip()[:200]}")
        self._look(f"{name}, given again", path, before, told | sealed_in(again.out), tally)

    def _may_refuse(self, again: Run) -> bool:
        """Tell whether what was there already is the only reason: the first run had come to its end."""
        return self.name in {"backup", "export", "import"} and (
            "already exists" in again.err or "is there already" in again.err or "empty one" in again.err
        )

    def _look(self, name: str, path: Path, before: dict[str, int], told: dict[str, str], tally: Tally) -> None:
        for file in sorted(self._folder.glob("*.db*")):
            if file.name.endswith(("-journal", "-wal", "-shm")):
                continue
            if file == path or not _is_draft(file.name):
                self._whole(name, file, tally)
        if not path.exists():
            if self.name not in {"init", "import"}:
                tally.broken.append(f"{name}: there is no book any more")
            return
        if self.name in {"init", "import"} and not _opens(path):
            return  # as it was before: an older book, or none yet; given again, the command makes it
        after = serials(SqlBook(path))
        if self.name != "restore":
            tally.lost.extend(f"{name}: {serial} is gone" for serial in {*before, *told} - {*after})

    def _whole(self, name: str, file: Path, tally: Tally) -> None:
        """Check that a file is a whole book of this version, an older one, or an empty one that was never told of."""
        if file.stat().st_size == 0 or (self.name in {"init", "import"} and not _opens(file)):
            return
        try:
            problems = verify(SqlBook(file)).problems
        except Exception as error:  # noqa: BLE001 - whatever it is, it is told
            tally.broken.append(f"{name}: {file.name} cannot be read: {error}")
            return
        tally.partial.extend(f"{name}: {file.name}: {problem}" for problem in problems)


def _is_draft(name: str) -> bool:
    """Tell whether a file's name says that it is not finished."""
    return name.startswith(".") or ".draft" in name or name.endswith((".tmp", ".part"))


def _opens(path: Path) -> bool:
    """Tell whether a book opens in this version of the tool."""
    try:
        with SqlBook(path).read():
            return True
    except Exception:  # noqa: BLE001 - whatever the reason
        return False
