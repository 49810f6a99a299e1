"""Planning: what goes into the tank, in which order, and what every stop would meet, before anything is mixed."""

from __future__ import annotations

import gc
from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli.output import counted, say, say_json, talk, wrapped
from records.cli.state import application, read_input, state_of, write_output

if TYPE_CHECKING:
    from records.services.planning.model import Plan


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("plan")(plan)


def plan(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Argument(metavar="[FILE|-]", help="A whole day as TOML or JSON: several loads.")
    ] = None,
    site: Annotated[
        list[str] | None,
        typer.Option("--site", metavar="SITE[:ZONE,ZONE]", help="A stop; without zones, those the labels allow."),
    ] = None,
    area: Annotated[str | None, typer.Option("--area", metavar="AREA", help="A plain area, without a site.")] = None,
    product: Annotated[
        list[str] | None,
        typer.Option("--product", metavar="ID[=RATE]", help="brindle-4l='1.1 fl oz/1000 sq ft'; may repeat."),
    ] = None,
    equipment: Annotated[str | None, typer.Option("--equipment", metavar="ID", help="What it is put out with.")] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="The day of the work.")] = None,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="broadcast (usual), spot.")] = None,
    target: Annotated[list[str] | None, typer.Option("--target", metavar="WEED", help="Against what.")] = None,
    by: Annotated[str | None, typer.Option("--by", metavar="PERSON", help="Who works, by id.")] = None,
    supervisor: Annotated[str | None, typer.Option("--supervisor", metavar="PERSON", help="Who supervises.")] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", metavar="TEMP", help="The forecast, such as '84 degF'.")
    ] = None,
    tank: Annotated[str | None, typer.Option("--tank", metavar="SIZE", help="Else that of the equipment.")] = None,
    spray: Annotated[
        str | None, typer.Option("--spray", metavar="VOLUME", help="Make so much, where spots are not measured.")
    ] = None,
    output: Annotated[
        str | None, typer.Option("--output", metavar="RATE", help="Else that of the equipment's calibration.")
    ] = None,
    order: Annotated[
        str | None, typer.Option("--order", metavar="NAME", help="awamles (usual), wales or sdsu.")
    ] = None,
    vessel: Annotated[
        list[str] | None,
        typer.Option("--vessel", metavar="NAME", help="Measure with: spoons, cup, jug, mL, scale ...; may repeat."),
    ] = None,
    card: Annotated[str | None, typer.Option("--card", metavar="FILE|-", help="Write the mix card as PDF.")] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="letter or a4.")] = "letter",
    save: Annotated[
        str | None, typer.Option("--save", metavar="ID", help="Store the first load as a mix, made now.")
    ] = None,
) -> int:
    """Plan loads and stops before anything is mixed.

    Tells water, product, order and measure of each load, and what every stop would meet at its labels and ceilings.
    Nothing is written to the book but a mix that is saved. A rate is never chosen for you. Exit 1: something stops it.

    Example: swathbook plan --site lark-lane-7 --product brindle-4l='1 fl oz/M' --equipment skid-1 --on 2026-05-14
    """
    from records.cli.plan_view import tell_plan
    from records.services.planning.service import plan as make_plan
    from records.services.planning.service import save as save_mix
    from records.services.planning.telling import plan_document

    run, as_json = application(context), state_of(context).json
    # What start-up made stays, and is not looked through again for every few hundred fractions.
    gc.freeze()
    gc.set_threshold(200_000, 20, 50)
    load: dict[str, Any] = {
        "equipment": equipment,
        "method": method,
        "targets": target,
        "tank": tank,
        "output": output,
        "area": area,
        "spray": spray,
        "order": order,
        "products": [_product(one) for one in product or []] or None,
        "stops": site or None,
    }
    day = {"on": on, "by": by, "supervisor": supervisor, "temperature": temperature}
    vessels = _vessels(vessel or [])
    made = make_plan(run.book(), _document(file, load, day), vessels)
    if made.plan is None:
        return _tell_problems(made.problems, as_json=as_json)
    saved = save_mix(run.book(), made.plan, save, run.clock) if save is not None else None
    where = _write_card(made.plan, card, paper) if card is not None else None
    if card == "-":
        return 1 if made.plan.stops else 0
    if as_json:
        say_json({"schema": 1, **plan_document(made.plan), "card": where, "mix": saved})
    else:
        tell_plan(made.plan)
    if saved is not None:
        talk(f"mix {saved['id']}: {saved['water']} saved; a visit names it with mix and spray")
    return 1 if made.plan.stops else 0


def _vessels(names: list[str]) -> list[str]:
    from records.domain.measuring import BY_ID
    from records.errors import UsageError

    for name in names:
        if name not in BY_ID:
            raise UsageError(f"--vessel {name[:40]!r} is not known", f"Use one of: {', '.join(BY_ID)}")
    return names


def _product(text: str) -> dict[str, str]:
    key, _, rate = text.partition("=")
    return {"product": key.strip()} | ({"rate": rate.strip()} if rate.strip() else {})


def _document(file: str | None, load: dict[str, Any], day: dict[str, str | None]) -> object:
    """Return what is asked: a file, or the words of the line put into the same shape.

    Raises:
        UsageError: both, or neither.
        InputError: the file cannot be read.
    """
    from records.errors import InputError, UsageError
    from records.services.loading import LoadProblem, parse

    given = {key: value for key, value in load.items() if value is not None}
    asked = {key: value for key, value in day.items() if value is not None}
    if file is None:
        if not given:
            raise UsageError("nothing was asked for", "Give --site or --area, --product, --equipment and --on; or FILE")
        return {**asked, "loads": [given]}
    if given:
        name = next(iter(given)).rstrip("s")
        raise UsageError(f"FILE says the loads; --{name} does not go with it", "Write it into the file")
    problems: list[LoadProblem] = []
    content = parse(file, read_input(file), problems)
    if content is None:
        raise InputError(str(problems[0]), "Write it as TOML or JSON")
    return {**content, **asked}


def _tell_problems(problems: tuple[str, ...], *, as_json: bool) -> int:
    if as_json:
        say_json({"schema": 1, "problems": list(problems), "loads": []})
        return 1
    for problem in problems:
        say(wrapped(problem, "    ", "  "))
    talk(f"{counted(len(problems), 'problem')}; nothing was planned. Correct and plan again.")
    return 1


def _write_card(plan: Plan, card: str, paper: str) -> str:
    from records.reports.render import PdfRenderer
    from records.services.planning.card import cards_of

    where = write_output(card, PdfRenderer().mix_cards(cards_of(plan), paper))
    talk(f"wrote {where}")
    return where
