"""What a label says about mixing, partners and protective equipment."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from records.domain.product import Force

if TYPE_CHECKING:
    from collections.abc import Iterable

ADJUVANTS = "adjuvants"  # stands for all of them in a partner line


@dataclass(frozen=True, slots=True)
class PartnerLine:
    """A partner as a label names it: a product's id or name, an active, a formulation, or `adjuvants`."""

    name: str
    text: str = ""  # the line as printed
    force: Force = Force.MUST


@dataclass(frozen=True, slots=True)
class AdjuvantLine:
    """An adjuvant that a label asks for; `kinds` are formulations, empty: any adjuvant will do."""

    text: str
    kinds: tuple[str, ...] = ()
    force: Force = Force.MUST


@dataclass(frozen=True, slots=True)
class Mixing:
    """The mixing lines of a label; empty or None where it prints none."""

    order: tuple[str, ...] = ()  # its own order, step by step
    forbidden: tuple[PartnerLine, ...] = ()
    only_with: tuple[str, ...] = ()  # nothing else may be in the mix, but water
    needs_adjuvant: AdjuvantLine | None = None
    forbids_adjuvant: bool = False
    max_partners: int | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ppe:
    """Protective equipment as a label prints it, for those who mix and load and for those who apply."""

    mix: tuple[str, ...] = field(default=())
    apply: tuple[str, ...] = field(default=())


# Words in a printed item -> how strict it is, the strictest first (common practice: what keeps more away from the body
# comes first). An item is ranked by the first line that has a word of it; one without any stands last, as printed.
STRICTNESS: tuple[tuple[str, ...], ...] = (
    ("self-contained", "supplied-air", "supplied air"),
    ("respirator",),
    ("chemical-resistant suit", "chemical resistant suit", "barrier"),
    ("chemical-resistant apron", "chemical resistant apron", "apron"),
    ("chemical-resistant glove", "chemical resistant glove"),
    ("waterproof glove", "gloves"),
    ("face shield", "faceshield"),
    ("goggles",),
    ("eyewear", "safety glasses"),
    ("chemical-resistant footwear", "chemical resistant footwear", "boots"),
    ("chemical-resistant headgear", "chemical resistant headgear", "headgear"),
    ("coverall",),
    ("long-sleeved", "long sleeved"),
    ("long pants",),
    ("shoes",),
    ("socks",),
)


def strictness(item: str) -> int:
    """Return the rank of a printed item: 0 is the strictest; what no line names comes after all."""
    folded = item.casefold()
    return next(
        (rank for rank, words in enumerate(STRICTNESS) if any(word in folded for word in words)), len(STRICTNESS)
    )


@dataclass(frozen=True, slots=True)
class Worn:
    """One item of protective equipment with the products whose labels ask for it."""

    item: str
    products: tuple[str, ...]


def merged(items: Iterable[tuple[str, tuple[str, ...]]]) -> tuple[Worn, ...]:
    """Return the items of several labels, the strictest first, each once with the labels that ask for it.

    Args:
        items: name of the product and what its label prints, product by product.
    """
    found: dict[str, tuple[str, list[str]]] = {}
    for product, printed in items:
        for item in printed:
            key = " ".join(item.casefold().replace("-", " ").rstrip(".").split())
            _, products = found.setdefault(key, (item.rstrip("."), []))
            if product not in products:
                products.append(product)
    ranked = sorted(found.values(), key=lambda one: strictness(one[0]))
    return tuple(Worn(item, tuple(products)) for item, products in ranked)
