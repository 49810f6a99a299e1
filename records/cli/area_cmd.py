"""Measuring: the ground that figures or an outline make, and keeping them with a zone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.domain.figures import Figure
    from records.services.measuring import Ground, Kept


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("area")(area)


def area(
    context: typer.Context,
    figures: Annotated[
        list[str] | None,
        typer.Argument(metavar="[FIGURE]", help="Such as 'rectangle 60 ft x 25 ft'; minus takes it off."),
    ] = None,
    outline: Annotated[
        str | None, typer.Option("--outline", metavar="FILE|-", help="A GeoJSON polygon, measured on the ellipsoid.")
    ] = None,
    site: Annotated[
        str | None,
        typer.Option("--site", metavar="SITE", autocompletion=completing.sites, help="Keep the figures there."),
    ] = None,
    zone: Annotated[
        str | None,
        typer.Option("--zone", metavar="ZONE", autocompletion=completing.zones, help="Its zone, old or new."),
    ] = None,
    how: Annotated[str | None, typer.Option("--how", metavar="HOW", help="wheel, tape, map or estimate.")] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="Day of measuring; else today.")] = None,
    by: Annotated[
        str | None,
        typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who measured, by id."),
    ] = None,
    kind: Annotated[str | None, typer.Option("--kind", metavar="KIND", help="Of a new zone, such as turf.")] = None,
    turf: Annotated[
        list[str] | None, typer.Option("--turf", metavar="GRASS", help="Of a new zone; may repeat.")
    ] = None,
) -> None:
    """Work out the ground of a lawn, and keep it with a zone.

    Figures: rectangle, triangle, trapezoid, circle, ellipse, L-shape, offsets; each may begin with
    'minus', and have a name: 'minus house: rectangle 40 ft x 28 ft'. For an irregular lawn give the
    widths across its long axis from end to end, 0 at a point:
    'offsets every 10 ft: 0, 22, 31, 28, 14 by simpson' (or by trapezoid, or by mean).

    Example: swathbook area 'rectangle 60 ft x 25 ft' 'minus circle 12 ft across'
    """
    from records.errors import UsageError
    from records.services.measuring import Taken, keep, measure

    if (site is None) != (zone is None):
        raise UsageError("--site and --zone go together", "Such as --site lark-lane-7 --zone front --how wheel")
    if site is None and any((how, on, by, kind, turf)):
        raise UsageError("nothing is kept without --site and --zone", "Name them, or leave the other options out")
    if not figures and outline is None:
        raise UsageError("no figure is given", "Such as: swathbook area 'rectangle 60 ft x 25 ft'")
    ground = measure(figures or [], None if outline is None else (outline, _content(outline)))
    run, kept = application(context), None
    if site is not None and zone is not None:
        taken = Taken(site, zone, how, on, by, kind, tuple(turf or ()))
        kept = keep(run.book(), ground, taken, run.clock)
    if state_of(context).json:
        say_json({"schema": 1, **ground.document(), "kept": None if kept is None else kept.document()})
    else:
        _tell(ground)
        if kept is not None:
            _tell_kept(kept)


def _content(name: str) -> bytes:
    """Return a file, or a little more than the most that is read of it."""
    import sys
    from pathlib import Path

    from records.errors import InputError
    from records.services.boundary import MAX_BYTES

    try:
        if name == "-":
            return sys.stdin.buffer.read(MAX_BYTES + 1)
        with Path(name).open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        raise InputError(f"{name} cannot be read: {error.strerror}", "Look at the name and its folder") from error


def _tell(ground: Ground) -> None:
    from records.domain.quantities import to_decimal
    from records.services.measuring import WIDE_APART, apart

    rows, notes = [], []
    for number, one in enumerate(ground.figures, 1):
        sign = "-" if one.minus else ""
        rows.append([str(number), str(one), f"{sign}{_feet(one)}"])
        if one.kind == "offsets":
            notes.append(f"{number}  {_rules(one)}")
            if apart(one) >= WIDE_APART:
                notes.append(f"   they differ by {apart(one)} %: measure the widths closer together")
    rows.append(["", f"together, {ground.acres} acre", f"{to_decimal(ground.area.value, 2):,.2f}"])
    table(["", "figure", "sq ft"], rows, right=[2], keep=[0, 2])
    for note in notes:
        say(wrapped(note, "   ", ""))


def _feet(figure: Figure) -> str:
    from records.domain.quantities import to_decimal

    return f"{to_decimal(figure.area, 2):,.2f}"


def _rules(figure: Figure) -> str:
    from records.domain.quantities import to_decimal
    from records.services.measuring import rules_of

    told = []
    for rule, size in rules_of(figure):
        made = "needs an odd number of widths" if size is None else f"{to_decimal(size, 2):,f}"
        told.append(f"{rule} {made}{' (used)' if rule == figure.way else ''}")
    return f"by rule: {'; '.join(told)}"


def _tell_kept(kept: Kept) -> None:
    if kept.is_new:
        change = f"a new zone of {kept.after}"
    elif kept.before is None:
        change = f"measured for the first time, {kept.after}"
    elif kept.before == kept.after:
        change = f"still {kept.after}"
    else:
        change = f"{kept.before} before, {kept.after} now"
    talk(wrapped(f"{kept.site}, zone {kept.zone}: {change} (version {kept.version} of the site)"))
    for note in kept.notes:
        talk(wrapped(f"note: {note}", "    ", "  "))
