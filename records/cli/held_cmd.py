"""Held entries: list, show, correct, drop."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import findings, say, say_json, table, talk, wrapped
from records.cli.state import application, read_input, state_of, write_output

if TYPE_CHECKING:
    from records.services.ports import Json

HELP = """Refused visits, kept until they are corrected or dropped.

Alone, it lists them.

Example: swathbook held correct H-000001 --set 'weather.wind_speed=6 mph'
"""

group = typer.Typer(
    help=HELP,
    invoke_without_command=True,
    rich_markup_mode=None,
)


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="held")


@group.callback()
def held(context: typer.Context) -> None:
    """List what is held."""
    if context.invoked_subcommand is not None:
        return
    list_entries(context)


@group.command("list")
def list_entries(context: typer.Context) -> None:
    """List what is held, oldest first.

    Example: swathbook held list
    """
    from records.domain.report_model import one_line
    from records.services.holding import list_held

    entries = list_held(application(context).book())
    if state_of(context).json:
        say_json(
            {
                "schema": 1,
                "held": [
                    {
                        "held": e.number,
                        "at": e.at.isoformat(),
                        "ref": e.ref,
                        "site": e.document.get("site"),
                        "started": e.document.get("started"),
                        "person": e.person,
                        "findings": e.findings,
                    }
                    for e in entries
                ],
            }
        )
        return
    if not entries:
        say("nothing is held")
        return
    rows = [
        [
            e.number,
            one_line(e.document.get("site") or "-"),
            str(e.document.get("started") or "-")[:16],
            e.person or "-",
            _amends(e.document) + ", ".join(dict.fromkeys(f["code"] for f in e.findings if f["severity"] != "note")),
        ]
        for e in entries
    ]
    table(["held", "site", "started", "person", "why"], rows, keep=[0, 2])
    talk("swathbook held show NUMBER tells more; held correct NUMBER closes it again")


def _amends(document: Json) -> str:
    """Return which record a held correction is of; "" for a visit of its own."""
    kept = document.get("amends")
    return f"amends {kept['serial']}: " if isinstance(kept, dict) else ""


@group.command("show")
def show(
    context: typer.Context,
    number: Annotated[
        str, typer.Argument(metavar="NUMBER", autocompletion=completing.held, help="Such as H-000001, or 1.")
    ],
    out: Annotated[
        str | None, typer.Option("--out", metavar="FILE|-", help="Write what was typed to a file, to correct it there.")
    ] = None,
) -> None:
    """Show one held entry: its findings and what was typed.

    Example: swathbook held show H-000001
    """
    from records.services.holding import show_held

    entry = show_held(application(context).book(), number)
    if out is not None:
        typed = json.dumps(entry.document, ensure_ascii=False, indent=1) + "\n"
        talk(f"wrote {write_output(out, typed.encode())}")
        return
    if state_of(context).json:
        say_json(
            {
                "schema": 1,
                "held": entry.number,
                "state": entry.state,
                "at": entry.at.isoformat(),
                "changed_at": entry.changed_at.isoformat(),
                "ref": entry.ref,
                "serial": entry.serial,
                "reason": entry.reason,
                "findings": entry.findings,
                "document": entry.document,
            }
        )
        return
    became = f" as {entry.serial}" if entry.serial else ""
    is_open = entry.state in {"held", "corrected"}
    if is_open and (told := _amends(entry.document)):
        say(f"{told}that record stands as it is until this is sealed")
    say(f"{entry.number}: {entry.state}{became} (since {entry.at:%Y-%m-%d %H:%M} UTC)")
    if entry.reason:
        say(wrapped(entry.reason, "    ", "  reason: "))
    findings(entry.findings, _confirmed(entry.document))
    say("as typed:")
    say(json.dumps(entry.document, ensure_ascii=False, indent=1))


def _confirmed(document: object) -> list[str]:
    """Return the codes that a held entry confirms, whatever else was typed."""
    codes = document.get("confirmed") if isinstance(document, dict) else None
    listed = [codes] if isinstance(codes, str) else codes
    return [code for code in listed if isinstance(code, str)] if isinstance(listed, list) else []


@group.command("correct")
def correct(
    context: typer.Context,
    number: Annotated[
        str, typer.Argument(metavar="NUMBER", autocompletion=completing.held, help="Such as H-000001, or 1.")
    ],
    file: Annotated[
        str | None, typer.Argument(metavar="[FILE|-]", help="The corrected visit; without it, as it stands.")
    ] = None,
    changes: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="PLACE=VALUE", help="Correct one part, where the finding says; may be repeated."),
    ] = None,
    confirmed: Annotated[
        list[str] | None,
        typer.Option("--confirm", metavar="CODE", help="Questions that stand as typed: same-day,too-soon."),
    ] = None,
    by_questions: Annotated[bool, typer.Option("--ask", help="Go through the questions again.")] = False,
    as_applied: Annotated[
        str | None, typer.Option("--as-applied", metavar="REASON", help="Seal what really happened.")
    ] = None,
    signed_by: Annotated[
        str | None,
        typer.Option(
            "--signed-by", metavar="PERSON", autocompletion=completing.people, help="Certified person who signs."
        ),
    ] = None,
) -> int:
    """Close a held entry again: corrected, confirmed, or as it stands.

    Example: swathbook held correct H-000001 --set 'weather.wind_speed=6 mph'
    """
    from records.cli.close_cmd import answered, as_applied_of, tell
    from records.services.closing.documents import read_document
    from records.services.closing.service import close_held
    from records.services.holding import show_held, with_changes

    run = application(context)
    signed = as_applied_of(as_applied, signed_by)
    document = None if file is None else read_document(read_input(file), file)
    if changes or confirmed or by_questions:
        before = show_held(run.book(), number).document if document is None else document
        codes = [code.strip() for several in confirmed or [] for code in several.split(",") if code.strip()]
        document = with_changes(before, changes or [], codes)
        document = read_document(json.dumps(document), "the corrected entry")  # the same bounds as for a file
    if by_questions and document is not None:
        from records.cli.guided import ask_again
        from records.cli.prompts import hang_up_leaves
        from records.cli.rescue import kept_in_a_file

        for told in show_held(run.book(), number).findings:
            if told["severity"] != "note":  # what to look for, before the questions
                talk(wrapped(f"{told['message']} [at {told['at'] or 'the entry'}]", "    ", "  - "))
        with hang_up_leaves():
            document, is_left = ask_again(run, document)
            with kept_in_a_file(document, f"held correct {number}"):
                document = read_document(json.dumps(document), "the corrected entry")
                outcome = close_held(run.book(), number, document, run.clock, signed, is_left=is_left)
                outcome = outcome if is_left else answered(run, document, outcome, signed)
    else:
        outcome = close_held(run.book(), number, document, run.clock, signed)
    return tell(outcome, as_json=state_of(context).json, is_signed=signed is not None)


@group.command("drop")
def drop(
    context: typer.Context,
    number: Annotated[
        str, typer.Argument(metavar="NUMBER", autocompletion=completing.held, help="Such as H-000001, or 1.")
    ],
    reason: Annotated[str, typer.Option("--reason", help="Why this never was a visit.")],
) -> None:
    """Drop what never was a visit; its text and the reason stay in the book.

    Example: swathbook held drop H-000001 --reason 'typed twice'
    """
    from records.services.holding import drop_held

    run = application(context)
    entry = drop_held(run.book(), number, reason, run.clock)
    if state_of(context).json:
        say_json({"schema": 1, "held": entry.number, "state": entry.state, "reason": entry.reason})
    else:
        say(f"{entry.number} dropped; its text and the reason stay in the book")
