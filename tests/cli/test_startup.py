"""What the command loads: `--help` must not wait for the database, the units or the PDF writer."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from records.cli.app import app
from records.cli.tree import runner

HEAVY = {"sqlalchemy", "alembic", "pint", "reportlab", "openpyxl", "numpy", "scipy"}
_PROBE = """
import json, sys
sys.argv = ["swathbook", *json.loads(sys.argv[1])]
from records.cli.app import main
code = main()
json.dump([code, sorted({name.partition(".")[0] for name in sys.modules})], sys.stderr)
"""


def _loaded(*words: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", _PROBE, json.dumps(words)], capture_output=True, text=True, check=True, timeout=60
    )
    code, names = json.loads(done.stderr)
    assert code == 0
    return set(names)


@pytest.mark.parametrize("words", [("--help",), ("--version",), ("close", "--help"), ("schema", "visit")])
def test_what_needs_no_book_loads_nothing_heavy(words: tuple[str, ...]) -> None:
    names = _loaded(*words)
    assert "typer" in names
    assert names & HEAVY == set()


def _built(*words: str) -> set[str]:
    return set(getattr(runner(app, list(words)), "commands", {}))


@pytest.mark.parametrize("words", [("find",), ("find", "--help"), ("mix", "make"), ("mix", "nonsense")])
def test_only_the_command_of_the_line_is_built(words: tuple[str, ...]) -> None:
    assert _built(*words) == {words[0]}


@pytest.mark.parametrize("words", [(), ("--help",), ("--version",), ("fin",), ("--", "find"), ("Find",)])
def test_every_command_is_built_where_the_line_names_none(words: tuple[str, ...]) -> None:
    assert {"init", "find", "close", "mix", "stock", "schema"} < _built(*words)
