"""What goes without being used: product that is disposed of, containers that are emptied, and what does not fit."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.errors import UsageError
from records.services.closing.entry import nearest
from records.services.directory import Directory
from records.services.occasions import words_of
from records.services.stocking.entries import MOST_PACKS, log_entry, product_by_id, read_amount
from records.services.stocking.shelf import stock
from records.units import factor

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from fractions import Fraction

    from records.domain.quantities import Quantity
    from records.services.ports import Json, StoredRevision, UnitOfWork
    from records.services.stocking.shelf import StockLine

_NUMBER = re.compile(r"\d{1,6}", re.ASCII)
_NAMED = 4  # lots in a note
PLACES = 3


def log_disposed(
    work: UnitOfWork,
    now: datetime,
    key: str,
    amount: str,
    *,
    how: str | None,
    reason: str | None = None,
    lot: str | None = None,
    at: str | None = None,
    by: str | None = None,
) -> tuple[StoredRevision, list[str]]:
    """Log that undiluted product was disposed of, spilled or given back; the caller commits.

    Returns:
        The entry, and what is worth saying about it.

    Raises:
        NotFoundError: no such product or person.
        UsageError: a part of it cannot be read, or nothing says how it went.
    """
    product = product_by_id(Directory(work.catalogue), key)
    gone = read_amount(amount, product.form)
    if gone.value == 0:
        raise UsageError(f"{amount[:40]!r} is nothing", "Write what was disposed of, such as '12 fl oz'")
    ways, why, of_lot = words_of(how, "--how"), words_of(reason, "--reason"), words_of(lot, "--lot", 60)
    if not ways:
        raise UsageError("--how is missing", "Say where it went, such as 'collection day' or 'given back'")
    words = f"{gone} of {product.id}" + (f", lot {of_lot}" if of_lot else "") + f": {ways}"
    data = {
        "product": product.id,
        "amount": str(gone),
        "lot": of_lot,
        "how": ways,
        "reason": why,
        "words": words + (f" ({why})" if why else ""),
    }
    notes = list(_too_much(stock(work, now, product.id).lines[0], gone, of_lot))
    return log_entry(work, "disposal", data, now, at, by), notes


def _too_much(line: StockLine, gone: Quantity, lot: str) -> Iterator[str]:
    """Note more than is on hand or than was ever bought, a lot that was never bought, and more than is left of one."""
    came, there = line.balance.came, max(line.balance.on_hand, line.balance.came * 0)
    if gone.base_low > came:
        bought = (
            f"than was ever bought ({_told(came, gone)})" if came else "than was ever bought: no purchase is logged"
        )
        yield f"{_told(gone.base - came, gone)} more {bought}; look at the amount and the purchases"
    elif gone.base_low > there:
        over = _told(gone.base - there, gone)
        yield f"{over} more than the {_told(there, gone)} on hand by the records; look at the amount and the counts"
    if not lot:
        return
    lots = {one.lot: one for one in line.lots if one.is_bought and one.lot}
    found = lots.get(lot)
    if found is None:
        known = ", ".join([*lots][:_NAMED]) + (f" and {len(lots) - _NAMED} more" if len(lots) > _NAMED else "")
        hint = nearest(lot, [*lots]) or (f"; bought: {known}" if lots else "")
        yield f"lot {lot} of {line.product} was never bought{hint}"
    elif gone.base_low > max(found.left, came * 0) and gone.base_low <= there:
        left = max(found.left, came * 0)
        yield f"{_told(gone.base - left, gone)} more than the {_told(left, gone)} left of lot {lot} by the records"


def _told(base: Fraction, like: Quantity) -> str:
    return f"{decimal_text(base / factor(like.unit), PLACES)} {like.unit}"


def log_emptied(
    work: UnitOfWork,
    now: datetime,
    key: str,
    number: int | str,
    *,
    is_rinsed: bool | None,
    how: str | None = None,
    at: str | None = None,
    by: str | None = None,
) -> tuple[StoredRevision, list[str]]:
    """Log that containers of a product were emptied, and whether they were rinsed; the caller commits.

    Args:
        work: a writing unit of work.
        now: the moment of entry.
        key: id of the product.
        number: of containers, as typed.
        is_rinsed: whether they were rinsed; None: nobody said.
        how: where they went.
        at: when.
        by: id of who did it.

    Returns:
        The entry, and what is worth saying about it.

    Raises:
        NotFoundError: no such product or person.
        UsageError: no number of containers.
    """
    product = product_by_id(Directory(work.catalogue), key)
    typed = str(number).strip()
    count = int(typed) if _NUMBER.fullmatch(typed) else 0
    if not 1 <= count <= MOST_PACKS:
        raise UsageError(f"{typed[:40]!r} is no number of containers", "Write 1 or more, such as 2")
    ways = words_of(how, "--how")
    words = f"{count} container{'' if count == 1 else 's'} of {product.id} emptied"
    words += {True: " and rinsed", False: ", not rinsed", None: ", not said whether rinsed"}[is_rinsed]
    words += f": {ways}" if ways else ""
    data: Json = {"product": product.id, "containers": count, "how": ways, "words": words}
    if is_rinsed is not None:
        data["rinsed"] = is_rinsed
    line = stock(work, now, product.id).lines[0]
    notes = []
    over = line.emptied + count - line.packs
    if over > 0:
        total = line.emptied + count
        all_of_them = "1 container is" if total == 1 else f"{total} containers are"
        notes.append(f"{all_of_them} emptied by now, {over} more than the {line.packs} bought; look at the purchases")
    if is_rinsed is None:
        notes.append("nobody said whether they were rinsed, so they do not count as rinsed: --rinsed or --not-rinsed")
    return log_entry(work, "rinse", data, now, at, by), notes
