"""Puts a finished file in its place: written beside, for its owner alone, on the disk before it has its name."""

from __future__ import annotations

import os
import secrets
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from records.errors import OutputError, OverwriteError, RecordsError

if TYPE_CHECKING:
    from collections.abc import Iterator


def refuse_existing(target: Path, *, replace: bool) -> None:
    """Refuse a target that stands already, unless it may be replaced; and what is no file in any case.

    Raises:
        OverwriteError: something of that name is there.
        OutputError: there is no such folder.
    """
    if not target.parent.is_dir():
        raise OutputError(f"{target} cannot be written: its folder is not there", "Name a folder that is")
    if not os.path.lexists(target):
        return
    if target.is_dir() or (target.exists() and not target.is_file()):
        raise OverwriteError(f"{target} is there already, and is no file", "Name another file")
    if not replace:
        raise OverwriteError(f"{target} is there already", "Name a new file, or replace this one with --replace")


def draft_name(target: Path) -> Path:
    """Return a name beside a file that nothing has yet, for what is being written."""
    return target.with_name(f".{target.name[:60]}.{secrets.token_hex(4)}.part")


@contextmanager
def draft_for(target: Path) -> Iterator[Path]:
    """Give a name to write to, and take away whatever stands there in the end; side files of a database too.

    Raises:
        OutputError: the file cannot be written.
    """
    if not target.parent.is_dir():
        raise OutputError(f"{target} cannot be written: its folder is not there", "Name a folder that is")
    if not os.access(target.parent, os.W_OK):
        raise OutputError(f"{target} cannot be written: nothing may be added to its folder", "Name another folder")
    draft = draft_name(target)
    try:
        yield draft
    except RecordsError as error:  # what is being written has a name that says nothing to anyone
        error.what = error.what.replace(str(draft), str(target))
        raise
    except OSError as error:
        _fail(target, error)
    finally:
        for suffix in ("", "-journal", "-wal", "-shm"):
            with suppress(OSError):
                draft.with_name(draft.name + suffix).unlink()


def new_file(path: Path) -> int:
    """Make a file that only its owner can read, whatever the mask of this process; return its descriptor.

    Raises:
        OSError: it cannot be made, or is there already.
    """
    handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | getattr(os, "O_BINARY", 0), 0o600)
    Path(path).chmod(0o600)
    return handle


def place(draft: Path, target: Path, *, replace: bool) -> None:
    """Give a finished file its name, at once, and make both last through a power cut.

    Raises:
        OverwriteError: something took the name meanwhile.
        OutputError: it cannot be done.
    """
    try:
        flush_file(draft)
        if replace:
            draft.replace(target)
        else:
            _name(draft, target)
        flush_folder(target.parent)
    except FileExistsError as error:
        raise OverwriteError(f"{target} is there already", "Name a new file") from error
    except OSError as error:
        _fail(target, error)


def _name(draft: Path, target: Path) -> None:
    """Name a file without taking the place of another one."""
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError:  # a file system without links, as on a memory stick
        os.close(new_file(target))
        draft.replace(target)


def flush_file(path: Path) -> None:
    """Wait until a file's content is on the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def flush_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can do that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _fail(target: Path, error: OSError) -> NoReturn:
    raise OutputError(
        f"{target} cannot be written: {error.strerror or error}", "Nothing was left behind; choose another place"
    ) from error
