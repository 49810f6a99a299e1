"""Loaded documents as domain objects: one look-up a document and unit of work, one reading a version."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from records.domain.calibration import of_document
from records.domain.product import Product
from records.errors import BookDamagedError
from records.services.reading import (
    Problem,
    read_business,
    read_customer,
    read_equipment,
    read_mix,
    read_person,
    read_product,
    read_site,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from records.domain.calibration import Output
    from records.domain.mixing import Mix
    from records.domain.people import Business, Person
    from records.domain.place import Customer, Equipment, Site
    from records.services.ports import Catalogue, CatalogueEntry, Json

T = TypeVar("T")
_MAX_KEPT = 20_000
_kept: dict[tuple[str, str, int, str], Any] = {}


class Outputs(Protocol):
    """Looks up what equipment puts out, in the log of calibrations as well (`calibrating.py`)."""

    def on(self, equipment: Equipment, day: date, person: str = "") -> Output | None:
        """Return the output on a day, a person's own first; None where none is known."""


class Directory:
    """Finds loaded documents by kind and id; a missing one is None."""

    def __init__(self, catalogue: Catalogue, before: Directory | None = None) -> None:
        """Look things up in this catalogue, for as long as its unit of work lasts.

        Args:
            catalogue: of the unit of work.
            before: what was found in another unit of work, the catalogue being the same ever since.
        """
        self._catalogue = catalogue
        self.outputs: Outputs | None = None  # where there is a log to look into
        self._found: dict[tuple[str, str], tuple[Any, int] | None] = {} if before is None else before._found  # noqa: SLF001 - its own kind
        if len(self._found) > _MAX_KEPT:
            self._found.clear()

    def _find(self, kind: str, key: str, read: Callable[[Any, list[Problem]], T | None]) -> tuple[T, int] | None:
        if (kind, key) not in self._found:
            entry = self._catalogue.latest(kind, key)
            self._found[kind, key] = None if entry is None else (_read(entry, read), entry.version)
        return self._found[kind, key]

    def business(self) -> tuple[Business, int] | None:
        """Return the firm and its version."""
        return self._find("business", "business", read_business)

    def person(self, key: str) -> tuple[Person, int] | None:
        """Return a person and the version."""
        return self._find("person", key, read_person)

    def customer(self, key: str) -> tuple[Customer, int] | None:
        """Return a customer and the version."""
        return self._find("customer", key, read_customer)

    def site(self, key: str) -> tuple[Site, int] | None:
        """Return a site and the version."""
        return self._find("site", key, read_site)

    def equipment(self, key: str) -> tuple[Equipment, int] | None:
        """Return a piece of equipment and the version."""
        return self._find("equipment", key, read_equipment)

    def output_on(self, equipment: Equipment, day: date, person: str = "") -> Output | None:
        """Return what some equipment puts out on a day; without a log, as its document says."""
        if self.outputs is None:
            return of_document(equipment, day)
        return self.outputs.on(equipment, day, person)

    def mix(self, key: str) -> tuple[Mix, int] | None:
        """Return a mix and the version."""
        return self._find("mix", key, read_mix)

    def product(self, key: str) -> Product | None:
        """Return a product; its `version` says which."""
        found = self._find("product", key, _read_product)
        return None if found is None else found[0]

    def ids(self, kind: str) -> list[str]:
        """Return the ids of all documents of a kind."""
        return [entry.id for entry in self._catalogue.every(kind)]

    def products(self) -> list[Product]:
        """Return every product."""
        return [_read(entry, _read_product) for entry in self._catalogue.every("product")]

    def document(self, kind: str, key: str) -> dict[str, Any] | None:
        """Return the newest document as loaded."""
        entry = self._catalogue.latest(kind, key)
        return None if entry is None else entry.body


def _read_product(body: Json, problems: list[Problem]) -> Product | None:
    return read_product(body, problems)


def _read(entry: CatalogueEntry, read: Callable[[Any, list[Problem]], T | None]) -> T:
    # Bodies are immutable, so what was read from one stays true; the digest of the body keeps two books apart.
    key = (entry.kind, entry.id, entry.version, entry.text or repr(entry.body))
    if key in _kept:
        return _kept[key]  # type: ignore[no-any-return]  # the key names the kind that `read` reads
    problems: list[Problem] = []
    value = read(entry.body, problems)
    if value is None or problems:
        told = "; ".join(f"{p.where}: {p.what}" for p in problems[:3])
        raise BookDamagedError(
            f"the stored {entry.kind} {entry.id} (version {entry.version}) cannot be read: {told}",
            "Load the document again, corrected",
        )
    if isinstance(value, Product):
        value = replace(value, version=entry.version)
    if len(_kept) > _MAX_KEPT:
        _kept.clear()
    _kept[key] = value
    return value
