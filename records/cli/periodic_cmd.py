"""Periodic reports: what is asked for, made, checked, written, and handed in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli import completing
from records.cli.output import counted, pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of, write_output
from records.services.periodic.names import layout_ids

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.services.periodic.filing import Standing
    from records.services.periodic.model import Part, Report

HELP = """Reports that a state wants, and sums by keys of your own.

Nothing is written before every line is checked and every sum agrees with the annual summary.

Example: swathbook report ny-annual 2026 --out ny.csv
"""
_MOST = 25  # problems told on a screen
_KINDS = ("csv", "xlsx")

group = typer.Typer(help=HELP, no_args_is_help=True, rich_markup_mode=None)

Out = Annotated[
    list[str] | None,
    typer.Option("--out", metavar="FILE", help="A .csv or .xlsx file, may be given again; else on the screen."),
]
Anyway = Annotated[bool, typer.Option("--anyway", help="Leave out the lines that have problems, and say so.")]
Person = Annotated[
    str | None,
    typer.Option("--person", metavar="ID", autocompletion=completing.people, help="One person's report alone."),
]
County = Annotated[str | None, typer.Option("--county", metavar="COUNTY", help="One county's report alone.")]
Confirmation = Annotated[
    str | None, typer.Option("--confirmation", metavar="TEXT", help="What the agency answered, such as its number.")
]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="report")


@group.command("list")
def list_reports(context: typer.Context) -> None:
    """List what is asked for, when it is due, and what was filed.

    Example: swathbook report list
    """
    from records.services.periodic.filing import standings

    run = application(context)
    found = standings(run.book(), run.clock)
    if state_of(context).json:
        say_json({"schema": 1, "reports": [_standing(one) for one in found]})
        return
    ours, others = [one for one in found if one.is_ours], [one for one in found if not one.is_ours]
    if ours:
        rows = [[one.state, one.report, one.period, one.due.isoformat(), _stands(one), one.pack] for one in ours]
        table(["state", "report", "of", "due", "stands", "pack"], rows, keep=[0, 1, 2, 3, 5])
        say()
    else:
        say(wrapped("No pack that this firm names, and no state of its sites, asks for a report by a day."))
    _tell_reports(ours)
    if others:
        say("\nNot asked of this firm: other states' reports that the tool knows")
        _tell_reports(others)
    if ours:
        talk("A report is answered when it is filed, whoever wrote it:")
        talk("swathbook report filed REPORT PERIOD --on DAY")


def _tell_reports(found: list[Standing]) -> None:
    for one in found:
        nil = "also when nothing was applied" if one.nil else "when something was applied"
        can = "" if one.layout else "; this tool cannot write it"
        of = f"{one.state}, " if one.state else ""
        say(wrapped(f"{of}{one.report}: {one.title}; to {one.to}; {nil}{can}; {one.source}", "    ", ""))


def _standing(one: Standing) -> dict[str, Any]:
    return {
        "report": one.report,
        "title": one.title,
        "pack": one.pack,
        "state": one.state or None,
        "status": one.status,
        "source": one.source,
        "to": one.to,
        "nil": one.nil,
        "layout": one.layout or None,
        "period": one.period,
        "due": one.due.isoformat(),
        "ours": one.is_ours,
        "written": one.written,
        "filed": [
            {"person": f.person, "county": f.county, "on": f.filed_on, "confirmation": f.confirmation}
            for f in one.filed
        ],
    }


def _stands(one: Standing) -> str:
    if one.filed:
        return f"filed {max(filed.filed_on or '' for filed in one.filed)}"
    return "written, not filed" if one.written else "not filed"


@group.command("by")
def sums_by(
    context: typer.Context,
    by: Annotated[str, typer.Option("--by", metavar="KEYS", help="Such as county,product,month,person,site_kind.")],
    since: Annotated[str | None, typer.Option("--from", metavar="DAY", help="First day; else the year's.")] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day; else today.")] = None,
    state: Annotated[str | None, typer.Option("--state", metavar="STATES", help="Such as MN or MN,WI.")] = None,
    kind: Annotated[str | None, typer.Option("--kind", metavar="KINDS", help="Such as pesticide,adjuvant.")] = None,
    out: Out = None,
    anyway: Anyway = False,
) -> int:
    """Sum up applications by any keys.

    Keys: county, zip, city, state, address, product, month, date, person, site_kind, kind, form, method, target.

    Example: swathbook report by --by county,product --from 2026-05 --to 2026-08
    """
    from records.services.finding import read_day
    from records.services.periodic.layout import layout_by
    from records.services.periodic.service import make_sums

    run = application(context)
    layout = layout_by(by, states=_words(state, upper=True), kinds=_words(kind))
    report = make_sums(run.book(), layout, read_day(since), read_day(until, last=True), run.clock)
    return _finish(context, run, report, out, anyway=anyway)


def _words(text: str | None, *, upper: bool = False) -> tuple[str, ...]:
    parts = [part.strip() for part in (text or "").split(",") if part.strip()]
    return tuple(part.upper() if upper else part.lower() for part in parts)


@group.command("filed")
def filed(
    context: typer.Context,
    report: Annotated[str, typer.Argument(metavar="REPORT", help="Such as ny-annual.")],
    period: Annotated[str, typer.Argument(metavar="PERIOD", help="The year, or the month like 2026-05.")],
    on: Annotated[str, typer.Option("--on", metavar="DAY", help="The day it was handed in.")],
    person: Person = None,
    county: County = None,
    confirmation: Confirmation = None,
) -> None:
    """Record that a report was handed in.

    Without a person or county, everything that was written for the period.

    Example: swathbook report filed ny-annual 2026 --on 2027-01-20 --confirmation 88123
    """
    from records.services.periodic.filing import mark_filed

    run = application(context)
    marked = mark_filed(
        run.book(), report, period, _day(on), run.clock, person=person, county=county, confirmation=confirmation
    )
    if state_of(context).json:
        events = [{"event": one.serial, "person": one.person, "county": one.county} for one in marked]
        say_json({"schema": 1, "report": report, "period": marked[0].period, "filed_on": on, "events": events})
        return
    for one in marked:
        whose = f" of {one.person or one.county}" if one.person or one.county else ""
        say(f"{one.serial}  {one.report} {one.period}{whose}: filed {one.filed_on}")


def _day(text: str) -> Any:  # noqa: ANN401 - a date, loaded late
    from datetime import date

    from records.errors import UsageError

    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(f"{text[:20]!r} is no day", "Write it like 2027-01-20") from error


def _add(name: str) -> None:
    """Add the command of one layout."""

    def command(
        context: typer.Context,
        period: Annotated[str, typer.Argument(metavar="PERIOD", help="The year, or the month like 2026-05.")],
        person: Person = None,
        county: County = None,
        out: Out = None,
        anyway: Anyway = False,
        filed_on: Annotated[
            str | None, typer.Option("--filed", metavar="DAY", help="It was handed in on that day, as written.")
        ] = None,
        confirmation: Confirmation = None,
    ) -> int:
        from records.errors import UsageError
        from records.services.periodic.service import make_report

        if filed_on is not None and not out:
            raise UsageError("--filed needs --out: what was handed in is kept by its digest", "Add --out FILE.csv")
        if confirmation is not None and filed_on is None:
            raise UsageError("--confirmation needs --filed DAY", "Add the day it was handed in")
        run = application(context)
        day = None if filed_on is None else _day(filed_on)
        report = make_report(run.book(), name, period, run.clock, person=person, county=county)
        return _finish(context, run, report, out, anyway=anyway, filed_on=day, confirmation=confirmation)

    example = "2026-05" if name.endswith("-monthly") else "2026"
    command.__doc__ = f"""Make the {name} report.

    One file for each person or county where the report is theirs: FILE gets their name before its ending.

    Example: swathbook report {name} {example} --out {name}.csv
    """
    group.command(name)(command)


for layout_name in layout_ids():
    _add(layout_name)


def _finish(
    context: typer.Context,
    run: Application,
    report: Report,
    outs: list[str] | None,
    *,
    anyway: bool,
    filed_on: Any = None,  # noqa: ANN401 - a date, loaded late
    confirmation: str | None = None,
) -> int:
    """Tell what is wrong, or write what is right; return the exit code."""
    is_refused = not report.reconciliation.agrees or (bool(report.troubles) and not anyway)
    files: dict[str, list[str]] = {}
    if outs and not is_refused:
        files = _write_all(run, report, outs, filed_on, confirmation)
    if state_of(context).json:
        from records.services.periodic.model import document

        status = "refused" if is_refused else "written" if files else "made"
        say_json(document(report, files) | {"status": status})
        return int(is_refused)
    if is_refused:
        _tell_troubles(report)
        _tell_differences(report)
        talk("Nothing was written." if report.troubles else "Nothing was written: do not hand this report in.")
        if report.troubles and report.reconciliation.agrees:
            talk("Correct these records, or add --anyway to leave them out; the report then says so.")
        return 1
    if "-" in (outs or []):  # the report has stdout for itself
        talk(f"{report.left_out:,} applications left out; every sum is that of the annual summary, to the last digit")
        return 0
    if not outs:
        _tell(report)
    _tell_proof(report)
    if not outs:
        talk("Rounded for the screen: --json and a file (--out FILE.csv) have every digit and all columns.")
    if report.troubles:
        _tell_troubles(report)
        talk(f"Left out: {counted(report.left_out, 'application')}; the report says so.")
    if report.is_early and report.asked is not None:
        talk(f"The period is not over before the end of {report.until}: make it again then.")
    return 0


def _write_all(
    run: Application,
    report: Report,
    outs: list[str],
    filed_on: Any,  # noqa: ANN401 - a date, loaded late
    confirmation: str | None,
) -> dict[str, list[str]]:
    """Write every file that was asked for, each once; every name is looked at before anything is written."""
    named = {out: _kind(out, len(report.parts)) for out in outs}
    files: dict[str, list[str]] = {part.id: [] for part in report.parts}
    for out, kind in named.items():
        for part, file in _write(run, report, out, kind, filed_on, confirmation).items():
            files[part].append(file)
    return files


def _write(
    run: Application,
    report: Report,
    out: str,
    kind: str,
    filed_on: Any,  # noqa: ANN401 - a date, loaded late
    confirmation: str | None,
) -> dict[str, str]:
    from records.services.periodic.filing import check_filing_day, log_written
    from records.services.periodic.writing import csv_bytes, xlsx_bytes

    check_filing_day(filed_on, report.issued_on, report.since)
    make = xlsx_bytes if kind == "xlsx" else csv_bytes
    made = {part.id: make(report, part) for part in report.parts}
    names = _names(report, out)
    files = {part: write_output(names[part], data) for part, data in made.items()}
    events: list[str] = []
    if report.asked is not None:
        events = log_written(run.book(), report, made, run.clock, filed_on=filed_on, confirmation=confirmation)
    for part in report.parts:
        what = _size(part)
        whose = f" ({part.name})" if part.name else ""
        talk(f"wrote {files[part.id]}: {what}{whose}")
    if events:
        done = "filed" if filed_on is not None else "written, not yet filed"
        talk(f"{', '.join(events)}: {report.layout.id} {report.period} {done}")
    return files


def _size(part: Part) -> str:
    return "nothing applied" if part.is_nil else counted(len(part.lines), "line")


def _kind(out: str, parts: int) -> str:
    from records.errors import UsageError

    if out == "-":
        if parts > 1:
            raise UsageError(f"{parts} reports do not fit into one stream", "Name one with --person or --county")
        return "csv"
    kind = out.lower().rpartition(".")[2]
    if kind not in _KINDS:
        raise UsageError(f"--out {out[:60]!r} does not say which kind of file", "End it in .csv or .xlsx")
    return kind


def _names(report: Report, out: str) -> dict[str, str]:
    """Return the file of each part: FILE itself, or with the person or county before its ending."""
    from records.services.importing.bodies import slug

    if len(report.parts) == 1:
        return {report.parts[0].id: out}
    path = Path(out)
    taken: dict[str, str] = {}
    for part in report.parts:
        base = slug(part.id) or "none"
        name, number = base, 2
        while name in taken.values():
            name, number = f"{base}-{number}", number + 1
        taken[part.id] = name
    return {key: str(path.with_name(f"{path.stem}-{name}{path.suffix}")) for key, name in taken.items()}


def _tell(report: Report) -> None:
    """Write the report as tables."""
    from records.services.periodic.layout import NUMBERS

    asked = report.asked
    say(f"{report.layout.title}, {report.period}")
    pairs(
        [
            ("firm", None if report.business is None else report.business.name),
            ("due", None if asked is None or report.due is None else f"{report.due} to {asked[1].to}"),
            ("rule", None if asked is None else asked[1].source.cited),
        ]
    )
    columns = report.columns(on_screen=True)
    right = [index for index, column in enumerate(columns) if column.source in NUMBERS]
    keep = [
        index for index, column in enumerate(columns) if column.source in NUMBERS | {"unit", "date", "registration"}
    ]
    for part in report.parts:
        if part.name:
            number = f"{part.licence}, " if part.licence else ""
            say(f"\n{part.name} ({number}{_size(part)})")
        else:
            say()
        rows = report.rows(part, on_screen=True)
        if part.is_nil:
            say(wrapped(report.layout.nil_words or "Nothing was applied in that time.", "  "))
        else:
            shown = [i for i in range(len(columns)) if any(row[i] for row in rows)]
            table(
                [columns[i].screen.lower() for i in shown],
                [[row[i] for i in shown] for row in rows],
                right=[shown.index(i) for i in right if i in shown],
                keep=[shown.index(i) for i in keep if i in shown],
            )


def _tell_proof(report: Report) -> None:
    """Write where every application went, beside what the annual summary says."""
    from records.services.periodic.model import balance_cells

    rows = []
    for balance in report.reconciliation.balances:
        unit, *amounts = balance_cells(balance)
        if balance.applications[0] or balance.applications[2]:  # in the report, or left out of it
            rows.append([balance.product, unit, *amounts])
    if rows:
        say("\nBeside the annual summary")
        heads = ["product", "unit", "reported", "not asked", "left out", "summary"]
        shown = [index for index in range(len(heads)) if any(row[index] for row in rows)]
        cells = [[row[index] for index in shown] for row in rows[:_MOST]]
        table([heads[index] for index in shown], cells, right=range(2, len(shown)), keep=[1])
        if len(rows) > _MOST:
            say(f"  ... and {len(rows) - _MOST:,} more, as equal; --json tells all")
    said = sum(balance.applications[3] for balance in report.reconciliation.balances)
    say(wrapped(f"{counted(said, 'application')}: every sum is equal to the last digit.", "  "))
    if not report.layout.has_total:
        say("  An application against two targets counts under both.")
    if report.why_other:
        why = ", ".join(f"{count:,} {reason}" for reason, count in report.why_other.items())
        say(wrapped(f"Not asked for: {why}.", "  "))


def _tell_troubles(report: Report) -> None:
    for trouble in report.troubles[:_MOST]:
        place = f" {trouble.at}" if trouble.at else ""
        told = f"{trouble.serial}{place}: [{trouble.code}] {trouble.message}; {trouble.do}"
        say(wrapped(told, "    ", ""))
    if len(report.troubles) > _MOST:
        say(f"... and {len(report.troubles) - _MOST:,} more; --json tells all")
    if report.troubles:
        say(f"{counted(len(report.troubles), 'problem')}, {counted(report.left_out, 'application')}")


def _tell_differences(report: Report) -> None:
    for difference in report.reconciliation.differences[:_MOST]:
        say(wrapped(difference, "    ", "  "))
    if report.reconciliation.differences:
        say("The report and the annual summary differ: swathbook verify proves the book.")
