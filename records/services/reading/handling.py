"""What a label says about mixing, partners and protective equipment, read from a loaded document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.formulations import FORMULATIONS
from records.domain.handling import AdjuvantLine, Mixing, PartnerLine, Ppe
from records.domain.loaded import NAME, PROSE, Table, shown
from records.domain.product import Force
from records.services.reading.limits import force

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_PARTNERS = 20


def read_mixing(label: Table) -> Mixing | None:
    """Return the mixing lines of a label; None where it gives none.

    Args:
        label: its table.
    """
    table = label.table("mixing")
    if table is None:
        return None
    most = table.raw("max_partners")
    mixing = Mixing(
        order=table.texts("order", cap=PROSE),
        forbidden=tuple(_partners(table)),
        only_with=table.texts("only_with", cap=NAME, lower=True),
        needs_adjuvant=_adjuvant(table),
        forbids_adjuvant=table.flag("forbids_adjuvant"),
        max_partners=None if most is None else table.whole("max_partners", most, 0, MOST_PARTNERS),
        notes=table.texts("notes", cap=PROSE),
    )
    if mixing.forbids_adjuvant and mixing.needs_adjuvant is not None:
        table.problem("forbids_adjuvant", "contradicts needs_adjuvant; keep the one that the label prints")
    table.finish()
    return mixing


def _partners(table: Table) -> Iterator[PartnerLine]:
    """Yield the partners that must not be mixed in: plain names, or tables with the line as printed."""
    for _, entry in table.strings_or_tables("forbidden"):
        if not isinstance(entry, Table):
            yield PartnerLine(entry.lower())
            continue
        name = entry.text("with", required=True, cap=NAME, hint="a product's id, an active, a formulation or adjuvants")
        line = PartnerLine(name.lower(), entry.text("text", cap=PROSE), force(entry, "force", Force.MUST))
        entry.finish()
        yield line


def _adjuvant(table: Table) -> AdjuvantLine | None:
    """Return the adjuvant that the label asks for, plain words or a table."""
    plain = table.raw("needs_adjuvant")
    if plain is None:
        return None
    if not isinstance(plain, dict):
        text = table.text("needs_adjuvant", cap=PROSE)
        return AdjuvantLine(text) if text else None
    inner = table.table("needs_adjuvant")
    if inner is None:  # cannot be: it is a table
        return None
    kinds = tuple(kind.upper() for kind in inner.texts("kinds", cap=NAME))
    for kind in kinds:
        if kind not in FORMULATIONS:
            inner.problem("kinds", f"{shown(kind)} is no formulation; write NIS, COC, MSO ...")
    line = AdjuvantLine(
        inner.text("text", required=True, cap=PROSE, hint="the line as printed"),
        kinds,
        force(inner, "force", Force.MUST),
    )
    inner.finish()
    return line


def read_ppe(label: Table) -> Ppe | None:
    """Return the protective equipment of a label: one list for all tasks, or `{mix = [...], apply = [...]}`.

    Args:
        label: its table.
    """
    plain = label.raw("ppe")
    if plain is None:
        return None
    if not isinstance(plain, dict):
        items = label.texts("ppe")
        return Ppe(items, items)
    table = label.table("ppe")
    if table is None:  # cannot be: it is a table
        return None
    ppe = Ppe(table.texts("mix"), table.texts("apply"))
    table.finish()
    return ppe
