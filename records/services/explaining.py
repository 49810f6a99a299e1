"""Rule packs in plain words: what a pack asks, and which packs ask for a field, each fact with its source."""

from __future__ import annotations

import difflib
import re
from typing import TYPE_CHECKING

from records.domain.findings import WAIVABLE, Code
from records.errors import NotFoundError
from records.rules.fields import CONDITIONS, FIELDS, NOTICE_CONTENT, Field
from records.rules.pack import STATUS_WORDS, Status
from records.rules.packs import COMMON, FERTILIZER, newest, pack_ids
from records.services.code_words import CODES, PARTS, PLACES, SEVERITIES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from records.rules.pack import Asked, CustomerCopy, Pack, PeriodicReport, Production, Retention, Sign, Source
    from records.services.ports import Json

PRODUCTS = {
    "all": "all products",
    "restricted": "restricted-use products",
    "other": "products not for restricted use",
    "fertilizer": "products with a fertilizer analysis",
}
STARTS = {
    "application": "the application",
    "making": "the making of the record",
    "amendment": "the making or the last amendment of the record, whichever is later",
}
MOMENTS = {
    "before": "before the application or at contract",
    "visit": "at the visit, on completion",
    "request": "on request",
    "days": "afterwards",
}


HOW_KNOWN = (
    "How a rule is known: verified, its text was read; secondary, a summary or a reprint was read; from memory, it was "
    "not seen, so it asks and never stops a visit."
)
WHERE_TO_LOOK = (
    "swathbook schema visit lists the parts of an entry, swathbook pack show common the fields of a pack; "
    "a code is the word before a finding, such as over-rate"
)

# A code or a part of an entry that fertilizer laws are about -> what about their facts are
LAWS = {
    Code.OVER_NUTRIENT.value: ("nutrients", "phosphorus"),
    Code.BLACKOUT.value: ("blackout", "ground"),
    Code.SETBACK.value: ("setback", "pavement"),
    "water_distance": ("setback",),
    "deflector": ("setback",),
    "soil_test": ("phosphorus",),
    "turf_stage": ("phosphorus", "setback"),
    "ground": ("ground",),
}


def laws_document(word: str, states: set[str], own: Iterable[Pack]) -> list[Json] | None:
    """Return what fertilizer laws say of a code or a part of an entry; None where they say nothing of it.

    Args:
        word: code or part.
        states: of the firm: their laws are its own, told first.
        own: the firm's own packs.
    """
    about = LAWS.get(word)
    if about is None:
        return None
    every = [*own, *(newest(key) for key in pack_ids() if key.endswith(FERTILIZER))]
    found: list[Json] = []
    for pack in every:
        said = [] if pack.fertilizer is None else [fact for fact in pack.fertilizer.facts() if fact[0] in about]
        told = [
            {"about": part, "says": says, "words": words, "source": source_document(source)}
            for part, says, words, source in said
        ]
        if told:
            is_yours = pack.is_overlay or pack.state in states
            found.append({"pack": pack.id, "title": pack.title, "is_yours": is_yours, "facts": told})
    return sorted(found, key=lambda one: (not one["is_yours"], one["pack"]))


def source_document(source: Source) -> Json:
    """Return a source as a document."""
    return {
        "citation": source.citation,
        "url": source.url,
        "seen": None if source.seen is None else source.seen.isoformat(),
        "edition": source.edition,
        "status": source.status.value,
    }


def source_words(source: Source) -> str:
    """Return a source in one line: citation, how it is known, how old the text is, when it was read."""
    parts = [STATUS_WORDS[source.status]]
    if source.status is Status.MEMORY:
        return f"{source.citation} ({parts[0]})"
    if source.edition:
        parts.append(source.edition)
    if source.seen is not None:
        parts.append(f"seen {source.seen}")
    return f"{source.citation} ({', '.join(parts)})"


def when_words(asked: Asked, pack: Pack) -> str:
    """Return under which conditions something is asked; "" when always."""
    conditions = [CONDITIONS[name] for name in asked.when]
    if pack.products != "all":
        conditions.insert(0, CONDITIONS["restricted_use" if pack.products == "restricted" else "fertilizer"])
    told = f"when {' and '.join(dict.fromkeys(conditions))}" if conditions else ""
    if asked.unless:
        told += f"{', ' if told else ''}unless {' or '.join(CONDITIONS[name] for name in asked.unless)}"
    if asked.if_applicable:
        told += f"{', ' if told else ''}where it applies (else say why under not_measured)"
    return told


def asked_words(asked: Asked) -> str:
    """Return what is asked: one field, or the alternatives."""
    ways = [" with ".join(FIELDS[name].words for name in alternative) for alternative in asked.any_of]
    return ways[0] if len(ways) == 1 else f"one of: {'; '.join(ways)}"


def force_words(source: Source) -> str:
    """Return what a lack does."""
    return "a lack stops a visit" if source.status.binds else "a lack asks only: the text was not seen"


def _asked(asked: Asked, pack: Pack) -> Json:
    return {
        "any_of": [list(alternative) for alternative in asked.any_of],
        "asks": asked_words(asked),
        "when": when_words(asked, pack),
        "words": asked.words,
        "force": "stop" if asked.source.status.binds else "ask",
        "source": source_document(asked.source),
    }


def pack_document(pack: Pack) -> Json:
    """Return a whole pack as a document, every fact with its source."""
    return {
        "schema": 1,
        "id": pack.id,
        "version": pack.version,
        "title": pack.title,
        "jurisdiction": pack.jurisdiction,
        "licence": pack.licence,
        "products": pack.products,
        "effective_from": None if pack.effective_from is None else pack.effective_from.isoformat(),
        "effective_to": None if pack.effective_to is None else pack.effective_to.isoformat(),
        "fields": [_asked(asked, pack) for asked in pack.asked],
        "facts": [
            {"about": about, "says": says, "words": words, "source": source_document(source)}
            for about, says, words, source in facts(pack)
        ],
    }


def facts(pack: Pack) -> Iterator[tuple[str, str, str, Source]]:
    """Yield every fact of a pack but its fields: what about, what it says, in the rule's words, where it stands."""
    if pack.complete is not None:
        says = f"complete the record within {pack.complete.within}"
        yield "complete by", says, pack.complete.words, pack.complete.source
    if pack.hand_over is not None:
        says = f"hand it to the firm within {pack.hand_over.within}"
        yield "hand over", says, pack.hand_over.words, pack.hand_over.source
    for kept in pack.retention:
        yield "keep", keep_words(kept), kept.words, kept.source
    for shown in pack.production:
        yield "show", _production(shown), shown.words, shown.source
    for copy in pack.copies:
        yield "customer", copy_words(copy), copy.words, copy.source
    for report in pack.reports:
        yield "report", report_words(report), report.words, report.source
    for sign in pack.signs:
        yield "sign", sign_words(sign), sign.words, sign.source
    for told in pack.advance:
        lead = f" at least {told.lead} before" if told.lead else " before"
        yield "tell before", f"{told.who},{lead}", told.words, told.source
    yield from () if pack.fertilizer is None else pack.fertilizer.facts()
    for duty in pack.duties:
        yield "also", duty.text, "", duty.source


def keep_words(kept: Retention) -> str:
    """Return how long a record is kept, in words."""
    of = PRODUCTS.get(kept.products) or f"products with {kept.products.partition(':')[2]}"
    return f"{of}: {kept.years} year{'s' if kept.years > 1 else ''} from {STARTS[kept.starts]}"


def _production(shown: Production) -> str:
    within = f", {shown.within}" if shown.within else ""
    return f"to the {shown.to}, {shown.asked}{within}"


def copy_words(copy: CustomerCopy) -> str:
    """Return what the customer gets, in words."""
    within = f" within {copy.within}" if copy.within else ""
    ways = [name for name, is_on in (("on paper", copy.paper),) if is_on]
    if copy.electronic:
        consent = "electronically with consent recorded beforehand"
        ways.append({"yes": "electronically", "no": "not electronically"}.get(copy.electronic, consent))
    content = ", ".join(NOTICE_CONTENT[name] for name in copy.content)
    told = f"{MOMENTS[copy.moment]}{within}" + (f", {' or '.join(ways)}" if ways else "")
    return f"{told}: {content}" if content else told


def report_words(report: PeriodicReport) -> str:
    """Return a periodic report, in words."""
    if report.period == "year":
        due = f"each year by {report.due} of the next"
    else:
        due = f"each month by the {report.due}th of the next"
    nil = ", even when nothing was applied" if report.nil else ""
    tool = f"; swathbook report {report.layout}" if report.layout else "; the tool has no layout for it"
    return f"{report.title}, to {report.to}, {due}{nil}{tool}"


def sign_words(sign: Sign) -> str:
    """Return what a sign has to be, in words."""
    put_up = f"put up {sign.put_up} the application" if sign.put_up in {"before", "after"} else ""
    put_up = "put up at the start" if sign.put_up == "start" else put_up
    stays = f"stays {sign.stays}" if sign.stays else ""
    return "; ".join(filter(None, (sign.size, sign.look, sign.wording, put_up, stays)))


ASKED_AS = {"spot": "extent", "spots": "extent", "wind": "wind_speed", "weather": "weather-aged"}  # what people type


def find_word(name: str) -> Field | Code | str:
    """Return what a word stands for: a field that rules may ask for, a finding code, or another part of an entry.

    Args:
        name: a field's key or words, a code, or a place as findings and entries write it, such as
            `treatments[0].products[0].lot`.

    Raises:
        NotFoundError: nothing is called so.
    """
    plain = name.strip().lower()
    plain = ASKED_AS.get(plain, plain)
    code = plain.replace("_", "-").replace(" ", "-")
    if code in CODES:
        return Code(code)
    last = re.sub(r"\[\d*\]", "", plain).rpartition(".")[2]
    for word in dict.fromkeys((plain, last)):
        key = word.replace("-", "_").replace(" ", "_")
        if key in FIELDS:
            return FIELDS[key]
        if key in PARTS:
            return key
        if key in PLACES:
            return FIELDS[PLACES[key]]
        found = [
            field for field in FIELDS.values() if key in {field.at, field.at.rpartition(".")[2]} or word == field.words
        ]
        if found:
            return found[0]
    known = [*FIELDS, *(code.value for code in Code), *PARTS, *PLACES]
    known += sorted({field.at.rpartition(".")[2] for field in FIELDS.values()} - {*known})
    close = difflib.get_close_matches(last.replace("-", "_"), known, n=3, cutoff=0.75)
    close = close or [word for word in known if len(last) > 3 and last in word][:3]
    hint = f"Did you mean {', '.join(close)}?" if close else WHERE_TO_LOOK
    raise NotFoundError(f"no field, finding code or part of an entry is called {name[:40]!r}", hint)


def asking(field: Field, packs: Iterable[Pack]) -> Iterator[tuple[Pack, Asked]]:
    """Yield the packs that ask for a field, with how."""
    for pack in packs:
        for asked in pack.asked:
            if field.key in asked.fields:
                yield pack, asked


def why_document(field: Field, named: tuple[str, ...], own: Iterable[Pack]) -> Json:
    """Return who asks for a field: the firm's packs first, then the others.

    Args:
        field: to be explained.
        named: ids of the packs that the firm names; the common one counts where there are none.
        own: the firm's own packs.
    """
    firm = {*named} or {COMMON}
    every = [*own, *(newest(key) for key in pack_ids())]
    found = [
        {"pack": pack.id, "title": pack.title, "is_yours": pack.id in firm, **_asked(asked, pack)}
        for pack, asked in asking(field, every)
    ]
    found.sort(key=lambda one: (not one["is_yours"], one["pack"]))
    return {
        "schema": 1,
        "field": field.key,
        "meaning": field.meaning,
        "do": field.do,
        "at": field.at,
        "also_at": [one.key for one in FIELDS.values() if one.at == field.at and one.key != field.key],
        "yours": sorted(firm),
        "asked_by": found,
    }


def code_document(code: Code) -> Json:
    """Return what a finding code means, what to do, whether it can be signed for, and where that stands."""
    words = CODES[code]
    return {
        "schema": 1,
        "code": code.value,
        "meaning": words.means,
        "do": words.do,
        "severities": [severity.value for severity in SEVERITIES[code]],
        "can_be_signed_for": code in WAIVABLE,
        "source": words.source,
    }


def part_document(part: str) -> Json:
    """Return what a part of an entry is for that no rule has a field for."""
    return {"schema": 1, "part": part, "meaning": PARTS[part], "asked_by": []}
