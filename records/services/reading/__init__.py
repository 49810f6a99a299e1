"""From a loaded document to the domain: `load` reads with it, and so does whoever takes a document from the book.

Every reader takes the document and a list, adds every problem it finds to the list and never raises; it returns the
domain object, or None when it added a problem.
"""

from __future__ import annotations

from records.domain.loaded import Problem
from records.services.reading.people import read_business, read_person
from records.services.reading.places import read_customer, read_equipment, read_mix, read_site
from records.services.reading.products import read_product

__all__ = [
    "Problem",
    "read_business",
    "read_customer",
    "read_equipment",
    "read_mix",
    "read_person",
    "read_product",
    "read_site",
]
