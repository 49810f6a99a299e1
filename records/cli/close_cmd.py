"""Closing visits: one from a file or by questions, or many lines at once."""

from __future__ import annotations

import gc
import json
import sys
from collections import Counter
from collections.abc import Iterator
from typing import IO, TYPE_CHECKING, Annotated, Any

import typer

from records.cli import completing
from records.cli.output import command, counted, findings, json_text, say, say_json, table, talk, wrapped
from records.cli.state import application, read_input, state_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.bootstrap import Application
    from records.services.closing.service import AsApplied, Outcome

INTERRUPTED = 130


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("close")(close)


def as_applied_of(reason: str | None, signed_by: str | None) -> AsApplied | None:
    """Return reason and signer, given together or not at all.

    Raises:
        UsageError: one without the other.
    """
    from records.errors import UsageError
    from records.services.closing.service import AsApplied

    if reason is None and signed_by is None:
        return None
    if reason is None or signed_by is None:
        raise UsageError(
            "--as-applied and --signed-by go together", "Give the reason and the certified person who signs"
        )
    return AsApplied(reason, signed_by)


def close(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Argument(metavar="[FILE|-]", help="The visit as JSON; without it, by questions.")
    ] = None,
    lines: Annotated[
        str | None, typer.Option("--lines", metavar="FILE|-", help="Many visits, one JSON document a line.")
    ] = None,
    as_applied: Annotated[
        str | None,
        typer.Option("--as-applied", metavar="REASON", help="Seal what really happened though it broke a limit."),
    ] = None,
    signed_by: Annotated[
        str | None,
        typer.Option(
            "--signed-by",
            metavar="PERSON",
            autocompletion=completing.people,
            help="The certified person who signs for it.",
        ),
    ] = None,
    station_table: Annotated[
        str | None,
        typer.Option("--station-table", metavar="FILE", help="Hours of stations as CSV, for weather not measured."),
    ] = None,
    station: Annotated[
        str | None, typer.Option("--station", metavar="ID", help="Which of its stations; see swathbook weather.")
    ] = None,
    distance: Annotated[
        str | None, typer.Option("--distance", metavar="LENGTH", help="Of that station from the site: 4 mi.")
    ] = None,
) -> int:
    """Close a visit: it is sealed when it is right, else held.

    What is held tells everything that is wrong at once, and nothing typed is lost. Without a file, questions are
    asked; SWATHBOOK_PERSON names who works on this machine.

    Example: swathbook close visit.json
    """
    from records.errors import UsageError
    from records.services.closing.documents import read_document
    from records.services.closing.service import close_visit

    run, as_json = application(context), state_of(context).json
    signed = as_applied_of(as_applied, signed_by)
    if (station_table is None) != (station is None) or (station_table is not None and file is None):
        raise UsageError("--station-table and --station go together, with FILE", "swathbook weather shows a table")
    if lines is not None:
        if file is not None or signed is not None:
            raise UsageError("--lines takes neither another file nor --as-applied", "Close a deviation on its own")
        return _close_lines(run, lines, as_json=as_json)
    if file is None:
        from records.cli.guided import ask_visit
        from records.cli.prompts import hang_up_leaves
        from records.cli.rescue import kept_in_a_file

        if not sys.stdin.isatty() and not as_json:
            talk("no file was named, so questions follow; answers are read line by line (FILE or - takes JSON instead)")
        with hang_up_leaves():
            document, is_left = ask_visit(run)
            if not document:
                talk("\nleft; nothing was closed")
                return INTERRUPTED
            with kept_in_a_file(document, "close"):
                outcome = _guided(run, document, signed, is_left=is_left)
        code = tell(outcome, as_json=as_json, is_signed=signed is not None)
        return INTERRUPTED if is_left else code
    document = read_document(read_input(file), file)
    if station_table is not None and station is not None:
        document = _with_station(run, document, station_table, station, distance)
    return tell(close_visit(run.book(), document, run.clock, signed), as_json=as_json, is_signed=signed is not None)


def _with_station(
    run: Application, document: dict[str, Any], name: str, station: str, distance: str | None
) -> dict[str, Any]:
    """Return an entry with a station's weather where nothing was measured; what cannot be used is said, not sealed."""
    from records.errors import InputError, NotFoundError
    from records.services.weather_sources import distance_of, fill, read_table

    far = distance_of(distance, None, None)
    rows = read_table(read_input(name), name, station)
    try:
        filled, told = fill(run.book(), document, rows, name, far)
    except (InputError, NotFoundError) as error:
        talk(wrapped(f"no weather was taken from the table: {error}", "  ", ""))
        return document
    if told is None:
        talk("no weather was taken from the table: the entry has its own, or no start")
    else:
        talk(f"weather of station {told.station}, {told.age} the start, stands in for what was not measured")
    return filled


def _guided(run: Application, document: dict[str, Any], signed: AsApplied | None, *, is_left: bool) -> Outcome:
    """Close what was typed; questions are asked at once, and what is confirmed closes the entry again."""
    from records.services.closing.documents import read_document
    from records.services.closing.service import close_visit

    document = read_document(json.dumps(document), "what was typed")  # the same bounds as for a file
    if is_left:
        return close_visit(run.book(), document, run.clock, is_left=True)
    return answered(run, document, close_visit(run.book(), document, run.clock, signed), signed)


def answered(run: Application, document: dict[str, Any], outcome: Outcome, signed: AsApplied | None) -> Outcome:
    """Ask what an entry is only held for by questions, and close it again with what was confirmed."""
    from records.cli.guided import confirm
    from records.services.closing.service import close_held

    severities = {finding["severity"] for finding in outcome.findings}
    if outcome.status == "held" and outcome.held and "ask" in severities and "stop" not in severities:
        codes = confirm(list(outcome.findings))
        if codes:
            again = {**document, "confirmed": sorted({*document.get("confirmed", []), *codes})}
            outcome = close_held(run.book(), outcome.held, again, run.clock, signed)
    return outcome


def tell(outcome: Outcome, *, as_json: bool, is_signed: bool = False, notes: Sequence[str] = ()) -> int:
    """Say what became of an entry; return the exit code.

    Args:
        outcome: of the closing.
        as_json: whether to answer in JSON.
        is_signed: whether somebody signed for a deviation.
        notes: what else is worth saying; they go into the JSON alone.
    """
    if is_signed and outcome.status == "sealed" and not outcome.deviation:
        talk("nothing broke a limit, so it is an ordinary record: the reason and the signature are not part of it")
    if as_json:
        revision = {"revision": outcome.revision} if outcome.revision > 1 else {}
        say_json({**outcome.document(), **revision, **({"notes": list(notes)} if notes else {})})
    elif outcome.status == "sealed":
        _tell_sealed(outcome)
    else:
        _tell_held(outcome)
    return 0 if outcome.status == "sealed" else 1


def _tell_held(outcome: Outcome) -> None:
    """Say what is wrong, then the ways out that this entry has."""
    from records.domain.findings import WAIVABLE

    say(f"HELD as {outcome.held}: nothing typed is lost.")
    findings(outcome.findings, outcome.confirmed)
    say()
    stops = {f["code"] for f in outcome.findings if f["severity"] == "stop"}
    asks = sorted({f["code"] for f in outcome.findings if f["severity"] == "ask"} - set(outcome.confirmed))
    again = f"swathbook held correct {outcome.held}"
    if stops:
        say("  Correct the places the findings name (--set once for each), or by questions:")
        say(command(f"{again} --set 'PLACE=VALUE'"))
        say(command(f"{again} --ask"))
    elif asks:
        say("  Where it is right as typed:")
        say(command(f"{again} --confirm {','.join(asks)}"))
        say("  Where it is not, or to answer one by one:")
        say(command(f"{again} --ask"))
    if stops and stops <= {code.value for code in WAIVABLE}:
        say("  If it really happened so, and a certified person signs for it:")
        say(command(f"{again} --as-applied 'REASON' --signed-by PERSON"))


def _tell_sealed(outcome: Outcome) -> None:
    again = " (already in the book; nothing was written)" if outcome.is_repeat else ""
    revision = f", revision {outcome.revision}" if outcome.revision > 1 else ""
    say(f"SEALED {outcome.serial}{revision}{' AS APPLIED, a deviation' if outcome.deviation else ''}{again}")
    table(
        ["product", "reg. no.", "rate", "amount", "area"],
        [
            [
                str(a["product"]),
                a["registration"] or "-",
                a["rate"] or "-",
                a["amount"] or "-",
                a["area"] or "described",
            ]
            for a in outcome.applications
        ],
    )
    findings(outcome.findings, outcome.confirmed, is_signed=outcome.deviation)
    say(f"\nNotice for the door: swathbook notice {outcome.serial}")


def _bounded(stream: IO[bytes]) -> Iterator[bytes]:
    """Yield lines; of one that is longer than any visit no more than tells so is kept.

    Raises:
        InputError: a line does not end.
    """
    from records.cli.state import MOST_READ
    from records.errors import InputError
    from records.services.closing.documents import MAX_BYTES

    most = MAX_BYTES + 2
    while line := stream.readline(most):
        yield line
        length = len(line)
        while len(line) == most and not line.endswith(b"\n"):
            line = stream.readline(most)
            length += len(line)
            if length > MOST_READ:
                raise InputError(f"a line is longer than {MOST_READ:,} bytes", "Write one visit a line")


def _lines(name: str) -> Iterator[bytes]:
    if name == "-":
        yield from _bounded(sys.stdin.buffer)
        return
    from pathlib import Path

    from records.errors import InputError

    try:
        with Path(name).open("rb") as stream:
            yield from _bounded(stream)
    except (OSError, ValueError) as error:
        raise InputError(f"{name!r:.200} cannot be read: {error}", "Check the name of the file") from error


def _close_lines(run: Application, name: str, *, as_json: bool) -> int:
    from records.domain.report_model import one_line
    from records.services.closing.service import close_lines

    # Visits leave no cycles behind, and what is loaded by now stays: neither need be looked through for garbage. What
    # one transaction keeps (some 40,000 objects) is let go with it, far below the threshold.
    gc.freeze()
    gc.set_threshold(200_000, 20, 50)
    counts: Counter[str] = Counter()
    repeats = 0
    bar = _Bar(name)
    if as_json:
        sys.stdout.write('{"schema":1,"results":[')
    for number, outcome in enumerate(close_lines(run.book(), bar.watch(_lines(name)), run.clock, bar.told), 1):
        counts[outcome.status] += 1
        repeats += outcome.is_repeat and outcome.status == "sealed"
        if as_json:
            sys.stdout.write(("," if number > 1 else "") + "\n" + json_text(outcome.document()))
        elif outcome.status != "sealed":
            bar.clear()
            name_of = f"line {outcome.line}" + (f" ({one_line(outcome.ref)})" if outcome.ref else "")
            if outcome.status == "held":
                codes = ", ".join(dict.fromkeys(f["code"] for f in outcome.findings if f["severity"] != "note"))
                say(wrapped(f"{name_of}: held as {outcome.held}: {codes}", "    "))
            else:
                say(wrapped(f"refused: {outcome.error}", "    "))
    bar.clear()
    if as_json:
        sys.stdout.write("\n],")
        sys.stdout.write(f'"sealed":{counts["sealed"]},"held":{counts["held"]},"refused":{counts["refused"]}}}\n')
    else:
        parts = [f"{counts[status]} {status}" for status in ("sealed", "held", "refused")]
        if repeats:
            parts[0] += f" ({repeats} of them already in the book)"
        say(f"{counted(counts.total(), 'visit')}: {', '.join(parts)}")
    return 0 if counts.total() == counts["sealed"] else 1


class _Bar:
    """A progress bar on stderr, where that is a terminal; it counts bytes read, so the end is known."""

    def __init__(self, name: str) -> None:
        from pathlib import Path

        self.is_shown = sys.stderr.isatty()
        self.size = Path(name).stat().st_size if name != "-" and Path(name).is_file() else 0
        self.read = 0

    def watch(self, lines: Iterator[bytes]) -> Iterator[bytes]:
        for line in lines:
            self.read += len(line)
            yield line

    def told(self, done: int) -> None:
        if self.is_shown:
            part = self.read / self.size if self.size else 0
            filled = int(part * 30)
            sys.stderr.write(f"\r[{'#' * filled}{'.' * (30 - filled)}] {done:,} visits ")
            sys.stderr.flush()

    def clear(self) -> None:
        if self.is_shown:
            sys.stderr.write("\r" + " " * 60 + "\r")
            sys.stderr.flush()
