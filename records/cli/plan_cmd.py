"""Planning: what goes into the tank, in which order, and what every stop would meet, before anything is mixed."""

from __future__ import annotations

import gc
import re
from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli import completing
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
        str | None, typer.Argument(metavar="[FILE|-]", help="A whole day as TOML or JSON (swathbook schema plan).")
    ] = None,
    site: Annotated[
        list[str] | None,
        typer.Option(
            "--site",
            metavar="SITE[:ZONE,ZONE]",
            autocompletion=completing.sites,
            help="A stop; without zones, those the labels allow.",
        ),
    ] = None,
    area: Annotated[str | None, typer.Option("--area", metavar="AREA", help="A plain area, without a site.")] = None,
    product: Annotated[
        list[str] | None,
        typer.Option(
            "--product",
            metavar="ID[=RATE]",
            autocompletion=completing.products,
            help="brindle-4l='1.1 fl oz/1000 sq ft'; may repeat.",
        ),
    ] = None,
    equipment: Annotated[
        str | None,
        typer.Option("--equipment", metavar="ID", autocompletion=completing.equipment, help="What it is put out with."),
    ] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="The day of the work.")] = None,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="broadcast (usual), spot.")] = None,
    target: Annotated[
        list[str] | None,
        typer.Option("--target", metavar="WEED", autocompletion=completing.weeds, help="Against what."),
    ] = None,
    by: Annotated[
        str | None, typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who works, by id.")
    ] = None,
    supervisor: Annotated[
        str | None,
        typer.Option("--supervisor", metavar="PERSON", autocompletion=completing.people, help="Who supervises."),
    ] = None,
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
    Several loads are planned at once from a file: each names its equipment, products and stops.

    Example: swathbook plan --site kettle-ct-31 --product brindle-4l='1 fl oz/M' --equipment skid-1 --on 2026-10-28
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
        problems = made.problems if file is not None or as_json else _as_options(made.problems, load)
        return _tell_problems(problems, as_json=as_json)
    # A plan that something stops is told all the same, and only not saved.
    is_saved = save is not None and not made.plan.stops
    saved = save_mix(run.book(), made.plan, save, run.clock) if save is not None and is_saved else None
    where = _write_card(made.plan, card, paper) if card is not None else None
    if as_json and card != "-":
        say_json({"schema": 1, **plan_document(made.plan), "card": where, "mix": saved})
    elif card != "-":
        tell_plan(made.plan)
    if saved is not None:
        talk(f"mix {saved['id']}: {saved['water']} saved; a visit names it with mix and spray")
    elif save is not None:
        talk(wrapped(f"mix {save[:40]} was not saved: {_why_stopped(made.plan)}. Correct the plan first", "  ", ""))
    return 1 if made.plan.stops else 0


def _why_stopped(plan: Plan) -> str:
    """Return what stops a plan, in one line."""
    codes = dict.fromkeys(one.code.value for one in plan.every_finding() if one.severity.value == "stop")
    return f"the plan meets something that stops it ({', '.join(codes)})"


_PLACE = re.compile(r"(?:loads\[0\])?\.?([a-z]*)(?:\[(\d+)\])?(?:\.[a-z]+)?", re.ASCII)
_OPTIONS = {"products": "product", "stops": "site", "targets": "target"}
_SUCH_AS = re.compile(r"; give at least one, such as \{.*", re.ASCII)


def _as_options(problems: tuple[str, ...], load: dict[str, Any]) -> tuple[str, ...]:
    """Return problems that name places of a document, told of the options they come from."""
    told = []
    for problem in problems:
        place, colon, what = problem.partition(": ")
        found = _PLACE.fullmatch(place) if colon else None
        if found is None or not found[1]:
            told.append(what if found else problem)
            continue
        option = f"--{_OPTIONS.get(found[1], found[1])}"
        typed = load.get(found[1])
        if found[2] is not None and isinstance(typed, list):
            one = typed[int(found[2])]
            option += f" {one['product'] if isinstance(one, dict) else one}"
        told.append(f"{option}: {_SUCH_AS.sub('; write --product ID=RATE', what)}")
    return tuple(told)


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

    where = write_output(card, PdfRenderer().mix_cards(cards_of(plan), paper), "--card")
    talk(f"wrote {where}")
    return where
