"""The README's day is run as it stands: its documents load, its commands work, its output is what they print.

`SWATHBOOK_UPDATE_README=1` writes the present output into the README.
"""

from __future__ import annotations

import os
import re
import shlex
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from records.cli.app import main
from records.clock import FixedClock

if TYPE_CHECKING:
    import pytest

README = Path(__file__).resolve().parents[2] / "README.md"
NOW = datetime.fromisoformat("2026-05-20T16:40-05:00")
_FILE = re.compile(r"^```(?:toml|json|csv) (\S+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_CONSOLE = re.compile(r"^```console(?: (\S+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)  # some say at which moment
_SEAL = re.compile(r"\b[0-9a-f]{64}\b")


def _run(line: str, folder: Path, capsys: pytest.CaptureFixture[str], now: datetime) -> str:
    words = shlex.split(line)
    if words[0] == "sed":
        change, source, target = words[1], words[2], words[4]
        _, old, new, _ = change.split("/")
        (folder / target).write_text((folder / source).read_text("utf-8").replace(old, new), "utf-8")
        return ""
    assert words[0] == "swathbook"
    main(words[1:], FixedClock(now))
    captured = capsys.readouterr()
    return captured.out + captured.err


def _masked(text: str) -> str:
    return _SEAL.sub("(64 hexadecimal digits)", text)


def test_the_day_of_the_readme(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command of the README works in order and prints what the README shows."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("SWATHBOOK_BOOK", raising=False)
    text = README.read_text("utf-8")
    for name, content in _FILE.findall(text):
        (tmp_path / name).write_text(content, "utf-8")

    def play(block: re.Match[str]) -> str:
        now = datetime.fromisoformat(block[1]) if block[1] else NOW
        made = [
            f"$ {line[2:]}\n{_masked(_run(line[2:], tmp_path, capsys, now))}".rstrip()
            for line in block[2].splitlines()
            if line.startswith("$ ")
        ]
        return f"```console{f' {block[1]}' if block[1] else ''}\n" + "\n".join(made) + "\n```"

    played = _CONSOLE.sub(play, text)
    if os.environ.get("SWATHBOOK_UPDATE_README"):
        README.write_text(played, "utf-8")
    assert played == text
    for name in ("notice.pdf", "season.pdf", "2026.pdf", "2026.csv"):
        assert (tmp_path / name).stat().st_size > 0
