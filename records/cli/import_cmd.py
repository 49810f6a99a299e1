"""Tables that nobody here wrote, read by a layout file."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from records.cli.output import say, say_json, talk, wrapped
from records.cli.state import application, state_of

SHOWN = 20  # refused rows named on the screen; --json names them all


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("import")(import_)


def import_(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Argument(metavar="FILE", help="A csv, tab-separated or xlsx table, or a book's export.")
    ] = None,
    layout: Annotated[
        str | None, typer.Option("--layout", metavar="NAME|FILE.toml", help="What its columns mean.")
    ] = None,
    layouts: Annotated[bool, typer.Option("--layouts", help="List the layouts that come with the tool.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Count everything, write nothing.")] = False,
) -> int:
    """Import a table of uses, or a whole book.

    Every line of a table that somebody else wrote is sealed with its origin, or accounted for in the tally.

    What export wrote is known by its first line. It is proved while it is read, and goes into an empty book, which is
    made where there is none; one bad line, and nothing is kept.

    Example: swathbook import county.csv --layout county-single-job
    """
    from records.errors import UsageError
    from records.services.importing.layout import find_layout, shipped

    as_json = state_of(context).json
    if layouts:
        found = shipped()
        if as_json:
            say_json({"schema": 1, "layouts": [{"name": name, "about": found[name].about} for name in found]})
        else:
            for name, known in found.items():
                say(wrapped(known.about, " " * 31, f"{name:<31}"))
        return 0
    if file is not None and (layout is None or file != "-"):
        from records.cli.import_book import import_whole

        done = import_whole(context, file, layout, dry_run=dry_run)
        if done is not None:
            return done
    if layout is None and file not in {None, "-"}:
        _check_there(str(file))
    if file is None or layout is None:
        raise UsageError(
            "import needs a book's whole export (no --chain), or a table and its layout",
            "swathbook import FILE --layout NAME; --layouts lists names",
        )
    return _import(context, file, find_layout(layout), as_json=as_json, dry_run=dry_run)


def _check_there(file: str) -> None:
    """Refuse a file that is not there before anything else is said of it.

    Raises:
        InputError: there is none.
    """
    from pathlib import Path

    from records.errors import InputError

    if not Path(file).exists():
        raise InputError(f"{file!r:.200} cannot be read: no such file", "Check its name")


def _import(context: typer.Context, file: str, layout: object, *, as_json: bool, dry_run: bool) -> int:
    from pathlib import Path
    from typing import cast

    from records.cli.state import read_input
    from records.services.importing.layout import Layout
    from records.services.importing.service import import_table

    run = application(context)
    source = read_input("-") if file == "-" else Path(file)
    is_shown = sys.stderr.isatty()

    def progress(done: int, total: int) -> None:
        if is_shown:
            sys.stderr.write(f"\r{done:,} of {total:,} lines ")
            sys.stderr.flush()

    tally = import_table(run.book(), source, file, cast("Layout", layout), run.clock, progress, dry_run=dry_run)
    if is_shown:
        sys.stderr.write("\r" + " " * 40 + "\r")
    if as_json:
        say_json(tally.document())
    else:
        for line in tally.lines():
            say(wrapped(line, " " * 8, "") if len(line) > 79 else line)
        for row, reason in tally.refused[:SHOWN]:
            say(wrapped(f"row {row}: {reason}", "      ", "  "))
        if len(tally.refused) > SHOWN:
            talk(f"  and {len(tally.refused) - SHOWN} more; --json names them all")
    return 1 if tally.refused else 0
