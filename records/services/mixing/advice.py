"""What is worth saying of a load as it is made up, and of what is logged of one: said, and kept all the same."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import Form, Per, decimal_text, format_number
from records.domain.visit import Line
from records.rules.partner_checks import partner_findings
from records.services.calibrating import Outputs
from records.services.closing.amounts import contents_of
from records.services.mixing.ledger import find_mix, ledger_of, left_at, made_since, rinsed_after
from records.services.mixing.past import moment_made
from records.units import Kind, factor

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from records.domain.mixing import Mix, Part
    from records.domain.place import Equipment
    from records.domain.product import PrintedRate, Product
    from records.domain.quantities import Quantity, Rate
    from records.services.directory import Directory
    from records.services.mixing.past import MixLog
    from records.services.ports import UnitOfWork

_HANDS = ("hand", "can", "backpack", "knapsack")  # words of a kind of equipment that is mixed by the gallon


def load_notes(work: UnitOfWork, directory: Directory, mix: Mix, log: MixLog) -> list[str]:
    """Return all that speaks against a load: the tank, the leftovers, what goes in, the doses, the partners."""
    parts = contents_of(mix, directory)
    found = directory.equipment(mix.equipment) if mix.equipment else None
    equipment = None if found is None else found[0]
    output = None if equipment is None else Outputs(work).on(equipment, moment_made(mix, directory).date())
    lines = _lines(parts, directory)
    return [
        *([] if equipment is None else _tank_notes(mix, equipment)),
        *_full_notes(work, directory, mix, log),
        *_left_notes(work, directory, mix, log),
        *_granule_notes(lines),
        *_label_notes(mix, directory),
        *_dose_notes(mix, equipment, None if output is None else output.rate, lines),
        *(finding.message for finding in partner_findings([line for line in lines if not _is_spread(line.product)])),
    ]


def _lines(parts: tuple[Part, ...], directory: Directory) -> list[Line]:
    known = [(part, directory.product(part.product)) for part in parts]
    return [
        Line(f"products[{at}]", product, None, part.amount, True, (), lot=part.lot)  # noqa: FBT003 - what a load says
        for at, (part, product) in enumerate(known)
        if product is not None
    ]


def _is_spread(product: Product) -> bool:
    return product.form is Form.GRANULE


def is_spreader(equipment: Equipment) -> bool:
    """Tell whether some equipment spreads granules: by its kind, its hopper or what it was calibrated to put out."""
    by_weight = [one.kind is Kind.WEIGHT for one in (equipment.tank, equipment.output) if one is not None]
    return "spreader" in equipment.kind or any(by_weight)


def _tank_notes(mix: Mix, equipment: Equipment) -> Iterator[str]:
    """Note a spreader for a load of spray, and more spray than the tank holds."""
    if is_spreader(equipment):
        yield f"{mix.water} of spray in {equipment.id}, which spreads granules; name the sprayer that was filled"
        return
    tank = equipment.tank
    if tank is not None and tank.kind is Kind.VOLUME and mix.water.base_low > tank.base:
        over = _gallons(mix.water.base - tank.base)
        yield f"{mix.water} of spray: {over} more than {equipment.id} holds ({tank}); look at the gauge and the tank"


def _full_notes(work: UnitOfWork, directory: Directory, mix: Mix, log: MixLog) -> Iterator[str]:
    """Note where the tank holds spray of the load before by the records, and nothing says where that went."""
    made_at = moment_made(mix, directory)
    before = [
        (one, at)
        for one, at in made_since(directory)
        if one.equipment == mix.equipment and at < made_at and one.id != mix.id
    ]
    if not mix.equipment or not before:
        return
    last, at = before[0]  # the newest
    carried = {one.mix for one in mix.carried}
    if last.id in carried or rinsed_after(log, mix.equipment, at, made_at) is not None:
        return
    left = ledger_of(work, directory, last, log).balance.on_hand
    if left > last.water.base_half:
        yield (
            f"{mix.equipment} holds {_gallons(left)} of {last.id} by the records; name it with --carried where it "
            f"is in this load, else log where it went (swathbook mix discard, rinse or left {last.id})"
        )


def _left_notes(work: UnitOfWork, directory: Directory, mix: Mix, log: MixLog) -> Iterator[str]:
    """Note where more is carried on than is left of the earlier load."""
    for leftover in mix.carried:
        earlier = ledger_of(work, directory, find_mix(directory, leftover.mix), log)
        left = max(earlier.balance.on_hand, Fraction(0))
        if leftover.spray.base_low > left:
            over = _gallons(leftover.spray.base - left)
            yield (
                f"{leftover.spray} carried on from {leftover.mix}: {over} more than the {_gallons(left)} that the"
                " records leave of it"
            )


def _granule_notes(lines: list[Line]) -> Iterator[str]:
    for line in lines:
        if _is_spread(line.product):
            yield f"{line.product.id} is a granule: it is spread dry, not mixed into a spray"


def _label_notes(mix: Mix, directory: Directory) -> Iterator[str]:
    """Note a product that has no label in the book: nothing about it can be checked."""
    for line in mix.products:
        product = directory.product(line.product)
        if product is not None and product.label is None:
            yield f"{line.product} has no label in the book, so no limit of it can be checked"


def _dose_notes(mix: Mix, equipment: Equipment | None, output: Rate | None, lines: list[Line]) -> Iterator[str]:
    """Note a dose over the most that any use of a label allows in the tank.

    A rate per gallon (or % v/v) says it by itself, and alone for what is sprayed by the gallon; a rate by area says it
    with what the equipment puts out on that area. Where neither is known, each stop is still checked at closing.
    """
    by_hand = equipment is not None and any(word in _HANDS for word in equipment.kind.replace("-", " ").split())
    for line in lines:
        amount, label = line.amount, line.product.label
        if amount is None or amount.unit == "oz" or label is None or not mix.water.base:
            continue
        uses = [_doses(use.rates, amount, None if by_hand else output) for use in label.uses if use.rates]
        if not any(uses) or not (by_hand or all(uses)):
            continue
        most, words = max((dose for doses in uses for dose in doses), key=lambda one: one[0])
        if max(amount.base_low, Fraction(0)) / (mix.water.base + mix.water.base_half) <= most:
            continue
        times = decimal_text(amount.base / mix.water.base / most, 2)
        made = f"{format_number(amount.value / mix.water.to('gal'), 3)} {amount.unit}/gal"
        yield (
            f"{line.product.id}: {amount} in {mix.water} make {made}, {times} times the most that its label allows"
            f" ({words}); look at the amount and the spray again"
        )


def _doses(rates: tuple[PrintedRate, ...], amount: Quantity, output: Rate | None) -> list[tuple[Fraction, str]]:
    """Return the highest doses of one use, in base units of product per fl oz of spray, each with its words."""
    found = []
    for rate in rates:
        high = rate.high
        if high is None or not high.base or high.unit == "oz" or high.kind is not amount.kind:
            continue
        if rate.per is Per.SPRAY:
            found.append((high.base, str(high)))
        elif output is not None and output.base and output.kind is Kind.VOLUME:
            found.append((high.base / output.base, f"{high} at {output}"))
    return found


def more_than_left(
    work: UnitOfWork, directory: Directory, mix: Mix, log: MixLog, spray: Quantity, moment: datetime, verb: str
) -> list[str]:
    """Return a note where more of a load is counted or goes than the records leave of it at a moment.

    Args:
        work: a unit of work.
        directory: of the same.
        mix: the load.
        log: what the shop log says, without the entry in hand.
        spray: that is counted, disposed of or rinsed out.
        moment: of the entry.
        verb: what became of it, such as "counted".
    """
    left = max(left_at(work, directory, mix, log, moment), Fraction(0))
    if spray.base_low <= left:
        return []
    over = _gallons(spray.base - left)
    told = f"{spray} of {mix.id} {verb}: {over} more than the {_gallons(left)} that the records leave of it"
    return [f"{told}; look at the amount, the stops and the log again"]


def _gallons(base: Fraction) -> str:
    return f"{format_number(base / factor('gal'), 3)} gal"
