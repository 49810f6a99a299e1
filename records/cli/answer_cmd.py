"""What a customer or a neighbour asks, answered on the screen or as a page to hand over."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import pairs, say, say_json, talk, wrapped
from records.cli.state import application, state_of, write_output

if TYPE_CHECKING:
    from records.domain.answer_model import AnswerModel


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("answer")(answer)


def answer(
    context: typer.Context,
    of: Annotated[
        str,
        typer.Argument(
            metavar="ADDRESS|NAME|SITE|SERIAL",
            autocompletion=completing.serials_or_sites,
            help="Part of an address or name, a site, a record.",
        ),
    ],
    on: Annotated[
        str | None, typer.Option("--on", metavar="DAY", help="The visit of this day; else the newest.")
    ] = None,
    only: Annotated[
        str | None, typer.Option("--only", metavar="WORD", help="Only questions with this word: pets, wind, mow.")
    ] = None,
    season: Annotated[bool, typer.Option("--all", help="The earlier visits of that year as well.")] = False,
    neighbour: Annotated[
        bool, typer.Option("--neighbour", help="For a neighbour: nothing private of the customer.")
    ] = False,
    language: Annotated[
        str | None, typer.Option("--language", metavar="LANGUAGE", help="en or es; else the customer's own.")
    ] = None,
    out: Annotated[str | None, typer.Option("--out", metavar="FILE|-", help="Write a page to hand over, PDF.")] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
) -> None:
    """Answer what a customer or neighbour asks.

    Of the newest visit: what was put on and why, where, when, by whom, how much, when to walk on it, what to expect,
    the wind, whom to call, when it can be done again. --neighbour tells nothing of customer, people or weeds.

    Example: swathbook answer '7 Lark Lane' --only pets
    """
    from records.reports.wordings import FirmWordings
    from records.services.answering import Ask, answer_document
    from records.services.answering import answer as answer_to

    run = application(context)
    ask = Ask(of, on=on, language=language, is_neighbour=neighbour, season=season, only=only)
    found = answer_to(run.book(), FirmWordings(), run.clock, ask)
    for note in found.notes:
        talk(f"note: {note}")
    where = None
    if out is not None:
        where = write_output(out, _page(found.model, paper))
        if out == "-":
            return
    if state_of(context).json:
        say_json({**answer_document(found.model), **({"file": where} if where else {})})
        return
    _tell(found.model)
    if where:
        talk(f"wrote {where}")


def _page(model: AnswerModel, paper: str) -> bytes:
    """Return the page: without the customer's name where the fonts lack a letter of it, rather than none."""
    from records.errors import GlyphError
    from records.reports.answer import render_answer

    try:
        return render_answer(model, paper)
    except GlyphError:
        if not model.recipient:
            raise
        drawn = render_answer(replace(model, recipient=""), paper)
    talk("note: the name is left out of the page: the fonts for paper lack a letter of it; write it in by hand")
    return drawn


def _tell(model: AnswerModel) -> None:
    from records.domain.answer_model import SAFETY

    say(wrapped(f"{model.title}: {model.subtitle}"))
    say(wrapped(f"{model.firm.name}, {model.firm.phone}; {model.firm.licence}; {model.serial}"))
    if model.recipient:
        say(wrapped(model.recipient))
    for part in model.parts:
        say()
        say(wrapped(part.question))
        for line in part.lines:
            say(wrapped(line.words, "      ", "    "))
        if part.key in SAFETY:
            say(wrapped(model.emergency_heading, "      ", "    "))
            pairs([(one.number, f"{one.name}: {one.when}") for one in model.emergency], "      ", 16)
            say(wrapped(model.emergency_note, "      ", "    "))
    say()
    for text in model.footer:
        say(wrapped(text))
