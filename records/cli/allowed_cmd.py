"""May this product go on this lawn today."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import say, say_json, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from datetime import date

    from records.domain.quantities import Quantity
    from records.services.allowed import Allowed


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("allowed")(allowed)


def allowed(
    context: typer.Context,
    site: Annotated[
        str,
        typer.Argument(metavar="SITE", autocompletion=completing.sites, help="The site by id, or part of its address."),
    ],
    product: Annotated[
        str | None,
        typer.Argument(metavar="[PRODUCT]", autocompletion=completing.products, help="One product; else all."),
    ] = None,
    zone: Annotated[
        str | None,
        typer.Option("--zone", metavar="ZONE", autocompletion=completing.zones, help="This zone; else all turf."),
    ] = None,
    method: Annotated[str, typer.Option("--method", metavar="METHOD", help="Such as broadcast or spot.")] = "",
    target: Annotated[
        str, typer.Option("--target", metavar="WEED", autocompletion=completing.weeds, help="What it is for.")
    ] = "",
    wind: Annotated[str | None, typer.Option("--wind", metavar="SPEED", help="Like 7 mph.")] = None,
    temperature: Annotated[str | None, typer.Option("--temperature", metavar="TEMP", help="Like 84 degF.")] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="The day of the work; else today.")] = None,
) -> None:
    """Say what labels allow on a site today.

    Grass, ground, method, interval, ceilings, wind and heat in one look; without a product, all on the turf.
    Exit 1: the product named may not go anywhere there now.

    Example: swathbook allowed lark-lane-7 brindle-4l --wind 7 --temperature 84
    """
    from records.services.allowed import Asked, allowed_document
    from records.services.allowed import allowed as look

    run = application(context)
    found = look(
        run.book(),
        run.clock,
        site,
        product,
        Asked(_day(on), zone, method.strip().lower(), target, *_weather(wind, temperature)),
    )
    if state_of(context).json:
        say_json(allowed_document(found))
    else:
        _tell(found)
    if product is not None and all(one.stops for one in found.verdicts):
        raise typer.Exit(1)


def _day(text: str | None) -> date | None:
    from records.errors import UsageError
    from records.services.finding import read_day

    found = read_day(text)
    if found != read_day(text, last=True):
        raise UsageError(f"--on {text!r:.20} is no single day", "Write it like 2026-05-14")
    return found


def _weather(wind: str | None, temperature: str | None) -> tuple[Quantity | None, Quantity | None]:
    from records.domain.numerals import QuantityError
    from records.domain.quantities import parse_speed, parse_temperature
    from records.errors import UsageError

    problems: list[str] = []
    found: list[Quantity | None] = []
    for option, text, read, unit in (
        ("--wind", wind, parse_speed, "mph"),
        ("--temperature", temperature, parse_temperature, "degF"),
    ):
        try:
            found.append(None if text is None else read(f"{text} {unit}" if _is_bare(text) else text))
        except (QuantityError, ValueError) as error:
            problems.append(f"{option}: {error}")
    if problems:
        raise UsageError("; ".join(problems))
    return found[0], found[1]


def _is_bare(text: str) -> bool:
    return text.strip().replace(".", "", 1).isdecimal()


def _tell(found: Allowed) -> None:
    say(f"{found.address} ({found.site}) on {found.day}")
    for one in found.verdicts:
        verdict = "yes" if one.is_allowed else "NO" if one.stops else "ask"
        about = (
            "; ".join((*one.stops, *one.asks))
            if not one.is_allowed
            else (f"{one.left} left" if one.left else "no yearly ceiling")
        )
        say(wrapped(f"{verdict:<4} {one.name}, {one.zone}: {about}", "       ", "  "))
        if one.is_allowed and one.rates:
            say(wrapped(f"rate {one.rates}", "         ", "       "))
        for note in one.notes:
            say(wrapped(note, "         ", "       - "))
    talk(wrapped("the label wins; the visit is judged again, with its rate and area, when it is closed", "  ", ""))
