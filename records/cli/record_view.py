"""One sealed revision as a page of text, readable at 80 columns."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from records.cli.output import findings, pairs, say, wrapped
from records.domain.spans import lapse
from records.services.closing.nutrient_body import told as nutrients_told

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.ports import StoredRevision


def tell_record(revision: StoredRevision) -> None:
    """Write a revision in full."""
    body = revision.body
    if body["kind"] == "event":
        _tell_event(revision)
        return
    deviation = body["deviation"]
    title = f"RECORD {revision.serial}" + (f", revision {revision.revision}" if revision.revision > 1 else "")
    say(title + ("  ** DEVIATION: sealed as applied **" if deviation else ""))
    if revision.action == "voided":
        say("** VOIDED: it does not stand, and counts nowhere **")
        change = body.get("change") or {}
        by = (change.get("by") or {}).get("name") or "nobody named"
        say(wrapped(f"voided by {by}, {_instant(revision.sealed_at)}: {change.get('reason') or 'no reason'}", "  "))
    if deviation:
        signer = deviation["signed_by"]
        licence = (signer["licence"] or {}).get("number", "")
        told = f"reason for the deviation: {deviation['reason']}; signed by {signer['name']} (licence {licence})"
        say(wrapped(told, "  "))
    _head(body)
    for number, treatment in enumerate(body["treatments"], 1):
        _treatment(number, treatment)
    if body["findings"]:
        say("\nfindings at sealing")
        findings(body["findings"], body.get("confirmed") or (), is_signed=deviation is not None)
    packs = ", ".join(f"{pack['id']} {pack['version']}" for pack in body["packs"])
    tell_seal(revision, f"packs {packs}" if packs else None)


def tell_history(revisions: Sequence[StoredRevision]) -> None:
    """Write what became of a record: each revision, who changed it, when, why, and what differs."""
    from records.services.inspecting.changes import revisions_told

    is_gone = revisions[-1].action == "voided"
    say(f"history, {'none of it stands any more' if is_gone else 'the last text stands'}")
    for told, stored in zip(revisions_told(revisions), revisions, strict=True):
        who = f" by {told.who}" if told.who else ""
        say(wrapped(f"revision {told.number}: {told.action}{who}, {_instant(stored.sealed_at)}", "    ", "  "))
        if told.reason:
            say(wrapped(f"reason: {told.reason}", "      ", "    "))
        for change in told.changes:
            say(wrapped(f"{change.what}: was {change.before}; is {change.after}", "      ", "    - "))
        if told.action == "amended" and not told.changes:
            say("    - nothing that a record has to say")
        say(f"    seal {told.seal}")
    say()


def _tell_event(revision: StoredRevision) -> None:
    """Write what is no visit: a delivery, a production, a contact ... with all that was sealed of it."""
    body = revision.body
    say(f"EVENT {revision.serial}: {body['origin']['kind']}")
    person = body["applicator"] or {}
    pairs(
        [
            ("day", body["date"]),
            ("site", _site(body["site"]) if body["site"] else None),
            ("by", person.get("name")),
            ("entered", _instant(body["entered_at"])),
            *((name.replace("_", " "), _plain(value)) for name, value in body["data"].items()),
        ],
        gap=18,
    )
    tell_seal(revision)


def _plain(value: object) -> str | None:
    """Return a part of an event's data as text; None where it says nothing."""
    if value is None or value in ("", []):
        return None
    if isinstance(value, dict):
        return "; ".join(f"{name.replace('_', ' ')} {told}" for name, one in value.items() if (told := _plain(one)))
    if isinstance(value, list):
        return "; ".join(filter(None, map(_plain, value)))
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def tell_seal(revision: StoredRevision, judged: str | None = None) -> None:
    """Write the seal of a revision."""
    say("\nseal")
    pairs(
        [
            ("sealed at", _instant(revision.sealed_at)),
            ("judged by", judged),
            ("seal", revision.seal),
            ("previous", revision.previous or "none: the first of the book"),
        ]
    )
    say()


def _person(person: dict[str, Any] | None) -> str | None:
    if person is None:
        return None
    licence = person.get("licence")
    if licence is None:
        return f"{person['name']} (no licence on that day)"
    until = f"valid to {licence['to']}" if licence["to"] else "validity not recorded"
    return f"{person['name']} ({licence['kind']}, {licence['state']} {licence['number']}, {until})"


def _moment(moment: dict[str, str] | None) -> str:
    """Return a local time with its distance from UTC set apart."""
    if moment is None:
        return "not recorded"
    local = moment["local"].replace("T", " ")
    return f"{local[:-6]} (UTC{local[-6:]})" if local[-6:-5] in {"+", "-"} else local


def _instant(text: str) -> str:
    """Return an instant to the minute; JSON has it in full."""
    return f"{text[:16].replace('T', ' ')} UTC"


def _by(body: dict[str, Any], due: str) -> str:
    return f"by {lapse(datetime.fromisoformat(body['entered_at']) - datetime.fromisoformat(due))}"


def _head(body: dict[str, Any]) -> None:
    site, customer, business, weather = (
        body["site"] or {},
        body["customer"] or {},
        body["business"] or {},
        body["weather"],
    )
    days = body["late_days"]
    after = f", {days} day{'s' if days > 1 else ''} after the work" if days else ""
    due = (body.get("late") or {}).get("due")
    late = after + (
        f"; LATE {_by(body, due)}, it was due {_instant(due)} ({', '.join(body['late']['by'])})" if due else ""
    )
    origin = body["origin"]
    pairs(
        [
            ("firm", ", ".join(p for p in (business.get("name"), business.get("licence")) if p)),
            ("customer", customer.get("name")),
            ("site", _site(site)),
            ("county", site.get("county")),
            ("applied by", _person(body["applicator"]) or "not recorded"),
            ("supervised", _person(body["supervisor"])),
            ("period", body["period"] + " (a month's total, no day)" if body["date"] is None else None),
            ("start", None if body["date"] is None else _moment(body["started"])),
            ("end", None if body["date"] is None else _moment(body["finished"])),
            ("weather", _weather(weather) if weather else "not recorded"),
            ("entered", _instant(body["entered_at"]) + late),
            (
                "origin",
                f"imported from {origin['file']}, rows {', '.join(map(str, origin['rows']))}"
                if origin["kind"] == "import"
                else None,
            ),
            ("source", origin.get("source")),
            ("sign until", _moment(body["sign_removal"]) if body.get("sign_removal") else None),
            ("follow-up", body["follow_up"]),
            ("asked for by", body.get("authorized_by")),
            ("meter read", body.get("meter")),
            ("permit", body.get("permit")),
            ("mixed at", body.get("mixing_place")),
            ("incident", body.get("incident")),
            ("ref", body["ref"]),
            ("remarks", body["remarks"]),
        ]
    )


def _site(site: dict[str, Any]) -> str:
    """Return the treated place; a state alone is not one."""
    state = f"{site.get('state') or ''} {site.get('zip') or ''}".strip()
    place = ", ".join(filter(None, (site.get("address"), site.get("city"), state)))
    if not site.get("id") and not site.get("address"):
        return f"not recorded; {place}" if place else "not recorded"
    return place + (f" ({site['id']})" if site.get("id") else "")


def _weather(weather: dict[str, Any]) -> str:
    from records.domain.weather import told_value
    from records.services.weather_words import beside_words, source_words

    reasons = weather["not_measured"]
    has_station = bool(weather.get("station"))

    def part(name: str, words: str) -> str:
        if weather[name]:
            return f"{words} {told_value(str(weather[name])) if has_station else weather[name]}"
        return f"{words} not measured ({reasons[name]})" if name in reasons else f"{words} not recorded"

    wind = part("wind_speed", "wind") + (
        f" from {weather['wind_from']}" if weather["wind_from"] not in {None, "calm"} else ""
    )
    if weather["wind_from"] == "calm":
        wind = "calm, 0 mph"
    elif not weather["wind_from"]:
        wind += ", " + part("wind_from", "direction")
    extra = [f"humidity {weather['humidity']}"] if weather["humidity"] else []
    if weather.get("wind_gust"):
        wind += f", gusts {told_value(str(weather['wind_gust']))}"
    if weather["measured_at"]:
        extra.append(f"measured {_moment(weather['measured_at'])}")
    if weather["source"]:
        source = source_words(weather)
        extra.append(f"by {source}" if weather["source"] == "meter" else source)
    if beside := beside_words(weather):
        extra.append(beside)
    if weather.get("metar"):
        extra.append(f"METAR: {weather['metar']}")
    return "; ".join([wind, part("temperature", "temperature"), *extra])


def _amount(amount: str | None) -> str:
    if amount is None:
        return "not recorded"
    return f"{amount} (fluid or by weight: not recorded)" if amount.partition(" ")[2] == "oz" else amount


def _from_water(treatment: dict[str, Any]) -> str | None:
    """Return how far fertilizer stayed from water; None where nothing is said of it."""
    spreader = {True: "with a deflector, drop spreader or targeted liquid", False: "without a deflector"}
    deflector = treatment.get("deflector")
    said = None if deflector is None else spreader.get(deflector)
    return ", ".join(filter(None, (treatment.get("water_distance"), said))) or None


def _calibration(treatment: dict[str, Any]) -> str | None:
    """Return the calibration that an area was estimated by; None where none was, or none is written down."""
    found = treatment.get("calibration")
    return f"{found['output']}, {found.get('words', '')}" if found else None


def _treatment(number: int, treatment: dict[str, Any]) -> None:
    zones = [f"{z['id']} ({', '.join([z['kind'], *z['turf']])})" for z in treatment["zones"]]
    say(f"\ntreatment {number}: {treatment['method'] or 'method not recorded'}")
    source = {"derived": " (from rate and amount)", "estimated": " (ESTIMATE from spray and calibrated output)"}
    area = f"{treatment['area']}{source.get(treatment['area_source'], '')}" if treatment["area"] else None
    pairs(
        [
            ("where", ", ".join(zones) or treatment["site_kind"] or "not recorded"),
            ("area", area or ("not measured" if treatment["extent"] else "not recorded")),
            ("estimated by", _calibration(treatment)),
            ("extent", treatment["extent"]),
            ("against", ", ".join(treatment["targets"]) or "not recorded"),
            ("equipment", (treatment["equipment"] or {}).get("name")),
            ("spray", treatment["spray"]),
            ("dilution", treatment.get("dilution")),
            ("diluted with", treatment.get("diluent")),
            ("purpose", treatment.get("purpose")),
            ("plot", treatment.get("plot")),
            ("from water", _from_water(treatment)),
            ("soil test", treatment.get("soil_test")),
            ("turf", treatment.get("turf_stage")),
            ("ground", treatment.get("ground")),
        ]
    )
    for line in treatment["applications"]:
        product, label = line["product"], line["label"] or {}
        number_text = product["registration"] or product["exemption"] or f"{product['kind']}, no number"
        flags = " RESTRICTED USE" if product["restricted_use"] else ""
        say(wrapped(f"{product['name']} ({number_text}){flags}", "    ", "  > "))
        actives = "; ".join(
            f"{active['name']} {active['content']} {active['as']}"
            + (f" = {weight['pounds']} lb" if weight["pounds"] else "")
            for active, weight in zip(product["actives"], line["actives"], strict=False)
        )
        rates = "; ".join((label.get("use") or {}).get("rates", []))
        pairs(
            [
                ("rate", line["rate"] or "not recorded"),
                ("amount", _amount(line["amount"])),
                ("sums", f"{line['count']:,} applications" if line.get("count") else None),
                ("active", actives),
                ("nutrients", nutrients_told(line)),
                ("lot", line["lot"]),
                ("mix", line["mix"]),
                ("supplier", line.get("supplier")),
                ("label", f"revision {label['revision']}" + (f"; allows {rates}" if rates else "") if label else None),
                ("keep off", label.get("keep_off")),
            ],
            "    ",
            12,
        )
