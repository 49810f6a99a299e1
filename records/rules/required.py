"""What is missing: what no check can do without, and what the rule packs of the day ask for, each with its source."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.quantities import Per
from records.rules.asking import Lack, lacks
from records.rules.fields import FIELDS, Level
from records.rules.visit_parts import visit_parts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.visit import Line, Treatment, Visit
    from records.rules.asking import Need
    from records.rules.context import Context
    from records.rules.pack import Pack

CORE = "the record itself: no check can be made without it"
_EXPECTED = {"wind_speed", "wind_direction", "temperature"}


def check_required(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say what the record lacks."""
    told: set[str] = set()
    for finding in _core(visit, context):
        told.add(finding.at)
        yield finding
    for lack in lacks(visit_parts(visit), context.packs):
        found = _finding(lack, visit)
        if found is not None and found.at not in told:
            told.add(found.at)
            yield found


def _core(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say what is absent that every check and every record needs; packs that ask for it too are cited."""
    if visit.site is None:
        yield _without("site", "the site is missing; name it by its id", context, "site_address")
    if visit.started is None:
        message = "the date and start time are missing; write them like 2026-05-14T09:10"
        if visit.day is not None:  # the day is known by the end: only the start time is lacking
            message = "the start time is missing; write it like 2026-05-14T09:10"
            yield _without("started", message, context, "start_time")
        else:
            yield _without("started", message, context, "start_time", "date", "time")
    if visit.applicator is None:
        message = "who applied is missing; name the person by id"
        yield _without("applicator", message, context, "applicator_name")
    if not visit.treatments:
        yield _without("treatments", "no treatment is recorded; a visit has at least one", context)
    for treatment in visit.treatments:
        yield from _core_of(treatment, context)


def _core_of(treatment: Treatment, context: Context) -> Iterator[Finding]:
    at = treatment.at
    if not treatment.zones:
        message = "where on the property is missing; name the zones"
        yield _without(f"{at}.zones", message, context, "site_type")
    if not treatment.method:
        yield _without(f"{at}.method", "the method is missing; write broadcast, spot ...", context, "method")
    if not treatment.lines:
        message = "no product is recorded; a treatment has at least one, or a mix and its spray"
        yield _without(f"{at}.products", message, context, "product_name")
    for line in treatment.lines:
        if line.rate is None and line.amount is None:
            message = f"neither rate nor amount of {line.product.name} is recorded; write one of them"
            yield _without(f"{line.at}.rate", message, context, "rate", "amount")
        elif line.amount is None and not line.product.is_pesticide:
            need = "the spray put out" if line.rate is not None and line.rate.per is Per.SPRAY else "the treated area"
            message = f"how much {line.product.name} was used does not follow from {line.rate} without {need}"
            yield Finding(Code.NOT_CHECKABLE, Severity.NOTE, f"{line.at}.amount", message, source="common practice")


def _without(at: str, message: str, context: Context, *fields: str) -> Finding:
    asked = [
        f"{pack.id}: {asked.source.cited}"
        for pack in context.packs
        for asked in pack.asked
        if asked.field in fields and not asked.when and pack.products == "all"
    ]
    return Finding(Code.MISSING, Severity.STOP, at, message, source="; ".join(dict.fromkeys(asked)) or CORE)


def _finding(lack: Lack, visit: Visit) -> Finding | None:
    """Return the finding for a lack; None where another check tells it, and lets it be signed for."""
    field = FIELDS[lack.field]
    packs = list(dict.fromkeys(need.pack.id for need in lack.needs))
    asking = f"{' and '.join(packs)} {'asks' if len(packs) == 1 else 'ask'} for it"
    source = "; ".join(dict.fromkeys(need.told() for need in lack.needs))
    at = _at(lack)
    if lack.reason and lack.field in _EXPECTED:
        message = f"{field.words} was not measured ({lack.reason}), and {asking}; the record will show that"
        return Finding(Code.MISSING, Severity.ASK, at, message, _limit(lack), "not measured", source)
    severity = Severity.STOP if lack.binds else Severity.ASK
    message = f"{_what(lack, visit)} is missing, and {asking}{_because(lack)}; {_remedy(lack, visit)}"
    return Finding(Code.MISSING, severity, at, message, _limit(lack), "", source)


def _at(lack: Lack) -> str:
    field = FIELDS[lack.field]
    owner = lack.at.partition(".products")[0] if _belongs_above(lack.field) else lack.at
    return f"{owner}.{field.at}" if owner and field.level is not Level.VISIT else field.at


def _belongs_above(field: str) -> bool:
    """Tell whether a field stands at the treatment, though the lack was found at one of its lines."""
    return FIELDS[field].level is Level.TREATMENT or field == "target_pest"


def _what(lack: Lack, visit: Visit) -> str:
    strictest: Need = lack.needs[0]
    any_of = strictest.asked.any_of
    if len(any_of) > 1:
        ways = [" with ".join(FIELDS[name].words for name in alternative) for alternative in any_of]
        of = f" of {lack.product}" if lack.product else ""
        return f"{', or '.join(ways)}{of}"
    words = " with ".join(FIELDS[name].words for name in any_of[0])
    if not lack.product or FIELDS[lack.field].level is not Level.LINE:
        return words
    line = _line_at(visit, lack.at)
    if lack.field == "amount" and line is not None and line.rate is not None:
        need = "the spray put out" if line.rate.per is Per.SPRAY else "the treated area"
        return f"the amount of {lack.product} does not follow from {line.rate} without {need}; it"
    if lack.field == "target_pest":
        return f"what {lack.product} was used against"
    return f"{words} of {lack.product}"


def _remedy(lack: Lack, visit: Visit) -> str:
    line = _line_at(visit, lack.at)
    if lack.field == "amount" and line is not None and line.rate is not None and line.rate.per is Per.SPRAY:
        return "write the spray that was put out under spray of the treatment, or the amount"
    return FIELDS[lack.field].do


def _line_at(visit: Visit, at: str) -> Line | None:
    return next((line for treatment in visit.treatments for line in treatment.lines if line.at == at), None)


def _because(lack: Lack) -> str:
    words = lack.needs[0].asked.words
    return f" ({words})" if words else ""


def _limit(lack: Lack) -> str:
    return " or ".join(" + ".join(alternative) for alternative in lack.needs[0].asked.any_of)


@lru_cache(maxsize=256)
def _asks_for_target(packs: tuple[Pack, ...]) -> bool:
    """Tell whether any pack asks for a target, or for a purpose in its place."""
    return any(name in {"target_pest", "purpose"} for pack in packs for asked in pack.asked for name in asked.fields)


def check_targets_told(visit: Visit, context: Context) -> Iterator[Finding]:
    """Note a product without a target where no rule asks for one: the label's targets cannot be looked at."""
    if _asks_for_target(context.packs):
        return
    for treatment in visit.treatments:
        lacking = [line.product.name for line in treatment.lines if line.product.is_pesticide and not line.targets]
        if lacking:
            yield _no_target(treatment, lacking)


def _no_target(treatment: Treatment, names: list[str]) -> Finding:
    message = (
        f"what {', '.join(names)} was used against is not recorded: no rule that applies asks for it, "
        "but the label's targets cannot be looked at"
    )
    return Finding(Code.NOT_CHECKABLE, Severity.NOTE, f"{treatment.at}.targets", message, source="common practice")
