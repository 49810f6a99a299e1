"""The calibration log: working an output out, sealing it, and seeing what is due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.calibrating import Calibrated, Line


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("calibrate")(calibrate)
    app.command("calibrations")(calibrations)


def calibrate(
    context: typer.Context,
    equipment: Annotated[
        str, typer.Argument(metavar="EQUIPMENT", autocompletion=completing.equipment, help="Of the book, by id.")
    ],
    method: Annotated[
        str,
        typer.Argument(metavar="METHOD", help="ounces, refill, boom, boomless, timed, catch or coverage."),
    ],
    by: Annotated[
        str | None, typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who it was, by id.")
    ] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="DAYTHH:MM", help="When; else now.")] = None,
    nozzle: Annotated[
        str | None, typer.Option("--nozzle", metavar="WORDS", help="As sold; else the loaded one.")
    ] = None,
    pressure: Annotated[str | None, typer.Option("--pressure", metavar="WORDS", help="Such as 40 psi.")] = None,
    setting: Annotated[str | None, typer.Option("--setting", metavar="WORDS", help="Of a spreader.")] = None,
    product: Annotated[
        str | None,
        typer.Option("--product", metavar="PRODUCT", autocompletion=completing.products, help="In a spreader, by id."),
    ] = None,
    caught: Annotated[
        list[str] | None, typer.Option("--caught", metavar="AMOUNT", help="In the cup or pan; repeat for each nozzle.")
    ] = None,
    together: Annotated[
        bool, typer.Option("--together", help="All nozzles spray one swath: their catches are added.")
    ] = False,
    seconds: Annotated[str | None, typer.Option("--seconds", metavar="TIME", help="That it was caught in.")] = None,
    used: Annotated[str | None, typer.Option("--used", metavar="AMOUNT", help="Put out, or poured in again.")] = None,
    before: Annotated[
        str | None, typer.Option("--before", metavar="AMOUNT", help="In place of --used: at first.")
    ] = None,
    left: Annotated[str | None, typer.Option("--left", metavar="AMOUNT", help="In place of --used: after it.")] = None,
    area: Annotated[
        str | None, typer.Option("--area", metavar="FIGURE", help="Covered: 1000 sq ft, or a figure.")
    ] = None,
    cover: Annotated[
        list[str] | None, typer.Option("--cover", metavar="TIME", help="To cover it; repeat for each trial.")
    ] = None,
    swath: Annotated[str | None, typer.Option("--swath", metavar="LENGTH", help="Width covered in one pass.")] = None,
    spacing: Annotated[str | None, typer.Option("--spacing", metavar="LENGTH", help="Between nozzles.")] = None,
    course: Annotated[str | None, typer.Option("--course", metavar="LENGTH", help="If not just 1/128 acre.")] = None,
    per_swath: Annotated[
        int | None, typer.Option("--per-swath", metavar="N", min=1, max=60, help="Nozzles over one swath.")
    ] = None,
    speed: Annotated[str | None, typer.Option("--speed", metavar="SPEED", help="Such as 3 mph.")] = None,
    distance: Annotated[str | None, typer.Option("--distance", metavar="LENGTH", help="Walked or driven.")] = None,
    time: Annotated[str | None, typer.Option("--time", metavar="TIME", help="For that distance.")] = None,
) -> None:
    """Work out what equipment puts out, and log it.

    ounces: 1/128 acre, --swath and --caught. Catches of nozzles each over its own swath are averaged; where
    all of them spray one swath (boomless), --together adds them; --per-swath 2: two over each swath.
    refill: --area and --used. boom: --caught of each nozzle, --seconds, --spacing, and --speed or --distance
    and --time. boomless: the same with --swath, catches added. timed (hand can, backpack): --area, --cover and
    --caught. catch and coverage (spreaders): --caught or --used by weight, and --area or --swath and --distance.

    Example: swathbook calibrate can-1 timed --area '1000 sq ft' --cover '75 s' --caught '1 gal' --by mo
    """
    from records.services.calibrating import Who
    from records.services.calibrating import calibrate as log_calibration
    from records.services.calibration_methods import Typed

    run = application(context)
    typed = Typed(
        caught=tuple(caught or ()),
        seconds=seconds,
        used=used,
        before=before,
        left=left,
        area=area,
        cover=tuple(cover or ()),
        swath=swath,
        spacing=spacing,
        course=course,
        per_swath=per_swath,
        together=together,
        speed=speed,
        distance=distance,
        time=time,
    )
    who = Who(by, at, nozzle, pressure, setting, product)
    done = log_calibration(run.book(), equipment, method.strip().lower(), typed, who, run.clock)
    if state_of(context).json:
        say_json(done.document())
    else:
        _tell(done)


def _tell(done: Calibrated) -> None:
    from records.services.calibrating import shown_output

    data = done.data
    say(f"{data['equipment']['id']}, {data['equipment']['name']}")
    for step in data["steps"]:
        say(wrapped(step, "    ", "  "))
    thousand, acre = shown_output(data)
    pairs([("output", f"{thousand} = {acre}")])
    for line in data["off_mean"]:
        say(wrapped(f"{line}: clean or replace it (more than 10 % off, common practice)", "    ", "  "))
    if done.hint:
        say(wrapped(done.hint, "    ", "  "))
    for note in done.notes:
        say(wrapped(f"note: {note}; kept, look at the numbers", "    ", "  "))
    last = done.before
    if last is not None and done.change:
        pairs([("before", f"{last.rate}, {last.words}: {done.change} now")])
    talk(f"logged as {done.serial}")


def calibrations(
    context: typer.Context,
    equipment: Annotated[
        str | None, typer.Argument(metavar="[EQUIPMENT]", autocompletion=completing.equipment, help="One alone, by id.")
    ] = None,
) -> None:
    """List the newest calibration of all equipment, with its age.

    For each person and nozzle. Stale by common practice: older than 365 days, of an earlier year from
    March on, or before a change of nozzle.

    Example: swathbook calibrations
    """
    from records.services.calibrating import calibrations as newest

    run = application(context)
    found = newest(run.book(), run.clock, equipment)
    if state_of(context).json:
        say_json({"schema": 1, "calibrations": [one.document() for one in found]})
        return
    if not found:
        say("no equipment is loaded")
        return
    head = ["equipment", "by", "nozzle", "per 1,000", "day", "state"]
    table(head, [_row(one) for one in found], right=[3], keep=[0, 3, 4])
    due = sum(one.state != "fresh" for one in found)
    if due:
        talk("swathbook calibrate EQUIPMENT METHOD logs a new one; --help tells the methods")


def _row(one: Line) -> list[str]:
    from records.services.calibrating import per_thousand

    out = one.output
    day = str(one.day or "-")
    state = one.why or ("loaded" if one.age is None else f"{one.age} days")
    if one.state != "fresh":
        state = f"{one.state.upper()}: {state}"
    if out is None:
        return [one.equipment, "", "", "-", day, state]
    setting = one.setting and f"setting {one.setting}"
    filled = ", ".join(part for part in (out.nozzle, out.pressure, one.product, setting) if part)
    return [one.equipment, one.person, filled, per_thousand(out.rate), day, state]
