"""Telling people: before the work (advance notice), and on the lawn (signs)."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import command, counted, pairs, say, say_json, talk, wrapped
from records.cli.state import application, state_of, write_output

if TYPE_CHECKING:
    from datetime import datetime

    from records.rules.advance_checks import Told
    from records.services.advance import Plan
    from records.services.signs import SignLogged, SignRule, SignSheet

Site = Annotated[
    str, typer.Argument(metavar="SITE", autocompletion=completing.sites, help="The site by id, or part of its address.")
]
By = Annotated[
    str | None, typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who did it, by id.")
]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("notify")(notify)
    app.command("contact")(contact)
    app.command("postpone")(postpone)
    app.command("sign")(sign)


def notify(
    context: typer.Context,
    site: Site,
    on: Annotated[str, typer.Option("--on", metavar="DAY", help="Day of the work, like 2026-05-14.")],
    at: Annotated[str | None, typer.Option("--at", metavar="HH:MM", help="When it begins; else from midnight.")] = None,
    product: Annotated[
        list[str] | None,
        typer.Option(
            "--product", metavar="ID", autocompletion=completing.products, help="What will be used; may be given again."
        ),
    ] = None,
) -> None:
    """Show whom to tell before a site is treated, and by when.

    Exit code 1 when somebody was not told and it is too late.

    Example: swathbook notify lark-lane-7 --on 2026-10-29 --at 09:10
    """
    from records.services.advance import plan

    run = application(context)
    found = plan(run.book(), run.clock, site, on, at=at, products=product or [])
    if state_of(context).json:
        say_json(_plan_document(found))
    else:
        _tell_plan(found)
    if found.missed:
        raise typer.Exit(1)


def contact(
    context: typer.Context,
    site: Site,
    who: Annotated[str, typer.Argument(metavar="WHO", help="Id on the site's list, or part of the name.")],
    day: Annotated[str, typer.Option("--for", metavar="DAY", help="Day of the work that was told of.")],
    how: Annotated[str, typer.Option("--how", metavar="HOW", help="phone, letter, door, email or text.")],
    result: Annotated[
        str | None,
        typer.Option("--result", metavar="RESULT", help="reached, message, no-answer or left-note."),
    ] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="MOMENT", help="When; else now.")] = None,
    by: By = None,
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Free words.")] = None,
) -> None:
    """Log a try to tell someone of coming work.

    Reached, a note left and a letter sent count as told; a message and no answer do not. For a letter the result may be
    left out.

    Example: swathbook contact lark-lane-7 dalby --for 2026-10-29 --how phone --result reached
    """
    from records.services.advance import log_contact

    run = application(context)
    done = log_contact(run.book(), run.clock, site, who, day=day, how=how, result=result, at=at, by=by, note=note)
    told = next((one for one in done.plan.told if one.who.id == done.contact.notify), None)
    if state_of(context).json:
        one = done.contact
        say_json(
            {
                "schema": 1,
                "event": done.event,
                "told": one.told if told is None else told.counts(one),
                "in_time": bool(told and told.in_time),
                "left": [_told_document(left) for left in done.plan.left],
            }
        )
        return
    talk(f"{done.event}: {done.name}, {how} for {done.contact.day}: {done.contact.result}")
    if told is None:
        talk(f"note: {done.name} is not on the list on that day")
    elif start := done.plan.good_from(told):
        talk(wrapped(_counts_from(start), "  ", ""))
    elif told.in_time is None:
        late = "it counts, but came too late" if told.counts(done.contact) else "that does not count as told"
        if told.in_writing and done.contact.told and not told.counts(done.contact):
            late = "that does not count as told: it has to be in writing"
        talk(wrapped(f"{late}: {_latest(done.plan, told)}", "  ", ""))
    left = [one.who.name for one in done.plan.left]
    talk(wrapped(f"still to be told of {done.contact.day}: {', '.join(left) or 'nobody'}", "  ", ""))


def postpone(
    context: typer.Context,
    site: Site,
    before: Annotated[str, typer.Option("--from", metavar="DAY", help="The day that was planned.")],
    after: Annotated[str, typer.Option("--to", metavar="DAY", help="The new day.")],
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why, in a few words.")],
    by: By = None,
) -> None:
    """Log that work was put off, and show whom to tell anew.

    Example: swathbook postpone lark-lane-7 --from 2026-05-14 --to 2026-05-18 --reason wind
    """
    from records.services.advance import postpone as put_off

    run = application(context)
    event, found = put_off(run.book(), run.clock, site, day=before, to=after, reason=reason, by=by)
    if state_of(context).json:
        say_json({"event": event} | _plan_document(found))
        return
    talk(f"{event}: the work of {before} was put off to {after}")
    _tell_plan(found)


def _counts_from(start: datetime) -> str:
    rounded = start.replace(second=0, microsecond=0)
    first = rounded if rounded == start else rounded + timedelta(minutes=1)
    return f"early enough for a start at {first:%H:%M} or later, not before"


def _latest(found: Plan, told: Told) -> str:
    from records.services.occasions import shown_moment

    lead = "any time before the work" if told.lead is None else f"{told.lead} before"
    start = "" if found.is_timed else ", reckoned from midnight (notify --at HH:MM tells it for a start)"
    rule = told.rule or "the site's list"
    return f"at the latest {shown_moment(told.latest)} ({lead}{start}; {rule})"


def _told_document(told: Told) -> dict[str, object]:
    return {
        "id": told.who.id,
        "name": told.who.name,
        "why": told.who.why,
        "latest": told.latest.isoformat(timespec="minutes"),
        "lead": None if told.lead is None else str(told.lead),
        "rule": told.rule or None,
        "in_writing": told.in_writing,
        "in_time": told.in_time is not None,
        "good_from": told.good_from and told.good_from.isoformat(timespec="minutes"),
        "tried": [
            {
                "at": one.at.isoformat(),
                "how": one.how,
                "result": one.result,
                "told": told.counts(one),
                "note": one.note,
            }
            for one in told.tried
        ],
        "told_of": sorted({one.day.isoformat() for one in told.others}),
        "phone": told.who.phone,
        "email": told.who.email,
        "address": told.who.address,
    }


def _plan_document(found: Plan) -> dict[str, object]:
    return {
        "schema": 1,
        "site": found.site.id,
        "day": found.day.isoformat(),
        "start": found.start.isoformat(timespec="minutes") if found.is_timed else None,
        "landmark": found.site.landmark or None,
        "notes": found.site.notes or None,
        "tell": [_told_document(told) for told in found.told],
        "rules": [
            {
                "pack": pack,
                "who": rule.who,
                "lead": None if rule.lead is None else str(rule.lead),
                "words": rule.words,
                "citation": rule.source.citation,
                "url": rule.source.url,
                "status": rule.source.status.value,
            }
            for pack, rule in found.rules
        ],
        "duties": [
            {"pack": pack, "text": duty.text, "citation": duty.source.citation, "status": duty.source.status.value}
            for pack, duty in found.duties
        ],
        "missed": [told.who.id for told in found.missed],
    }


def _tell_plan(found: Plan) -> None:
    site, start = found.site, f" at {found.start:%H:%M}" if found.is_timed else ""
    say(wrapped(f"BEFORE THE WORK OF {found.day}{start} AT {site.address}, {site.city} ({site.id})", "  ", ""))
    _tell_place(site.landmark, site.notes)
    if not found.told:
        say("nobody on the site's list has to be told")
    for told in found.told:
        _tell_one(found, told)
    for who in found.unlisted:
        days = " to ".join(str(day or "...") for day in (who.first_day, who.last_day))
        say(wrapped(f"{who.name} ({who.id}) is not on the list on that day: {days}", "    ", "  "))
    say("\nwhat the state asks")
    for pack, rule in found.rules:
        lead = f", at least {rule.lead} before" if rule.lead is not None else ""
        say(wrapped(f"{rule.who}{lead} ({pack}: {rule.source.cited})", "    ", "  "))
        for words in parts(rule.words):
            say(wrapped(words, "      ", "    - "))
    for pack, duty in found.duties:
        say(wrapped(f"{duty.text} ({pack}: {duty.source.cited})", "    ", "  "))
    if site.county and any("count" in rule.who for _, rule in found.rules):
        say(wrapped(f"this site is in the county of {site.county}", "    ", "  "))
    if not found.rules:
        say(
            wrapped(
                f"no rule of {site.state} about advance notice is known to this tool; that is no proof", "    ", "  "
            )
        )
    if found.told:
        say("\nwhat to say")
        pairs(_words(found))


def _tell_place(landmark: str, notes: str) -> None:
    for word, text in (("known by", landmark), ("note", notes)):
        if text:
            say(wrapped(f"{word}: {text}", "    ", "  "))


def parts(words: str) -> list[str]:
    """Return what a rule says in parts, split at semicolons that stand outside of quotation marks."""
    found = [""]
    for number, piece in enumerate(words.split('"')):
        if number % 2:
            found[-1] += f'"{piece}"'
        else:
            first, *rest = piece.split(";")
            found[-1] += first
            found += rest
    return [part.strip() for part in found if part.strip()]


def _tell_one(found: Plan, told: Told) -> None:
    start = found.good_from(told)
    mark = "told" if told not in found.left else "TOO LATE" if told in found.missed else "TELL"
    say(wrapped(f"{told.who.name} ({told.who.id}, {told.who.why})", " " * 12, f"  {mark:<10}"))
    say(wrapped(_latest(found, told), " " * 12))
    if shorter := found.shorter(told):
        say(wrapped(f"the list has a shorter lead than the rule: {shorter}", " " * 12))
    reach = ", ".join(filter(None, (told.who.phone, told.who.email, told.who.address)))
    say(wrapped(reach or "no phone, e-mail or address on the list", " " * 12))
    for one in told.tried:
        counts = "" if told.counts(one) else ", put off since" if one.told and one.undone else ", does not count"
        note = f", {one.note}" if one.note else ""
        say(wrapped(f"{one.at:%Y-%m-%d %H:%M} {one.how}: {one.result}{counts}{note}", " " * 14, " " * 12))
    if start is not None:
        say(wrapped(_counts_from(start), " " * 12))
    if told.others and told in found.left:
        days = ", ".join(sorted({str(one.day) for one in told.others}))
        say(wrapped(f"was told of {days}; another day needs a new notice", " " * 12))
    if told in found.left:
        reachable = (("phone", told.who.phone and not told.in_writing), ("email", told.who.email))
        way = next((way for way, there in reachable if there), "letter" if told.in_writing else "door")
        if told.in_writing:
            say(wrapped("in writing: a call does not count here, a note left at the door does", " " * 12))
        became = "" if way == "letter" else " --result reached"  # a letter that was sent counts
        line = f"swathbook contact {found.site.id} {told.who.id} --for {found.day} --how {way}{became}"
        say(command(line, " " * 12))


def _words(found: Plan) -> list[tuple[str, str | None]]:
    site, firm = found.site, found.business
    start = f", from about {found.start:%H:%M}" if found.is_timed else ""
    products = [
        f"{product.name}, "
        + (f"EPA Reg. No. {product.registration}" if product.registration else product.exemption or "no EPA number")
        + (f", {', '.join(active.printed or active.name for active in product.actives)}" if product.actives else "")
        for product in found.products
    ]
    return [
        ("when", f"{found.day:%A}, {found.day}{start}"),
        ("where", ", ".join(filter(None, (site.address, site.city, f"{site.state} {site.zip}")))),
        ("who", f"{firm.name}, {firm.phone}, licence {firm.licence}, {firm.address}"),
        ("with", "; ".join(products) or "name the products with --product"),
    ]


def sign(
    context: typer.Context,
    key: Annotated[
        str,
        typer.Argument(
            metavar="SITE|SERIAL", autocompletion=completing.serials_or_sites, help="A site, or a sealed visit."
        ),
    ],
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="Day of the work; else today.")] = None,
    placed: Annotated[str | None, typer.Option("--placed", metavar="MOMENT", help="Log that it was put up.")] = None,
    removed: Annotated[str | None, typer.Option("--removed", metavar="MOMENT", help="Log that it came down.")] = None,
    by: By = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
    out: Annotated[str | None, typer.Option("--out", metavar="FILE|-", help="Write the sheet as PDF.")] = None,
) -> None:
    """Show what the lawn sign has to be, or log it.

    Only rules of the site's own state are shown. Exit code 1 when it came down too early.

    Example: swathbook sign lark-lane-7 --out sign.pdf
    """
    from records.errors import UsageError
    from records.services.signs import log_sign, work_sheet

    run, early = application(context), False
    as_json = state_of(context).json and out != "-"
    if placed is not None or removed is not None:
        if on is not None:
            raise UsageError("--on is the day of a sheet; what is logged has its own moment", "Leave out --on")
        done = log_sign(run.book(), run.clock, key, placed=placed, removed=removed, by=by)
        early = any(one.too_early or one.too_late for one in done)
        if as_json:
            say_json({"schema": 1, "events": [one.document() for one in done]})
        else:
            _tell_logged(done)
    if out is not None or not (placed or removed):
        sheet = work_sheet(run.book(), run.clock, key, on=on)
        if out is not None:
            from records.reports.render import PdfRenderer

            talk(f"wrote {write_output(out, PdfRenderer().sign_sheet(sheet, paper))}")
        if as_json and not (placed or removed):
            say_json(sheet.document())
        elif out is None:
            _tell_sheet(sheet)
    if early:
        raise typer.Exit(1)


def _tell_logged(done: list[SignLogged]) -> None:
    from records.services.occasions import shown_moment

    for one in done:
        became = "put up" if one.what == "placed" else "taken down"
        talk(f"{one.event}: the sign was {became} {shown_moment(one.at)}")
        if one.too_early:
            talk(wrapped(f"too early: {one.too_early}", "  ", ""))
        if one.too_late:
            talk(wrapped(f"too late: {one.too_late}", "  ", ""))


def _tell_sheet(sheet: SignSheet) -> None:
    record = f", record {sheet.serial}" if sheet.serial else ""
    say(wrapped(f"LAWN SIGN AT {sheet.place}{record}", "  ", ""))
    if sheet.due_out:
        say(wrapped(f"may come down, not before: {sheet.due_out}", "  ", ""))
    if sheet.recorded:
        say(wrapped(f"the record says: until {sheet.recorded}", "  ", ""))
    if sheet.missing:
        say(wrapped(sheet.missing, "  ", ""))
    for rule in sheet.rules:
        say("\n" + wrapped(rule.heading, "  ", ""))
        _tell_lines(rule)
        pairs(rule.rows, gap=16)
        say(wrapped(rule.url, "  "))
    if sheet.also:
        say("\nthe rules also say")
        for line in sheet.also:
            say(wrapped(line, "    ", "  "))
    for line in sheet.log:
        say(wrapped(line, "    ", "  "))
    for line in sheet.cautions:
        talk(wrapped(line, "  ", ""))
    if len(sheet.rules) > 1:
        talk(f"{counted(len(sheet.rules), 'rule')} of {sheet.state}: keep to all of them")


def _tell_lines(rule: SignRule) -> None:
    """Show what to write on the sign, line by line."""
    if rule.lines:
        say("  write on the sign:")
    for line in rule.lines:
        note = f"({line.note})" if line.note else ""
        say(wrapped(f"{line.text}  {note}".strip(), "        ", "    "))
