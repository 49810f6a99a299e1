"""What is bought and counted: read from what is typed, logged, and read back."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.numerals import QuantityError
from records.domain.quantities import Form, decimal_text, parse_amount, parse_rate
from records.errors import NotFoundError, UsageError
from records.services.closing.entry import nearest
from records.services.directory import Directory
from records.services.logbook import entries, log
from records.services.occasions import firm_of, words_of
from records.services.stocking.revisions import against_book
from records.units import factor

if TYPE_CHECKING:
    from records.domain.product import Product
    from records.domain.quantities import Quantity, Rate
    from records.services.logbook import Logged
    from records.services.ports import Json, StoredRevision, UnitOfWork

CURRENCY = "USD"
MOST_PACKS = 100_000
FAR = 5  # times the last price, or a fifth of it: such a price is asked about
_PACKS = re.compile(r"\s*(\d{1,6})\s*[x×*]\s*(.+?)\s*", re.ASCII | re.IGNORECASE | re.DOTALL)
_MONEY = re.compile(r"\$?\s*((?:\d{1,3}(?:,\d{3}){1,3}|\d{1,9})(?:\.\d{1,4})?)\s*(?:USD)?", re.ASCII | re.IGNORECASE)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Purchase:
    """One purchase that counts."""

    serial: str
    product: str
    at: datetime
    packs: int
    size: Quantity
    lot: str
    label: str
    price: Fraction | None  # of a base unit of product
    expires: date | None
    words: str

    @property
    def amount(self) -> Fraction:
        """Return how much was bought, in the base unit."""
        return self.packs * self.size.base

    @property
    def day(self) -> date:
        """Return the local day."""
        return self.at.date()


def purchases(work: UnitOfWork, product: str | None = None) -> list[Purchase]:
    """Return what was bought, oldest first; of one product where it is named."""
    return [
        _purchase(entry)
        for entry in sorted(entries(work, "purchase"), key=lambda one: (one.at, one.serial))
        if product is None or entry.data["product"] == product
    ]


def last_days(work: UnitOfWork) -> dict[tuple[str, str], date]:
    """Return the last day of use of every lot that names one, by product and lot: the first, where several are said."""
    found: dict[tuple[str, str], date] = {}
    for entry in entries(work, "purchase"):
        data = entry.data
        if data.get("lot") and data.get("expires"):
            place, last = (data["product"], data["lot"]), date.fromisoformat(data["expires"])
            found[place] = min(last, found.get(place, last))
    return found


def _purchase(entry: Logged) -> Purchase:
    data = entry.data
    size = parse_amount(data["size"], Form.UNKNOWN)
    price = None
    if data.get("price"):
        each = Fraction(data["price"]) / (data["packs"] if data["price_for"] == "total" else 1)
        price = each / size.base
    expires = date.fromisoformat(data["expires"]) if data.get("expires") else None
    return Purchase(
        entry.serial,
        data["product"],
        entry.at,
        data["packs"],
        size,
        data.get("lot", ""),
        data.get("label", ""),
        price,
        expires,
        data["words"],
    )


def product_by_id(directory: Directory, key: str) -> Product:
    """Return a product by its id.

    Raises:
        NotFoundError: no such product.
    """
    product = directory.product(key.strip()) if key.strip() else None
    if product is None:
        raise NotFoundError(
            f"no product {key[:40]!r} in the catalogue{nearest(key, directory.ids('product'))}", "Name it by its id"
        )
    return product


def money(text: str, option: str = "--price") -> str:
    """Return an amount of money as plain decimal text.

    Raises:
        UsageError: it is none.
    """
    found = _MONEY.fullmatch(text.strip())
    if found is None:
        raise UsageError(f"{option} {text[:30]!r} is no amount of money", f"Write it like {option} 184.50")
    return found[1].replace(",", "")


def read_packs(text: str, form: Form) -> tuple[int, Quantity]:
    """Return number and size of packs written like `2 x 2.5 gal`; `2.5 gal` is one pack.

    Raises:
        UsageError: it is not written so, nothing, or an ounce of unknown kind.
    """
    found = _PACKS.fullmatch(text)
    packs, written = (int(found[1]), found[2]) if found else (1, text)
    size = read_amount(written, form)
    if not 1 <= packs <= MOST_PACKS:
        raise UsageError(f"{text[:40]!r} is no number of packs", "Write it like '2 x 2.5 gal'")
    return packs, size


def read_amount(text: str, form: Form) -> Quantity:
    """Return an amount of product, above zero.

    Raises:
        UsageError: it is none, nothing, or an ounce of unknown kind.
    """
    try:
        amount = parse_amount(text, form)
    except QuantityError as error:
        raise UsageError(str(error)) from error
    if amount.unit == "oz":
        raise UsageError(f"{text[:40]!r} may be an ounce by volume or by weight", "Write fl oz or oz wt")
    return amount


def read_rate(product: Product, text: str) -> Rate:
    """Return a rate of a product.

    Raises:
        UsageError: it is none, or an ounce of unknown kind.
    """
    try:
        rate = parse_rate(text, product.form)
    except QuantityError as error:
        raise UsageError(f"{product.id}: {error}") from error
    if rate.unit == "oz":
        raise UsageError(f"{product.id}: {text[:30]!r} may be an ounce by volume or by weight", "Write fl oz or oz wt")
    return rate


def _day(text: str | None, option: str) -> str:
    if text is None:
        return ""
    try:
        return date.fromisoformat(text.strip()).isoformat() if _DAY.fullmatch(text.strip()) else _no_day(text, option)
    except ValueError:
        return _no_day(text, option)


def _no_day(text: str, option: str) -> str:
    raise UsageError(f"{option} {text[:30]!r} is no day", f"Write it like {option} 2028-03-31")


def moment_text(at: str | None, now: datetime, zone: ZoneInfo, *, is_end: bool) -> str | None:
    """Return a moment for the log: a day alone stands for its beginning, or for its end, but never for the future."""
    if at is None or not _DAY.fullmatch(at.strip()):
        return at
    if not is_end:
        return f"{at.strip()}T00:00"
    today = now.astimezone(zone).date().isoformat()
    return None if at.strip() == today else f"{at.strip()}T23:59"


def log_entry(
    work: UnitOfWork, kind: str, data: Json, now: datetime, at: str | None, by: str | None, *, is_end: bool = True
) -> StoredRevision:
    """Log an entry about a product; what says nothing is left out."""
    business, _ = firm_of(Directory(work.catalogue))
    kept = {name: value for name, value in data.items() if value not in {"", None}}
    return log(work, kind, kept, now, at=moment_text(at, now, ZoneInfo(business.timezone), is_end=is_end), by=by)


def log_bought(
    work: UnitOfWork,
    now: datetime,
    key: str,
    packs: str,
    *,
    lot: str | None = None,
    label: str | None = None,
    price: str | None = None,
    is_total: bool = False,
    expires: str | None = None,
    supplier: str | None = None,
    at: str | None = None,
    by: str | None = None,
) -> tuple[StoredRevision, list[str]]:
    """Log a purchase; the caller commits.

    Args:
        work: a writing unit of work.
        now: the moment of entry.
        key: id of the product.
        packs: like `2 x 2.5 gal`.
        lot: on the container.
        label: revision of the label on it.
        price: of a pack, or of all.
        is_total: it is that of all.
        expires: last day on which it may be used.
        supplier: who sold it.
        at: when; a day alone stands for its beginning.
        by: id of who bought it.

    Returns:
        The entry, and what is worth saying about it.

    Raises:
        NotFoundError: no such product or person.
        UsageError: a part of it cannot be read.
    """
    product = product_by_id(Directory(work.catalogue), key)
    count, size = read_packs(packs, product.form)
    if size.value == 0:
        raise UsageError(f"{packs[:40]!r} is nothing", "Write what was bought, such as '2 x 2.5 gal'")
    paid = None if price is None else money(price)
    data: Json = {
        "product": product.id,
        "packs": count,
        "size": str(size),
        "lot": words_of(lot, "--lot", 60),
        "label": _revision(product, words_of(label, "--label", 60)),
        "expires": _day(expires, "--expires"),
        "supplier": words_of(supplier, "--supplier", 120),
    }
    if paid is not None:
        data |= {"price": paid, "price_for": "total" if is_total else "each", "currency": CURRENCY}
    said = [f"{count} x {size} {product.id}"]
    said += [f"lot {data['lot']}"] if data["lot"] else []
    said += [f"label {data['label']}"] if data["label"] else []
    said += [] if paid is None else [f"${paid} {'in all' if is_total else 'each'}"]
    said += [f"expires {data['expires']}"] if data["expires"] else []
    data["words"] = ", ".join(said)
    earlier = purchases(work, product.id)
    event = log_entry(work, "purchase", data, now, at, by, is_end=False)
    notes = _notes(product, data, datetime.fromisoformat(event.body["data"]["at"]).date())
    return event, [*_strange_price(data, size, earlier), *notes]


def _revision(product: Product, text: str) -> str:
    """Return a label revision as typed; one without any figure, such as "newest", names none."""
    if text and not any(char.isdigit() for char in text):
        book = f"; the book has {product.label.revision} of {product.id}" if product.label is not None else ""
        raise UsageError(
            f"--label {text[:30]!r} is no revision of a label",
            f"Write what is printed on the container, such as --label 2025-11{book}",
        )
    return text


def _strange_price(data: Json, size: Quantity, earlier: list[Purchase]) -> list[str]:
    """Note a price that lies far from that of the last purchase: a point is missing, or it is that of all packs."""
    last = next((one for one in reversed(earlier) if one.price), None)
    if "price" not in data or last is None or not last.price:
        return []
    packs = data["packs"] if data["price_for"] == "total" else 1
    paid = Fraction(data["price"]) / packs / size.base
    if last.price / FAR <= paid <= last.price * FAR:
        return []
    unit = size.unit
    now, then = (f"${Decimal(decimal_text(price * factor(unit), 2)):,.2f}" for price in (paid, last.price))
    times = f"{decimal_text(paid / last.price, 1)} times" if paid > last.price else "less than a fifth of"
    told = f"{now} per {unit} is {times} what it cost last ({then} per {unit} on {last.day}, {last.serial})"
    return [f"{told}; where it is wrong, withdraw it and log it anew: --price is of one pack, with --total of all"]


def _notes(product: Product, data: Json, day: date) -> list[str]:
    label = data["label"]
    found = []
    if label and product.label is not None:
        told = against_book(label, product.label.revision)
        words = f"the container has label revision {label}, the book checks by {product.label.revision}"
        found += [f"{words}: {told}"] if told else []
    if data["expires"] and date.fromisoformat(data["expires"]) < day:
        found.append(f"its last day of use, {data['expires']}, was past when it was bought ({day})")
    if not data["lot"]:
        found.append("no lot is named: a recall cannot be followed to the lawns")
    if "price" not in data:
        found.append("no price is named: what it costs cannot be told")
    return found


def log_counted(
    work: UnitOfWork, now: datetime, key: str, amount: str, *, at: str | None = None, by: str | None = None
) -> StoredRevision:
    """Log how much undiluted product is on hand, as counted; the caller commits.

    Raises:
        NotFoundError: no such product or person.
        UsageError: no amount.
    """
    product = product_by_id(Directory(work.catalogue), key)
    packs, size = read_packs(amount, product.form)
    there = f"{packs} x {size}" if packs > 1 else str(size)
    data = {"product": product.id, "packs": packs, "amount": str(size), "words": f"{there} of {product.id} counted"}
    return log_entry(work, "count", data, now, at, by)


def counted_amount(entry: Logged) -> Fraction:
    """Return what an entry says was counted, in the base unit."""
    return int(entry.data.get("packs", 1)) * parse_amount(entry.data["amount"], Form.UNKNOWN).base


def disposed_amount(entry: Logged) -> Fraction:
    """Return what an entry says was disposed of, in the base unit."""
    return parse_amount(entry.data["amount"], Form.UNKNOWN).base
