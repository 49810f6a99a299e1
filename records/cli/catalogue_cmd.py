"""Looking at what is loaded: ids and names of a kind, or one document in full."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli.output import say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.ports import CatalogueEntry

LONG = 30  # texts of a list that are longer stand on lines of their own
# The book keeps keys by the alphabet; people read them in this order.
ORDER = (
    "id",
    "name",
    "kind",
    "product",
    "registration",
    "exemption",
    "form",
    "type",
    "signal_word",
    "restricted_use",
    "customer",
    "address",
    "city",
    "county",
    "state",
    "zip",
    "phone",
    "email",
    "language",
    "timezone",
    "notes",
    "made_at",
    "equipment",
    "how",
    "on",
    "by",
    "water",
    "amount",
    "lot",
    "number",
    "categories",
    "from",
    "to",
    "revision",
    "site",
    "turf",
    "tolerance",
    "area",
    "method",
    "targets",
    "min",
    "max",
    "value",
    "force",
    "text",
    "keep_off",
    "wind",
    "temperature",
    "interval",
    "applications",
    "per_year",
    "active_per_year",
    "window",
    "season_from",
    "season_to",
    "content",
    "as",
    "group",
    "density",
    "actives",
    "precautions",
    "first_aid",
    "results",
    "limits",
    "uses",
)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("catalogue")(catalogue)


def catalogue(
    context: typer.Context,
    kind: Annotated[
        str | None,
        typer.Argument(metavar="[KIND]", help="One of those listed without it, such as sites."),
    ] = None,
    text: Annotated[
        str | None, typer.Argument(metavar="[ID|WORDS]", help="An id: the document in full; else those with the words.")
    ] = None,
    version: Annotated[
        int | None, typer.Option("--version", metavar="N", min=1, help="An earlier version of one document.")
    ] = None,
) -> None:
    """Show what is loaded, with the ids.

    How much of each kind; the ids of one; or one document in full, with its version and date.

    Example: swathbook catalogue sites "Lark Lane"
    """
    from records.errors import UsageError
    from records.services import browsing

    book, as_json = application(context).book(), state_of(context).json
    if kind is None:
        _overview(browsing.counts(book), as_json=as_json)
        return
    section = browsing.section_of(kind)
    if section == "business":
        text = text or section
    if version is not None:
        if text is None:
            raise UsageError("--version needs the id of one document", "swathbook catalogue KIND ID --version N")
        found, is_one = [browsing.document(book, section, text, version)], True
    else:
        found = browsing.documents(book, section, text)
        is_one = len(found) == 1 and text is not None
    if as_json:
        say_json({"schema": 1, "kind": section, "documents": [_document(entry) for entry in found]})
    elif is_one:
        _tell(found[0])
    elif not found:
        say(f"no {section} are loaded")
    else:
        head, rows = _rows(section, found)
        table(head, rows, keep=[0])
        talk(f"swathbook catalogue {section} ID shows one in full")


def _overview(counts: dict[str, int], *, as_json: bool) -> None:
    if as_json:
        say_json({"schema": 1, "loaded": counts})
        return
    for section, count in counts.items():
        say(f"  {section:<10} {count:>6,}")
    talk("swathbook catalogue KIND lists the ids of one kind")


def _document(entry: CatalogueEntry) -> dict[str, Any]:
    return {
        "id": entry.id,
        "version": entry.version,
        "loaded_at": entry.loaded_at.isoformat(),
        "document": entry.body,
    }


def _rows(section: str, found: list[CatalogueEntry]) -> tuple[list[str], list[list[str]]]:
    """Return head and rows of a list, with what tells one document of the kind from another."""
    columns: dict[str, tuple[str, ...]] = {
        "people": ("name", "licences"),
        "customers": ("name", "phone", "language"),
        "sites": ("address", "city", "customer", "zones"),
        "products": ("name", "registration", "form", "label"),
        "equipment": ("name", "kind", "output"),
        "mixes": ("made_at", "equipment", "products"),
        "packs": ("title", "jurisdiction"),
    }
    keys = columns[section]
    titles = {"registration": "reg. no.", "made_at": "made at"}
    rows = [[entry.id, *(_cell(entry.body, key) for key in keys)] for entry in found]
    return ["id", *(titles.get(key, key) for key in keys)], rows


def _cell(body: dict[str, Any], key: str) -> str:
    """Return what a list shows of one key of a document."""
    value = body.get(key)
    if key == "licences":
        return "; ".join(f"{one['kind']} {one['number']} to {one['to']}" for one in value or [])
    if key == "zones":
        return ", ".join(one["id"] for one in value or [])
    if key == "products":
        return ", ".join(f"{one['product']} {one['amount']}" for one in value or [])
    if key == "label":
        restricted = "; RESTRICTED USE" if body.get("restricted_use") else ""
        return (f"revision {value['revision']}" if value else "-") + restricted
    if key == "registration":
        return str(value or body.get("exemption") or "-")
    return str(value or "-")


def _tell(entry: CatalogueEntry) -> None:
    """Write one document in full, as it was loaded."""
    say(f"{entry.kind} {entry.id}, version {entry.version}, loaded {entry.loaded_at:%Y-%m-%d %H:%M} UTC")
    _group(_with_areas(entry) if entry.kind == "site" else entry.body, "  ")
    if entry.version > 1:
        talk(f"--version {entry.version - 1} shows the one before")


def _with_areas(entry: CatalogueEntry) -> dict[str, Any]:
    """Return a site with the areas that follow from the figures of its zones."""
    from records.services.reading import read_site

    site = read_site(entry.body, [])
    zones = []
    for zone in entry.body["zones"]:
        read = None if site is None else site.zone(zone["id"].strip())
        follows = read is not None and read.area is not None and not zone.get("area")
        zones.append(zone | {"area": f"{read.area}, by its figures"} if follows and read is not None else zone)
    return entry.body | {"zones": zones}


def _group(content: dict[str, Any], indent: str, first: str | None = None) -> None:
    """Write a table of a document: plain values first, each on a line of its own, then what holds more."""
    keys = sorted(content, key=lambda key: (_is_large(content[key]), ORDER.index(key) if key in ORDER else len(ORDER)))
    gap = max((len(key) for key in keys if not _is_large(content[key])), default=0) + 2
    lead = first
    for key in keys:
        value, name = content[key], key.replace("_", " ")
        start = indent if lead is None else lead
        lead = None
        if not _is_large(value):
            say(wrapped(_plain(value), indent + " " * gap, f"{start}{name:<{gap}}"))
        elif isinstance(value, dict):
            say(f"{start}{name}")
            _group(value, indent + "  ")
        else:
            say(f"{start}{name}")
            for one in value:
                if isinstance(one, dict) and any(_is_large(part) for part in one.values()):
                    _group(one, indent + "    ", indent + "  - ")
                else:
                    say(wrapped(_plain(one), indent + "    ", indent + "  - "))


def _is_large(value: object) -> bool:
    """Tell whether a value takes more than a line of its own."""
    if isinstance(value, dict):
        return True
    return isinstance(value, list) and any(isinstance(one, dict) or len(str(one)) > LONG for one in value)


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        keys = sorted(value, key=lambda key: ORDER.index(key) if key in ORDER else len(ORDER))
        return "; ".join(f"{key.replace('_', ' ')} {_plain(value[key])}" for key in keys)
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
