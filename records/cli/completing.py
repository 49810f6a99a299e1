"""What the shell offers after Tab: ids and serials of the book at hand; nothing where there is none."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING
from unicodedata import normalize

import typer

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.services.ports import UnitOfWork

ABOUT = 60  # characters told of an offer
PLAIN = frozenset(" -_.,/+")
MOST = 200  # offers; a shell asks before it lists more
Offer = tuple[str, str]  # what is typed, and what it is


def _offers(context: typer.Context, incomplete: str, read: Callable[[UnitOfWork], list[Offer]]) -> list[Offer]:
    """Return what begins like the word; a shell that completes must never see an error."""
    from records.bootstrap import assemble

    book = context.find_root().params.get("_book")
    try:
        with assemble(book if isinstance(book, str) else None, None).book().read() as work:
            every = read(work)
    except Exception:  # noqa: BLE001 - no book, a locked book, a broken one: there is nothing to offer
        return []
    start = incomplete.casefold()
    fits = (one for one in every if one[0].casefold().startswith(start) and _plain(one[0]) == one[0])
    return [(word, _plain(about)[:ABOUT].strip()) for word, about in islice(fits, MOST)]


def _plain(text: str) -> str:
    """Return a text with blanks for what a shell, or the screen behind it, could take for more than text.

    A script of the shell evaluates what it is offered: a backslash before a dollar sign in somebody's name would do.
    """
    return "".join(char if char.isalnum() or char in PLAIN else " " for char in normalize("NFC", text))


def _loaded(kind: str, *keys: str) -> Callable[[UnitOfWork], list[Offer]]:
    def read(work: UnitOfWork) -> list[Offer]:
        return [
            (entry.id, ", ".join(str(entry.body[key]) for key in keys if entry.body.get(key)))
            for entry in work.catalogue.every(kind)
        ]

    return read


def _newest(work: UnitOfWork) -> list[Offer]:
    """Return the newest records, newest first."""
    from records.services.ports import Criteria

    return [
        (
            one.serial,
            " ".join(filter(None, [one.body["date"], (one.body["site"] or {}).get("address")])),
        )
        for one in work.records.search(Criteria(limit=MOST))
    ]


def _held(work: UnitOfWork) -> list[Offer]:
    return [(entry.number, str(entry.document.get("site") or "")) for entry in work.held.open()]


def sites(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer sites."""
    return _offers(context, incomplete, _loaded("site", "address", "city"))


def products(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer products."""
    return _offers(context, incomplete, _loaded("product", "name", "registration"))


def people(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer people."""
    return _offers(context, incomplete, _loaded("person", "name"))


def customers(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer customers."""
    return _offers(context, incomplete, _loaded("customer", "name"))


def equipment(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer equipment."""
    return _offers(context, incomplete, _loaded("equipment", "name"))


def mixes(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer loads."""
    return _offers(context, incomplete, _loaded("mix", "made_at"))


def _entries(work: UnitOfWork) -> list[Offer]:
    """Return what may be withdrawn, newest first."""
    from records.services.events import FOLLOWED, LOGGED
    from records.services.logbook import entries

    found = [one for kind in (*LOGGED, *FOLLOWED) for one in entries(work, kind)]
    return [
        (one.serial, one.data.get("words") or "") for one in sorted(found, key=lambda one: one.serial, reverse=True)
    ]


def entries(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer what was logged and may be withdrawn."""
    return _offers(context, incomplete, _entries)


def _trials(work: UnitOfWork) -> list[Offer]:
    from records.services.logbook import entries

    return [(str(one.data["trial"]), str(one.data["site"])) for one in entries(work, "trial")]


def trials(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer trials."""
    return _offers(context, incomplete, _trials)


def zones(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer the zones of the site that stands on the line, else those of all sites."""
    words = [context.params.get("site"), *context.args]  # an option without its value leaves arguments unread

    def read(work: UnitOfWork) -> list[Offer]:
        every = {entry.id: entry.body.get("zones") or [] for entry in work.catalogue.every("site")}
        here = {word: every[word] for word in words if word in every} or every
        found = {str(zone["id"]): str(zone.get("kind") or "") for zones in here.values() for zone in zones}
        return sorted(found.items())

    return _offers(context, incomplete, read)


def _lots(work: UnitOfWork) -> list[Offer]:
    from records.services.stocking import purchases

    found = {one.lot: one.product for one in purchases(work) if one.lot}
    for row in work.account.used():
        if row.lot:
            found.setdefault(row.lot, row.product or "")
    return list(found.items())


def lots(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer lots that were bought or used."""
    return _offers(context, incomplete, _lots)


def equipment_or_mixes(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer equipment and loads."""
    return _offers(
        context, incomplete, lambda work: [*_loaded("equipment", "name")(work), *_loaded("mix", "made_at")(work)]
    )


def sites_or_products(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer sites and products."""
    return _offers(
        context, incomplete, lambda work: [*_loaded("site", "address")(work), *_loaded("product", "name")(work)]
    )


def _weeds(work: UnitOfWork) -> list[Offer]:
    """Return the weeds that the labels of the book name, and those that were rated."""
    named = {
        str(target)
        for entry in work.catalogue.every("product")
        for use in (entry.body.get("label") or {}).get("uses") or []
        for target in use.get("targets") or []
    }
    return [(name, "") for name in sorted(named | {name for name, _ in _rated(work)})]


def weeds(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer weeds."""
    return _offers(context, incomplete, _weeds)


def _rated(work: UnitOfWork) -> list[Offer]:
    from records.services.follow_up import ratings

    return [(name, "") for name in sorted({one.rating.target for one in ratings(work)})]


def targets(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer the weeds that were rated."""
    return _offers(context, incomplete, _rated)


def serials(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer the newest records."""
    return _offers(context, incomplete, _newest)


def serials_or_sites(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer sites and the newest records."""
    return _offers(context, incomplete, lambda work: [*_loaded("site", "address", "city")(work), *_newest(work)])


def held(context: typer.Context, incomplete: str) -> list[Offer]:
    """Offer what is held."""
    return _offers(context, incomplete, _held)
