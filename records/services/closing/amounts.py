"""Rate, area and amount of a treatment: any two give the third, all three have to agree within their readings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from records.domain.findings import Code, Severity
from records.domain.mixing import Mix, contents, share
from records.domain.quantities import Per, Quantity, Rate, format_number, parse_amount, parse_rate
from records.domain.visit import AreaSource, Evidence, Line, Treatment
from records.rules.label_checks import uses_for
from records.services.closing.entry import Reader, shown
from records.units import Kind, factor

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.domain.calibration import Output
    from records.domain.mixing import Part
    from records.domain.place import Equipment
    from records.domain.product import Product
    from records.domain.quantities import Form
    from records.services.directory import Directory

_SMALLER = {"gal": "fl oz", "qt": "fl oz", "pt": "fl oz", "cup": "fl oz", "L": "mL", "kg": "g"}


@dataclass(frozen=True, slots=True)
class TypedLine:
    """A product line as typed, its product looked up; or a mix's share, its amount worked out."""

    at: str
    product: Product
    rate: object
    amount: object
    lot: str
    targets: tuple[str, ...]
    mix: str = ""
    shared: Quantity | None = None
    supplier: str = ""


@dataclass(frozen=True, slots=True)
class _Read:
    typed: TypedLine
    rate: Rate | None
    amount: Quantity | None


def work_out(
    treatment: Treatment, typed: list[TypedLine], reader: Reader, output_of: Callable[[Equipment], Output | None]
) -> Treatment:
    """Complete a treatment: its area where it follows, and for each product amount and evidence.

    Args:
        treatment: area as entered, no lines yet.
        typed: the product lines.
        reader: takes the findings.
        output_of: what some equipment put out on that day; asked only where an area has to be estimated.
    """
    read = [_read(line, reader) for line in typed]
    treatment = _area(treatment, read, output_of)
    if treatment.calibration is not None and treatment.calibration.is_stale:
        by = treatment.calibration
        told = f"the area is estimated by {by.rate}, {by.words}; calibrate it again"
        reader.add(Code.CALIBRATION_STALE, Severity.NOTE, f"{treatment.at}.equipment", told)
    return replace(treatment, lines=tuple(_line(treatment, line, reader) for line in read))


def _read(line: TypedLine, reader: Reader) -> _Read:
    form = line.product.form
    rate = reader.quantity(partial(parse_rate, form=form), line.rate, f"{line.at}.rate")
    amount = line.shared or reader.quantity(partial(parse_amount, form=form), line.amount, f"{line.at}.amount")
    for value, name in ((rate, "rate"), (amount, "amount")):
        if value is not None and value.value == 0:
            message = f"{name} {value} is nothing; leave the product out if none was used"
            reader.not_understood(f"{line.at}.{name}", message, str(value))
    return _Read(line, rate, amount)


def _area(treatment: Treatment, read: list[_Read], output_of: Callable[[Equipment], Output | None]) -> Treatment:
    if treatment.area is not None:
        return treatment
    for line in read:
        rate, amount = line.rate, line.amount
        if rate is not None and amount is not None and rate.per is Per.AREA and rate.base and rate.kind is amount.kind:
            area = amount.base / rate.base
            half = (amount.base + amount.base_half) / max(rate.base_low, rate.base / 2) - area
            return replace(treatment, area=Quantity(area, "sq ft", half), area_source=AreaSource.DERIVED)
    # Only for spots: what is broadcast has a measured area, and an estimate would soften every check of it.
    if treatment.equipment is not None and treatment.is_spot and treatment.spray is not None and treatment.spray.value:
        output = output_of(treatment.equipment)
        if output is not None and output.rate.base and output.rate.kind is Kind.VOLUME:
            over = Quantity(treatment.spray.base / output.rate.base, "sq ft")
            return replace(treatment, area=over, area_source=AreaSource.ESTIMATED, calibration=output)
    return replace(treatment, area_source=AreaSource.DESCRIBED if treatment.extent else None)


def _line(treatment: Treatment, read: _Read, reader: Reader) -> Line:
    rate, amount, typed = read.rate, read.amount, read.typed
    implied = _implied(treatment, rate)
    if implied is not None and amount is not None and implied.kind is amount.kind and not _agree(implied, amount):
        reader.stop(
            Code.DISAGREE,
            f"{typed.at}.amount",
            f"{rate} over {_over(treatment, rate)} makes {convenient(implied)}, not {amount}{_slip(implied, amount)}; "
            "correct the one that is wrong",
            str(amount),
        )
    final = amount if amount is not None else implied
    return Line(
        at=typed.at,
        product=typed.product,
        rate=rate,
        amount=None if final is None else (final if amount is not None and not typed.shared else convenient(final)),
        is_amount_typed=amount is not None,
        targets=typed.targets,
        lot=typed.lot,
        supplier=typed.supplier,
        mix=typed.mix,
        per_area=tuple(_per_area(treatment, typed, rate, amount)),
        per_spray=tuple(_per_spray(treatment, typed, rate, amount)),
    )


def _over(treatment: Treatment, rate: Rate | None) -> str:
    over = treatment.area if rate is not None and rate.per is Per.AREA else treatment.spray
    return str(over)


def _implied(treatment: Treatment, rate: Rate | None) -> Quantity | None:
    if rate is None:
        return None
    over = treatment.area if rate.per is Per.AREA else treatment.spray
    if over is None or (rate.per is Per.AREA and treatment.area_source is AreaSource.DESCRIBED):
        return None
    return rate.amount(over)


def _agree(implied: Quantity, amount: Quantity) -> bool:
    distance = abs(implied.base - amount.base)
    return distance <= implied.base_half + amount.base_half


def _slip(implied: Quantity, amount: Quantity) -> str:
    if not implied.base or not amount.base:
        return ""
    ratio = amount.base / implied.base
    for size, words in ((Fraction(10), "ten"), (Fraction(100), "a hundred")):
        if abs(ratio / size - 1) < Fraction(1, 10):
            return f" ({words} times as much: a slipped decimal point?)"
        if abs(ratio * size - 1) < Fraction(1, 10):
            return f" ({words} times too little: a slipped decimal point?)"
    return ""


def convenient(amount: Quantity) -> Quantity:
    """Return a worked-out amount in a smaller unit where the larger one would give a small fraction."""
    smaller = _SMALLER.get(amount.unit)
    if smaller is None or amount.value >= 1 or not amount.value:
        return amount
    scale = factor(amount.unit) / factor(smaller)
    return Quantity(amount.value * scale, smaller, amount.half * scale)


def _per_area(treatment: Treatment, typed: TypedLine, rate: Rate | None, amount: Quantity | None) -> list[Evidence]:
    """Say how much went on each square foot, by every written statement that tells."""
    found = []
    if rate is not None and rate.per is Per.AREA and rate.unit != "oz":
        found.append(Evidence(rate.base, rate.base_low, f"{typed.at}.rate", str(rate)))
    area = None if treatment.area is None else treatment.area.base
    if not area:
        return found
    if amount is not None and amount.unit != "oz" and treatment.area_source is not AreaSource.DERIVED:
        low = max(amount.base_low, Fraction(0))
        place = f"{typed.at}.amount" if not typed.shared else typed.at
        found.append(Evidence(amount.base / area, low / area, place, f"{amount} over {treatment.area}"))
    if rate is not None and rate.per is Per.SPRAY and amount is None and treatment.spray is not None:
        whole = rate.base * treatment.spray.base
        low = (rate.base_low) * treatment.spray.base
        found.append(
            Evidence(whole / area, low / area, f"{typed.at}.rate", f"{rate} in {treatment.spray} over {treatment.area}")
        )
    return found


def _per_spray(treatment: Treatment, typed: TypedLine, rate: Rate | None, amount: Quantity | None) -> list[Evidence]:
    """Say how much was in each fluid ounce of finished spray."""
    found = []
    if rate is not None and rate.per is Per.SPRAY and rate.unit != "oz":
        found.append(Evidence(rate.base, rate.base_low, f"{typed.at}.rate", str(rate)))
    if amount is not None and amount.unit != "oz" and treatment.spray is not None and treatment.spray.value:
        spray = treatment.spray.base
        low = max(amount.base_low, Fraction(0))
        found.append(Evidence(amount.base / spray, low / spray, f"{typed.at}.amount", f"{amount} in {treatment.spray}"))
    return found


def lines_of_mix(
    mix: Mix, spray: Quantity | None, at: str, targets: tuple[str, ...], directory: Directory, reader: Reader
) -> list[TypedLine]:
    """Return each product's share of a load: product in the mix x spray used here / spray made.

    What came with leftovers of earlier loads is in the mix as well, and is checked like all the rest.

    Source of the rule: 6 NYCRR 325.25 reporting help and N.J.A.C. 7:30-7.3, which ask for exactly this share.
    """
    if spray is None:
        reader.stop(
            Code.MISSING,
            f"{at}.spray",
            f"how much of mix {mix.id} was sprayed here is missing; write the spray, such as 8.4 gal",
        )
        return []
    if spray.base > mix.water.base:
        reader.stop(
            Code.DISAGREE,
            f"{at}.spray",
            f"{spray} was sprayed here, but mix {mix.id} made only {mix.water}",
            str(spray),
        )
        return []
    lines = []
    for index, part in enumerate(contents_of(mix, directory)):
        product = directory.product(part.product)
        if product is None:
            reader.stop(
                Code.PRODUCT_UNKNOWN,
                f"{at}.mix",
                f"mix {mix.id} holds {shown(part.product)}, which is not in the catalogue",
            )
            continue
        if part.amount is None:
            reader.not_understood(f"{at}.mix", f"mix {mix.id}: {part.product}: {part.problem}")
            continue
        lines.append(
            TypedLine(
                at=f"{at}.products[{index}]",
                product=product,
                rate=None,
                amount=None,
                lot=part.lot,
                targets=targets,
                mix=mix.id,
                shared=convenient(share(part.amount, spray, mix.water)),
            )
        )
    return lines


def contents_of(mix: Mix, directory: Directory) -> tuple[Part, ...]:
    """Return what a load holds, leftovers of earlier loads included."""

    def mix_of(key: str) -> Mix | None:
        found = directory.mix(key)
        return None if found is None else found[0]

    def form_of(key: str) -> Form | None:
        product = directory.product(key)
        return None if product is None else product.form

    return contents(mix, mix_of, form_of)


def derived_rate(line: Line, treatment: Treatment) -> str | None:
    """Return the rate for the record: as typed, else from amount and area, else from amount and spray.

    Spots are told per gallon where their area is an estimate, or where they took of a mix and the label prints it so:
    how much was in a gallon is known.
    """
    if line.rate is not None:
        return str(line.rate)
    if line.amount is None:
        return None
    per_gallon = None
    if treatment.spray is not None and treatment.spray.base:
        per_gallon = f"{format_number(line.amount.value / treatment.spray.to('gal'))} {line.amount.unit}/gal"
    if per_gallon and treatment.is_spot:
        is_estimate = treatment.area_source is AreaSource.ESTIMATED
        if is_estimate or (line.mix and _is_printed_per_spray(line, treatment)):
            return per_gallon
    if treatment.area is not None and treatment.area.base:
        return f"{format_number(line.amount.value / treatment.area.base * 1000)} {line.amount.unit}/1000 sq ft"
    return per_gallon


def _is_printed_per_spray(line: Line, treatment: Treatment) -> bool:
    """Tell whether the use line that speaks of an application prints rates per spray alone."""
    use = next(iter(uses_for(line, treatment)), None)
    return use is not None and bool(use.rates) and all(rate.per is Per.SPRAY for rate in use.rates)
