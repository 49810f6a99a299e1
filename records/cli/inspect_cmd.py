"""The day the inspector comes: a packet of records, the log of what was handed over, and the emergency sheet."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import counted, say, say_json, talk
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.domain.packet_model import PacketSink
    from records.services.inspecting.producing import Produced
    from records.services.inspecting.request import Found, Question
    from records.services.inspecting.writing import Target

KINDS = ("pdf", "csv", "xlsx", "json")


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("inspect")(inspect)
    app.command("emergency")(emergency)


def inspect(  # one option for each thing an inspector asks by
    context: typer.Context,
    since: Annotated[
        str | None, typer.Option("--from", metavar="DAY", help="First day: 2026-05-01, 2026-05 or 2026.")
    ] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day, month or year.")] = None,
    site: Annotated[
        str | None,
        typer.Option("--site", metavar="SITE", autocompletion=completing.sites, help="Site id or part of the address."),
    ] = None,
    customer: Annotated[
        str | None,
        typer.Option(
            "--customer", metavar="CUSTOMER", autocompletion=completing.customers, help="Id or part of the name."
        ),
    ] = None,
    person: Annotated[
        str | None,
        typer.Option(
            "--person", metavar="PERSON", autocompletion=completing.people, help="Who applied: id or part of the name."
        ),
    ] = None,
    product: Annotated[
        str | None,
        typer.Option(
            "--product", metavar="PRODUCT", autocompletion=completing.products, help="Id, part of the name, or number."
        ),
    ] = None,
    registration: Annotated[
        str | None, typer.Option("--registration", metavar="NUMBER", help="Registration number.")
    ] = None,
    active: Annotated[
        str | None, typer.Option("--active", metavar="ACTIVE", help="Part of an active ingredient's name.")
    ] = None,
    serial: Annotated[
        list[str] | None,
        typer.Option(
            "--serial", metavar="SERIAL", autocompletion=completing.serials, help="This record; may be given again."
        ),
    ] = None,
    random: Annotated[
        int | None, typer.Option("--random", metavar="N", min=1, help="Pick N of them by a seed.")
    ] = None,
    seed: Annotated[
        str | None, typer.Option("--seed", metavar="SEED", help="Repeat a pick; else a seed is drawn and printed.")
    ] = None,
    asked_by: Annotated[str, typer.Option("--asked-by", metavar="WHO", help='Who asks: "name, agency".')] = "",
    credentials: Annotated[
        str, typer.Option("--credentials", metavar="TEXT", help="What was shown, such as a badge number.")
    ] = "",
    out: Annotated[
        list[str] | None,
        typer.Option("--out", metavar="FILE|-", help="A .pdf, .csv, .xlsx or .json file; may be given again."),
    ] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
    replace: Annotated[bool, typer.Option("--replace", help="Write over files of those names.")] = False,
    log: Annotated[bool, typer.Option("--log", help="Show what was handed over before, and to whom.")] = False,
) -> None:
    """Make the packet for a records inspection.

    Without --out a short answer comes on the screen. What is written, or printed with --json, is handed over: who
    asked, for what, and which files are sealed in the book.

    A random pull picks the N records whose SHA-256 of the seed, a line break and the serial is smallest, so that
    anybody can repeat it.

    Example: swathbook inspect --site "Lark Lane" --from 2026-05 --to 2026-06 --out packet.pdf
    """
    if log:
        _tell_log(context)
        return
    from records.cli.draft import drafts
    from records.services.finding import read_day
    from records.services.inspecting.producing import produce
    from records.services.inspecting.request import Request
    from records.storage.placing import refuse_existing

    request = Request(
        since=read_day(since),
        until=read_day(until, last=True),
        site=site,
        customer=customer,
        person=person,
        product=product,
        registration=registration,
        active=active,
        serials=tuple(serial or ()),
        random=random,
        seed=seed,
        asked_by=asked_by,
        credentials=credentials,
    )
    as_json, names = state_of(context).json, list(out or ())
    for name in names:
        if name != "-":  # a packet handed over before is evidence too
            refuse_existing(Path(name), replace=replace)
    run = application(context)
    on_screen = not names and not as_json
    kinds = ("json", *KINDS[:-1]) if as_json and not names else KINDS
    on_asked, on_found = _progress(on_screen=on_screen, as_json=as_json)
    with drafts(names or (["-"] if as_json else []), kinds) as opened:
        made = produce(
            run.book(),
            request,
            opened,
            lambda kind, target: _sink(kind, target, paper),
            run.clock,
            on_asked=on_asked,
            on_found=on_found,
        )
    if on_screen:
        from records.cli.inspect_view import tell_packet

        tell_packet(made.model, made.found)
    else:
        _tell_produced(made, names, as_json=as_json)


def _progress(*, on_screen: bool, as_json: bool) -> tuple[Callable[[Question], None], Callable[[Found], None]]:
    """Return what tells how the request was understood, and what tells how many records there are."""
    from records.cli.inspect_view import found_words, tell_asked

    if as_json:
        return lambda _question: None, lambda _found: None
    if not on_screen:
        return lambda question: talk(question.words), lambda found: talk(found_words(found))

    def asked(question: Question) -> None:
        tell_asked(question)
        sys.stdout.flush()

    def counted_now(found: Found) -> None:
        say(found_words(found))
        sys.stdout.flush()

    return asked, counted_now


def _sink(kind: str, target: Target, paper: str) -> PacketSink:
    if kind == "pdf":
        from records.reports.render import PdfRenderer

        return PdfRenderer().packet(target, paper)
    if kind == "xlsx":
        from records.services.inspecting.sheets import PacketXlsx

        return PacketXlsx(target)
    from records.services.inspecting.writing import PacketCsv, PacketJson

    return PacketCsv(target) if kind == "csv" else PacketJson(target)


def _tell_produced(made: Produced, names: list[str], *, as_json: bool) -> None:
    if as_json and names and "-" not in names:
        say_json(
            {
                "schema": 1,
                "event": made.event,
                "question": made.found.words,
                "seed": made.found.seed or None,
                "counts": {fact.label.lower().replace(" ", "_"): fact.value for fact in made.model.counts},
                "last_seal": made.model.last_seal,
                "files": list(made.files),
            }
        )
        return
    for name in names:
        if name != "-":
            talk(f"wrote {name}")
    if made.found.seed:
        talk(f"seed {made.found.seed}")
    gaps = len(made.model.table("not_complete").rows)
    if gaps:
        talk(f"not complete: {counted(gaps, 'line')}, told in the packet")
    talk(f"sealed as {made.event}: {counted(len(made.found.matches), 'record')} handed over")


def _tell_log(context: typer.Context) -> None:
    from records.services.inspecting.producing import productions

    events = productions(application(context).book())
    if state_of(context).json:
        say_json(
            {
                "schema": 1,
                "productions": [
                    {"event": one.serial, "sealed_at": one.sealed_at, "seal": one.seal, **one.body["data"]}
                    for one in events
                ],
            }
        )
        return
    from records.cli.inspect_view import tell_log

    tell_log(events)


def emergency(
    context: typer.Context,
    site: Annotated[
        str, typer.Argument(metavar="SITE", autocompletion=completing.sites, help="Site id or part of the address.")
    ],
    asked_by: Annotated[str, typer.Option("--asked-by", metavar="WHO", help="Doctor, hospital, fire service.")] = "",
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
    out: Annotated[str | None, typer.Option("--out", metavar="FILE|-", help="Write the page as PDF.")] = None,
) -> None:
    """Tell a doctor or a fire service what was applied at a site.

    Example: swathbook emergency lark-lane-7 --out emergency.pdf
    """
    from records.cli.draft import drafts
    from records.services.inspecting.emergency import emergency as sheet_of
    from records.services.inspecting.emergency import emergency_document, log_emergency
    from records.services.inspecting.producing import Hashed

    run = application(context)
    made = sheet_of(run.book(), site, run.clock)
    files = []
    with drafts([out] if out else [], ("pdf",)) as opened:
        for draft in opened:
            from records.reports.render import PdfRenderer

            target = Hashed(draft)
            target.write(PdfRenderer().emergency(made.model, paper))
            files.append(target.document())
        if state_of(context).json and out != "-":
            say_json(emergency_document(made.model) | ({"files": files} if files else {}))
        elif not out:
            from records.cli.inspect_view import tell_emergency

            tell_emergency(made.model)
        sys.stdout.flush()  # what was asked in an emergency is told before anything else is done
        event = log_emergency(run.book(), made, run.clock, asked_by, opened, files)
    if out and out != "-":
        talk(f"wrote {out}")
    talk(f"sealed as {event.serial}")
