"""Where the papers of a product are: label revisions with their days, copies, safety data sheet, and its lots."""

from __future__ import annotations

import difflib
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

from records.domain.registration import RegistrationError, read_registration
from records.errors import NotFoundError, UsageError
from records.rules.ground import is_same
from records.services.directory import Directory
from records.services.ports import Packet
from records.services.stocking import purchases

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.domain.product import Product
    from records.services.ports import Json, OpenBook, UnitOfWork
    from records.services.stocking import Purchase

NEWEST = 3  # records named of each lot
KNOWN = 6  # lots named where one is not found


@dataclass(frozen=True, slots=True)
class Revision:
    """One revision of the label that the book has had."""

    revision: str
    loaded: str  # day at the firm; "" where records name it and the book never had it
    copy: str  # where a copy is kept
    is_newest: bool
    records: int  # that were judged by it
    first: str  # day of the first of them
    last: str
    serials: tuple[str, str] = ("", "")  # of the first and the last of them


@dataclass(frozen=True, slots=True)
class LotUsed:
    """One line of a record that used a lot."""

    serial: str
    day: str  # a month, of a month's total
    site: str  # id; "" where none is recorded
    address: str
    customer: str
    amount: str  # "" where it is not recorded


@dataclass(frozen=True, slots=True)
class LotPapers:
    """One lot: how it came, and where it went."""

    lot: str
    bought: tuple[Purchase, ...]
    records: tuple[str, ...]  # serials, newest first
    uses: tuple[LotUsed, ...]  # where it went, newest first


@dataclass(frozen=True, slots=True)
class Papers:
    """All of one product."""

    product: Product
    revisions: tuple[Revision, ...]  # newest first
    lots: tuple[LotPapers, ...]
    asked_lot: str
    unnamed: int  # records that name no label revision: imported, or closed while the book had no label
    shared: tuple[str, ...]  # other products of the same federal number


class _Line(NamedTuple):
    """One line of the product in a record that stands."""

    day: str  # a month, of a month's total
    serial: str
    revision: str
    lot: str
    site: Json
    customer: Json
    amount: str

    def is_of(self, lot: str) -> bool:
        """Tell whether it used a lot, in whatever case it was written; a line may name several."""
        return is_lot(lot, self.lot)


_NO_LINE = _Line("", "", "", "", {}, {}, "")


def is_lot(lot: str, written: str) -> bool:
    """Tell whether a lot is the one, or one of those, that a record names; case says nothing."""
    wanted, named = lot.casefold().strip(), written.casefold()
    return bool(wanted) and (wanted == named.strip() or wanted in {part.strip() for part in named.split(",")})


def papers(book: OpenBook, text: str | None, lot: str | None = None) -> Papers:
    """Return the papers of a product.

    Args:
        book: to look in.
        text: id, part of the name, or registration number; None: the product that the lot is of.
        lot: only this one.

    Raises:
        UsageError: neither product nor lot is named.
        NotFoundError: no such product or lot, or several.
    """
    if not (text or "").strip() and not (lot or "").strip():
        raise UsageError("no product is named", "Name it by id, name or number, or give --lot")
    with book.read() as work:
        directory = Directory(work.catalogue)
        bought = purchases(work)
        product = _product(directory, text) if text else _of_lot(work, directory, bought, lot or "")
        used = _used(work, product)
        revisions = _revisions(work, directory, product, used)
        every = _lots(product, bought, used)
        shared = _shared(directory, product)
    wanted = (lot or "").strip()
    lots = tuple(one for one in every if not wanted or one.lot.casefold() == wanted.casefold())
    if wanted and not lots:
        known = ", ".join(one.lot for one in every[:KNOWN]) + (" ..." if len(every) > KNOWN else "")
        raise NotFoundError(
            f"no lot {wanted[:40]!r} of {product.id} in the book",
            _near(wanted, [one.lot for one in every]) or f"Its lots: {known or 'none'}",
        )
    unnamed = len({line.serial for line in used if not line.revision})
    return Papers(product, revisions, lots, wanted, unnamed, shared)


def _near(lot: str, lots: Iterable[str]) -> str:
    """Return a hint naming lots that may have been meant; "" where none is near."""
    names = {one.casefold(): one for one in lots}
    near = difflib.get_close_matches(lot.casefold(), list(names), 3, 0.7)
    return f"Did you mean {' or '.join(names[name] for name in near)}?" if near else ""


def _product(directory: Directory, text: str) -> Product:
    every, wanted = directory.products(), " ".join(text.casefold().split())
    number = _number(text)
    exact = [
        one
        for one in every
        if wanted in {one.id.casefold(), one.registration.casefold(), one.name.casefold()}
        or (number and _number(one.registration) == number)
    ]
    # A distributor's container carries the registrant's number and a third group: papers are filed under either.
    federal = _federal(text)
    numbered = [one for one in every if federal and _federal(one.registration) == federal]
    fits = exact or numbered or [one for one in every if wanted and wanted in f"{one.id} {one.name}".casefold()]
    if len(fits) == 1:
        return fits[0]
    if fits:
        told = ", ".join(f"{one.id} ({one.registration or 'no number'})" for one in fits[:KNOWN])
        more = " ..." if len(fits) > KNOWN else ""
        raise NotFoundError(f"{text[:40]!r} fits {len(fits)} products: {told}{more}", "Name one by its id")
    names = {name.casefold(): one for one in every for name in (one.name, one.registration, one.id) if name}
    near = dict.fromkeys(names[name].id for name in difflib.get_close_matches(wanted, list(names), 2, 0.6))
    hint = f"Did you mean {' or '.join(near)}?" if near else "swathbook catalogue products lists them"
    raise NotFoundError(f"no product {text[:40]!r} in the book", hint)


def _number(text: str) -> str:
    """Return a registration number as it is compared; "" where it is none."""
    try:
        return read_registration(text).text
    except RegistrationError:
        return ""


def _federal(text: str) -> str:
    """Return company and product of a registration number, without a distributor's company; "" where it has none."""
    try:
        return "-".join(read_registration(text).federal.split("-")[:2])
    except RegistrationError:
        return ""


def _shared(directory: Directory, product: Product) -> tuple[str, ...]:
    """Return the other products that a registrant's and a distributor's number call by the same federal number."""
    federal = _federal(product.registration)
    return tuple(
        f"{one.id} ({one.registration})"
        for one in directory.products()
        if federal and one.id != product.id and _federal(one.registration) == federal
    )


def _of_lot(work: UnitOfWork, directory: Directory, bought: list[Purchase], lot: str) -> Product:
    """Return the product of a lot, as bought, else as records say."""
    wanted = lot.strip().casefold()
    every = directory.products()
    names = {one.product: "" for one in bought if one.lot.casefold() == wanted}
    used = [] if names else work.account.used()
    if not names:
        names = {row.product or row.name or "": row.registration or "" for row in used if is_lot(lot, row.lot or "")}
    found = {one.id: one for key, registration in names.items() for one in every if is_same(one, key, registration)}
    if len(found) == 1:
        return next(iter(found.values()))
    shown = repr(lot.strip()[:40])
    if found:
        raise NotFoundError(f"lot {shown} is of {', '.join(found)}", "Name the product too")
    if names:
        told = ", ".join(registration or key for key, registration in names.items())
        raise NotFoundError(
            f"lot {shown} is of {told[:80]}, which is not loaded", "Load the product: swathbook load FILE"
        )
    every_lot = dict.fromkeys(filter(None, [*(one.lot for one in bought), *(row.lot for row in used)]))
    raise NotFoundError(
        f"no lot {shown} in the book",
        _near(lot.strip(), every_lot) or "swathbook stock PRODUCT lists the lots of a product",
    )


def _used(work: UnitOfWork, product: Product) -> list[_Line]:
    """Return each line of the product in records that stand, oldest first; what was imported has its number alone."""
    wanted = [Packet(product=product.id)]
    if product.registration:
        wanted.append(Packet(registration=product.registration))
    orders = {match.order: None for packet in wanted for match in work.records.matching(packet)}
    found = [
        _Line(
            day=record.body["date"] or record.body["period"] or "",
            serial=record.serial,
            revision=(line["label"] or {}).get("revision") or "",
            lot=line["lot"] or "",
            site=record.body["site"] or {},
            customer=record.body["customer"] or {},
            amount=line["amount"] or "",
        )
        for record in work.records.bodies(list(orders))
        if record.action != "voided"
        for treatment in record.body["treatments"]
        for line in treatment["applications"]
        if is_same(product, line["product"]["id"] or "", line["product"]["registration"] or "")
    ]
    return sorted(found, key=lambda line: (line.day, line.serial))


def _revisions(work: UnitOfWork, directory: Directory, product: Product, used: list[_Line]) -> tuple[Revision, ...]:
    """Return every revision that was loaded or that a record names, newest first."""
    firm = directory.business()
    zone = ZoneInfo(firm[0].timezone if firm is not None else "UTC")
    loaded: dict[str, tuple[str, str]] = {}
    for number in range(1, product.version + 1):
        entry = work.catalogue.version("product", product.id, number)
        label = (entry.body.get("label") if entry is not None else None) or {}
        if entry is not None and label.get("revision"):
            name = str(label["revision"])
            day = loaded.pop(name, (f"{entry.loaded_at.astimezone(zone):%Y-%m-%d}", ""))[0]
            loaded[name] = day, str(label.get("copy") or "")
    lines: defaultdict[str, list[_Line]] = defaultdict(list)
    for line in used:
        lines[line.revision].append(line)
    newest = product.label.revision if product.label is not None else ""
    names = [*reversed(loaded), *(name for name in reversed(lines) if name and name not in loaded)]
    return tuple(_revision(name, loaded.get(name, ("", "")), lines[name], name == newest) for name in names)


def _revision(name: str, loaded: tuple[str, str], lines: list[_Line], is_newest: bool) -> Revision:  # noqa: FBT001
    first, last = (lines[0], lines[-1]) if lines else (_NO_LINE, _NO_LINE)
    return Revision(
        revision=name,
        loaded=loaded[0],
        copy=loaded[1],
        is_newest=is_newest,
        records=len({line.serial for line in lines}),
        first=first.day,
        last=last.day,
        serials=(first.serial, last.serial),
    )


def _lots(product: Product, bought: list[Purchase], used: list[_Line]) -> tuple[LotPapers, ...]:
    """Return the lots that were bought, then those that only records name."""
    mine = [one for one in bought if one.product == product.id]
    names = dict.fromkeys(one.lot for one in mine if one.lot)
    for line in used:  # a line that names several lots which were bought, or a lot in another case, is theirs
        if line.lot and not any(line.is_of(name) for name in names):
            names[line.lot] = None
    first: dict[str, str] = {}  # by the name without case, the first way it was written
    for name in names:
        first.setdefault(name.casefold(), name)
    return tuple(_lot(name, mine, used) for name in first.values())


def _lot(name: str, mine: list[Purchase], used: list[_Line]) -> LotPapers:
    own = [line for line in reversed(used) if line.is_of(name)]
    return LotPapers(
        lot=name,
        bought=tuple(one for one in mine if one.lot.casefold() == name.casefold()),
        records=tuple(dict.fromkeys(line.serial for line in own)),
        uses=tuple(
            LotUsed(
                serial=line.serial,
                day=line.day,
                site=line.site.get("id") or "",
                address=line.site.get("address") or "",
                customer=line.customer.get("name") or "",
                amount=line.amount,
            )
            for line in own
        ),
    )


def papers_document(found: Papers) -> Json:
    """Return it as JSON."""
    product = found.product
    return {
        "schema": 1,
        "product": product.id,
        "name": product.name,
        "registration": product.registration or None,
        "exemption": product.exemption or None,
        "form": product.form.value,
        "signal_word": product.signal_word or None,
        "same_federal_number": list(found.shared),
        "sds": product.sds or None,
        "labels": [
            {
                "revision": one.revision,
                "newest": one.is_newest,
                "loaded": one.loaded or None,
                "copy": one.copy or None,
                "records": one.records,
                "first": one.first or None,
                "last": one.last or None,
                "first_serial": one.serials[0] or None,
                "last_serial": one.serials[1] or None,
            }
            for one in found.revisions
        ],
        "records_without_label": found.unnamed,
        "lots": [
            {
                "lot": one.lot,
                "bought": [
                    {
                        "event": each.serial,
                        "day": each.day.isoformat(),
                        "packs": each.packs,
                        "size": str(each.size),
                        "label": each.label or None,
                        "expires": each.expires.isoformat() if each.expires else None,
                    }
                    for each in one.bought
                ],
                "records": list(one.records),
                "used": [
                    {
                        "record": each.serial,
                        "day": each.day,
                        "site": each.site or None,
                        "address": each.address or None,
                        "customer": each.customer or None,
                        "amount": each.amount or None,
                    }
                    for each in one.uses
                ],
            }
            for one in found.lots
        ],
    }
