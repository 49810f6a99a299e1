"""The owner's season on one page."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.output import pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of, write_output

if TYPE_CHECKING:
    from records.services.season import Season, Year

KINDS = ("pdf", "csv", "xlsx", "json")


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("season")(season)


def season(
    context: typer.Context,
    year: Annotated[int, typer.Argument(metavar="YEAR", min=1900, max=9999)],
    out: Annotated[
        list[str] | None,
        typer.Option("--out", metavar="FILE", help="A .pdf, .csv, .xlsx or .json file; may be given again."),
    ] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
) -> None:
    """Sum up the owner's season: work, cost, control.

    Totals, hours, cost, control by product, call-backs, late records, by person and month; the PDF is one page of
    pictures.

    Example: swathbook season 2026 --out season.pdf --out season.xlsx
    """
    from records.errors import UsageError
    from records.services.season import build_season, gather_year, season_document

    targets = [(name, name.lower().rpartition(".")[2]) for name in out or []]
    for name, kind in targets:
        if kind not in KINDS:
            raise UsageError(f"--out {name[:60]!r} does not say which kind of file", f"End it in .{', .'.join(KINDS)}")
    run = application(context)
    found = gather_year(run.book(), run.clock, year)
    made = build_season(found)
    for name, kind in targets:
        talk(f"wrote {write_output(name, _bytes(made, found, kind, paper))}")
    if state_of(context).json:
        say_json(season_document(made))
    elif not targets:
        _tell(made)


def _bytes(made: Season, found: Year, kind: str, paper: str) -> bytes:
    from records.services.season import season_csv, season_document, season_xlsx

    if kind == "pdf":
        from records.reports.season_page import render_season

        return render_season(made, found.today, paper)
    if kind == "csv":
        return season_csv(made).encode("utf-8-sig")  # the mark tells spreadsheets that it is UTF-8
    if kind == "xlsx":
        return season_xlsx(made)
    return (json.dumps(season_document(made), ensure_ascii=False, indent=1) + "\n").encode()


def _tell(made: Season) -> None:
    say(f"{made.title}, {made.firm}" if made.firm else made.title)
    pairs([(fact.label, fact.value) for fact in made.facts], gap=26)
    for section in made.sections:
        rows = [list(row) for row in section.rows]
        if not rows:
            continue
        say()
        say(section.title)
        if section.total is not None:
            rows.append(list(section.total))
        numbers = [index for index, column in enumerate(section.columns) if column.numeric]
        table([column.title for column in section.columns], rows, right=numbers)
        if section.note:
            say(wrapped(section.note, "", ""))
    say()
    for line in (*made.notes, *made.cautions):
        talk(wrapped(line, "", ""))
