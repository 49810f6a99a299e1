"""The book itself: make it, prove it."""

from __future__ import annotations

import typer

from records.cli.output import counted, say, say_json, talk, wrapped
from records.cli.state import application, state_of


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("init")(init)
    app.command("verify")(verify)


def init(context: typer.Context) -> None:
    """Make a new book, or upgrade an older one.

    A copy of the older one is kept beside it.

    Example: swathbook --book season.db init
    """
    from records.storage.migrate import upgrade

    run = application(context)
    result = upgrade(run.settings.book)
    if state_of(context).json:
        say_json({"schema": 1, "book": run.settings.book, "result": str(result)})
    else:
        say(wrapped(f"book {run.settings.book}: {result}", "    ", first=""))
        talk("Next: swathbook load FIRM.toml  (swathbook schema catalogue shows what goes into it)")


def verify(context: typer.Context) -> int:
    """Prove the book by its chain of seals.

    Walks the whole chain, and compares every stored copy of a sealed fact.

    Example: swathbook verify
    """
    from records.storage.integrity import verify as verify_book

    report = verify_book(application(context).book())
    if state_of(context).json:
        say_json(
            {
                "schema": 1,
                "ok": not report.problems,
                "revisions": report.revisions,
                "removed": report.removed,
                "last_seal": report.last_seal,
                "problems": report.problems,
            }
        )
    else:
        for problem in report.problems:
            say(wrapped(problem, "    "))
        word = "the chain is whole" if not report.problems else counted(len(report.problems), "problem")
        say(f"{counted(report.revisions, 'sealed revision')}, {word}")
        if report.removed:
            say(f"{counted(report.removed, 'record')} removed with their years; their seals are kept")
        say(f"last seal {report.last_seal or 'none'}")
    return 1 if report.problems else 0
