"""Loading the firm, its people, customers, sites, products, equipment and mixes; and looking at what is loaded."""

from __future__ import annotations

from typing import Annotated

import typer

from records.cli.output import counted, say, say_json, talk, wrapped
from records.cli.state import application, read_input, state_of


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("load")(load)


def load(
    context: typer.Context,
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="TOML or JSON files; - is stdin.")],
) -> int:
    """Load the firm, people, customers, sites, products and mixes.

    All documents are loaded or, with any problem, none. The same id again makes a new dated version.

    Example: swathbook load business.toml people.toml products.toml
    """
    from records.services.loading import load as load_sources

    run = application(context)
    report = load_sources(run.book(), [(name, read_input(name)) for name in files], run.clock)
    if state_of(context).json:
        say_json(
            {
                "schema": 1,
                "ok": report.ok,
                "problems": [{"file": p.file, "where": p.where, "what": p.what} for p in report.problems],
                "loaded": {
                    kind: {"added": c.added, "changed": c.changed, "unchanged": c.unchanged}
                    for kind, c in report.counts.items()
                },
            }
        )
        return 0 if report.ok else 1
    if not report.ok:
        for problem in report.problems:
            say(wrapped(str(problem), "    ", "  "))
        talk(f"{counted(len(report.problems), 'problem')}; nothing was loaded. Correct and load again.")
        return 1
    for kind, counts in report.counts.items():
        say(f"  {kind:<10} {counts.added} new, {counts.changed} changed, {counts.unchanged} as before")
    return 0
