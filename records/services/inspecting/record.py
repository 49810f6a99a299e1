"""One record of a packet: what its rules ask for, in their order, then everything else it holds, and all revisions."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.packet_model import RecordPart
from records.domain.report_model import Column, Fact, one_line
from records.rules.asking import asked_fields
from records.services.body_parts import parts_of_body
from records.services.inspecting.changes import revisions_told
from records.services.inspecting.facts import BY_KEY, READINGS, Facts, read_facts
from records.services.inspecting.gather import LONG, TELLING, broken, is_late, signature
from records.services.inspecting.words import day_or_month, place_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.rules.pack import Pack
    from records.services.ports import Json, StoredRevision

NOT_RECORDED = "not recorded"
_PARTS = frozenset({"city", "zip", "state", "active_ingredient"})  # they stand within another fact
_REPEATS = frozenset({"time", "authorized_by", "purpose", "rate", "dilution", "extent"})
COLUMNS = (
    Column("serial", "Record"),
    Column("revision", "Revision"),
    Column("standing", "Standing"),
    *(Column(reading.key, reading.title) for reading in READINGS),
    Column("seal", "Seal"),
)


@lru_cache(maxsize=256)
def _order(packs: tuple[Pack, ...]) -> tuple[str, ...]:
    """Return the fields that packs name, in their order, each once."""
    return tuple(dict.fromkeys(name for pack in packs for asked in pack.asked for name in asked.fields))


@lru_cache(maxsize=256)
def _rest(packs: tuple[Pack, ...]) -> tuple[str, ...]:
    """Return all other facts, in the order of `READINGS`."""
    named = frozenset(_order(packs))
    return tuple(reading.key for reading in READINGS if reading.key not in named)


def record_part(revisions: Sequence[StoredRevision], packs: tuple[Pack, ...]) -> RecordPart:
    """Return a record as a packet tells it.

    Args:
        revisions: all of them, oldest first; the last one is told in full, the others by what was changed.
        packs: that judge it.
    """
    last = revisions[-1]
    body = last.body
    facts = read_facts(body)
    asked = asked_fields(parts_of_body(body), packs)
    rule = tuple(
        _asked(facts, name, asked) for name in _order(packs) if asked.get(name) is not None or _has(facts, name)
    )
    told = revisions_told(revisions)
    state = record_state(last, is_incomplete=is_incomplete(body, packs, asked))
    return RecordPart(
        serial=last.serial,
        heading=", ".join(filter(None, (day_or_month(body), place_words(body.get("site"))))),
        state=state,
        judged_by=", ".join(f"{pack.id} {pack.version}" for pack in packs) or "no pack",
        rule=rule,
        other=tuple(_other(facts, packs)),
        deviation=_deviation(body),
        findings=tuple(_findings(body)),
        revisions=told,
        applications=tuple((last.serial, str(last.revision), state, *row, last.seal) for row in facts.rows()),
    )


def _other(facts: Facts, packs: tuple[Pack, ...]) -> Iterator[Fact]:
    """Yield what no rule asks for, leaving out what another fact has said in the same words."""
    told = {facts.joined(name) for name in _order(packs)}
    for key in _rest(packs):
        text = facts.joined(key)
        if text and key not in _PARTS and not (key in _REPEATS and text in told):
            told.add(text)
            yield Fact(BY_KEY[key].title, text)


def record_state(revision: StoredRevision, *, is_incomplete: bool) -> str:
    """Return in a few words what is not ordinary about a record."""
    body, state = revision.body, []
    if revision.action != "sealed":
        state.append(revision.action)
    if body.get("deviation"):
        state.append("deviation")
    if is_late(body):
        state.append("late")
    if revision.action != "voided" and is_incomplete:
        state.append("incomplete")
    return ", ".join(state)


def is_incomplete(body: Json, packs: tuple[Pack, ...], asked: dict[str, bool]) -> bool:
    """Tell whether a record lacks something: what its rules ask for, or what it says itself where it has none."""
    if packs:
        return not all(asked.values())
    return any(finding["code"] == "missing" for finding in body.get("findings") or [])


def _has(facts: Facts, name: str) -> bool:
    return bool(facts.joined(name))


def _asked(facts: Facts, name: str, asked: dict[str, bool]) -> Fact:
    text = facts.joined(name)
    lacking = asked.get(name) is False
    if lacking and not text:
        return Fact(BY_KEY[name].title, NOT_RECORDED, missing=True)
    if lacking:
        return Fact(BY_KEY[name].title, f"{text} (INCOMPLETE)" if text else NOT_RECORDED, missing=True)
    return Fact(BY_KEY[name].title, text or "held with another field")


def _deviation(body: Json) -> tuple[str, ...]:
    deviation = body.get("deviation")
    if not deviation:
        return ()
    name, licence = signature(deviation)
    reason = one_line(deviation.get("reason"), LONG)
    return (
        f"Sealed as applied, a deviation. Reason: {reason or NOT_RECORDED}",
        *filter(None, (f"What was broken: {broken(body)}" if broken(body) else "",)),
        f"Signed for by {name or NOT_RECORDED}, licence {licence or NOT_RECORDED}",
    )


def _findings(body: Json) -> list[str]:
    told = []
    for finding in body.get("findings") or []:
        if finding["severity"] == "note" and finding["code"] not in TELLING:
            continue
        source = one_line(finding.get("source"), LONG)
        message = one_line(finding.get("message"), LONG)
        told.append(f"{one_line(finding['code'])}: {message}" + (f" [{source}]" if source else ""))
    return told
