"""Notices on their way: that one was given, and what is owed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.days import firm_today
from records.cli.output import counted, say, say_json, table, talk, wrapped
from records.cli.report_cmd import tell_lacking
from records.cli.state import application, state_of, write_output

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TypedDict, Unpack

    from records.bootstrap import Application
    from records.services.copies import RecordCopies
    from records.services.delivering import Delivered
    from records.services.tried import Try

    class GivenParts(TypedDict):
        """What `deliver` hands on as it was typed."""

        to: str | None
        role: str | None
        asked: str | None
        at: str | None
        by: str | None
        language: str | None
        paper: str


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("deliver")(deliver)
    app.command("deliveries")(deliveries)


def deliver(
    context: typer.Context,
    key: Annotated[
        str,
        typer.Argument(
            metavar="SERIAL|SITE", autocompletion=completing.serials_or_sites, help="The record; with --for, the site."
        ),
    ],
    how: Annotated[str | None, typer.Option("--how", metavar="paper|email", help="How it was given.")] = None,
    to: Annotated[str | None, typer.Option("--to", metavar="WHO", help="Whom to; else the customer.")] = None,
    role: Annotated[
        str | None,
        typer.Option("--as", metavar="ROLE", help="Who that is: customer, agent, occupant or other."),
    ] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="MOMENT", help="When; else now.")] = None,
    by: Annotated[
        str | None, typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who gave it, by id.")
    ] = None,
    before: Annotated[bool, typer.Option("--before", help="It is the copy owed before the work.")] = False,
    day: Annotated[
        str | None, typer.Option("--for", metavar="DAY", help="A copy before the work: of that day, at a site.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", metavar="DAY", help="Of all work until then.")] = None,
    asked: Annotated[
        str | None, typer.Option("--asked", metavar="DAY", help="When the customer asked for a copy.")
    ] = None,
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

    What went to somebody else does not count as given to the customer; the customer's agent does, and who lives there
    where the rule says so. Some rules want a copy before the work: log it by site and day (--for), or afterwards by
    record (--before). Others want one on request: --asked alone logs the request, with --how that it was met as well.

    Example: swathbook deliver 2026-000041 --how paper --to "left in the door" --as customer --at 09:40 --by mo
    """
    from records.errors import UsageError
    from records.services.giving import give_before, log_request

    run, is_before = application(context), before or day is not None
    _check_options(is_before=is_before, before=before, day=day, until=until, asked=asked, how=how)
    if (is_before or how is None) and (send or out is not None or language is not None):
        raise UsageError("--send, --out and --language are for the notice of a visit", "Leave them out")
    if is_before and how is not None:
        done = give_before(run.book(), key, run.clock, how=how, day=day, until=until, to=to, role=role, at=at, by=by)
    elif how is None and asked is not None:
        done = log_request(run.book(), key, run.clock, asked=asked, to=to, role=role, by=by)
    else:
        done = _given(
            run,
            key,
            send=send,
            how=how or "",
            to=to,
            role=role,
            asked=asked,
            at=at,
            by=by,
            language=language,
            paper=paper,
        )
    notice = done.notice
    tell_lacking(notice.lacking if notice else ())
    if out is not None and notice is not None:
        talk(f"wrote {write_output(out, notice.pdf)}")
    if state_of(context).json and out != "-":
        say_json(
            {
                "schema": 1,
                **done.delivery.document(),
                "earlier": [one.document() for one in done.earlier],
                "late": [one.told for one in done.owed if one.state == "late"],
                "lacking": [lack.document() for lack in (notice.lacking if notice else ())],
            }
        )
    else:
        _tell_delivered(done)
    if notice is not None and any(lack.binds for lack in notice.lacking):
        raise typer.Exit(1)


def _check_options(
    *, is_before: bool, before: bool, day: str | None, until: str | None, asked: str | None, how: str | None
) -> None:
    """Refuse options that make no sense together."""
    from records.errors import UsageError

    if before and day is not None:
        raise UsageError("--before names a record, --for a site without one yet", "Leave out one of them")
    if until is not None and day is None:
        raise UsageError("--until ends the days that --for begins", "Add --for DAY, with the site")
    if is_before and asked is not None:
        raise UsageError("--asked is about a copy on request, not about one before the work", "Leave out one of them")
    if how is None and (is_before or asked is None):
        raise UsageError("--how is missing", "Write --how paper or --how email")


def _given(run: Application, serial: str, *, send: bool, how: str, **parts: Unpack[GivenParts]) -> Delivered:
    """Record a delivery of the notice, sent now where that is asked for."""
    from records.reports.render import PdfRenderer
    from records.services.delivering import deliver as deliver_notice

    mailer = None
    if send:
        from records.mail import SmtpMailer, read_mail_settings

        mailer = SmtpMailer(read_mail_settings())
    return deliver_notice(run.book(), PdfRenderer(), serial, run.clock, how=how, mailer=mailer, **parts)


def _tell_delivered(done: Delivered) -> None:
    from records.services.occasions import shown_moment

    one = done.delivery
    if not one.is_given:
        due = next((copy.due for copy in done.owed if copy.due is not None), None)
        until = f"; it is due {shown_moment(due)}" if due is not None else ""
        talk(wrapped(f"{one.event}: a copy of {one.serial} was {one.told}{until}", "  ", ""))
        if not done.owed:
            talk(wrapped("no rule of the place that is known to this tool owes a copy on request", "  ", ""))
        return
    sent = f", sent as {one.message_id}" if one.message_id else ""
    spoken = f" ({one.language})" if one.sha256 else ""
    talk(wrapped(f"{one.event}: {_what(done)} was given {one.told}{spoken}{sent}", "  ", ""))
    if one.role == "other":
        talk(wrapped("this does not count as given to the customer", "  ", ""))
    elif one.role == "occupant" and not any(one.serves(copy.copy) for copy in done.owed):
        talk(wrapped("no rule of the place takes who lives there for the customer: it does not count", "  ", ""))
    for earlier in done.earlier if one.is_notice else ():
        talk(wrapped(f"this is a copy again: it was given {earlier.told} ({earlier.event})", "  ", ""))
    for copy in done.owed:
        if copy.state == "late" and not done.earlier and copy.due is not None and one.serves(copy.copy):
            talk(wrapped(f"late: it was due {shown_moment(copy.due)} ({copy.told})", "  ", ""))


def _what(done: Delivered) -> str:
    one = done.delivery
    if not one.is_before:
        return f"the notice of {one.serial}"
    if one.serial:
        return f"the copy before the work of {one.serial}"
    days = f"{one.first}" if one.first == one.last else f"{one.first} to {one.last}"
    return f"the copy before the work at {one.site} of {days}"


def deliveries(
    context: typer.Context,
    since: Annotated[
        str | None, typer.Option("--from", metavar="DAY", help="First day of the work; else this year's first.")
    ] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day of the work.")] = None,
    site: Annotated[
        str | None,
        typer.Option(
            "--site", metavar="SITE", autocompletion=completing.sites, help="This site only, by id or part of address."
        ),
    ] = None,
    missing: Annotated[
        bool, typer.Option("--missing", help="Only what is owed and not given; exit code 1 when any is overdue.")
    ] = False,
) -> None:
    """List which notices were given, and which are owed.

    Open until it was given is what a rule wants left at the visit, within days, before the work, or after a request.
    Outdated is a notice whose record was corrected since: the customer should get the corrected one.

    Whom somebody tried to tell before the work, and what became of it, stands below.

    Example: swathbook deliveries --from 2026-05 --missing
    """
    from records.services.delivering import deliveries as all_deliveries
    from records.services.directory import Directory
    from records.services.finding import in_order, read_day
    from records.services.occasions import site_of
    from records.services.tried import tries

    run = application(context)
    first, last = read_day(since or str(firm_today(run).year)), read_day(until, last=True)
    in_order(first, last)
    place = None
    if site is not None:
        with run.book().read() as work:
            place = site_of(Directory(work.catalogue), site)[0].id
    tried = [] if missing else tries(run.book(), first, last, place)
    rows = [
        row
        for row in all_deliveries(run.book(), run.clock, first, last, place)
        if row.state in {"owed", "overdue", "outdated"} or (not missing and (row.given or row.owed))
    ]
    overdue = sum(row.state == "overdue" for row in rows)
    if state_of(context).json:
        before = [one.document() for one in tried]
        records = [row.document() for row in rows]
        say_json({"schema": 1, "overdue": overdue, "records": records, "told_before": before})
    elif rows:
        _tell_rows(rows)
    else:
        say("no notice is owed" if missing else "no notice was given or is owed")
    if not state_of(context).json:
        _tell_tries(tried)
        if rows:
            talk(f"{counted(len(rows), 'record')}, {overdue} overdue")
    if missing and overdue:
        raise typer.Exit(1)


def _tell_rows(rows: list[RecordCopies]) -> None:
    told: dict[str, None] = {}  # whose copies are owed, each once
    cells = []
    for row in rows:
        body = row.record.body
        cells.append(
            [
                row.record.serial,
                body["date"] or body["period"],
                (body["site"] or {}).get("id") or "-",
                (body["customer"] or {}).get("name") or "-",
                _first_given(row),
                _state(row),
            ]
        )
        told.update(dict.fromkeys(copy.told for copy in row.owed))
    table(["record", "day", "site", "customer", "given", "state, due"], cells, keep=[0, 1])
    for line in (line for row in rows for line in _apart(row)):
        say(wrapped(line, "    ", "  "))
    for line in told:
        say(wrapped(line, "    ", "  "))


def _tell_tries(tried: list[Try]) -> None:
    if tried:
        say()
        say("Told before the work")
    for one in tried:
        say(wrapped(f"{one.at:%Y-%m-%d %H:%M}  of {one.day} at {one.site}: {one.words} ({one.event})", "      ", "  "))


def _first_given(row: RecordCopies) -> str:
    """Return how and when the customer got the notice first."""
    notices = [one for one in row.given if one.is_notice]
    if not notices:
        return "-"
    old = f", revision {notices[-1].revision} of {row.record.revision}" if row.is_old else ""
    more = f" +{len(notices) - 1}" if len(notices) > 1 else ""
    return f"{notices[0].how} {notices[0].at:%Y-%m-%d %H:%M}{old}{more}"


def _state(row: RecordCopies) -> str:
    """Return how a record stands, with the day and moment of what is still open."""
    state = row.state
    if state not in {"owed", "overdue"}:
        return state
    due = min((copy.due for copy in row.owed if copy.state == state and copy.due is not None), default=None)
    return f"{state} {due:%Y-%m-%d}" if due is not None else state


def _apart(row: RecordCopies) -> Iterator[str]:
    """Yield whom a copy went to where it was not the customer by name, and what was given or asked for besides."""
    serial, name = row.record.serial, ((row.record.body["customer"] or {}).get("name") or "").casefold()
    for copy in row.owed:
        if copy.is_open and copy.copy.moment in {"before", "request"}:
            what = "a copy before the work" if copy.copy.moment == "before" else "the copy that was asked for"
            yield f"{serial}: {what} is not logged as given ({copy.pack})"
    for one in row.given:
        if one.is_before:
            yield f"{serial}: copy before the work {one.told} ({one.event})"
        elif not one.is_given or one.role != "customer" or (one.how != "email" and one.to.casefold() != name):
            yield f"{serial}: {one.told} ({one.event})"
