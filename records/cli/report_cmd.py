"""What is handed out: the customer's notice and the annual summary."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import say, say_json, talk, wrapped
from records.cli.state import application, state_of, write_output

if TYPE_CHECKING:
    from records.domain.report_model import NoticeModel, SummaryModel
    from records.services.notice_content import Lacking


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("notice")(notice)
    app.command("summary")(summary)


def notice(
    context: typer.Context,
    serial: Annotated[
        str,
        typer.Argument(
            metavar="SERIAL|SITE",
            autocompletion=completing.serials_or_sites,
            help="The record; with --season the site's id.",
        ),
    ],
    season: Annotated[
        int | None, typer.Option("--season", metavar="YEAR", help="Everything at a site in a year.")
    ] = None,
    language: Annotated[
        str | None, typer.Option("--language", metavar="LANGUAGE", help="en or es; else the customer's own.")
    ] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
    out: Annotated[
        str | None, typer.Option("--out", metavar="FILE|-", help="Where to; else a name made of the serial.")
    ] = None,
) -> None:
    """Write the customer's notice of a visit, or of a season.

    What a rule wants on it and the record does not hold is named first; the notice is written all the same, and the
    exit code is 1 where that rule was read.

    Example: swathbook notice 2026-000041 --language es
    """
    from records.reports.render import PdfRenderer
    from records.services.reporting import notice as visit_notice
    from records.services.reporting import notice_of_season

    run = application(context)
    if season is None:
        made = visit_notice(run.book(), PdfRenderer(), serial, run.clock, language=language, paper=paper)
    else:
        made = notice_of_season(run.book(), PdfRenderer(), serial, season, run.clock, language=language, paper=paper)
    tell_lacking(made.lacking)
    where = write_output(out or made.file, made.pdf)
    if state_of(context).json and out != "-":
        missing = [lack.document() for lack in made.lacking]
        told = {"schema": 1, "file": where, "language": made.model.language, "paper": paper, "lacking": missing}
        say_json(told)
    else:
        talk(f"wrote {where}")
        if season is None and out != "-":
            _tell_door(made.model)
    if any(lack.binds for lack in made.lacking):
        raise typer.Exit(1)


def _tell_door(model: NoticeModel) -> None:
    """Say what the notice tells whoever opens the door: when to walk there, the sign, precautions."""
    for words in model.keep_off:
        where = f" ({words.source})" if words.source else ""
        say(wrapped(f"{model.keep_off_heading}: {words.text}{where}", "    ", "  "))
    if model.sign:
        say(wrapped(model.sign, "    ", "  "))
    for words in model.precautions.words:
        say(wrapped(" ".join(filter(None, (words.source, words.text, words.note))), "    ", "  - "))


def tell_lacking(lacking: tuple[Lacking, ...]) -> None:
    """Name what rules want on a notice and the record does not hold."""
    from records.services.notice_content import BY_HAND

    for lack in lacking:
        talk(wrapped(f"not on this notice: {lack.words} ({'; '.join(one.told for one in lack.wanted)})", "  ", ""))
    if lacking:
        talk(BY_HAND)


def summary(
    context: typer.Context,
    year: Annotated[int, typer.Argument(metavar="YEAR", min=1900, max=9999)],
    out: Annotated[
        list[str] | None, typer.Option("--out", metavar="FILE", help="A .pdf, .csv or .json file; may be given again.")
    ] = None,
    pdf: Annotated[str | None, typer.Option("--pdf", metavar="FILE|-", help="Write the PDF.")] = None,
    csv: Annotated[str | None, typer.Option("--csv", metavar="FILE|-", help="Write the CSV.")] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
) -> None:
    """Sum up a year, on the screen or as PDF, CSV and JSON.

    By product, active, month, person, site type, target, county and ZIP.

    Example: swathbook summary 2026 --out 2026.pdf --out 2026.csv
    """
    from records.services.reporting import summary as summary_of

    run = application(context)
    targets = _targets(out or [], pdf, csv)
    model = summary_of(run.book(), year, run.clock)
    for name, kind in targets:
        where = write_output(name, _bytes(model, kind, paper))
        talk(f"wrote {where}")
    if state_of(context).json:
        from records.services.summarising import summary_document

        say_json(summary_document(model))
    elif not targets:
        from records.cli.summary_view import tell_summary

        tell_summary(model)


def _targets(out: list[str], pdf: str | None, csv: str | None) -> list[tuple[str, str]]:
    from records.errors import UsageError

    targets = []
    for name in out:
        kind = name.lower().rpartition(".")[2]
        if kind not in {"pdf", "csv", "json"}:
            raise UsageError(f"--out {name[:60]!r} does not say which kind of file", "End it in .pdf, .csv or .json")
        targets.append((name, kind))
    targets.extend((name, kind) for name, kind in ((pdf, "pdf"), (csv, "csv")) if name is not None)
    return targets


def _bytes(model: SummaryModel, kind: str, paper: str) -> bytes:
    from records.services.summarising import summary_csv, summary_document

    if kind == "pdf":
        from records.reports.render import PdfRenderer

        return PdfRenderer().summary(model, paper)
    if kind == "csv":
        return summary_csv(model).encode("utf-8-sig")  # the mark tells spreadsheets that it is UTF-8
    return (json.dumps(summary_document(model), ensure_ascii=False, indent=1) + "\n").encode()
