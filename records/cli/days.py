"""The firm's own day, and the words for days: today, tomorrow and yesterday wherever an option takes a day."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from records.cli.state import application

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    import typer

    from records.bootstrap import Application

METAVARS = frozenset({"DAY", "DAY|TIME"})
_AWAY = {"yesterday": -1, "today": 0, "tomorrow": 1}


def firm_today(run: Application) -> date:
    """Return the day it is where the firm is; in UTC while the book has no firm yet."""
    from records.services.directory import Directory
    from records.services.periodic.service import today

    with run.book().read() as work:
        found = Directory(work.catalogue).business()
    return today(run.clock, found[0] if found else None)


def take_words(commands: Iterable[Any]) -> None:
    """Let every option of some commands that takes a day take the words too.

    Args:
        commands: as Typer builds them, of classes that it keeps to itself; their subcommands too.
    """
    for command in commands:
        for part in command.params:
            if part.metavar in METAVARS and part.callback is None:
                part.callback = _day
        take_words(getattr(command, "commands", {}).values())


def _day(context: typer.Context, _: object, value: str | None) -> str | None:
    """Return a word for a day as year-month-day; anything else as it was typed."""
    away = None if value is None else _AWAY.get(value.strip().casefold())
    return value if away is None else (firm_today(application(context)) + timedelta(days=away)).isoformat()
