"""Searching sealed records, and one record in full."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import counted, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of
from records.errors import UsageError

if TYPE_CHECKING:
    from records.domain.follow_up import Photo
    from records.services.ports import StoredRevision


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("find")(find)
    app.command("show")(show)


def find(  # one option for each thing people ask by
    context: typer.Context,
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
    product: Annotated[
        str | None,
        typer.Option(
            "--product",
            metavar="PRODUCT",
            autocompletion=completing.products,
            help="Id, part of the name, or registration number.",
        ),
    ] = None,
    active: Annotated[str | None, typer.Option("--active", metavar="ACTIVE", help="Active ingredient.")] = None,
    person: Annotated[
        str | None,
        typer.Option(
            "--person", metavar="PERSON", autocompletion=completing.people, help="Who applied: id or part of the name."
        ),
    ] = None,
    target: Annotated[
        str | None, typer.Option("--target", metavar="WEED", autocompletion=completing.weeds, help="Weed.")
    ] = None,
    lot: Annotated[str | None, typer.Option("--lot", metavar="LOT", help="On the container.")] = None,
    since: Annotated[
        str | None, typer.Option("--since", "--from", metavar="DAY", help="First day: 2026-05-01, 2026-05 or 2026.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", "--to", metavar="DAY", help="Last day.")] = None,
    held: Annotated[bool, typer.Option("--held", help="What is held instead of what is sealed.")] = False,
    deviation: Annotated[bool, typer.Option("--deviation", help="Only what was sealed as applied.")] = False,
    incomplete: Annotated[bool, typer.Option("--incomplete", help="Only records with something missing.")] = False,
    limit: Annotated[int | None, typer.Option("--limit", metavar="N", min=1, help="At most so many records.")] = None,
) -> None:
    """Find records; every condition given has to match.

    Example: swathbook find --site "Lark Lane" --since 2026-05
    """
    from records.services.finding import asked_first, read_days, short
    from records.services.finding import find as find_records
    from records.services.ports import Criteria

    if held:
        from records.cli.held_cmd import list_entries
        from records.errors import UsageError

        if any((site, customer, product, active, person, target, lot, since, until, deviation, incomplete, limit)):
            raise UsageError(
                "--held takes no other condition: what is held may not be readable enough to be searched",
                "swathbook find --held lists all of it",
            )
        list_entries(context)
        return
    first, last = read_days(since, until, ("--since", "--until"))
    criteria = Criteria(
        site=site,
        customer=customer,
        product=product,
        active=active,
        person=person,
        target=target,
        lot=lot,
        since=first,
        until=last,
        deviation=deviation or None,
        incomplete=incomplete or None,
        limit=None if limit is None else limit + 1,
    )
    found = find_records(application(context).book(), criteria)
    has_more = limit is not None and len(found) > limit
    found = found[:limit]
    if state_of(context).json:
        lines = [line | mark for r in found for line, mark in asked_first(list(short(r)), product)]
        say_json({"schema": 1, "records": len(found), "applications": lines})
        return
    if not found:
        say("nothing found")
        return
    _tell(found, product)
    more = ", and more that match" if has_more else ""
    talk(f"{counted(len(found), 'record')}{more}; swathbook show SERIAL tells all of one")


def _amount(amount: str | None) -> str:
    """Return an amount; an ounce of unknown kind is never left to look like a known one."""
    return "-" if not amount else f"{amount}?" if amount.partition(" ")[2] == "oz" else amount


def _tell(found: list[StoredRevision], product: str | None) -> None:
    """Write one line an application; where all are of one site, it is named once and who applied takes its column.

    Of a product that was asked for, its own lines come first; what else the record put out is told as going with it.
    """
    from records.services.finding import asked_first, short

    marked = [(revision, *one) for revision in found for one in asked_first(list(short(revision)), product)]
    others = {id(line) for _, line, mark in marked if mark.get("matches") is False}
    lines = [(revision, line) for revision, line, _ in marked]
    places = {(line["site"], line["address"], line["customer"]) for _, line in lines}
    is_one = len(places) == 1 and len(lines) > 1 and any(places)
    if is_one:
        site, address, customer = next(iter(places))
        say(wrapped("; ".join(part for part in (address, site, customer) if part)))
    rows = []
    for _, line in lines:
        mark = "*" if line["voided"] else "!" if line["deviation"] else "?" if line["incomplete"] else ""
        rows.append(
            [
                f"{line['serial']}{mark}",
                line["date"] or line["period"] or "-",
                (line["applicator"] if is_one else line["site"] or line["customer"] or line["address"]) or "-",
                f"{'with ' if id(line) in others else ''}{line['product'] or line['product_id'] or '-'}",
                _amount(line["amount"]),
                ", ".join(line["targets"]) or "-",
            ]
        )
    head = ["record", "date", "applied by" if is_one else "site", "product", "amount", "against"]
    table(head, rows, right=[4], keep=[0, 1, 4])
    if any(row[4].endswith("oz?") for row in rows):
        talk("oz? = ounces, fluid or by weight: the source does not tell")
    marks = {row[0][-1] for row in rows} & {"*", "!", "?"}
    if "*" in marks:
        talk("* = voided: it does not stand, and counts nowhere")
    if "!" in marks:
        talk("! = sealed as applied, a deviation")
    if "?" in marks:
        talk("? = something is missing in the record")


def show(
    context: typer.Context,
    serial: Annotated[
        str, typer.Argument(metavar="SERIAL", autocompletion=completing.serials, help="Such as 2026-000041.")
    ],
    entry: Annotated[bool, typer.Option("--entry", help="Only the entry as typed, as JSON, to be amended.")] = False,
) -> None:
    """Show one record in full, with all its revisions.

    The text that stands comes first, then what each change changed.

    Example: swathbook show 2026-000041
    """
    from records.cli.record_view import tell_history, tell_record
    from records.services.finding import revisions
    from records.services.sealing import has_its_seal

    if entry:
        from records.services.amending import entry_of

        say(json.dumps(entry_of(application(context).book(), serial), ensure_ascii=False, indent=1))
        return
    found = revisions(application(context).book(), serial)
    if state_of(context).json:
        from records.services.inspecting.changes import revisions_told

        say_json(
            {
                "schema": 1,
                "serial": found[0].serial,
                "revisions": [
                    {
                        "revision": r.revision,
                        "action": r.action,
                        "sealed_at": r.sealed_at,
                        "previous": r.previous,
                        "seal": r.seal,
                        "body": r.body,
                        "changes": [{"what": c.what, "was": c.before, "is": c.after} for c in told.changes],
                    }
                    for r, told in zip(found, revisions_told(found), strict=True)
                ],
            }
        )
        return
    for revision in found:
        if not has_its_seal(revision):
            talk(
                wrapped(
                    f"{revision.serial} revision {revision.revision} WAS CHANGED AFTER IT WAS SEALED: swathbook verify"
                )
            )
    if found[-1].body["origin"]["kind"] == "rating":
        _tell_rating(context, found[-1])
    else:
        tell_record(found[-1])
        _tell_ratings(context, found[-1])
    if len(found) > 1:
        tell_history(found)


def _tell_ratings(context: typer.Context, record: StoredRevision) -> None:
    """Say how the treatments of a visit were rated since."""
    from records.services.daily.last import rated_words
    from records.services.follow_up import ratings
    from records.services.follow_up.telling import set_aside

    if record.body["kind"] != "visit" or record.action == "voided":
        return
    with application(context).book().read() as work:
        found = ratings(work, record=record.serial, strays=True)
    if found:
        say("rated since")
        for one in found:
            why = set_aside(one)
            say(wrapped(f"{rated_words(one)}{f'; {why}' if why else ''}", "      ", "  "))
        say()


def _tell_rating(context: typer.Context, record: StoredRevision) -> None:
    """Write one rating, with the treatment it is about and where its photos lie."""
    from records.cli.rating_view import tell_rating
    from records.cli.record_view import tell_seal
    from records.services.follow_up.ratings import rated_of

    run = application(context)
    with run.book().read() as work:
        one, gone = rated_of(work, record.serial)

    def where(photo: Photo) -> str:
        try:
            folder = run.photos()
        except UsageError as error:
            return f"sha256 {photo.sha256[:12]}...; {error}"
        return str(folder.path_of(photo) or f"not in {folder.folder}; a backup may hold it")

    tell_rating(one, where, gone)
    tell_seal(record)
