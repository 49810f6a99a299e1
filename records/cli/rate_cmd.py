"""Rating what a treatment did."""

from __future__ import annotations

import os
from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import pairs, say, say_json, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.domain.follow_up import Photo
    from records.storage.photos import PhotoFolder


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("rate")(rate)


def rate(
    context: typer.Context,
    of: Annotated[
        str,
        typer.Argument(
            metavar="SERIAL|SITE",
            autocompletion=completing.serials_or_sites,
            help="The record, or a site: its newest visit.",
        ),
    ],
    marks: Annotated[
        list[str] | None,
        typer.Argument(metavar="[TARGET=]PERCENT...", help="Control, 0 (no effect) to 100 (all dead), or TARGET."),
    ] = None,
    treatment: Annotated[int | None, typer.Option("--treatment", metavar="N", help="Which treatment, from 1.")] = None,
    at: Annotated[str | None, typer.Option("--on", metavar="DAY|TIME", help="When it was looked at; else now.")] = None,
    by: Annotated[
        str | None,
        typer.Option(
            "--by", metavar="PERSON", autocompletion=completing.people, help="Who rated, by id; else SWATHBOOK_PERSON."
        ),
    ] = None,
    injury: Annotated[str | None, typer.Option("--injury", metavar="PERCENT", help="Injury of the turf.")] = None,
    before: Annotated[
        str | None, typer.Option("--before", metavar="PERCENT", help="Cover of the weed before the treatment.")
    ] = None,
    cover: Annotated[str | None, typer.Option("--cover", metavar="PERCENT", help="Cover of the weed now.")] = None,
    count: Annotated[
        str | None, typer.Option("--count", metavar="BEFORE:AFTER", help="Plants counted, such as 40:6.")
    ] = None,
    check: Annotated[
        str | None, typer.Option("--check", metavar="BEFORE:AFTER", help="The same on untreated ground.")
    ] = None,
    since: Annotated[
        list[str] | None, typer.Option("--since", metavar="WORDS", help="Anything that happened since; may repeat.")
    ] = None,
    rain: Annotated[str | None, typer.Option("--rain", metavar="DEPTH", help="Rain since, like 0.4 in.")] = None,
    mowed: Annotated[str | None, typer.Option("--mowed", metavar="DAY", help="When it was mowed since.")] = None,
    watered: Annotated[str | None, typer.Option("--watered", metavar="DAY", help="When it was watered since.")] = None,
    photo: Annotated[list[str] | None, typer.Option("--photo", metavar="FILE", help="A photo; may repeat.")] = None,
    remark: Annotated[str | None, typer.Option("--remark", metavar="WORDS", help="Anything else.")] = None,
) -> None:
    """Rate what a treatment did, on one line.

    Of a site, the newest visit against these weeds is rated. Days are counted from the day of the treatment. With
    counts, control is worked out: by Henderson and Tilton where untreated ground was counted too, by Abbott where
    only afterwards (--count :6 --check :30). The weed that was counted is named alone: rate lark-lane-7 dandelion
    --count 40:6 --check 38:35.

    Example: swathbook rate lark-lane-7 dandelion=85 'white clover=60' --injury 5 --by mo
    """
    from records.cli.rating_view import facts_of
    from records.services.follow_up import Order
    from records.services.follow_up import rate as seal_rating

    run = application(context)
    photos = _read(photo or [])
    usual = None if by else os.environ.get("SWATHBOOK_PERSON") or None
    order = Order(
        of=of,
        marks=tuple(marks or ()),
        treatment=treatment,
        at=at,
        by=by or usual,
        injury=injury,
        before=before,
        cover=cover,
        count=count,
        check=check,
        since=tuple(since or ()),
        rain=rain,
        mowed=mowed,
        watered=watered,
        remark=remark,
        photos=tuple(one for one, _ in photos.values()),
    )
    done = seal_rating(run.book(), run.clock, order, partial(_keep, run.photos(), photos) if photos else None)
    notes = [*([f"rated by {done.ratings[0].rater} (SWATHBOOK_PERSON)"] if usual else []), *done.notes]
    if state_of(context).json:
        say_json({"schema": 1, "ratings": [one.serial for one in done.ratings], "notes": notes})
        return
    for one in done.ratings:
        what = f"{one.target} at {done.treated.site}, {one.days} days after {done.treated.name}"
        say(wrapped(what, "  ", f"{one.serial}: "))
        pairs(facts_of(one))
    for note in notes:
        talk(wrapped(f"note: {note}", "  ", ""))


def _keep(folder: PhotoFolder, photos: dict[str, tuple[Photo, bytes]]) -> None:
    for _, data in photos.values():
        folder.keep(data)


def _read(names: list[str]) -> dict[str, tuple[Photo, bytes]]:
    """Read photos, each once."""
    from pathlib import PurePath

    from records.cli.output import printable
    from records.cli.state import read_input
    from records.storage.photos import photo_of

    found: dict[str, tuple[Photo, bytes]] = {}
    for name in names:
        data = read_input(name)
        photo = photo_of("photo" if name == "-" else printable(PurePath(name).name)[:120], data)
        found.setdefault(photo.sha256, (photo, data))
    return found
