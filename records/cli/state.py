"""What every command shares: where the book is, and whether the answer is JSON."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

import typer

MOST_READ = 200_000_000  # bytes; some inputs never end

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.clock import Clock


@dataclass(frozen=True, slots=True)
class State:
    """Global options, wherever on the line they stood."""

    book: str | None = None
    json: bool = False
    clock: Clock | None = None  # another clock than the computer's own (demonstrations and tests)


def state_of(context: typer.Context) -> State:
    """Return the global options of a run."""
    return cast("State", context.obj)


def application(context: typer.Context) -> Application:
    """Return the assembled application for the chosen book."""
    from records.bootstrap import assemble

    state = state_of(context)
    return assemble(state.book, state.clock)


def read_input(name: str) -> bytes:
    """Return the bytes of a file, or of stdin for `-`.

    Raises:
        InputError: it cannot be read, or does not end within the bounds of memory.
    """
    from records.errors import InputError

    try:
        if name == "-":
            data = sys.stdin.buffer.read(MOST_READ + 1)
        else:
            with Path(name).open("rb") as stream:
                data = stream.read(MOST_READ + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{name!r:.200} cannot be read: {reason}", "Check the name of the file") from error
    if len(data) > MOST_READ:
        what = "stdin" if name == "-" else f"{name!r:.200}"
        raise InputError(f"{what} is larger than {MOST_READ:,} bytes", "Split it")
    return data


def write_output(name: str, data: bytes, option: str = "--out") -> str:
    """Write a file whole or not at all, or stdout for `-`; return where it went.

    Args:
        name: of the file.
        data: all of it.
        option: that names the file, for the message where it cannot be written.

    Raises:
        OutputError: it cannot be written.
    """
    import contextlib
    import os
    import tempfile

    from records.errors import OutputError

    if name == "-":
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return "stdout"
    target = Path(name)
    try:
        if target.exists() and not target.is_file():
            with target.open("wb") as stream:  # a device or a pipe is written to, never replaced
                stream.write(data)
            return str(target)
        handle, draft = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            mask = os.umask(0)
            os.umask(mask)
            Path(draft).chmod(0o666 & ~mask)
            Path(draft).replace(target)
        except BaseException:
            with contextlib.suppress(OSError):
                Path(draft).unlink()
            raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(
            f"{name!r:.200} cannot be written: {reason}", f"Choose another place with {option}"
        ) from error
    return str(target)
