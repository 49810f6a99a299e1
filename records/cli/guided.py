"""Closing a visit by questions: defaults are shown in brackets, Enter takes them; what must not be guessed is asked."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

import typer

from records.cli.output import talk, wrapped

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.domain.place import Site, Zone
    from records.services.ports import Json, StoredRevision
    from records.services.suggesting import Suggestions

Check = Callable[[str], Any]


class _Left(Exception):  # noqa: N818 - it is no error: someone pressed Ctrl-C or closed the input
    """The questions were left before the end."""


def ask(question: str, default: str | None = None, check: Check | None = None, *, optional: bool = False) -> str:
    """Ask until the answer can be used; the reason is told each time it cannot."""
    from records.domain.numerals import QuantityError
    from records.errors import RecordsError

    while True:
        hint = f" [{default}]" if default else " (Enter = none)" if optional else ""
        try:
            answer = typer.prompt(f"{question}{hint}", default="", show_default=False, err=True).strip()
        except (typer.Abort, EOFError, KeyboardInterrupt) as error:
            raise _Left from error
        answer = answer or default or ""
        if not answer and optional:
            return ""
        if not answer:
            talk("  an answer is needed here")
            continue
        try:
            if check is not None:
                check(answer)
        except (QuantityError, RecordsError, ValueError) as error:
            talk(wrapped(str(error), "  ", "  "))
            continue
        return answer


def yes(question: str) -> bool:
    """Ask a question that only a typed yes answers."""
    return ask(f"{question} y/n", "n").lower().startswith("y")


def ask_visit(run: Application) -> Json | None:
    """Ask for a visit; return the entry document, or None when it was left before a site was named.

    What was typed before Ctrl-C comes back too, marked so: closing it holds it, and nothing is lost.
    """
    from records.services.suggesting import Suggestions

    known = Suggestions(run.book(), run.clock)
    document: Json = {}
    try:
        _ask(known, document)
    except _Left:
        if not document:
            return None
        talk("\nleft before the end; what was typed is kept")
    return document


def _ask(known: Suggestions, document: Json) -> None:
    site = _site(known)
    document["site"] = site.id
    talk(f"  {site.address}, {site.city}" + (f"\n  note: {site.notes}" if site.notes else ""))
    here = known.last_here(site)
    if here is not None:
        last = here.body
        products = ", ".join(line["product"]["name"] for t in last["treatments"] for line in t["applications"])
        talk(
            wrapped(
                f"last here: {last['date']} by {(last['applicator'] or {}).get('name', '?')}, {products}", "    ", "  "
            )
        )
    # The person never comes from the last record: SWATHBOOK_PERSON says who works on this machine.
    person_id = ask("who applied", os.environ.get("SWATHBOOK_PERSON"), lambda text: _must(known.person(text), "person"))
    person = _must(known.person(person_id), "person")
    document["applicator"] = person.id
    stop = known.last_stop(person, site)
    if all(licence.kind.value != "certified" for licence in person.licences):
        supervisor = ask("supervised by", None, lambda text: _must(known.person(text), "person"))
        document["supervisor"] = _must(known.person(supervisor), "person").id
    _times(known, site, stop, document)
    document["weather"] = _weather(known, site, stop)
    document["treatments"] = []
    while True:
        treatment: Json = {}
        document["treatments"].append(treatment)
        _treatment(known, site, stop, here, treatment)
        if not yes("another treatment at this stop?"):
            break
    follow_up = ask("follow-up day", None, _day, optional=True)
    if follow_up:
        document["follow_up"] = follow_up
    document["remarks"] = ask("remarks", None, optional=True)


def _must(found: Any, what: str) -> Any:  # noqa: ANN401 - hands back what it was given
    if found is None:
        raise ValueError(f"no {what} is known by that, or more than one is; type the id")
    return found


def _day(text: str) -> None:
    from records.services.finding import read_day

    read_day(text)


def _site(known: Suggestions) -> Site:
    while True:
        found = known.match_sites(ask("site (id, or part of the address)"))
        if len(found) == 1:
            return found[0]
        if not found:
            talk("  no such site in the book; load it first, or type another part of the address")
            continue
        for site in found[:9]:
            talk(f"  {site.id:<20} {site.address}, {site.city}")
        talk("  type more of it, or the id")


def _times(known: Suggestions, site: Site, stop: StoredRevision | None, document: Json) -> None:
    from datetime import datetime

    now = known.now(site)
    earliest = None if stop is None or stop.body["finished"] is None else stop.body["finished"]["local"]
    if earliest:
        talk(f"  your last stop ended {datetime.fromisoformat(earliest):%H:%M}")
    started = ask("started", None, lambda text: _moment(text, now))
    document["started"] = _moment(started, now)
    document["finished"] = _moment(ask("finished", f"{now:%H:%M}", lambda text: _moment(text, now)), now)


def _moment(text: str, now: Any) -> str:  # noqa: ANN401 - an aware datetime of the site
    """Return a full local time; `9:10` and `0910` are today."""
    import re
    from datetime import datetime

    clock = re.fullmatch(r"(\d{1,2}):?(\d{2})", text.strip(), re.ASCII)
    if clock:
        try:
            moment = now.replace(hour=int(clock[1]), minute=int(clock[2]), second=0, microsecond=0)
        except ValueError as error:
            raise ValueError("write the time like 9:10, or with the day: 2026-05-14T09:10") from error
        return f"{moment:%Y-%m-%dT%H:%M}"
    try:
        datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise ValueError("write the time like 9:10, or with the day: 2026-05-14T09:10") from error
    return text.strip()


def _weather(known: Suggestions, site: Site, stop: StoredRevision | None) -> Json:
    from records.domain.quantities import parse_speed, parse_temperature
    from records.domain.weather import parse_direction

    carried = known.carried(stop, site)
    if carried is not None and yes(f"weather of {carried.serial}: {carried.words}; does it still stand here?"):
        return carried.weather
    if stop is not None and carried is None:
        talk("  the weather of your last stop is more than an hour old (or not on record): measure again")
    speed = ask("wind speed (7 mph; 0 mph when calm)", None, parse_speed)
    weather: Json = {"wind_speed": speed}
    if parse_speed(speed).value:
        weather["wind_from"] = ask("wind FROM (NW, 315, variable)", None, parse_direction)
    else:
        weather["wind_from"] = "calm"
    weather["temperature"] = ask("temperature (71 degF)", None, parse_temperature)
    now = known.now(site)
    weather["measured_at"] = _moment(ask("measured at", f"{now:%H:%M}", lambda text: _moment(text, now)), now)
    weather["source"] = ask("measured with", "meter")
    return weather


def _treatment(
    known: Suggestions, site: Site, stop: StoredRevision | None, here: StoredRevision | None, treatment: Json
) -> None:
    from records.domain.quantities import parse_area, parse_volume
    from records.services.suggesting import last_treatment, usual_spray, whole_area

    before, today = last_treatment(here), last_treatment(stop)
    for zone in site.zones:
        measured = "not measured" if zone.area is None else str(zone.area)
        talk(f"  {zone.id:<14} {zone.kind}{', ' + ', '.join(zone.turf) if zone.turf else ''}, {measured}")
    default = site.zones[0].id if len(site.zones) == 1 else None
    names = ask("zones (blank between)", default, lambda text: _zones(site, text))
    zones = _zones(site, names)
    treatment["zones"] = [zone.id for zone in zones]
    method = ask("method (broadcast, spot)", today.get("method"))
    treatment["method"] = method
    targets = ask("against (comma between)", ", ".join(before.get("targets", [])) or None)
    treatment["targets"] = [part.strip() for part in targets.split(",") if part.strip()]
    equipment = ask("equipment", (today.get("equipment") or {}).get("id"), optional=True)
    if equipment:
        treatment["equipment"] = equipment
    if method.startswith("spot"):
        area = ask("spot area treated (300 sq ft)", None, parse_area, optional=True)
        if not area:
            treatment["extent"] = ask("then describe the extent", None)
    else:
        area = ask("area treated", whole_area(zones), parse_area)
    if area:
        treatment["area"] = area
    machine = known.find_equipment(equipment) if equipment else None
    guess = None if method.startswith("spot") or not area else usual_spray(parse_area(area), machine)
    spray = ask("spray put out", guess, parse_volume, optional=guess is None)
    if spray:
        treatment["spray"] = spray
    _what(known, zones, method, today, treatment)


def _zones(site: Site, text: str) -> list[Zone]:
    zones = []
    for name in text.replace(",", " ").split():
        zone = site.zone(name)
        if zone is None:
            raise ValueError(f"{site.id} has no zone {name!r}; it has {', '.join(z.id for z in site.zones)}")
        zones.append(zone)
    return zones


def _what(known: Suggestions, zones: list[Zone], method: str, today: Json, treatment: Json) -> None:
    """Ask for the mix, or for the products; neither is filled in without a keystroke of its own."""
    from records.domain.quantities import parse_rate
    from records.services.suggesting import label_rates

    last_mix = next((line["mix"] for line in today.get("applications", []) if line.get("mix")), None)
    if known.mixes and treatment.get("spray"):
        hint = f"; in the tank last: {last_mix}" if last_mix else ""
        mix = ask(f"mix (id{hint})", None, lambda text: _one_of(text, known.mixes), optional=True)
        if mix:
            treatment["mix"] = mix
            return
    treatment["products"] = []
    while True:
        name = ask(
            "product" if not treatment["products"] else "another product", None, optional=bool(treatment["products"])
        )
        if not name:
            return
        found = known.match_products(name)
        if len(found) != 1:
            talk("  " + (", ".join(p.id for p in found[:9]) or "no such product in the book") + "; type the id")
            continue
        product = found[0]
        number = product.registration or product.exemption or "no number"
        talk(f"  {product.name} ({number})")
        for printed in label_rates(product, {zone.kind for zone in zones}, method):
            talk(f"  label: {printed}")
        line = {
            "product": product.id,
            "rate": ask("  rate", None, partial(parse_rate, form=product.form)),
        }
        lot = ask("  lot on the container", None, optional=True)
        if lot:
            line["lot"] = lot
        treatment["products"].append(line)


def _one_of(text: str, known: list[str]) -> None:
    if text not in known:
        raise ValueError(f"no mix {text!r}; known: {', '.join(known[:9])}")


def confirm(findings: list[dict[str, str]]) -> list[str]:
    """Ask about each question of a held entry; return the codes that were confirmed."""
    confirmed = []
    for code in dict.fromkeys(f["code"] for f in findings if f["severity"] == "ask"):
        for finding in (f for f in findings if f["code"] == code and f["severity"] == "ask"):
            talk(wrapped(finding["message"], "    ", "  ? "))
        try:
            if yes("is that right as typed?"):
                confirmed.append(code)
        except _Left:
            break
    return confirmed
