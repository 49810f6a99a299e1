"""What an inspector would find today, and what falls due next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.output import counted, display_width, printable, say, say_json, talk, width, wrapped
from records.cli.state import application, state_of, write_output

if TYPE_CHECKING:
    from records.services.duties import Duties
    from records.services.readiness import Gap, Group, Readiness

CAUTION = "rule data are an aid and no legal advice; confirm with the state's pesticide agency"
LINES = 20  # of a group on the terminal, unless all are asked for


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("ready")(ready)
    app.command("duty")(duty)


def ready(
    context: typer.Context,
    since: Annotated[
        str | None, typer.Option("--from", metavar="DAY", help="First day, such as 2026-05 or 2026; else a year back.")
    ] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day; else today.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every line, however many.")] = False,
) -> int:
    """Show what an inspector would find today, the worst first.

    The code is 1 when anything is wrong; notes are not wrong.

    Example: swathbook ready --from 2026-05 --to 2026-06
    """
    from records.services.finding import read_day
    from records.services.readiness import readiness_document
    from records.services.readiness import ready as look_over

    run = application(context)
    found = look_over(run.book(), run.clock, read_day(since), read_day(until, last=True))
    if state_of(context).json:
        say_json(readiness_document(found))
    else:
        _tell(found, everything=everything)
    return 1 if found.wrong else 0


def _tell(found: Readiness, *, everything: bool) -> None:
    for group in found.groups:
        _group(group, everything=everything)
    told = f"{counted(found.records, 'record')} from {found.since} to {found.until}"
    packs = f", by the rules of {', '.join(found.packs)}" if found.packs else ""
    wrong = f"{counted(found.wrong, 'thing')} wrong" if found.wrong else "nothing wrong found"
    notes = f", {counted(found.notes, 'thing')} to know" if found.notes else ""
    say(wrong + notes)
    say(wrapped(f"{told}{packs}"))
    if found.groups and not everything:
        talk(wrapped("swathbook ready --all shows every line; --json has each rule with its page"))
    talk(wrapped(CAUTION))


def _group(group: Group, *, everything: bool) -> None:
    """Write a group; what stands under the same rule is told under it once."""
    say(f"{group.title} ({len(group.gaps):,}{'' if group.wrong else ', to know'})")
    if group.hint:
        say(wrapped(group.hint, "  "))
    by_rule: dict[tuple[object, ...], list[Gap]] = {}
    for gap in group.gaps:
        by_rule.setdefault(gap.rules, []).append(gap)
    left, told = LINES, 0
    for gaps in by_rule.values():
        if left <= 0 and not everything:
            break
        rules = _rules(gaps[0])
        left -= rules.count("\n") + 1
        say(rules)
        for gap in gaps:
            if left <= 0 and not everything:
                break
            text = _line(gap)
            left -= text.count("\n") + 1
            told += 1
            say(text)
    if told < len(group.gaps):
        say(f"  and {len(group.gaps) - told:,} more")
    say()


def _rules(gap: Gap) -> str:
    shown = "; ".join(map(str, gap.rules[:3]))
    more = f"; and {len(gap.rules) - 3} more" if len(gap.rules) > 3 else ""
    return wrapped(shown + more, "    ", "  * ")


def _line(gap: Gap) -> str:
    head = printable(f"    {gap.subject}  {gap.day}  " if gap.day else f"    {gap.subject}  ")
    what, size = " ".join(printable(gap.what).split()), display_width(head)
    if size + display_width(what) <= width():
        told = head + what
    elif size <= width() // 2:
        room = "_" * (size - 1)  # where the head goes, so that only the first line is the shorter by it
        told = head[:-1] + wrapped(f"{room} {what}", "      ", "").removeprefix(room)
    else:
        told = wrapped(f"{gap.subject} {gap.day} {what}", "      ", "    ")
    return f"{told}\n{wrapped(f'> {gap.do}', '        ', '      ')}"


def duty(
    context: typer.Context,
    days: Annotated[int, typer.Option("--days", metavar="N", min=0, max=3650, help="How far ahead.")] = 90,
    ics: Annotated[str | None, typer.Option("--ics", metavar="FILE|-", help="Write them as a calendar file.")] = None,
) -> None:
    """List what falls due next, with its rule.

    Reports, ends of licences, listings and years to keep, signs to take down, ratings. The calendar
    file can be taken in again and again: its events are updated, not doubled.

    Example: swathbook duty --days 120 --ics due.ics
    """
    from records.services.duties import KINDS, duties

    run = application(context)
    found = duties(run.book(), run.clock, days)
    if ics is not None:
        from records.reports.due_calendar import render_duties

        where = write_output(ics, render_duties(found, KINDS), "--ics")
        if ics == "-":
            return
        talk(f"wrote {where}: {counted(len(found.duties), 'event')}")
    if state_of(context).json:
        say_json(found.document())
    else:
        _tell_duties(found)


def _tell_duties(found: Duties) -> None:
    for one in found.duties:
        say(wrapped(one.what, "      ", f"{one.day}  "))
        rules = [str(rule) for rule in one.rules if rule.pack]  # a plan of the firm's own needs no rule
        if rules:
            say(wrapped("; ".join(rules), "        ", "      * "))
        say(wrapped(f"> {one.do}", "        ", "      "))
    count = counted(len(found.duties), "date") if found.duties else "nothing falls due"
    say(f"{count} from {found.today} to {found.until}")
    calendar = "; --ics FILE makes a calendar of them" if found.duties else ""
    talk(wrapped(f"--days N looks further ahead; swathbook ready shows what is overdue{calendar}"))
    talk(wrapped(CAUTION))
