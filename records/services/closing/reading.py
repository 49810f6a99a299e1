"""Reads an entry document into a `Visit`: names looked up, texts read, nothing filled in silently."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from records.domain.findings import Code, Severity
from records.domain.place import Customer, Equipment, Site, Zone
from records.domain.quantities import Quantity, parse_area, parse_volume
from records.domain.registration import RegistrationError, read_registration
from records.domain.visit import AreaSource, Treatment, Visit
from records.errors import InputError
from records.services.closing.amounts import TypedLine, lines_of_mix, work_out
from records.services.closing.entry import MAX_REMARKS, Reader, nearest, shown
from records.services.closing.nutrient_parts import read_nutrient_parts
from records.services.closing.weather_parts import read_weather

if TYPE_CHECKING:
    from datetime import date

    from records.domain.people import Person
    from records.domain.product import Product
    from records.services.directory import Directory

VISIT_KEYS = (
    "ref",
    "site",
    "applicator",
    "supervisor",
    "started",
    "finished",
    "weather",
    "treatments",
    "confirmed",
    "remarks",
    "follow_up",
    "sign_removal",
    "meter",
    "incident",
    "permit",
    "authorized_by",
    "mixing_place",
)
TREATMENT_KEYS = (
    "zones",
    "method",
    "area",
    "extent",
    "targets",
    "equipment",
    "spray",
    "products",
    "mix",
    "purpose",
    "dilution",
    "diluent",
    "water_distance",
    "deflector",
    "soil_test",
    "turf_stage",
    "ground",
    "plot",
)
PRODUCT_KEYS = ("product", "rate", "amount", "lot", "targets", "supplier")
METHODS = ("broadcast", "spot", "band", "perimeter", "edging", "injection", "drench")
CODES = tuple(code.value for code in Code)


def read_visit(document: dict[str, Any], directory: Directory) -> tuple[Visit, Reader]:
    """Read an entry document.

    Args:
        document: as typed, a JSON object.
        directory: the book's catalogue.

    Returns:
        The visit as far as it could be understood, and the reader with everything that was found on the way.

    Raises:
        InputError: the book has no firm yet, so no time can be placed.
    """
    found = directory.business()
    if found is None:
        raise InputError(
            "the book has no firm yet", "Load a document with a [business] table first: swathbook load FILE"
        )
    business, business_version = found
    reader = Reader()
    reader.group(document, "", VISIT_KEYS, "a visit")
    versions = {"business": business_version}
    site, customer = _site(document, directory, reader, versions)
    zone = ZoneInfo((site.timezone if site else "") or business.timezone)
    started = reader.moment(document.get("started"), "started", "the start", zone)
    applicator = _person(document, "applicator", directory, reader, versions)
    supervisor = _person(document, "supervisor", directory, reader, versions)
    finished = reader.moment(document.get("finished"), "finished", "the end", zone)
    moment = started or finished
    worked = None if moment is None else moment.date(), "" if applicator is None else applicator.id
    return (
        Visit(
            ref=reader.text(document.get("ref"), "ref", "the reference") or None,
            business=business,
            site=site,
            customer=customer,
            timezone=zone.key,
            applicator=applicator,
            supervisor=supervisor,
            started=started,
            finished=finished,
            weather=read_weather(document.get("weather"), reader, zone, started),
            treatments=tuple(
                _treatment(value, f"treatments[{i}]", site, directory, reader, worked)
                for i, value in enumerate(reader.items(document.get("treatments"), "treatments", "treatments"))
            ),
            confirmed=_confirmed(document, reader),
            remarks=reader.text(document.get("remarks"), "remarks", "remarks", longest=MAX_REMARKS, lines=True),
            follow_up=reader.day(document.get("follow_up"), "follow_up", "the follow-up day"),
            sign_removal=reader.moment(
                document.get("sign_removal"), "sign_removal", "when the lawn sign may come down", zone
            ),
            meter=reader.text(document.get("meter"), "meter", "the meter", longest=40),
            incident=reader.text(document.get("incident"), "incident", "the incident", longest=MAX_REMARKS, lines=True),
            permit=reader.text(document.get("permit"), "permit", "the permit"),
            authorized_by=reader.text(document.get("authorized_by"), "authorized_by", "who asked for the work"),
            mixing_place=reader.text(document.get("mixing_place"), "mixing_place", "where it was mixed"),
            versions=versions,
        ),
        reader,
    )


def _confirmed(document: dict[str, Any], reader: Reader) -> frozenset[str]:
    codes = reader.names(document.get("confirmed"), "confirmed", "confirmed")
    for code in codes:
        if code not in CODES:
            message = f"{shown(code)} under confirmed is no finding code, so it confirms nothing{nearest(code, CODES)}"
            reader.add(Code.UNKNOWN_NAME, Severity.NOTE, "confirmed", message, found=shown(code))
    return frozenset(codes)


def _site(
    document: dict[str, Any], directory: Directory, reader: Reader, versions: dict[str, int]
) -> tuple[Site | None, Customer | None]:
    key = reader.text(document.get("site"), "site", "the site")
    if not key:
        return None, None
    found = directory.site(key)
    if found is None:
        reader.stop(
            Code.UNKNOWN_NAME,
            "site",
            f"no site {shown(key)} in the book{nearest(key, directory.ids('site'))}",
            shown(key),
        )
        return None, None
    site, versions["site"] = found
    customer = directory.customer(site.customer) if site.customer else None
    if customer is None:
        return site, None
    versions["customer"] = customer[1]
    return site, customer[0]


def _person(
    document: dict[str, Any], role: str, directory: Directory, reader: Reader, versions: dict[str, int]
) -> Person | None:
    key = reader.text(document.get(role), role, f"the {role}")
    if not key:
        return None
    found = directory.person(key)
    if found is None:
        reader.stop(
            Code.UNKNOWN_NAME,
            role,
            f"no person {shown(key)} in the book{nearest(key, directory.ids('person'))}",
            shown(key),
        )
        return None
    versions[role] = found[1]
    return found[0]


def _zones(values: dict[str, Any], at: str, site: Site | None, reader: Reader) -> tuple[Zone, ...]:
    zones: list[Zone] = []
    given = values.get("zones")
    for index, value in enumerate([given] if isinstance(given, str) else reader.items(given, f"{at}.zones", "zones")):
        place = f"{at}.zones[{index}]"
        key = reader.text(value, place, "a zone")
        if not key or site is None:
            reader.unresolved += [f"{at}.zones"] if key else []
            continue
        zone = site.zone(key)
        if zone is None:
            known = nearest(key, [z.id for z in site.zones])
            reader.stop(Code.UNKNOWN_NAME, place, f"{site.id} has no zone {shown(key)}{known}", shown(key))
        elif zone in zones:
            reader.stop(Code.DISAGREE, place, f"zone {zone.id} is named twice in one treatment; name it once", zone.id)
        else:
            zones.append(zone)
    return tuple(zones)


def _equipment(values: dict[str, Any], at: str, directory: Directory, reader: Reader) -> Equipment | None:
    key = reader.text(values.get("equipment"), f"{at}.equipment", "the equipment")
    if not key:
        return None
    found = directory.equipment(key)
    if found is None:
        # Equipment need not be in the catalogue; what was typed is kept under its own name.
        return Equipment(id=key, name=key)
    return found[0]


def _treatment(
    value: object, at: str, site: Site | None, directory: Directory, reader: Reader, worked: tuple[date | None, str]
) -> Treatment:
    """Read one treatment; `worked` is the day of the work and the id of who did it."""
    values = reader.group(value, at, TREATMENT_KEYS, "a treatment")
    if not isinstance(value, dict):
        values = {}
    method = " ".join(reader.text(values.get("method"), f"{at}.method", "the method").lower().split())
    targets = reader.names(values.get("targets"), f"{at}.targets", "targets")
    for target in targets:
        if not any(char.isalnum() for char in target):
            message = f"{shown(target)} names no weed; write what it was used against, such as dandelion"
            reader.not_understood(f"{at}.targets", message, shown(target))
    spray = reader.quantity(parse_volume, values.get("spray"), f"{at}.spray")
    typed = _typed_lines(values, at, targets, directory, reader, spray)
    area = reader.quantity(parse_area, values.get("area"), f"{at}.area")
    if area is not None and area.value == 0:
        reader.not_understood(f"{at}.area", "an area of nothing cannot be treated; write the treated area", str(area))
        area = None
    return work_out(
        Treatment(
            at=at,
            zones=_zones(values, at, site, reader),
            method=method,
            area=area,
            area_source=None if area is None else AreaSource.ENTERED,
            extent=reader.text(values.get("extent"), f"{at}.extent", "the extent", longest=MAX_REMARKS),
            targets=targets,
            equipment=_equipment(values, at, directory, reader),
            spray=spray,
            lines=(),
            purpose=reader.text(values.get("purpose"), f"{at}.purpose", "the purpose"),
            dilution=reader.text(values.get("dilution"), f"{at}.dilution", "the dilution"),
            diluent=reader.text(values.get("diluent"), f"{at}.diluent", "what it was diluted with"),
            **read_nutrient_parts(values, at, reader),
            plot=reader.text(values.get("plot"), f"{at}.plot", "the plot"),
        ),
        typed,
        reader,
        lambda machine: None if worked[0] is None else directory.output_on(machine, worked[0], worked[1]),
    )


def _typed_lines(
    values: dict[str, Any],
    at: str,
    targets: tuple[str, ...],
    directory: Directory,
    reader: Reader,
    spray: Quantity | None,
) -> list[TypedLine]:
    mix_key = reader.text(values.get("mix"), f"{at}.mix", "the mix")
    products = reader.items(values.get("products"), f"{at}.products", "products")
    if mix_key and products:
        reader.stop(
            Code.DISAGREE,
            f"{at}.mix",
            "a treatment has either a mix or a list of products; leave one out",
            shown(mix_key),
        )
        return []
    if mix_key:
        found = directory.mix(mix_key)
        if found is None:
            known = nearest(mix_key, directory.ids("mix"))
            reader.stop(Code.UNKNOWN_NAME, f"{at}.mix", f"no mix {shown(mix_key)} in the book{known}", shown(mix_key))
            return []
        return lines_of_mix(found[0], spray, at, targets, directory, reader)
    lines = []
    for index, value in enumerate(products):
        place = f"{at}.products[{index}]"
        line = reader.group(value, place, PRODUCT_KEYS, "a product line")
        product = find_product(line.get("product"), f"{place}.product", directory, reader)
        if product is None:
            continue
        lines.append(
            TypedLine(
                at=place,
                product=product,
                rate=line.get("rate"),
                amount=line.get("amount"),
                lot=reader.text(line.get("lot"), f"{place}.lot", "the lot"),
                supplier=reader.text(line.get("supplier"), f"{place}.supplier", "the supplier"),
                targets=reader.names(line.get("targets"), f"{place}.targets", "targets") or targets,
            )
        )
    return lines


def find_product(value: object, at: str, directory: Directory, reader: Reader) -> Product | None:
    """Return a product by its id, or by the registration number of a loaded product; never by free text."""
    key = reader.text(value, at, "the product")
    if not key:
        if value is None or value == "":
            reader.stop(Code.MISSING, at, "no product is named; name it by its id in the catalogue")
        return None
    product = directory.product(key)
    if product is not None:
        return product
    products = directory.products()
    if any(char.isdigit() for char in key) and "-" in key:
        try:
            number = read_registration(key).text
        except RegistrationError as error:
            if key[0].isdigit() or key.lower().startswith("epa"):
                reader.stop(Code.REGISTRATION_FORMAT, at, str(error), shown(key))
                return None
        else:
            found = [p for p in products if p.registration == number]
            if len(found) == 1:
                return found[0]
            if found:
                ids = ", ".join(product.id for product in found)
                message = f"several products carry {number}: {ids}; name the one in the jug by its id"
                reader.stop(Code.PRODUCT_UNKNOWN, at, message, shown(key))
                return None
    known = nearest(key, [p.id for p in products])
    reader.stop(Code.PRODUCT_UNKNOWN, at, f"no product {shown(key)} in the catalogue{known}", shown(key))
    return None


def local_text(moment: datetime | None) -> dict[str, str] | None:
    """Return an instant as the record keeps it: local time with its offset, and UTC."""
    if moment is None:
        return None
    seconds = moment.second or moment.microsecond
    return {
        "local": moment.isoformat(timespec="seconds" if seconds else "minutes"),
        "utc": moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
    }
