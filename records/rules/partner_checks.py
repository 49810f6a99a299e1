"""What may go into one mix: each label's own partner lines, and the adjuvant it asks for or forbids.

The products of one treatment went out as one spray; granules are spread dry and have no partners.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.handling import ADJUVANTS
from records.domain.product import Force, ProductKind
from records.domain.quantities import Form
from records.rules.label_match import fold, source_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.domain.handling import AdjuvantLine, Mixing
    from records.domain.product import Product
    from records.domain.visit import Line, Visit
    from records.rules.context import Context


def check_partners(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Say where a label forbids what is in the same mix, or lacks the adjuvant it asks for."""
    for treatment in visit.treatments:
        mixed = [line for line in treatment.lines if line.product.form is not Form.GRANULE]
        yield from partner_findings(mixed)


def partner_findings(lines: Sequence[Line]) -> Iterator[Finding]:
    """Yield what the labels of one mix say about each other.

    Args:
        lines: everything in it but water.
    """
    for line in lines:
        mixing = None if line.product.label is None else line.product.label.mixing
        if mixing is None:
            continue
        others = [other for other in lines if other.product.id != line.product.id]
        yield from _not_allowed(line, mixing, others)
        if mixing.needs_adjuvant is not None:
            yield from _adjuvant(line, mixing.needs_adjuvant, [other.product for other in others])


def _not_allowed(line: Line, mixing: Mixing, others: Sequence[Line]) -> Iterator[Finding]:
    for other in others:
        told = _forbidden(mixing, other.product)
        if told is not None:
            words, force = told
            message = f"the label of {line.product.name} forbids {other.product.name} in the same mix: {words}"
            yield _finding(line, other, message, words, force)
    pesticides = [other for other in others if other.product.kind is not ProductKind.ADJUVANT]
    most = mixing.max_partners
    if most is not None and len(pesticides) > most:
        names = ", ".join(other.product.name for other in pesticides)
        partners = "no partner" if not most else "1 partner" if most == 1 else f"at most {most} partners"
        message = f"the label of {line.product.name} allows {partners} in the mix; here are {len(pesticides)}: {names}"
        yield _finding(line, pesticides[-1], message, partners, Force.MUST)


def _forbidden(mixing: Mixing, other: Product) -> tuple[str, Force] | None:
    """Return the line that forbids a product, and how it binds; None where none does."""
    for partner in mixing.forbidden:
        if is_named(partner.name, other):
            return partner.text or f"not with {partner.name}", partner.force
    if mixing.forbids_adjuvant and other.kind is ProductKind.ADJUVANT:
        return "no adjuvant may be added", Force.MUST
    if mixing.only_with and not any(is_named(name, other) for name in mixing.only_with):
        return f"only with {', '.join(mixing.only_with)}", Force.MUST
    return None


def is_named(name: str, product: Product) -> bool:
    """Tell whether a partner line means a product: by id, name, number, active, group, formulation or kind."""
    wanted = fold(name)
    if wanted in {ADJUVANTS, "adjuvant"}:
        return product.kind is ProductKind.ADJUVANT
    if wanted in {"fertilizer", "fertilizers"}:
        return product.kind is ProductKind.FERTILIZER
    known = {product.id, product.name, product.registration, product.formulation}
    known |= {active.name for active in product.actives} | {f"group {active.group}" for active in product.actives}
    return wanted in {fold(word) for word in known if word}


def _adjuvant(line: Line, wanted: AdjuvantLine, others: Sequence[Product]) -> Iterator[Finding]:
    """Say where the adjuvant that a label asks for is not in the mix, or cannot be told to be the right kind."""
    found = [other for other in others if other.kind is ProductKind.ADJUVANT]
    if any(not wanted.kinds or other.formulation in wanted.kinds for other in found):
        return
    unknown = [other for other in found if not other.formulation]
    source, asked = source_of(line.product), wanted.text.rstrip(" .;")
    if unknown:
        message = (
            f"the label of {line.product.name} asks for an adjuvant: {asked}; the book does not say what kind "
            f"{unknown[0].name} is, so look whether it is one"
        )
        yield Finding(Code.NOT_CHECKABLE, Severity.NOTE, f"{line.at}.product", message, wanted.text, "", source)
        return
    severity = Severity.STOP if wanted.force is Force.MUST else Severity.NOTE
    there = f"; {found[0].name} ({found[0].formulation}) is another kind" if found else "; none is in the mix"
    message = f"the label of {line.product.name} asks for an adjuvant: {asked}{there}"
    yield Finding(Code.ADJUVANT_MISSING, severity, f"{line.at}.product", message, wanted.text, "", source)


def _finding(line: Line, other: Line, message: str, limit: str, force: Force) -> Finding:
    severity = Severity.STOP if force is Force.MUST else Severity.NOTE
    at = f"{other.at}.product"
    return Finding(Code.PARTNER_NOT_ALLOWED, severity, at, message, limit, other.product.name, source_of(line.product))
