"""The shapes of the documents that go in."""

from __future__ import annotations

from typing import Annotated

import typer

from records.cli.output import say_json


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("schema")(schema)


def schema(name: Annotated[str, typer.Argument(metavar="visit|catalogue|pack", help="Which document.")]) -> None:
    """Print the JSON Schema of a visit, a loaded file or a pack.

    Example: swathbook schema visit
    """
    from records.services.schemas import schema as read_schema

    say_json(read_schema(name))
