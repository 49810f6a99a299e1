"""A book of one's own for each example, and the command line over it in this process."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import pytest

from records.cli.app import main
from tests.hostile import clean
from tests.kit import Kit
from tests.screen import Ran

if TYPE_CHECKING:
    from collections.abc import Iterator


class World:
    """One book in one folder, and everything that can be asked of it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.kit = Kit.at(folder)

    def run(self, *words: object, stdin: bytes = b"", codes: tuple[int, ...] = (0, 1)) -> Ran:
        """Run a command; its screen is looked at, and its code is one of those."""
        out, err = io.StringIO(), io.StringIO()
        before = sys.stdin
        sys.stdin = io.TextIOWrapper(io.BytesIO(stdin), encoding="utf-8")
        try:
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                code = main(["--book", str(self.kit.path), *map(str, words)], self.kit.clock)
        finally:
            sys.stdin = before
        ran = Ran(code, out.getvalue(), err.getvalue())
        clean.screen(ran.out)
        clean.screen(ran.err)
        assert code in codes, (words, ran.err[:400], ran.out[:400])
        if code not in {0, 1, 130}:
            clean.one_line(ran.err)
        return ran

    def written(self, *words: object, codes: tuple[int, ...] = (0, 1, 11)) -> dict[str, bytes]:
        """Run a command that writes files into the folder, and return what it wrote, looked at."""
        before = {path.name for path in self.folder.iterdir()}
        self.run(*words, codes=codes)
        made = {path.name: path for path in self.folder.iterdir() if path.name not in before}
        found = {}
        for name, path in made.items():
            found[name] = path.read_bytes()
            clean.CHECKS[path.suffix](found[name])
            path.unlink()
        return found


@contextlib.contextmanager
def a_world() -> Iterator[World]:
    """Give a world of one's own, and nothing outside its folder changes."""
    before = Path.cwd()
    with TemporaryDirectory() as name:
        inner = Path(name) / "inner"
        inner.mkdir()
        os.chdir(inner)
        try:
            world = World(inner)
            yield world
            world.kit.shut()
            assert [path.name for path in Path(name).iterdir()] == ["inner"]
        finally:
            os.chdir(before)


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> Iterator[World]:
    """Return a world for one test."""
    for name in ("COLUMNS", "SWATHBOOK_BOOK", "SWATHBOOK_PERSON", "SWATHBOOK_DEBUG"):
        monkeypatch.delenv(name, raising=False)
    with a_world() as made:
        yield made
