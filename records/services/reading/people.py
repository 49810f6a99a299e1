"""The firm and its people, read from a loaded document."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.loaded import NAME, open_document, shown
from records.domain.people import Business, Licence, LicenceKind, Person

if TYPE_CHECKING:
    from records.domain.loaded import Problem, Table


def time_zone(table: Table, key: str = "timezone", *, required: bool) -> str:
    """Return the name of a time zone that the zone database knows; "" where absent or wrong."""
    text = table.text(key, required=required, cap=NAME, hint="such as America/Chicago")
    if not text:
        return ""
    try:
        ZoneInfo(text)
    except (ValueError, OSError, LookupError):  # a path, a folder, a name nobody knows
        table.problem(key, f"{shown(text)} is no time zone; write it like America/Chicago")
        return ""
    return text


def email(table: Table) -> str:
    """Return an e-mail address, checked no further than that it could be one."""
    text = table.text("email", cap=254)
    if text and (text.count("@") != 1 or " " in text or text.startswith("@") or text.endswith("@")):
        table.problem("email", f"{shown(text)} is no e-mail address; write it like name@example.org")
        return ""
    return text


def read_business(doc: object, problems: list[Problem], where: str = "") -> Business | None:
    """Read the firm that owns the book.

    Args:
        doc: the table as loaded.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.

    Returns:
        The firm, or None when there was any problem.
    """
    before = len(problems)
    table = open_document(doc, problems, where)
    if table is None:
        return None
    business = Business(
        name=table.text("name", required=True, cap=NAME),
        address=table.text("address", required=True),
        phone=table.text("phone", required=True, cap=40),
        licence=table.text("licence", required=True, cap=60, hint="the firm's licence number"),
        state=table.state(),
        timezone=time_zone(table, required=True),
        packs=table.texts("packs", cap=64),
        email=email(table),
        insurer=table.text("insurer", cap=NAME),
        insured=table.text("insured", cap=60),
    )
    table.finish()
    return business if len(problems) == before else None


def _licence(table: Table) -> Licence | None:
    number = table.text("number", required=True, cap=60)
    state = table.state()
    kind = table.choice("kind", [kind.value for kind in LicenceKind], required=True)
    categories = table.texts("categories", cap=60, lower=True)
    first, last = table.day("from", required=True), table.day("to", required=True)
    table.finish()
    if first is not None and last is not None and first > last:
        table.problem("to", f"{last} is before the first day, {first}; swap or correct them")
        return None
    if not kind or first is None or last is None:
        return None
    return Licence(number, state, LicenceKind(kind), categories, first, last)


def read_person(doc: object, problems: list[Problem], where: str = "") -> Person | None:
    """Read someone who applies or supervises.

    Args:
        doc: the table as loaded.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.

    Returns:
        The person, or None when there was any problem.
    """
    before = len(problems)
    table = open_document(doc, problems, where)
    if table is None:
        return None
    key, name = table.identifier(), table.text("name", required=True, cap=NAME)
    licences = [_licence(licence) for licence in table.tables("licences")]
    phone = table.text("phone", cap=40)
    table.finish()
    if len(problems) != before:
        return None
    return Person(key, name, tuple(licence for licence in licences if licence is not None), phone)
