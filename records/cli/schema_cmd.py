"""The shapes of the documents that go in."""

from __future__ import annotations

from typing import Annotated

import typer

from records.cli.output import say_json


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("schema")(schema)


def schema(name: Annotated[str, typer.Argument(metavar="visit|plan|catalogue|pack", help="Which document.")]) -> None:
    """Print the JSON Schema of a visit, plan, loaded file or pack.

    Example: swathbook schema visit
    """
    from records.services.schemas import schema as read_schema

    say_json(read_schema(name))
