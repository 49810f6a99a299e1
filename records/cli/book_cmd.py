"""The book itself: make it, prove it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.output import counted, say, say_json, talk, wrapped
from records.cli.state import application, state_of
from records.errors import UsageError

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.storage.chain import Report


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("init")(init)
    app.command("verify")(verify)
    app.command("grant")(grant)


def init(context: typer.Context) -> None:
    """Make a new book, or upgrade an older one.

    A copy of the older one is kept beside it.

    Example: swathbook --book season.db init
    """
    from records.storage.migrate import upgrade

    run = application(context)
    result = upgrade(run.settings.book)
    with run.book().read():  # which looks at its protections
        pass
    if state_of(context).json:
        say_json({"schema": 1, "book": result.where, "result": str(result)})
    else:
        say(wrapped(f"book {result.where}: {result}", "    ", first=""))
        talk("Next: swathbook load FIRM.toml")
        talk("(what goes into it: swathbook schema catalogue)")


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
    run = application(context)
    report = verify_book(run.book(), sought)
    _check_photos(run, report)
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
                "notes": report.notes,
                "against": [
                    {"seal": seal, "found": seal in report.found, "record": report.found.get(seal, (None,))[0]}
                    for seal in sought
                ],
            }
        )
    else:
        _say_report(report, sought)
    return 1 if report.problems or lost else 0


def _check_photos(run: Application, report: Report) -> None:
    """Compare the photos of ratings with their sealed hashes, where there are any."""
    from records.services.follow_up.ratings import photos_of

    if report.problems:
        return  # a broken book is told of first
    with run.book().read() as work:
        photos = photos_of(work)
    if not photos:
        return
    try:
        folder = run.photos()
    except UsageError as error:
        report.notes.append(f"{counted(len(photos), 'photo')} not looked at: {error}")
        return
    problems, notes = folder.check(photos)
    report.problems.extend(problems)
    report.notes.extend(notes)


def _say_report(report: Report, sought: list[str]) -> None:
    for problem in report.problems:
        say(wrapped(problem, "    "))
    for note in report.notes:
        say(wrapped(f"note {note}", "    "))
    word = "the chain is whole" if not report.problems else counted(len(report.problems), "problem")
    say(f"{counted(report.revisions, 'sealed revision')}, {word}")
    if report.problems:
        say(
            wrapped(
                "keep this book as it is, go on with a backup (swathbook restore FILE), and compare the two", "    ", ""
            )
        )
    if report.removed:
        say(f"{counted(report.removed, 'record')} removed with their years; their seals are kept")
    for seal in sought:
        if seal not in report.found:
            say(
                wrapped(
                    f"seal {seal} is not in this chain: the book is an older copy, or lost its last records, or was"
                    " written anew, or is another one",
                    "    ",
                )
            )
            continue
        name, place = report.found[seal]
        since = report.revisions + report.removed_revisions - place
        say(wrapped(f"seal {seal} is in the chain: {name}, with {counted(since, 'revision')} sealed after it", "    "))
        if report.problems:
            say("    the chain has problems, so this alone proves nothing")
    say(f"last seal {report.last_seal or 'none'}")


def grant(
    context: typer.Context,
    role: Annotated[str, typer.Argument(metavar="ROLE", help="A role of the server, made there before.")],
    read_only: Annotated[bool, typer.Option("--read-only", help="It may look, and add nothing.")] = False,
) -> None:
    """Let a role of a PostgreSQL server work with the book.

    It may read and add; no role can change or take away what is in the book. Only the owner of the book (who made it
    with init) may upgrade it, or remove a year whose time of keeping is over.

    Example: swathbook --book postgresql://owner@office/season grant truck
    """
    from records.storage.engine import is_server
    from records.storage.server_migrate import grant as grant_role

    run = application(context)
    if not is_server(run.settings.book):
        raise UsageError(
            "only a book on a server has roles; this one is a file", "Who may use it is a matter of its permissions"
        )
    where = grant_role(run.settings.book, role, read_only=read_only)
    if state_of(context).json:
        say_json({"schema": 1, "book": where, "role": role, "may": "read" if read_only else "read and add"})
    else:
        say(wrapped(f"{role} may {'read' if read_only else 'read, and add to,'} the book {where}", "    ", first=""))
