"""Lots: what was bought and used of each, until when it may be used, and what does not fit the records."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.services.stocking.entries import disposed_amount

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date

    from records.services.account_ports import Used
    from records.services.logbook import Logged
    from records.services.ports import UnitOfWork
    from records.services.stocking.entries import Purchase

NEAR = 60  # days before its last day in which a lot is named
ZERO = Fraction(0)
_NAMED = 6


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot by the records, in the base unit; what was bought without a lot stands apart by its purchase.

    What was used or disposed of without a lot is taken off those purchases, the oldest first.
    """

    lot: str
    labels: tuple[str, ...]  # revisions that it was bought with
    bought: Fraction
    used: Fraction
    disposed: Fraction
    expires: date | None
    is_bought: bool
    serial: str = ""  # of the purchase, where that named no lot

    @property
    def name(self) -> str:
        """Return how it is called in a sentence."""
        if self.lot:
            return f"lot {self.lot}"
        return f"what was bought without a lot ({self.serial})" if self.serial else "what names no lot"

    @property
    def left(self) -> Fraction:
        """Return what is left of it by the records; what stands in mixes is still counted here."""
        return self.bought - self.used - self.disposed


def lot_lines(
    bought: Iterable[Purchase], used: Iterable[tuple[Used, Fraction]], disposed: Iterable[Logged]
) -> tuple[LotLine, ...]:
    """Return the lots of a product, those bought first in that order."""
    came: dict[tuple[str, str], list[Purchase]] = {}
    for one in bought:
        came.setdefault((one.lot, "" if one.lot else one.serial), []).append(one)
    went: dict[str, Fraction] = {}
    for row, amount in used:
        went[row.lot or ""] = went.get(row.lot or "", ZERO) + amount
    thrown: dict[str, Fraction] = {}
    for entry in disposed:
        lot = entry.data.get("lot", "")
        thrown[lot] = thrown.get(lot, ZERO) + disposed_amount(entry)
    nameless = [place for place in came if not place[0]]
    rooms = [_sum(came[place]) for place in nameless]
    used_up, rooms = _in_turn(went.pop("", ZERO) if nameless else ZERO, rooms)
    thrown_out, _ = _in_turn(thrown.pop("", ZERO) if nameless else ZERO, rooms)
    of_nameless = {place: (used_up[at], thrown_out[at]) for at, place in enumerate(nameless)}
    lots = []
    for place in dict.fromkeys([*came, *((lot, "") for lot in (*went, *thrown))]):
        lot, own = place[0], came.get(place, [])
        gone = of_nameless.get(place, (went.get(lot, ZERO), thrown.get(lot, ZERO)))
        labels = tuple(dict.fromkeys(one.label for one in own if one.label))
        expires = min((one.expires for one in own if one.expires is not None), default=None)
        lots.append(LotLine(lot, labels, _sum(own), *gone, expires, bool(own), place[1]))
    return tuple(lots)


def _sum(bought: Iterable[Purchase]) -> Fraction:
    return sum((one.amount for one in bought), ZERO)


def _in_turn(amount: Fraction, rooms: list[Fraction]) -> tuple[list[Fraction], list[Fraction]]:
    """Return an amount taken off several in their order, what is more than all off the last, and what each has left."""
    parts: list[Fraction] = []
    for at, room in enumerate(rooms):
        part = amount if at == len(rooms) - 1 else min(amount, max(room, ZERO))
        parts.append(part)
        amount -= part
    return parts, [room - part for room, part in zip(rooms, parts, strict=True)]


def lot_notes(
    work: UnitOfWork,
    bought: Sequence[Purchase],
    used: Iterable[tuple[Used, Fraction]],
    lots: Iterable[LotLine],
    today: date,
) -> Iterator[str]:
    """Yield what is worth saying: lots past or near their day, lots never bought, other labels than the lot's."""
    yield from _days(lots, today)
    if bought:
        yield from _strange(work, used, lots)


def _days(lots: Iterable[LotLine], today: date) -> Iterator[str]:
    for one in lots:
        if one.expires is None or one.left <= 0:
            continue
        if one.expires < today:
            yield f"{one.name} is past its day, {one.expires}"
        elif (one.expires - today).days <= NEAR:
            yield f"{one.name} is good until {one.expires}"


def _strange(work: UnitOfWork, used: Iterable[tuple[Used, Fraction]], lots: Iterable[LotLine]) -> Iterator[str]:
    labels = {one.lot: set(one.labels) for one in lots if one.is_bought and one.lot}
    first: dict[tuple[str, str], int] = {}
    for row, _ in used:
        for place in ((row.lot or "", ""), (row.lot or "", row.label or "")):
            first[place] = min(row.first, first.get(place, row.first))
    never = [lot for lot, label in first if lot and not label and not set(lot.split(", ")) <= set(labels)]
    for lot in never[:_NAMED]:
        yield f"{work.account.serial(first[lot, ''])} names lot {lot}, which was never bought"
    if len(never) > _NAMED:
        yield f"and {len(never) - _NAMED} more lots that were never bought"
    for (lot, label), order in first.items():
        own = labels.get(lot)
        if own and label and label not in own:
            serial = work.account.serial(order)
            yield f"{serial} was checked by label {label}; lot {lot} has label {', '.join(sorted(own))}"
