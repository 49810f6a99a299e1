"""The demo's book, made in this process: what `demo/run.sh` types is read from the script itself."""

from __future__ import annotations

import re
import shlex
import sys
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from records.cli.app import main
from records.clock import FixedClock

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parents[1]
NOW = "2026-10-27T08:30-05:00"  # the morning on which the demo ends
GOOD = "2026-000139"  # the record that the script calls $good
# What adds to the book; the rest of the script only shows or writes files.
ADDING = {"load", "area", "calibrate", "stock", "close", "held", "amend", "day", "contact", "postpone"}
_LOOP = re.compile(r"while read -r ([\w ]+); do\n(.*?)done <<END\n(.*?)\nEND\n", re.DOTALL)


@cache
def demo(name: str) -> Any:  # noqa: ANN401 - a module of the demo
    """Return a script of the demo as a module."""
    folder = str(ROOT / "demo")
    if folder not in sys.path:
        sys.path.insert(0, folder)
    return __import__(name)


def _spread(script: str) -> str:
    """Write the loop over purchases out, one line each."""

    def written(loop: re.Match[str]) -> str:
        names, lines = loop[1].split(), []
        for row in loop[3].splitlines():
            line = loop[2].strip()
            for name, value in zip(names, row.split(), strict=True):
                line = line.replace(f"${name}", value)
            lines.append(line)
        return "\n".join(lines) + "\n"

    return _LOOP.sub(written, script)


def typed() -> Iterator[tuple[str, list[str]]]:
    """Yield the command lines of the script that add to the book, with their moments; `play` is the season."""
    script = _spread((ROOT / "demo" / "run.sh").read_text("utf-8").replace("\\\n", " "))
    now = ""
    for line in script.splitlines():
        if line.startswith("now="):
            now = line.removeprefix("now=")
        elif line.startswith("season="):
            return  # the script turns to another book than the season's
        elif line.startswith('"$py" demo/play.py'):
            yield now, ["play", *shlex.split(line.partition("||")[0])[3:]]
        elif line.startswith(("sb ", "    sb ")):
            words = [word.replace("$good", GOOD) for word in shlex.split(line)[1:]]
            if words[0] in ADDING and not (words[0] in {"stock", "day", "held"} and len(words) == 1):
                yield now, words


def make(path: Path) -> None:
    """Do to an empty book what the demo does."""
    for now, words in typed():
        if words[0] == "play":
            assert demo("play").main(str(path), *words[1:]) == 0
            continue
        paths = [str(ROOT / word) if word.startswith("demo/") else word for word in words]
        code = main(["--book", str(path), *paths], FixedClock(datetime.fromisoformat(now)))
        assert code in {0, 1}, words
