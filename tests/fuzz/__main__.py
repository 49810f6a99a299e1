"""Fuzz one target, or each in turn: `python -m tests.fuzz [TARGET] --seconds N`; crashes are kept in a folder."""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from pathlib import Path
from typing import Any

TARGETS = ("quantity", "metar", "hours", "document", "closing", "loading", "layout", "table", "book")
MOST_MEMORY = 1_500  # MB


def fuzz(name: str, seconds: int, folder: Path) -> None:
    """Fuzz in this process, which ends with it."""
    atheris: Any = import_module("atheris")  # not on every machine

    with atheris.instrument_imports(include=["records", "tomli", "json"]):
        from tests.fuzz.targets import TARGETS as FOUND  # noqa: PLC0415
        from tests.fuzz.targets import seeds  # noqa: PLC0415

    corpus = folder / name
    corpus.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(seeds(name)):
        (corpus / f"seed-{number}").write_bytes(data)
    options = [
        f"-max_total_time={seconds}",
        f"-rss_limit_mb={MOST_MEMORY}",
        "-timeout=10",
        "-max_len=20000",
        f"-artifact_prefix={folder}/crash-{name}-",
        "-print_final_stats=0",
        "-verbosity=0",
    ]
    words = folder / "words.txt"
    words.write_text("".join(f'"{word}"\n' for word in WORDS), "utf-8")
    atheris.Setup([sys.argv[0], *options, f"-dict={words}", str(corpus)], FOUND[name])
    atheris.Fuzz()


WORDS = (
    *(r"\xe2\x80\xae", r"\xed\xa0\x80", r"\x00", r"\x1b[31m", r"\\u0000", r"\\ud800", "1e999", "NaN", "Infinity", "-0"),
    *(
        "null",
        "true",
        "{}",
        "[]",
        "sq ft",
        "fl oz",
        "oz/M",
        "% v/v",
        "degF",
        "1/0",
        "99999999999999999999",
        "[[",
        "=\\x22",
    ),
    *(r"\x22kind\x22", r"\x22seal\x22", r"\x22body\x22", r"\x22products\x22", r"\x22treatments\x22", r"\x22zones\x22"),
)


def main() -> int:
    """Run one target here, or each in a process of its own; return 1 where one broke."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("target", nargs="?", choices=TARGETS)
    parser.add_argument("--seconds", type=int, default=60, help="for each target")
    parser.add_argument("--jobs", type=int, default=1, help="targets fuzzed at the same time")
    parser.add_argument("--folder", type=Path, help="keeps the corpus and crashes; else a temporary one")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    folder = asked.folder or Path(tempfile.mkdtemp(prefix="fuzz-"))
    if asked.here:
        fuzz(asked.target, asked.seconds, folder)
        return 0
    names = [asked.target] if asked.target else TARGETS
    with ThreadPoolExecutor(asked.jobs) as pool:
        fine = list(pool.map(lambda name: _alone(name, asked.seconds, folder), names))
    return 0 if all(fine) else 1


def _alone(name: str, seconds: int, folder: Path) -> bool:
    """Fuzz one target in a process of its own; return whether nothing broke."""
    options = ["--seconds", str(seconds), "--folder", str(folder), "--here"]
    words = [sys.executable, "-m", "tests.fuzz", name, *options]
    ran = subprocess.run(words, capture_output=True, text=True, errors="replace", check=False)
    said = f"{name}: {'BROKEN' if ran.returncode else 'nothing found'} in {seconds} s\n"
    if ran.returncode:
        told = [line for line in (ran.stdout + ran.stderr).splitlines() if not line.startswith(("INFO", "WARNING"))]
        said += "\n".join([*told[-40:], f"kept in {folder}", ""])
    sys.stdout.write(said)
    return ran.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
