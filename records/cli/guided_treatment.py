"""The questions of one treatment: where, how, against what, with what."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.cli.guided import METHODS, product_words, put, typed_text, with_unit, zones_of
from records.cli.output import talk, wrapped
from records.cli.prompts import ask, choose

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.cli.guided import Guide
    from records.domain.calibration import Output
    from records.domain.place import Equipment, Zone
    from records.domain.product import Product
    from records.domain.quantities import Quantity
    from records.services.ports import Json
    from records.services.suggesting import Suggestions
    from records.services.wanted import Asker


def ask_treatment(guide: Guide, treatment: Json) -> None:
    """Ask for one treatment; what it says already is what Enter stands for."""
    from records.services.suggesting import last_treatment, spot_estimate

    before, today = last_treatment(guide.here), last_treatment(guide.stop)
    zones = _ask_zones(guide, treatment)
    usual = typed_text(treatment, "method") or today.get("method")
    method = treatment["method"] = ask(f"method ({', '.join(METHODS)})", usual, _method)
    # What was used or treated in another way is no hint for this one.
    before, today = (past if past.get("method") == method else {} for past in (before, today))
    # The same method at the last stop of the day is offered where this place has no visit of its own to go by.
    planned = guide.known.planned_weeds(guide.site)
    targets = treatment.get("targets") or planned or before.get("targets") or today.get("targets") or []
    named = ask("against (comma between)", ", ".join(map(str, targets)) or None)
    treatment["targets"] = [part.strip() for part in named.split(",") if part.strip()]
    machine = _ask_equipment(guide, treatment, today)
    rule = guide.known.needed_by_rules(guide.site).get("total_mix")
    output = guide.known.output_of(machine, guide.document)
    area = _ask_area(treatment, zones, method, output)
    spray = _ask_spray(treatment, area if method == "broadcast" else None, machine, output, rule)
    if method.startswith("spot") and area is None and spray is not None and machine is not None:
        talk(wrapped(spot_estimate(spray, output), "    ", "  "))
    if area is None and spray is None and not treatment.get("extent"):
        _ask_extent(treatment)  # there is no spray by which the area could be estimated
    _ask_what(guide, treatment, zones, today, area, spray)
    _ask_still_wanted(guide, treatment, machine)


def _ask_still_wanted(guide: Guide, treatment: Json, machine: Equipment | None) -> None:
    """Ask for what rules want of these products and nothing typed answers; the spray first, which tells a dilution."""
    from records.domain.quantities import Form, parse_volume

    used = [guide.known.product(line.get("product")) for line in treatment.get("products") or []]
    is_dry = _spreads(machine) or all(product is not None and product.form is Form.GRANULE for product in used)
    if not treatment.get("spray") and not (used and is_dry):
        # Where a dilution is all that is asked for, spray would tell it too, but is not insisted on.
        asker = guide.asker_of(treatment, "spray", "1 gal", {"dilution": "1:64"})
        _ask_wanted(treatment, "spray", "spray put out, gal", asker, with_unit(parse_volume, "gal"))
    asker = guide.asker_of(treatment, "dilution", "1:64")
    _ask_wanted(treatment, "dilution", "dilution (undiluted, or like 1:64)", asker)


def _ask_wanted(
    treatment: Json, key: str, question: str, asker: Asker | None, read: Callable[[str], str] | None = None
) -> None:
    """Ask for one part where somebody asks for it; without an answer only where no rule was read."""
    if asker is not None:
        typed = typed_text(treatment, key)
        put(treatment, key, ask(f"{question}; {asker.words}", typed, read, optional=not asker.binds))


def _spreads(machine: Equipment | None) -> bool:
    return machine is not None and "spread" in machine.kind


def _method(text: str) -> str:
    """Return a method by its first letters, the usual one first; a label may print others, kept as typed."""
    found = [method for method in METHODS if method.startswith(text.lower())]
    if not found:
        talk("  none of these; kept as typed, for a label that prints it")
    return found[0] if found else " ".join(text.lower().split())


def _ask_zones(guide: Guide, treatment: Json) -> list[Zone]:
    site = guide.site
    assert site is not None  # noqa: S101 - no treatment is asked for before the site
    for number, zone in enumerate(site.zones, 1):
        measured = "not measured" if zone.area is None else str(zone.area)
        words = ", ".join([zone.kind, *zone.turf, measured])
        talk(wrapped(f"{zone.id}: {words}", " " * 6, f"  {number:>2}  "))
    known = [str(key) for key in treatment.get("zones") or [] if site.zone(str(key))]
    default = " ".join(known) or (site.zones[0].id if len(site.zones) == 1 else None)
    answer = ask("zones (numbers or names, blank between)", default, lambda text: _ids(zones_of(site, text)))
    zones = zones_of(site, answer)
    treatment["zones"] = [zone.id for zone in zones]
    return zones


def _ids(zones: list[Zone]) -> str:
    return " ".join(zone.id for zone in zones)


def _ask_equipment(guide: Guide, treatment: Json, today: Json) -> Equipment | None:
    options = [(one.id, one.name) for one in guide.known.equipment]
    default = typed_text(treatment, "equipment") or (today.get("equipment") or {}).get("id")
    rule = guide.known.needed_by_rules(guide.site).get("equipment")
    question = f"equipment (? lists; {rule} asks for it)" if rule else "equipment (? lists)"
    key = choose(question, options, default, optional=rule is None, is_open=True)
    put(treatment, "equipment", key)
    return guide.known.find_equipment(key)


def _ask_area(treatment: Json, zones: list[Zone], method: str, output: Output | None) -> Quantity | None:
    """Ask for the treated area: the measured one for a broadcast, none silently for anything else.

    That of spots may be left to the spray, where a calibration of the equipment is known.
    """
    from records.domain.quantities import parse_area
    from records.services.suggesting import both_areas, whole_area
    from records.units import Kind

    is_estimated = method.startswith("spot") and output is not None and output.rate.kind is Kind.VOLUME
    enter = "estimated from the spray" if is_estimated else "none"

    def read(text: str) -> None:
        if text == "?":
            more = f", or Enter: {enter}" if is_estimated else "" if method == "broadcast" else ", or Enter to describe"
            raise ValueError(f"a size, such as 300 sq ft or 0.1 acre{more}")
        talk(f"  {both_areas(parse_area(text))}")

    typed = typed_text(treatment, "area")
    if method == "broadcast":
        answer = ask("area treated", typed or whole_area(zones), read)
    else:
        answer = ask(f"{method} area treated (300 sq ft)", typed, read, optional=True, enter=enter)
    put(treatment, "area", answer)
    if answer:
        treatment.pop("extent", None)
        return parse_area(answer)
    if not is_estimated or treatment.get("extent"):
        _ask_extent(treatment)
    return None


def area_words(guide: Guide, treatment: Json) -> str:
    """Return the area of a treatment for the review: as typed, described, or as the record will estimate it."""
    from records.domain.numerals import QuantityError
    from records.domain.quantities import parse_volume
    from records.services.suggesting import spot_estimate
    from records.units import Kind

    if typed := treatment.get("area") or treatment.get("extent"):
        return str(typed)
    machine = guide.known.find_equipment(str(treatment.get("equipment") or ""))
    output = guide.known.output_of(machine, guide.document)
    if not str(treatment.get("method")).startswith("spot") or output is None or output.rate.kind is not Kind.VOLUME:
        return "area not given"
    try:
        return spot_estimate(parse_volume(treatment.get("spray")), output).partition(" by ")[0]
    except QuantityError:
        return "area not given"


def _ask_extent(treatment: Json) -> None:
    """Ask where and how much was treated, in words."""

    def read(text: str) -> None:
        if not text.strip(" ?"):
            raise ValueError("write it in your own words, such as: 40 plants along the drive, a hand's width each")

    put(treatment, "extent", ask("then describe where and how much", typed_text(treatment, "extent"), read))


def _ask_spray(
    treatment: Json, area: Quantity | None, machine: Equipment | None, output: Output | None, rule: str | None
) -> Quantity | None:
    """Ask for the spray put out; a spreader has none."""
    from records.domain.quantities import parse_volume
    from records.services.suggesting import usual_spray

    if _spreads(machine):
        treatment.pop("spray", None)
        return None
    before = typed_text(treatment, "spray")
    guess = before or (usual_spray(area, output) if area is not None else None)
    question = f"spray put out, gal ({rule} asks for it)" if rule else "spray put out, gal"
    # Granules from a can have none: that is said with a dash, and judged when the product is known.
    enter = "nothing was sprayed" if rule else "none"
    spray = ask(question, guess, with_unit(parse_volume, "gal"), optional=True, enter=enter, is_firm=rule is not None)
    put(treatment, "spray", spray)
    return parse_volume(spray) if spray else None


def _ask_what(
    guide: Guide, treatment: Json, zones: list[Zone], today: Json, area: Quantity | None, spray: Quantity | None
) -> None:
    """Ask for the load, or for the products; neither is filled in without a keystroke of its own."""
    known, typed = guide.known, typed_text(treatment, "mix")
    if known.mixes and spray is not None:
        last = next((line["mix"] for line in today.get("applications", []) if line.get("mix")), None)
        if last:
            talk(f"  in the tank at your last stop: {last}")
        options = [
            (mix.id, f"{mix.made_at.replace('T', ' ')}, {', '.join(line.product for line in mix.products)}")
            for mix in known.mixes
        ]
        machine = treatment.get("equipment")
        newest = next((one for one in known.mixes if one.equipment and one.equipment == machine), None)
        if newest is not None:
            talk(f"  made up last in {machine}: {newest.id}")
        mix = choose("mix in the tank (? lists)", options, typed, optional=True, enter="products one by one")
        put(treatment, "mix", mix)
        if mix:
            treatment.pop("products", None)
            _tell_left(known, mix, spray)
            return
    used = dict.fromkeys(line["product"]["id"] for line in today.get("applications", []) if line["product"]["id"])
    if used:
        talk(wrapped(f"at your last stop: {', '.join(used)}", "    ", "  "))
    _ask_products(guide, treatment, zones, area, spray)


def _tell_left(known: Suggestions, key: str, spray: Quantity) -> None:
    """Say what is left of a load before this stop, and where that is less than what this stop is said to have taken."""
    from records.domain.quantities import format_number

    mix = next(mix for mix in known.mixes if mix.id == key)
    unit, left = mix.water.unit, known.left_of(mix)
    talk(f"  left before this stop: {format_number(left, 1)} of {mix.water}")
    if spray.to(unit) > left:
        talk(wrapped(f"{spray} here is more than is left: look at this stop and the earlier ones", "    ", "  "))


def _ask_products(
    guide: Guide, treatment: Json, zones: list[Zone], area: Quantity | None, spray: Quantity | None
) -> None:
    known = guide.known
    options = [(product.id, product_words(product)) for product in known.products]
    lines = treatment.setdefault("products", [])
    number = 0
    while True:
        before = lines[number] if number < len(lines) else {}
        question = "another product" if number else "product (? lists)"
        key = choose(question, options, typed_text(before, "product"), optional=number > 0)
        if not key:
            del lines[number:]
            return
        if number == len(lines):
            lines.append(before)
        if before.get("product") != key:
            before.clear()
        before["product"] = key
        product = known.product(key)
        if product is not None:
            kinds = {zone.kind for zone in zones}
            rule = known.asked_by_rules(guide.site).get("supplier")
            _ask_line(before, product, kinds, treatment["method"], (area, spray), rule)
        number += 1


def _ask_line(
    line: Json,
    product: Product,
    kinds: set[str],
    method: str,
    over: tuple[Quantity | None, Quantity | None],
    rule: str | None,
) -> None:
    """Ask for rate or amount, showing what one makes of the other; then for the lot, and the seller if a rule asks."""
    from records.services.suggesting import label_rates, other_side, read_use

    if product.label is not None:
        rates = label_rates(product, kinds, method) or ["no rate for this ground and method"]
        talk(wrapped(f"label of {product.label.revision}: {'; '.join(rates)}", "    ", "  "))
    typed = typed_text(line, "rate") or typed_text(line, "amount")

    def read(text: str) -> None:
        name, use = read_use(text, product.form)
        other = other_side(use, *over)
        talk(f"  {name} {use}" + (f" = {other}" if other else ""))

    answer = ask("  rate, or amount used", typed, read)
    if answer != typed or not line.get("rate") or not line.get("amount"):
        line.pop("rate", None)
        line.pop("amount", None)
        line[read_use(answer, product.form)[0]] = answer
    put(line, "lot", ask("  lot on the container", typed_text(line, "lot"), optional=True))
    if rule and not product.supplier:
        put(line, "supplier", ask(f"  who sold it to you ({rule} asks for it)", typed_text(line, "supplier")))
