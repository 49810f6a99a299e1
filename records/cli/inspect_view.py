"""An inspection on the screen: what was found, what is not complete, what was handed over, and the emergency sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.cli.output import counted, pairs, say, table, talk, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.packet_model import EmergencyModel, PacketModel
    from records.services.inspecting.request import Found, Question
    from records.services.ports import StoredRevision

SHOWN = 30  # records that are listed by serial
FEW = 12  # lines of what is not complete that are shown


def tell_asked(question: Question) -> None:
    """Write how a request was understood, before any record is looked for."""
    say(wrapped(question.words))


def found_words(found: Found) -> str:
    """Return how many records there are."""
    told = counted(len(found.matches), "record")
    return told if found.request.random is None else f"{told} picked of {found.of:,} that match"


def tell_packet(model: PacketModel, found: Found) -> None:
    """Write a packet in short."""
    pairs([(fact.label.lower(), fact.value) for fact in model.counts])
    rules = dict.fromkeys(f"{row[0]} {row[1]}" for row in model.table("rules").rows)
    pairs([("judged by", ", ".join(rules) or None), ("seed", model.seed or None)])
    if len(found.matches) <= SHOWN:
        say("\nrecords")
        for match in found.matches:
            say(f"  {match.serial}  {match.day or 'a month total'}")
        _licences(model)
    voided = next((fact.value for fact in model.counts if fact.label == "Voided"), "0")
    if voided != "0":
        say(wrapped("voided records are counted among the records; no application of theirs is", "  "))
    gaps = list(model.table("not_complete").rows)
    say("\nnot complete")
    if not gaps:
        say("  nothing")
    for serial, day, what, rule in gaps[:FEW]:
        say(wrapped(f"{day}  {what}", "    ", f"  {serial}  "))
        if rule != "-":
            say(wrapped(f"[{rule}]", "    "))
    if len(gaps) > FEW:
        say(f"  and {counted(len(gaps) - FEW, 'more line')} in the packet")
    say()
    pairs([("last seal", model.last_seal)])
    talk('to hand it over add --out FILE.pdf (.csv, .xlsx, .json) and --asked-by "WHO"')


def _licences(model: PacketModel) -> None:
    """Write who worked, and whether the licence was valid on the days of the work."""
    licences = model.table("licences")
    keys = [column.key for column in licences.columns]
    say("\nlicences on the days of the work")
    for row in licences.rows:
        told = dict(zip(keys, row, strict=True))
        held = ", ".join(filter(None, (told["licence"] or "NO LICENCE", told["kind"], told["categories"])))
        words = f"{told['person']} {told['role']}: {held}, {told['valid']}"
        covered = "" if told["covered"] == "yes" else "; NOT VALID on every day"
        say(wrapped(f"{words}; {counted(int(told['records']), 'record')}{covered}", "    ", "  "))


def tell_log(events: Sequence[StoredRevision]) -> None:
    """Write what was handed over, oldest first."""
    if not events:
        say("nothing was handed over yet")
        return
    rows = []
    for event in events:
        data = event.body["data"]
        files = ", ".join(f"{file.get('name')}" for file in data.get("files") or []) or "on the screen"
        who = str(data.get("asked_by") or "-")
        shown = f"{who} ({data['credentials']})" if data.get("credentials") else who
        asked = str((data.get("question") or {}).get("words") or "-")
        when = f"{event.sealed_at[:16].replace('T', ' ')} UTC"
        rows.append([event.serial, when, shown, asked, str(data.get("records", "-")), files])
    table(["event", "when", "asked by", "asked for", "records", "files"], rows, right=[4], keep=[0])


def tell_emergency(model: EmergencyModel) -> None:
    """Write the emergency sheet."""
    say(wrapped(f"{model.title.upper()}: {model.address}"))
    pairs([(line.number, f"{line.name}: {line.when}") for line in model.phones], gap=16)
    pairs([(model.firm.phone, f"{model.firm.name}, who applied")], gap=16)
    say()
    say(wrapped(model.span))
    if model.unsealed:
        say("\nNOT CHECKED, may have been put out, too")
    for text in model.unsealed:
        say(wrapped(text, "    ", "  "))
    for visit in model.visits:
        say()
        say(wrapped(f"{visit.when}; applied by {visit.who}; record {visit.serial}"))
        for product in visit.products:
            say(wrapped(f"{product.name}: {product.identity}", "    ", "  > "))
            pairs([("actives", product.actives), ("amount", product.amount), ("where", product.where)], "    ", 9)
    if model.first_aid:
        say("\nfirst aid, in the words of the labels")
    for aid in model.first_aid:
        say(wrapped(f"{', '.join(aid.products)}: {aid.text}", "    ", "  "))
    say()
    for text in model.cautions:
        say(wrapped(text))
