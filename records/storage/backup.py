"""Copies of a book through SQLite's own backup, which waits for writers; never a copy of the file's bytes."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from records.errors import StorageError
from records.storage.engine import connect, create_file
from records.storage.faults import translated


def free_name(wanted: Path) -> Path:
    """Return a name beside the wanted one that no file has yet."""
    candidate, count = wanted, 1
    while os.path.lexists(candidate):
        count += 1
        candidate = wanted.with_name(f"{wanted.name}-{count}")
    return candidate


def copy_book(source: Path, target: Path) -> None:
    """Copy a book into a new file that only its owner can read.

    Args:
        source: an existing book.
        target: where nothing is yet.

    Raises:
        BookMissingError: there is no book to copy.
        StorageError: the target exists or cannot be written.
    """
    if os.path.lexists(target):
        raise StorageError(f"{target} already exists", "Name a new file for the copy")
    with translated(str(target)):
        reading = connect(source)
        try:
            create_file(target)
            writing = sqlite3.connect(target)
            try:
                reading.backup(writing)
            finally:
                writing.close()
        except BaseException:
            Path(target).unlink(missing_ok=True)
            raise
        finally:
            reading.close()
