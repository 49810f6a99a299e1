"""Rule packs: which there are, what one asks, and why a field is asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.output import say, say_json, table, talk, wrapped
from records.cli.state import application, read_input, state_of

if TYPE_CHECKING:
    from records.domain.loaded import Problem
    from records.rules.pack import Pack, Source
    from records.services.ports import Json

CAUTION = (
    "Rule packs are an aid and no legal advice; the official text wins. Confirm with the state's pesticide agency."
)
READING = (
    "An amount counts as it is written, with the benefit of its reading: half its last digit, at most 2 % of the "
    "limit. What is over only within that is noted, and says so."
)

GROUP = """Record rules of the states: list, show, check your own.

Example: swathbook pack show us-mn
"""


def register(app: typer.Typer) -> None:
    """Add the commands."""
    packs = typer.Typer(help=GROUP, no_args_is_help=True)
    packs.command("list")(pack_list)
    packs.command("show")(pack_show)
    packs.command("check")(pack_check)
    app.add_typer(packs, name="pack")
    app.command("why")(why)


def _own(context: typer.Context) -> tuple[tuple[str, ...], list[Pack]]:
    """Return the names of the firm's packs and its own packs; nothing where there is no book yet."""
    from records.errors import BookMissingError
    from records.services.directory import Directory
    from records.services.rulebook import Rulebook

    try:
        with application(context).book().read() as work:
            found = Directory(work.catalogue).business()
            rulebook = Rulebook(work.catalogue)
            own = [rulebook.overlays(entry.id)[0] for entry in work.catalogue.every("pack")]
    except BookMissingError:
        return (), []
    return (() if found is None else found[0].packs), own


def _states(context: typer.Context, named: tuple[str, ...]) -> set[str]:
    """Return the states whose fertilizer law is the firm's: its own, and those of the packs that it names."""
    from records.errors import BookMissingError
    from records.services.directory import Directory

    states = {key.split("-")[1].upper() for key in named if key.startswith("us-")}
    try:
        with application(context).book().read() as work:
            found = Directory(work.catalogue).business()
    except BookMissingError:
        return states
    return states if found is None else {*states, found[0].state}


def pack_list(context: typer.Context) -> None:
    """List the packs, yours marked.

    Example: swathbook pack list
    """
    from records.rules.packs import newest, pack_ids

    named, own = _own(context)
    packs = [*own, *(newest(key) for key in pack_ids())]
    if state_of(context).json:
        say_json({"schema": 1, "packs": [_line(pack, named) for pack in packs]})
        return
    rows = [(pack.id, "yours" if pack.id in named else "", pack.title) for pack in packs]
    table(("pack", "", "what it is about"), rows, keep=(0, 1))
    talk(wrapped(CAUTION))


def _line(pack: Pack, named: tuple[str, ...]) -> Json:
    return {
        "id": pack.id,
        "version": pack.version,
        "title": pack.title,
        "jurisdiction": pack.jurisdiction,
        "products": pack.products,
        "is_yours": pack.id in named,
        "is_own": pack.is_overlay,
    }


def pack_show(
    context: typer.Context,
    key: Annotated[str, typer.Argument(metavar="ID", help="Such as us-mn.")],
) -> None:
    """Show what a pack asks, in plain words, every fact with its source.

    Example: swathbook pack show us-mn
    """
    from records.rules.packs import newest
    from records.services.explaining import pack_document

    _, own = _own(context)
    pack = next((one for one in own if one.id == key), None) or newest(key)
    document = pack_document(pack)
    if state_of(context).json:
        say_json(document)
    else:
        _tell_pack(pack, document)


def _tell_pack(pack: Pack, document: Json) -> None:
    from dataclasses import replace

    from records.rules.fields import CONDITIONS
    from records.services.explaining import HOW_KNOWN, PRODUCTS, asked_words, facts, source_words, when_words

    say(wrapped(f"{pack.id}, version {document['version']}: {pack.title}", "  ", ""))
    say(wrapped(f"for {pack.licence or 'the firm'}; {PRODUCTS[pack.products]}", "  ", "  "))
    if pack.effective_from or pack.effective_to:
        since = f"from {pack.effective_from} " if pack.effective_from else ""
        until = f"to {pack.effective_to}" if pack.effective_to else ""
        say(f"  in force {since}{until}".rstrip())
    # Sources are numbered: the same citation under every line would bury what it says.
    numbers: dict[str, int] = {}

    def number(words: str) -> str:
        return f"[{numbers.setdefault(words, len(numbers) + 1)}]"

    # A pack for some products asks of their records alone: said once, not under every field.
    of = CONDITIONS.get({"restricted": "restricted_use"}.get(pack.products, pack.products), "") if pack.asked else ""
    say("\n" + wrapped(f"Each record holds{', when ' if of else ''}{of}", "  ", ""))
    if not pack.asked:
        say(wrapped("no field list of this rule has been read yet; the common pack judges its records", "  ", "  "))
    for asked in pack.asked:
        told = when_words(asked, replace(pack, products="all"))
        text = asked_words(asked) + (f", {told}" if told else "") + (f" ({asked.words})" if asked.words else "")
        mark = "" if asked.source.status.binds else " (asks only)"
        say(wrapped(f"{text}{mark} {number(source_words(asked.source))}", "      ", "  - "))
    before = ""
    for about, says, words, source in facts(pack):
        if about != before:
            say(f"\n{about[:1].upper()}{about[1:]}")
            before = about
        more = f" ({words})" if words and words not in says else ""
        say(wrapped(f"{says}{more} {number(source_words(source))}", "      ", "  - "))
    say("\nSources")
    urls = {source_words(source): source.url for source in _sources(pack)}
    for words, place in numbers.items():
        say(wrapped(words, "      ", f"  [{place}] "))
        if urls.get(words):
            say(f"      {urls[words]}")  # never broken: it is there to be copied
    if pack.fertilizer is not None and pack.fertilizer.limits:
        talk(wrapped(READING))
    talk(wrapped(HOW_KNOWN))
    talk(wrapped(CAUTION))


def _sources(pack: Pack) -> list[Source]:
    from records.services.explaining import facts

    return [*(asked.source for asked in pack.asked), *(fact[3] for fact in facts(pack))]


def pack_check(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE|-", help="TOML or JSON with [[packs]].")],
) -> None:
    """Check a file with your own packs without loading it.

    Example: swathbook pack check house-rules.toml
    """
    from records.services.loading import MAX_PROBLEMS, LoadProblem, parse, read_overlay

    problems: list[LoadProblem] = []
    content = parse(file, read_input(file), problems) or {}
    packs = content.get("packs")
    if not problems and not isinstance(packs, list):
        problems.append(LoadProblem(file, "", "holds no [[packs]]"))
    for number, doc in enumerate(packs if isinstance(packs, list) else []):
        found: list[Problem] = []
        read_overlay(doc, found, f"packs[{number}]")
        problems.extend(LoadProblem(file, one.where, one.what) for one in found)
        if len(problems) > MAX_PROBLEMS:
            break
    if state_of(context).json:
        told = [{"file": one.file, "where": one.where, "what": one.what} for one in problems]
        say_json({"schema": 1, "status": "refused" if problems else "ok", "problems": told})
    else:
        for problem in problems:
            say(wrapped(str(problem), "    "))
        if not problems:
            say(wrapped(f"{file}: nothing wrong; load it with: swathbook load FILE", "    "))
    if problems:
        raise typer.Exit(1)


def why(
    context: typer.Context,
    field: Annotated[
        str, typer.Argument(metavar="FIELD", help="Such as wind_speed, over-rate or weather.measured_at.")
    ],
) -> None:
    """Say which rules ask for a field, and when.

    A finding code, or a place as findings write it, is explained as well.

    Example: swathbook why wind_speed
    """
    from records.domain.findings import Code
    from records.rules.fields import Field
    from records.services.explaining import (
        HOW_KNOWN,
        code_document,
        find_word,
        laws_document,
        part_document,
        why_document,
    )

    found = find_word(field)
    named, own = _own(context)
    if not isinstance(found, Field):
        word = found.value if isinstance(found, Code) else found
        laws = laws_document(word, _states(context, named), own)
        document = code_document(found) if isinstance(found, Code) else part_document(found)
        document |= {} if laws is None else {"laws": laws}
        tell = _tell_code if isinstance(found, Code) else _tell_part
        tell(document, as_json=state_of(context).json)
        return
    document = why_document(found, named, own)
    if state_of(context).json:
        say_json(document)
        return
    say(wrapped(f"{document['field']}: {document['meaning']}", "    ", first=""))
    say(wrapped(f"in the entry at {document['at']}; {document['do']}", "  ", "  "))
    if document["also_at"]:
        say(wrapped(f"filled from the same place: {', '.join(document['also_at'])}", "  ", "  "))
    yours = [one for one in document["asked_by"] if one["is_yours"]]
    say(f"\nYour rules ({', '.join(document['yours'])})")
    if not yours:
        say("  do not ask for it")
    for one in yours:
        _tell_reason(one)
    others = [one for one in document["asked_by"] if not one["is_yours"]]
    say(f"\nOther rules that ask for it ({len(others)})")
    rows = [(one["pack"], _when(one), f"{one['source']['citation']} ({_status(one['source'])})") for one in others]
    if rows:
        table(("pack", "when", "source"), rows, keep=(0,))
    if yours or others:
        talk(wrapped(HOW_KNOWN))
    talk(wrapped(CAUTION))


def _tell_code(document: Json, *, as_json: bool) -> None:
    from records.domain.findings import Severity
    from records.services.code_words import SEVERITY_WORDS

    if as_json:
        say_json(document)
        return
    say(wrapped(f"{document['code']}: {document['meaning']}", "    ", first=""))
    weighs = ", or ".join(SEVERITY_WORDS[Severity(one)] for one in document["severities"])
    say(wrapped(f"how severe: {weighs}", "    ", "  "))
    say(wrapped(f"what to do: {document['do']}", "    ", "  "))
    signed = "can" if document["can_be_signed_for"] else "cannot"
    say(wrapped(f"{signed} be sealed as applied with a signature", "    ", "  "))
    say(wrapped(f"where it stands: {document['source']}", "    ", "  "))
    _tell_laws(document)


def _tell_part(document: Json, *, as_json: bool) -> None:
    if as_json:
        say_json(document)
        return
    say(wrapped(f"{document['part']}: {document['meaning']}", "    ", first=""))
    if document.get("laws"):
        _tell_laws(document)
    else:
        say("  no rule that the tool knows asks for it")


def _tell_laws(document: Json) -> None:
    """Write what the fertilizer laws of the firm's states say of it, and which others speak of it."""
    laws = document.get("laws") or []
    for law in (one for one in laws if one["is_yours"]):
        say()
        say(wrapped(f"{law['pack']}: {law['title']}", "  ", ""))
        for fact in law["facts"]:
            source = fact["source"]
            words = f" ({fact['words']})" if fact["words"] and fact["words"] not in fact["says"] else ""
            text = f"{fact['says']}{words}; {source['citation']} ({_status(source)})"
            say(wrapped(text, "      ", "  - "))
            if source["url"]:
                say(f"      {source['url']}")
    others = ", ".join(one["pack"] for one in laws if not one["is_yours"])
    if others:
        say()
        say(wrapped(f"{'other ' if any(one['is_yours'] for one in laws) else ''}laws that speak of it: {others}", "  "))
        say("  swathbook pack show ID tells one")


def _when(one: Json) -> str:
    """Return when a pack asks, with the alternatives where another field would do."""
    when = one["when"] or "always"
    return f"{when}; {one['asks']}" if len(one["any_of"]) > 1 else when


def _status(source: Json) -> str:
    from records.rules.pack import STATUS_WORDS, Status

    return STATUS_WORDS[Status(source["status"])]


def _tell_reason(one: Json) -> None:
    source = one["source"]
    say(wrapped(f"{one['pack']}: {one['asks']}, {one['when'] or 'always'}", "    ", "  "))
    if one["words"]:
        say(wrapped(one["words"], "      ", "      "))
    does = "a lack stops a visit" if one["force"] == "stop" else "a lack asks only: the text was not seen"
    aged = [f"seen {source['seen']}"] if source["seen"] and source["status"] != "memory" else []
    known = ", ".join([_status(source), *([source["edition"]] if source["edition"] else []), *aged])
    say(wrapped(f"{source['citation']} ({known}); {does}", "      ", "      "))
    if source["url"]:
        say(f"      {source['url']}")
