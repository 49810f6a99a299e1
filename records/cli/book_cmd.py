"""The book itself: make it, prove it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.output import counted, say, say_json, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.storage.chain import Report


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


def verify(
    context: typer.Context,
    against: Annotated[
        list[str] | None,
        typer.Option("--against", metavar="SEAL", help="A seal printed before: is it still in the chain?"),
    ] = None,
) -> int:
    """Prove the book by its chain of seals.

    Walks the whole chain, and compares every stored copy of a sealed fact.

    Example: swathbook verify --against SEAL
    """
    from records.services.proving import read_seal
    from records.storage.integrity import verify as verify_book

    sought = [read_seal(text) for text in against or ()]
    report = verify_book(application(context).book(), sought)
    lost = [seal for seal in sought if seal not in report.found]
    if state_of(context).json:
        say_json(
            {
                "schema": 1,
                "ok": not report.problems and not lost,
                "revisions": report.revisions,
                "removed": report.removed,
                "last_seal": report.last_seal,
                "problems": report.problems,
                "against": [
                    {"seal": seal, "found": seal in report.found, "record": report.found.get(seal, (None,))[0]}
                    for seal in sought
                ],
            }
        )
    else:
        _say_report(report, sought)
    return 1 if report.problems or lost else 0


def _say_report(report: Report, sought: list[str]) -> None:
    for problem in report.problems:
        say(wrapped(problem, "    "))
    word = "the chain is whole" if not report.problems else counted(len(report.problems), "problem")
    say(f"{counted(report.revisions, 'sealed revision')}, {word}")
    if report.removed:
        say(f"{counted(report.removed, 'record')} removed with their years; their seals are kept")
    for seal in sought:
        if seal not in report.found:
            say(wrapped(f"seal {seal} is not in this chain: the book was written anew, or it is another one", "    "))
            continue
        name, place = report.found[seal]
        since = report.revisions + report.removed_revisions - place
        say(wrapped(f"seal {seal} is in the chain: {name}, with {counted(since, 'revision')} sealed after it", "    "))
        if report.problems:
            say("    the chain has problems, so this alone proves nothing")
    say(f"last seal {report.last_seal or 'none'}")
