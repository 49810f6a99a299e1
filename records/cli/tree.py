"""Only as much of the command line as one line needs: to build every command takes longer than most of them run."""

from __future__ import annotations

from copy import copy
from functools import cache
from typing import TYPE_CHECKING, Any

from typer.main import get_command

from records.cli.days import take_words

if TYPE_CHECKING:
    from collections.abc import Callable

    import typer


def runner(app: typer.Typer, words: list[str]) -> Callable[..., Any]:
    """Return what runs a line: its command alone, or all of them for help, completion and words that are no command.

    Args:
        app: with every command.
        words: of the line, without the program's name.
    """
    first = words[0] if words else None
    names = {info.name for info in app.registered_commands} | {info.name for info in app.registered_groups}
    return _built(app, first if first in names else None)


@cache
def _built(app: typer.Typer, name: str | None) -> Callable[..., Any]:
    """Build the one command of a name, or everything."""
    part = app
    if name is not None:
        part = copy(app)
        part.registered_commands = [info for info in app.registered_commands if info.name == name]
        part.registered_groups = [info for info in app.registered_groups if info.name == name]
    made = get_command(part)
    take_words([made])
    return made
