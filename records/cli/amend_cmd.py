"""Amending and voiding sealed records."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import say, say_json, talk, wrapped
from records.cli.state import application, read_input, state_of
from records.errors import UsageError

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.services.amending import Why

Reason = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why; it is sealed with the change.")]
By = Annotated[
    str | None,
    typer.Option(
        "--by", metavar="PERSON", autocompletion=completing.people, help="Who changes it, by id; else SWATHBOOK_PERSON."
    ),
]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("amend")(amend)
    app.command("void")(void)


def amend(
    context: typer.Context,
    serial: Annotated[
        str, typer.Argument(metavar="SERIAL", autocompletion=completing.serials, help="Such as 2026-000041.")
    ],
    reason: Reason,
    file: Annotated[
        str | None, typer.Argument(metavar="[FILE|-]", help="The whole visit as JSON, corrected; else as it was.")
    ] = None,
    changes: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="PLACE=VALUE", help="Correct one part of it; may be repeated."),
    ] = None,
    confirmed: Annotated[
        list[str] | None, typer.Option("--confirm", metavar="CODE", help="Questions that stand as typed.")
    ] = None,
    by: By = None,
    newest: Annotated[
        bool, typer.Option("--newest", help="Take products, places and people as they are loaded now.")
    ] = False,
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
) -> int:
    """Correct a sealed record by a new sealed revision.

    The first text stays readable. The correction is checked like a new entry, by the rules of the day of the work and
    the labels that the record froze; what is refused is held, and the record stays as it is. Single parts are corrected
    with --set: lot alone where there is one, else the whole place, treatments[0].products[0].lot. For more, swathbook
    show SERIAL --entry > FILE writes the entry to begin from.

    Example: swathbook amend 2026-140 --set lot=B2310 --reason 'read wrong'
    """
    from records.cli.close_cmd import as_applied_of, tell
    from records.services import amending
    from records.services.closing.documents import read_document
    from records.services.holding import with_changes

    run, as_json = application(context), state_of(context).json
    signed = as_applied_of(as_applied, signed_by)
    codes = [code.strip() for several in confirmed or [] for code in several.split(",") if code.strip()]
    if file is None and not changes and not codes and not newest:
        raise UsageError("nothing is said that differs", "Name a FILE, or correct parts with --set PLACE=VALUE")
    document = amending.entry_of(run.book(), serial) if file is None else read_document(read_input(file), file)
    if changes or codes:
        document = with_changes(document, changes or [], codes)
        document = read_document(json.dumps(document), "the corrected entry")  # the same bounds as for a file
    why = _why(reason, by)
    outcome = amending.amend(run.book(), serial, document, why, run.clock, signed, newest=newest)
    notes = amending.stray_notes(run.book(), serial) if outcome.status == "sealed" else []
    code = tell(outcome, as_json=as_json, is_signed=signed is not None, notes=notes)
    for note in notes if not as_json else []:
        talk(wrapped(f"note: {note}", "  ", ""))
    if outcome.serial and not as_json and not outcome.is_repeat:
        if held := amending.amendments_held(run.book(), outcome.serial):
            told = f"still held, for the text before: {', '.join(held)}; look, amend anew, and drop it: swathbook held"
            say(wrapped(told, "    ", ""))
        _tell_given(run, outcome.serial, f"give the corrected one (swathbook deliver {outcome.serial} --how paper)")
    return code


def _why(reason: str, by: str | None) -> Why:
    """Return who and why; where nobody is named, the account of the computer stands for it."""
    import getpass

    from records.services.amending import Why

    try:
        account = getpass.getuser()
    except (OSError, KeyError):  # an account without a name
        account = ""
    return Why(reason, by or os.environ.get("SWATHBOOK_PERSON") or None, account)


def void(
    context: typer.Context,
    serial: Annotated[
        str, typer.Argument(metavar="SERIAL", autocompletion=completing.serials, help="Such as 2026-000041.")
    ],
    reason: Reason,
    by: By = None,
) -> None:
    """Seal that a record does not stand any more.

    It never happened, or was entered twice. It counts nowhere from then on, and its text stays readable.

    Example: swathbook void 2026-000041 --reason 'entered twice, see 2026-000040' --by mo
    """
    from records.services import amending

    run = application(context)
    why = _why(reason, by)
    done = amending.void(run.book(), serial, why, run.clock)
    revision = done.revision
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
                "dropped": list(done.dropped),
                "repeat": done.is_repeat,
            }
        )
        return
    again = " (it was before; nothing was written)" if done.is_repeat else ""
    say(
        wrapped(
            f"VOIDED {revision.serial}, revision {revision.revision}: it counts nowhere any more{again}", "    ", ""
        )
    )
    say("Its text stays readable, and is shown in an inspection.")
    if done.dropped:
        say(wrapped(f"What was held to amend it was dropped: {', '.join(done.dropped)}", "    ", ""))
    _tell_given(run, revision.serial, "it does not stand any more; tell the customer")
    say("If the visit took place after all, close it with a ref of its own.")


def _tell_given(run: Application, serial: str, what: str) -> None:
    """Say which notice of a changed record the customer has."""
    from records.services.amending import notices_given

    if given := notices_given(run.book(), serial):
        last = given[-1]
        say(wrapped(f"The customer has the notice of revision {last.revision} ({last.told}): {what}", "    ", ""))
