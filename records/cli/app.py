"""The root of the command line, and the only place that turns an error into an exit code."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli import (
    actives_cmd,
    allowed_cmd,
    amend_cmd,
    answer_cmd,
    area_cmd,
    book_cmd,
    calibrate_cmd,
    callback_cmd,
    catalogue_cmd,
    close_cmd,
    compare_cmd,
    cost_cmd,
    day_cmd,
    deliver_cmd,
    find_cmd,
    held_cmd,
    import_cmd,
    inspect_cmd,
    keep_cmd,
    last_cmd,
    load_cmd,
    log_cmd,
    looks_cmd,
    mix_cmd,
    move_cmd,
    notify_cmd,
    nutrients_cmd,
    pack_cmd,
    papers_cmd,
    periodic_cmd,
    plan_cmd,
    rate_cmd,
    ready_cmd,
    report_cmd,
    schema_cmd,
    season_cmd,
    stock_cmd,
    trial_cmd,
    weather_cmd,
)
from records.cli.output import say_json, silence, talk
from records.cli.state import State
from records.cli.tree import runner
from records.errors import OutputError, RecordsError, UsageError

if TYPE_CHECKING:
    from records.clock import Clock

INTERRUPTED = 130
UNEXPECTED = 70
LONGEST_LINE = 2_000  # characters of an error; what it repeats may be any length

HELP = """Keep the record of every lawn you treat: what the label allows, what went on, what to show.

The product label is the law and wins over this tool. Rule data are an aid and no legal advice; confirm with the
state's pesticide agency and a licensed professional.

Begin:  swathbook init, swathbook load FIRM.toml, swathbook close

A DAY is 2026-05-14, today, tomorrow or yesterday; a span may end on 2026-05 or 2026 too.
"""

app = typer.Typer(
    name="swathbook", help=HELP, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None
)
for module in (
    book_cmd,
    move_cmd,
    load_cmd,
    catalogue_cmd,
    area_cmd,
    calibrate_cmd,
    day_cmd,
    allowed_cmd,
    close_cmd,
    amend_cmd,
    held_cmd,
    find_cmd,
    last_cmd,
    report_cmd,
    papers_cmd,
    deliver_cmd,
    notify_cmd,
    ready_cmd,
    inspect_cmd,
    keep_cmd,
    periodic_cmd,
    pack_cmd,
    import_cmd,
    log_cmd,
    actives_cmd,
    nutrients_cmd,
    plan_cmd,
    mix_cmd,
    stock_cmd,
    cost_cmd,
    weather_cmd,
    rate_cmd,
    looks_cmd,
    compare_cmd,
    trial_cmd,
    callback_cmd,
    answer_cmd,
    season_cmd,
    schema_cmd,
):
    module.register(app)


def _version(value: bool) -> None:
    if value:
        from records import __version__

        typer.echo(f"swathbook {__version__}")
        raise typer.Exit


@app.callback()
def root(
    _book: Annotated[
        str | None,
        typer.Option("--book", metavar="PATH|URL", help="The book; else SWATHBOOK_BOOK, else swathbook.db here."),
    ] = None,
    _json: Annotated[
        bool, typer.Option("--json", help="Answer with one JSON document; before or after the command.")
    ] = False,
    _version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Take the global options; `main` has read them already, wherever they stood."""


def _globals(argv: list[str]) -> tuple[State, list[str]]:
    """Take `--book` and `--json` out of the line, before or after the command."""
    book, as_json = None, False
    rest: list[str] = []
    words = iter(argv)
    for word in words:
        if word == "--":
            rest.extend((word, *words))
        elif word == "--json":
            as_json = True
        elif word == "--book":
            book = next(words, "")
        elif word.startswith("--book="):
            book = word.partition("=")[2]
        else:
            rest.append(word)
    return State(book, as_json), rest


def main(argv: list[str] | None = None, clock: Clock | None = None) -> int:
    """Run one command line and return its exit code; no error leaves as a traceback.

    Args:
        argv: words after the program's name; None: those of this process.
        clock: another clock than the computer's own (demonstrations and tests); no option of the command line sets it.
    """
    state, words = _globals(sys.argv[1:] if argv is None else argv)
    state = replace(state, clock=clock)
    result: Any = None
    has_room = True
    try:
        _check_text(words)
        result = runner(app, words)(words, obj=state, standalone_mode=False, prog_name="swathbook")
        sys.stdout.flush()
    except RecordsError as error:
        return _failed(state, error)
    except OSError as error:
        return _unwritten(state, error)
    except SystemExit as stop:
        return _stopped(state, stop)
    except KeyboardInterrupt:
        result = INTERRUPTED
    except MemoryError:
        has_room = False  # told below, when what was in hand is let go
    except Exception as error:  # noqa: BLE001 - the last guard: whatever happens, one line and a code
        return _other(state, error)
    if not has_room:
        return _no_room(state)
    return result if isinstance(result, int) else 0


def _stopped(state: State, stop: SystemExit) -> int:
    """Return the code of an early end; Typer's own Click turns a closed pipe into one before it comes here."""
    if isinstance(stop.__context__, OSError):
        return _unwritten(state, stop.__context__)
    return stop.code if isinstance(stop.code, int) else int(bool(stop.code))


def _unwritten(state: State, error: OSError) -> int:
    """Tell that the answer itself could not be written; files are guarded where they are opened."""
    silence(sys.stdout)
    if isinstance(error, BrokenPipeError):
        return 0  # the reader of our output (head, less) has seen enough; that is no fault
    told = f"the answer cannot be written: {error.strerror or type(error).__name__}"
    return _failed(replace(state, json=False), OutputError(told, "Send it somewhere else"))


def _check_text(words: list[str]) -> None:
    """Refuse bytes that are no text: nothing that cannot be written goes into a book or a message."""
    for word in words:
        if not word.isascii() and any("\ud800" <= char <= "\udfff" for char in word):
            raise UsageError("the command line holds bytes that are no UTF-8 text", "Type it again, or rename the file")


def _answer(state: State, code: str, message: str, hint: str = "") -> None:
    """Answer with an error where JSON was asked for; a reader that is gone changes nothing of the exit code."""
    try:
        if state.json:
            say_json({"schema": 1, "error": {"code": code, "message": message, "hint": hint}})
        if sys.stdout is not None:
            sys.stdout.flush()
    except (OSError, ValueError):
        silence(sys.stdout)


def _tell(text: str) -> None:
    """Say an error in one line, whatever names and texts it repeats."""
    line = " ".join(text.split())
    talk(line if len(line) <= LONGEST_LINE else f"{line[:LONGEST_LINE]} ...")


def _failed(state: State, error: RecordsError) -> int:
    _answer(state, error.code, error.what, error.hint)
    _tell(f"swathbook: {error}")
    return error.exit_code


def _no_room(state: State) -> int:
    told = "there is not enough memory for that"
    _answer(state, "unexpected", told)
    _tell(f"swathbook: {told}. Nothing half done was kept")
    return UNEXPECTED


def _other(state: State, error: Exception) -> int:
    # Typer carries its own copy of Click and exports no base of its errors; they are told by their shape.
    if type(error).__name__ == "Abort":
        with suppress(OSError):
            talk("")
        return INTERRUPTED
    show = getattr(error, "format_message", None)
    code = getattr(error, "exit_code", None)
    if callable(show) and isinstance(code, int):
        words = str(show())
        _answer(state, "usage", words, "Try --help")
        if words:
            where = getattr(getattr(error, "ctx", None), "command_path", None) or "swathbook"
            _tell(f"swathbook: {words.rstrip('.')}. Try: {where} --help")
        return code
    if os.environ.get("SWATHBOOK_DEBUG"):
        raise error
    _answer(state, "unexpected", f"{type(error).__name__}: {error}")
    _tell(
        f"swathbook: unexpected trouble ({type(error).__name__}: {str(error)[:200]}). Nothing half done was kept; "
        "set SWATHBOOK_DEBUG=1 and run again to see where"
    )
    return UNEXPECTED


def entrypoint() -> None:
    """Run the installed command."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")
    sys.exit(main())
