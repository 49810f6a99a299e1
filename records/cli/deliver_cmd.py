"""Notices on their way: that one was given, and what is owed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.output import counted, say, say_json, table, talk, wrapped
from records.cli.report_cmd import tell_lacking
from records.cli.state import application, state_of, write_output

if TYPE_CHECKING:
    from records.services.delivering import Delivered, RecordCopies


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("deliver")(deliver)
    app.command("deliveries")(deliveries)


def deliver(
    context: typer.Context,
    serial: Annotated[str, typer.Argument(metavar="SERIAL", help="The record.")],
    how: Annotated[str, typer.Option("--how", metavar="paper|email", help="How it was given.")],
    to: Annotated[str | None, typer.Option("--to", metavar="WHO", help="Whom to; else the customer.")] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="MOMENT", help="When; else now.")] = None,
    by: Annotated[str | None, typer.Option("--by", metavar="PERSON", help="Who gave it, by id.")] = None,
    send: Annotated[bool, typer.Option("--send", help="Send the e-mail now (SWATHBOOK_SMTP=host:port).")] = False,
    language: Annotated[
        str | None, typer.Option("--language", metavar="LANGUAGE", help="en or es; else the customer's own.")
    ] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
    out: Annotated[str | None, typer.Option("--out", metavar="FILE|-", help="Write the PDF as well.")] = None,
) -> None:
    """Record that the customer got the notice of a visit.

    By e-mail only with an address and the day of the customer's written consent in the book. --send hands it to the
    mail server named by SWATHBOOK_SMTP, SWATHBOOK_SMTP_USER, SWATHBOOK_SMTP_PASSWORD, SWATHBOOK_SMTP_FROM and
    SWATHBOOK_SMTP_TLS (starttls, tls, or none on this machine); nothing is recorded unless the server took it. What was
    given is recorded even where it lacked something that a rule wants; that is named, and the exit code is 1.

    Example: swathbook deliver 2026-000041 --how paper --to "left in the door" --at 09:40 --by mo
    """
    from records.reports.render import PdfRenderer
    from records.services.delivering import deliver as deliver_notice

    run = application(context)
    mailer = None
    if send:
        from records.mail import SmtpMailer, read_mail_settings

        mailer = SmtpMailer(read_mail_settings())
    done = deliver_notice(
        run.book(),
        PdfRenderer(),
        serial,
        run.clock,
        how=how,
        to=to,
        at=at,
        by=by,
        language=language,
        paper=paper,
        mailer=mailer,
    )
    tell_lacking(done.notice.lacking)
    if out is not None:
        talk(f"wrote {write_output(out, done.notice.pdf)}")
    if state_of(context).json and out != "-":
        say_json(
            {
                "schema": 1,
                **done.delivery.document(),
                "earlier": [one.document() for one in done.earlier],
                "late": [one.told for one in done.owed if one.state == "late"],
                "lacking": [lack.document() for lack in done.notice.lacking],
            }
        )
    else:
        _tell_delivered(done)
    if any(lack.binds for lack in done.notice.lacking):
        raise typer.Exit(1)


def _tell_delivered(done: Delivered) -> None:
    from records.services.occasions import shown_moment

    one = done.delivery
    sent = f", sent as {one.message_id}" if one.message_id else ""
    talk(wrapped(f"{one.event}: the notice of {one.serial} was given {one.told} ({one.language}){sent}", "  ", ""))
    for before in done.earlier:
        talk(wrapped(f"this is a copy again: it was given {before.told} ({before.event})", "  ", ""))
    for copy in done.owed:
        if copy.state == "late" and not done.earlier:
            talk(wrapped(f"late: it was due {shown_moment(copy.due)} ({copy.told})", "  ", ""))


def deliveries(
    context: typer.Context,
    since: Annotated[
        str | None, typer.Option("--from", metavar="DAY", help="First day of the work; else this year's first.")
    ] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day of the work.")] = None,
    missing: Annotated[
        bool, typer.Option("--missing", help="Only what is owed and not given; exit code 1 when any is overdue.")
    ] = False,
) -> None:
    """List which notices were given, and which are owed.

    Example: swathbook deliveries --from 2026-05 --missing
    """
    from records.services.delivering import deliveries as all_deliveries
    from records.services.finding import read_day

    run = application(context)
    first = read_day(since) if since else read_day(str(run.clock.now().year))
    rows = [
        row
        for row in all_deliveries(run.book(), run.clock, first, read_day(until, last=True))
        if row.state in {"owed", "overdue"} or (not missing and (row.given or row.owed))
    ]
    overdue = sum(row.state == "overdue" for row in rows)
    if state_of(context).json:
        say_json({"schema": 1, "overdue": overdue, "records": [row.document() for row in rows]})
    elif rows:
        _tell_rows(rows)
        talk(f"{counted(len(rows), 'record')}, {overdue} overdue")
    else:
        say("no notice is owed" if missing else "no notice was given or is owed")
    if missing and overdue:
        raise typer.Exit(1)


def _tell_rows(rows: list[RecordCopies]) -> None:
    told: dict[str, None] = {}  # whose copies are owed, each once
    cells = []
    for row in rows:
        body = row.record.body
        due = min((copy.due for copy in row.owed), default=None)
        old = f", revision {row.given[-1].revision} of {row.record.revision}" if row.is_old else ""
        given = f"{row.given[0].how} {row.given[0].at:%Y-%m-%d %H:%M}{old}" if row.given else "-"
        more = f" +{len(row.given) - 1}" if len(row.given) > 1 else ""
        state = f"{row.state} {due:%Y-%m-%d}" if row.state in {"owed", "overdue"} and due is not None else row.state
        cells.append(
            [
                row.record.serial,
                body["date"] or body["period"],
                (body["site"] or {}).get("id") or "-",
                (body["customer"] or {}).get("name") or "-",
                given + more,
                state,
            ]
        )
        told.update(dict.fromkeys(copy.told for copy in row.owed))
    table(["record", "day", "site", "customer", "given", "state, due"], cells, keep=[0, 1])
    for line in told:
        say(wrapped(line, "    ", "  "))
