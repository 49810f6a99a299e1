"""What of each product stands in loads that are made and not sprayed out, by everything that is recorded of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from records.services.closing.amounts import contents_of
from records.services.mixing.ledger import ledger_of, made_since
from records.services.mixing.past import spray_of
from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from datetime import datetime

    from records.domain.mixing import Mix
    from records.services.account_ports import MixSum
    from records.services.directory import Directory
    from records.services.logbook import Logged
    from records.services.mixing import MixLog
    from records.services.ports import UnitOfWork

NANO = 10**9
ZERO = Fraction(0)
# A share is sealed with six decimals at least: half of the last one may be missing of each
ROUNDING = Fraction(1, 2 * 10**6)


@dataclass(slots=True)
class InTanks:
    """One product in all loads together, in its base unit."""

    poured: Fraction = ZERO  # measured into loads
    sealed: Fraction = ZERO  # of that, in sealed records
    disposed: Fraction = ZERO
    held: Fraction = ZERO  # still there
    tolerance: Fraction = ZERO


@dataclass(slots=True)
class Tanks:
    """All loads, product by product."""

    found: dict[str, InTanks] = field(default_factory=dict)
    pourings: dict[str, list[tuple[datetime, Fraction]]] = field(default_factory=dict)
    shares: set[tuple[str, str]] = field(default_factory=set)  # load and product, where the load holds it

    @classmethod
    def of(cls, work: UnitOfWork, directory: Directory, log: MixLog) -> Tanks:
        """Return what stands in the loads of a book."""
        tanks = cls()
        sums: dict[str, list[MixSum]] = {}
        for row in work.account.mix_sums():
            sums.setdefault(row.mix, []).append(row)
        every = made_since(directory)
        carried: dict[str, Fraction] = {}  # spray that went into later loads
        for mix, _ in every:
            for leftover in mix.carried:
                carried[leftover.mix] = carried.get(leftover.mix, ZERO) + leftover.spray.base
        for mix, made_at in every:
            tanks._add(work, directory, log, mix, made_at, sums.get(mix.id, []), carried.get(mix.id, ZERO))
        return tanks

    def products(self) -> set[str]:
        """Return the ids of all products that were ever in a load."""
        return set(self.found)

    def product(self, key: str) -> InTanks:
        """Return what is known of one product."""
        return self.found.get(key, InTanks())

    def poured_after(self, key: str, moment: datetime) -> Fraction:
        """Return how much of a product was measured into loads after a moment."""
        return sum((amount for at, amount in self.pourings.get(key, []) if at > moment), ZERO)

    def _add(
        self,
        work: UnitOfWork,
        directory: Directory,
        log: MixLog,
        mix: Mix,
        made_at: datetime,
        sums: list[MixSum],
        carried: Fraction,
    ) -> None:
        sealed: dict[str, Fraction] = {}
        rounding: dict[str, Fraction] = {}
        for row in sums:
            if row.product and row.unit in UNITS and UNITS[row.unit].kind is not Kind.OUNCE:
                size = factor(row.unit)
                sealed[row.product] = sealed.get(row.product, ZERO) + Fraction(row.amount_nano, NANO) * size
                rounding[row.product] = rounding.get(row.product, ZERO) + row.lines * ROUNDING * size
        entries = log.of_mix.get(mix.id, [])
        gone = sum((spray.base for one in entries if one.kind != "count" and (spray := spray_of(one))), ZERO)
        left = _left(work, directory, log, mix, entries)
        for part in contents_of(mix, directory):
            if part.amount is None or part.amount.unit == "oz":
                continue
            each = part.amount.base / mix.water.base
            one = self.found.setdefault(part.product, InTanks())
            mine = sealed.get(part.product, ZERO)
            self.shares.add((mix.id, part.product))
            slack = rounding.get(part.product, ZERO)
            by_records = part.amount.base - mine - (gone + carried) * each
            one.poured += part.poured
            one.sealed += mine
            one.disposed += gone * each
            # Less than nothing is in no tank; what rounding alone leaves over stays here and makes no gap.
            one.held += (by_records if by_records > -slack else ZERO) if left is None else left * each
            one.tolerance += slack
            if part.poured:
                self.pourings.setdefault(part.product, []).append((made_at, part.poured))


def _left(work: UnitOfWork, directory: Directory, log: MixLog, mix: Mix, entries: list[Logged]) -> Fraction | None:
    """Return the spray that is left by what was counted or rinsed; None where neither was."""
    if not any(one.kind in {"count", "rinse"} for one in entries):
        return None
    return max(ledger_of(work, directory, mix, log).balance.on_hand, ZERO)
