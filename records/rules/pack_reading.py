"""Reads rule packs from TOML: every key is known, every fact has its source, every problem names file and key."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import tomli

from records.domain.loaded import PROSE, Problem, Table, kind_of, shown, suggestion
from records.domain.spans import EXAMPLE, Span, read_span
from records.domain.states import STATES
from records.errors import RulePackError
from records.rules.fertilizer_reading import read_fertilizer
from records.rules.fields import CONDITIONS, FIELDS, NOTICE_CONTENT
from records.rules.pack import (
    AdvanceNotice,
    Asked,
    Clock,
    CustomerCopy,
    Duty,
    Pack,
    PeriodicReport,
    Production,
    Retention,
    Sign,
    Source,
    Status,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import date

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,63}", re.ASCII)
_DUE = {"year": re.compile(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])"), "month": re.compile(r"([1-9]|[12]\d)")}
_ORDER = list(Status)[:3]  # from best to worst known
PACK_PRODUCTS = ("all", "restricted", "fertilizer")
STARTS = ("application", "making", "amendment")
MOMENTS = ("before", "visit", "request", "days")
LAYOUTS = ("ny-annual", "ca-monthly", "me-annual")


class _Reader:
    """One pack being read."""

    def __init__(self, table: Table, *, is_overlay: bool) -> None:
        self.table = table
        self.is_overlay = is_overlay
        self.sources: dict[str, Source] = {}

    def read_sources(self) -> None:
        """Read every place that facts are taken from."""
        statuses = [status.value for status in ([Status.FIRM] if self.is_overlay else _ORDER)]
        holder = self.table.table("sources")
        if holder is None:
            self.table.missing("sources", "every fact needs one, such as [sources.statute]")
            return
        for key in holder.keys():  # noqa: SIM118 - a table of ours, not a dict
            entry = holder.table(key)
            if entry is None:
                continue
            status = entry.choice("status", statuses, required=not self.is_overlay) or Status.FIRM.value
            is_read = not self.is_overlay and status != Status.MEMORY.value
            self.sources[key] = _source(
                citation=entry.text("citation", required=True),
                url=_url(entry, required=is_read),
                seen=entry.day("seen", required=is_read),
                status=Status(status if status in set(Status) else Status.MEMORY),
                edition=entry.text("edition"),
            )
            entry.finish()

    def source(self, entry: Table) -> Source:
        """Return the source that a fact names, with the fact's own status where it says a lesser one."""
        key = entry.text("source", required=True, hint="the name of a [sources.NAME] table")
        found = self.sources.get(key)
        if key and found is None:
            hint = suggestion(key, self.sources) or f"known here: {', '.join(self.sources) or 'none'}"
            entry.problem("source", f"{shown(key)} is no source of this pack; {hint}")
        found = found or Source("", "", None, Status.MEMORY)
        if self.is_overlay:
            return found
        own = entry.choice("status", [status.value for status in _ORDER])
        if not own:
            return found
        status = Status(own)
        if _ORDER.index(status) < _ORDER.index(found.status):
            entry.problem("status", f"{own} is better than its source's {found.status}; correct one of them")
        return _source(found.citation, found.url, found.seen, status, found.edition)

    def span(self, entry: Table, key: str, *, required: bool = False) -> Span | None:
        """Return a stretch of time, or None where it is absent or wrong."""
        text = entry.text(key, required=required, hint=f"such as {EXAMPLE}")
        found = read_span(text) if text else None
        if text and found is None:
            entry.problem(key, f"{shown(text)} is no stretch of time; write {EXAMPLE}")
        return found

    def asked(self) -> tuple[Asked, ...]:
        """Read the fields, in the rule's own order."""
        found: list[Asked] = []
        seen: dict[object, None] = {}
        for entry in self.table.tables("fields"):
            any_of = _alternatives(entry)
            made = Asked(
                any_of=any_of or (("date",),),
                source=self.source(entry),
                when=_words(entry, "when", CONDITIONS),
                unless=_words(entry, "unless", CONDITIONS),
                words=entry.text("words", cap=PROSE),
                if_applicable=entry.flag("if_applicable"),
            )
            entry.finish()
            mark = (made.any_of, frozenset(made.when), frozenset(made.unless))
            if any_of and mark in seen:
                entry.problem("", f"asks for {made.field} twice under the same conditions; keep one")
            seen[mark] = None
            found.append(made)
        return tuple(found)

    def clock(self, key: str) -> Clock | None:
        """Read one clock; None where the pack has none."""
        entry = self.table.table(key)
        if entry is None:
            return None
        within = self.span(entry, "within", required=True)
        made = Clock(within or Span(0, "days"), self.source(entry), entry.text("words", cap=PROSE))
        entry.finish()
        return made

    def each(self, key: str, read: Callable[[Table, Source], Any]) -> tuple[Any, ...]:
        """Read every table of a list."""
        found = []
        for entry in self.table.tables(key):
            found.append(read(entry, self.source(entry)))
            entry.finish()
        return tuple(found)

    def retention(self, entry: Table, source: Source) -> Retention:
        """Read how long a record is kept."""
        products = entry.text("products", required=True)
        if products and products not in {"all", "restricted", "other"} and not products.startswith("active:"):
            entry.problem("products", f"{shown(products)} is not known; all, restricted, other or active:NAME")
        years = entry.whole("years", entry.raw("years"), 1, 100) if entry.has("years") else None
        if years is None and not entry.has("years"):
            entry.missing("years", "a whole number")
        starts = entry.choice("from", STARTS, required=True)
        return Retention(products, years or 1, starts or "application", source, entry.text("words", cap=PROSE))

    def production(self, entry: Table, source: Source) -> Production:
        """Read how fast a record is shown, and to whom."""
        return Production(
            to=entry.choice("to", ("agency", "medical", "customer"), required=True),
            asked=entry.text("asked", required=True),
            within=entry.text("within"),
            source=source,
            words=entry.text("words", cap=PROSE),
        )

    def copy(self, entry: Table, source: Source) -> CustomerCopy:
        """Read what the customer gets."""
        moment = entry.choice("moment", MOMENTS, required=True)
        within = self.span(entry, "within", required=moment == "days")
        return CustomerCopy(
            moment=moment or "request",
            within=within,
            paper=entry.flag("paper"),
            electronic=entry.choice("electronic", ("yes", "consent", "no")) if entry.raw("electronic") != "" else "",
            content=_words(entry, "content", NOTICE_CONTENT),
            source=source,
            words=entry.text("words", cap=PROSE),
        )

    def report(self, entry: Table, source: Source) -> PeriodicReport:
        """Read a report that is due regularly."""
        period = entry.choice("period", ("year", "month"), required=True) or "year"
        due = entry.text("due", required=True)
        if due and not _DUE[period].fullmatch(due):
            entry.problem("due", f"{shown(due)} is no due day; write 02-01 for a year, 10 for a month")
            due = ""
        return PeriodicReport(
            id=entry.identifier(),
            title=entry.text("title", required=True),
            period=period,
            due=due,
            to=entry.text("to", required=True),
            nil=entry.flag("nil"),
            layout=entry.choice("layout", LAYOUTS) if entry.raw("layout") != "" else "",
            source=source,
            words=entry.text("words", cap=PROSE),
        )

    def sign(self, entry: Table, source: Source) -> Sign:
        """Read what a lawn sign has to be."""
        return Sign(
            size=entry.text("size"),
            look=entry.text("look"),
            wording=entry.text("wording"),
            put_up=entry.choice("put_up", ("before", "start", "after")),
            stays=entry.text("stays"),
            hours=entry.whole("hours", entry.raw("hours"), 1, 1000) if entry.has("hours") else None,
            source=source,
            words=entry.text("words", cap=PROSE),
        )

    def advance(self, entry: Table, source: Source) -> AdvanceNotice:
        """Read who is told before."""
        return AdvanceNotice(
            who=entry.text("who", required=True),
            lead=self.span(entry, "lead"),
            source=source,
            words=entry.text("words", cap=PROSE),
            written=entry.flag("written"),
        )

    def duty(self, entry: Table, source: Source) -> Duty:
        """Read something else that is asked."""
        return Duty(entry.text("text", required=True, cap=PROSE), source)


def _source(citation: str, url: str, seen: date | None, status: Status, edition: str) -> Source:
    """Return a source; what is from memory was read nowhere, so it has no address and no day."""
    if status is Status.MEMORY:
        return Source(citation, "", None, status, edition)
    return Source(citation, url, seen, status, edition)


def _url(entry: Table, *, required: bool) -> str:
    text = entry.text("url", required=required, cap=500)
    if text and not text.startswith(("https://", "http://")):
        entry.problem("url", f"{shown(text)} is no address; write it whole, with https://")
    return text


def _words(entry: Table, key: str, known: Iterable[str]) -> tuple[str, ...]:
    words = entry.texts(key)
    for word in words:
        if word not in known:
            entry.problem(key, f"{shown(word)} is not known; {suggestion(word, known) or 'see: swathbook pack words'}")
    return tuple(word for word in words if word in known)


def _alternatives(entry: Table) -> tuple[tuple[str, ...], ...]:
    """Return the alternatives of a field or an either/or group; empty beside a problem."""
    plain, group = entry.raw("field"), entry.raw("any_of")
    if (plain is None) == (group is None):
        entry.problem("", "names either a field or alternatives under any_of, one of the two")
        return ()
    lists = [[plain]] if group is None else group
    if not isinstance(lists, list) or not all(isinstance(one, list) and one for one in lists):
        entry.problem("any_of", 'is no list of alternatives; write it like [["area"], ["amount"]]')
        return ()
    found = []
    for names in lists:
        for name in names:
            if not isinstance(name, str) or name not in FIELDS:
                told = shown(name) if isinstance(name, str) else kind_of(name)
                hint = suggestion(name, FIELDS) if isinstance(name, str) else ""
                entry.problem("field" if group is None else "any_of", f"{told} is no field; {hint}".rstrip("; "))
                return ()
        found.append(tuple(names))
    return tuple(found)


def read_pack_table(content: object, problems: list[Problem], where: str = "", *, is_overlay: bool) -> Pack | None:
    """Read a pack from a decoded document.

    Args:
        content: the table.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.
        is_overlay: whether the firm wrote it: its facts are the firm's own, and bind.

    Returns:
        The pack, or None when there was any problem.
    """
    before = len(problems)
    if not isinstance(content, dict):
        problems.append(Problem(where, f"is {kind_of(content)}; a pack is a table"))
        return None
    table = Table(content, where, problems)
    reader = _Reader(table, is_overlay=is_overlay)
    key = table.text("id", required=True, cap=64)
    if key and not _ID.fullmatch(key):
        table.problem("id", f"{shown(key)} is no id of a pack; use small letters, digits and -")
    reader.read_sources()
    first, last = table.day("effective_from"), table.day("effective_to")
    if first is not None and last is not None and last < first:
        table.problem("effective_to", f"{last} lies before the first day, {first}")
    pack = Pack(
        id=key,
        version=table.text("version", required=True, cap=20),
        title=table.text("title", required=True),
        jurisdiction=_jurisdiction(table),
        licence=table.text("licence", required=not is_overlay),
        products=table.choice("products", PACK_PRODUCTS, required=not is_overlay) or "all",
        effective_from=first,
        effective_to=last,
        asked=reader.asked(),
        complete=reader.clock("complete"),
        hand_over=reader.clock("hand_over"),
        retention=reader.each("retention", reader.retention),
        production=reader.each("production", reader.production),
        copies=reader.each("copies", reader.copy),
        reports=reader.each("reports", reader.report),
        signs=reader.each("signs", reader.sign),
        advance=reader.each("advance", reader.advance),
        duties=reader.each("duties", reader.duty),
        fertilizer=read_fertilizer(table.table("fertilizer"), reader.source),
        sources=tuple(reader.sources.items()),
        is_overlay=is_overlay,
    )
    table.finish()
    return pack if len(problems) == before else None


def _jurisdiction(table: Table) -> str:
    text = table.text("jurisdiction", required=True, cap=10)
    federal, _, state = text.partition("-")
    if text and (federal != "US" or (state and state not in STATES) or text == "US-"):
        table.problem("jurisdiction", f"{shown(text)} is not known; write US, or US- and the state's two letters")
    return text


def read_pack(name: str, text: str) -> Pack:
    """Read a pack that comes with the tool.

    Args:
        name: of its file, for messages.
        text: TOML.

    Raises:
        RulePackError: it is not TOML, a key is unknown or given twice, or a fact lacks its source; all problems told.
    """
    try:
        content = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        raise RulePackError(f"{name} is not TOML: {_toml_reason(error, text)}", "Correct that line") from error
    problems: list[Problem] = []
    pack = read_pack_table(content, problems, is_overlay=False)
    if pack is None:
        told = "; ".join(": ".join(filter(None, (problem.where, problem.what))) for problem in problems)
        raise RulePackError(f"{name}: {told}", "Correct the file")
    return pack


def _toml_reason(error: tomli.TOMLDecodeError, text: str) -> str:
    """Return why a text is no TOML, with the key of its line: a key given twice is named."""
    line = text.splitlines()[error.lineno - 1] if 0 < error.lineno <= len(text.splitlines()) else ""
    key = line.partition("=")[0].strip(" []")
    return f"{error}; at key {shown(key)}" if key else str(error)
