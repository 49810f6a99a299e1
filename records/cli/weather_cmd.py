"""Weather for a visit from a station: an hourly table, or a pasted METAR; and what it advises."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.output import json_text, pairs, say, say_json, wrapped
from records.cli.state import application, read_input, state_of

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from records.services.weather_sources import Told

HELP = """Weather of a station for a visit, with advice on drift.

A reading by a meter at the site wins; a station stands in for it, under its name. Labels are compared at the site.

Example: swathbook weather --table hours.csv --station EWR --at 2013-05-03T14:20 --zone America/New_York
"""

group = typer.Typer(help=HELP, invoke_without_command=True, rich_markup_mode=None)

Zone = Annotated[
    str | None, typer.Option("--zone", metavar="ZONE", help="Time zone of the site, such as America/Chicago.")
]
Distance = Annotated[
    str | None, typer.Option("--distance", metavar="LENGTH", help="Of the station from the site: 4 mi, 6 km.")
]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="weather")


@group.callback()
def weather(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Option("--table", metavar="FILE|-", help="Hours of stations as CSV; time_hour is UTC.")
    ] = None,
    station: Annotated[str | None, typer.Option("--station", metavar="ID", help="As the table names it.")] = None,
    at: Annotated[
        str | None, typer.Option("--at", metavar="TIME", help="When the work was: with its offset, or with --zone.")
    ] = None,
    zone: Zone = None,
    distance: Distance = None,
    station_at: Annotated[
        str | None, typer.Option("--station-at", metavar="LAT,LON", help="Where the station is, in degrees.")
    ] = None,
    site_at: Annotated[
        str | None, typer.Option("--site-at", metavar="LAT,LON", help="Where the site is; gives the distance.")
    ] = None,
) -> None:
    """Show what a station's table says of a moment."""
    if context.invoked_subcommand is not None:
        return
    from records.errors import UsageError
    from records.services.weather_sources import distance_of, moment_of, of_table, read_table, zone_of

    if file is None or station is None or at is None:
        raise UsageError(
            "a table needs --table, --station and --at",
            'Or decode a report: swathbook weather metar "KXYZ 141453Z ..."',
        )
    place = None if zone is None else zone_of(zone)
    moment = moment_of(at, place)
    far = distance_of(distance, station_at, site_at)
    name = "the table" if file == "-" else file
    _tell(of_table(read_table(read_input(file), name, station), moment, name, far, place), place, context)


@group.command("metar")
def metar(
    context: typer.Context,
    report: Annotated[list[str], typer.Argument(metavar="REPORT", help="The METAR, as pasted.")],
    on: Annotated[
        str | None, typer.Option("--on", metavar="DAY", help="A day near the report; else today. It has no month.")
    ] = None,
    zone: Zone = None,
    distance: Distance = None,
) -> None:
    """Decode a METAR.

    Example: swathbook weather metar "KXYZ 141453Z 22015G25KT 10SM CLR 18/16 A2992"
    """
    from datetime import UTC, datetime, time

    from records.domain.numerals import QuantityError
    from records.errors import InputError
    from records.services.finding import read_day
    from records.services.weather_sources import distance_of, of_metar, zone_of

    place = None if zone is None else zone_of(zone)
    near = application(context).clock.now()
    if (day := read_day(on)) is not None:
        near = datetime.combine(day, time(12), UTC)
    try:
        told = of_metar(" ".join(report), near, distance_of(distance, None, None), place)
    except QuantityError as error:
        raise InputError(str(error)) from error
    _tell(told, place, context)


def _tell(told: Told, zone: ZoneInfo | None, context: typer.Context) -> None:
    if state_of(context).json:
        say_json(_document(told))
        return
    local = "" if zone is None else f" ({told.at.astimezone(zone):%Y-%m-%d %H:%M} local)"
    far = f", {told.weather['distance']} from the site" if "distance" in told.weather else ""
    say(wrapped(f"station {told.station}{far}, {told.at:%Y-%m-%d %H:%M} UTC{local}", "    ", ""))
    if told.age:
        say(f"  {told.age} the time asked for")
    if told.notes:
        say(wrapped("; ".join(told.notes), "  ", "  "))
    pairs(list(told.facts))
    for one in told.advice:
        say()
        say(wrapped(one.words, "       ", "  note "))
        say(wrapped(one.source, "         ", "       "))
    say()
    if told.metar is not None:  # longer than a line of the terminal, and no text of JSON can be broken
        far = f', and "distance": "{told.weather["distance"]}"' if "distance" in told.weather else ""
        say(wrapped(f'For the visit, under "weather": "metar" with the report as pasted{far}', "  ", "  "))
        say("  (--json prints the block to copy)")
        return
    say("  For the visit:")
    block = json_text(told.weather, 1).replace("\n", "\n  ")
    say(f'  "weather": {block}')


def _document(told: Told) -> dict[str, object]:
    report = told.metar
    extra: dict[str, object] = {}
    if report is not None:
        values = (report.wind_speed, report.wind_from, report.wind_gust, report.temperature, report.dew_point)
        names = ("wind_speed", "wind_from", "wind_gust", "temperature", "dew_point")
        extra = {
            "decoded": {
                **{name: None if value is None else str(value) for name, value in zip(names, values, strict=True)},
                "wind_range": None if report.wind_range is None else list(report.wind_range),
                "humidity": report.humidity_text,
                "visibility": report.visibility or None,
                "automated": report.is_automated,
                "corrected": report.is_corrected,
                "unread": list(report.unread),
            }
        }
    return {
        "schema": 1,
        "station": told.station,
        "at": told.at.isoformat(timespec="minutes").replace("+00:00", "Z"),
        "age": told.age or None,
        "notes": list(told.notes),
        **extra,
        "wet_bulb": None if told.wet_bulb is None else f"{told.wet_bulb} degC",
        "delta_t": None if told.delta is None else f"{told.delta} degC",
        "delta_t_class": told.delta_class or None,
        "advice": [
            {"words": one.words, "limit": one.limit, "found": one.found, "source": one.source} for one in told.advice
        ],
        "weather": told.weather,
    }
