"""Amending and voiding sealed records."""

from __future__ import annotations

import os
from typing import Annotated

import typer

from records.cli.output import say, say_json
from records.cli.state import application, read_input, state_of

Reason = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why; it is sealed with the change.")]
By = Annotated[str | None, typer.Option("--by", metavar="PERSON", help="Who changes it, by id; else SWATHBOOK_PERSON.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("amend")(amend)
    app.command("void")(void)


def amend(
    context: typer.Context,
    serial: Annotated[str, typer.Argument(metavar="SERIAL", help="Such as 2026-000041.")],
    file: Annotated[str, typer.Argument(metavar="FILE|-", help="The whole visit as JSON, corrected.")],
    reason: Reason,
    by: By = None,
    newest: Annotated[
        bool, typer.Option("--newest", help="Take products, places and people as they are loaded now.")
    ] = False,
    as_applied: Annotated[
        str | None,
        typer.Option("--as-applied", metavar="REASON", help="Seal what really happened though it broke a limit."),
    ] = None,
    signed_by: Annotated[
        str | None, typer.Option("--signed-by", metavar="PERSON", help="The certified person who signs for it.")
    ] = None,
) -> int:
    """Correct a sealed record by a new sealed revision.

    The first text stays readable. The correction is checked like a new entry, by the rules of the day of the work and
    the labels that the record froze; what is refused is held, and the record stays as it is. To begin:
    swathbook show SERIAL --entry > FILE

    Example: swathbook amend 2026-000041 corrected.json --reason 'lot read wrong' --by mo
    """
    from records.cli.close_cmd import as_applied_of, tell
    from records.services import amending
    from records.services.closing.documents import read_document

    run, as_json = application(context), state_of(context).json
    signed = as_applied_of(as_applied, signed_by)
    document = read_document(read_input(file), file)
    why = amending.Why(reason, by or os.environ.get("SWATHBOOK_PERSON") or None)
    outcome = amending.amend(run.book(), serial, document, why, run.clock, signed, newest=newest)
    return tell(outcome, as_json=as_json, is_signed=signed is not None)


def void(
    context: typer.Context,
    serial: Annotated[str, typer.Argument(metavar="SERIAL", help="Such as 2026-000041.")],
    reason: Reason,
    by: By = None,
) -> None:
    """Seal that a record does not stand any more.

    It never happened, or was entered twice. It counts nowhere from then on, and its text stays readable.

    Example: swathbook void 2026-000041 --reason 'entered twice, see 2026-000040' --by mo
    """
    from records.services import amending

    run = application(context)
    why = amending.Why(reason, by or os.environ.get("SWATHBOOK_PERSON") or None)
    revision = amending.void(run.book(), serial, why, run.clock)
    if state_of(context).json:
        change = revision.body["change"]
        say_json(
            {
                "schema": 1,
                "status": "voided",
                "serial": revision.serial,
                "revision": revision.revision,
                "reason": change["reason"],
                "by": change["by"]["id"],
            }
        )
        return
    say(f"VOIDED {revision.serial}, revision {revision.revision}: it counts nowhere any more")
    say("Its text stays readable, and is shown in an inspection.")
