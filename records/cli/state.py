"""What every command shares: where the book is, and whether the answer is JSON."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

import typer

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
        InputError: it cannot be read.
    """
    from records.errors import InputError

    try:
        if name == "-":
            return sys.stdin.buffer.read()
        return Path(name).read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{name!r:.200} cannot be read: {reason}", "Check the name of the file") from error


def write_output(name: str, data: bytes) -> str:
    """Write a file whole or not at all, or stdout for `-`; return where it went.

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
        raise OutputError(f"{name!r:.200} cannot be written: {reason}", "Choose another place with --out") from error
    return str(target)
