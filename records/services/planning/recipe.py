"""In which order a load is mixed, and what its labels say together: limits, protective equipment, jar tests."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from records.domain.formulations import FORMULATIONS, GRANULES
from records.domain.handling import merged
from records.domain.product import Force, ProductKind
from records.services.planning.model import Line, Recipe, Step
from records.services.planning.words import number

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from records.domain.formulations import Order
    from records.domain.handling import Worn
    from records.domain.product import Label, LimitLine, Limits, Product
    from records.domain.quantities import Quantity
    from records.services.ports import UnitOfWork

MANY_PARTNERS = 3
MANY_WORDS = f"more than {MANY_PARTNERS} products in one mix is seldom wise (extension advice)"


def recipe_of(products: Sequence[Product], order: Order, size: Quantity) -> Recipe:
    """Return how a load is mixed: as a label says, else in the published order.

    Args:
        products: of the load.
        order: the published order.
        size: finished spray of the load that is described.
    """
    own = [(product, steps) for product in products if product.label and (steps := _own_order(product.label))]
    first = Step(_water(order, size))
    last = Step(f"Fill up to {_gallons(size)}; keep agitating until all of it is sprayed.")
    if own:
        product, steps = own[0]
        source = f"the order on the label of {product.name}, revision {product.label.revision if product.label else ''}"
        if {one for _, one in own} == {steps}:
            return Recipe(tuple(Step(text) for text in steps), source, None)
        names = " and ".join(one.name for one, _ in own)
        warning = f"the labels of {names} print orders of their own that differ: ask their makers before mixing"
        told = [Step(f"{one.name}: {text}") for one, texts in own for text in texts]
        return Recipe(tuple(told), f"the orders on the labels of {names}", None, warnings=(warning,))
    placed: dict[int, list[Product]] = {}
    unplaced = []
    for product in products:
        place = order.place(product.formulation)
        if place is None:
            unplaced.append(_unplaced(product, order))
        else:
            placed.setdefault(place, []).append(product)
    steps_made = [first]
    for index, stage in enumerate(order.stages):
        for product in placed.get(index, ()):
            how = f"; {stage.words}" if stage.words else ""
            kind = f"{FORMULATIONS[product.formulation]}, {product.formulation}"
            steps_made.append(Step(f"{product.name} ({kind}){how}.", product.id, stage.letter))
        if not stage.kinds and any(place < index for place in placed):
            steps_made.append(Step(f"{stage.words[0].upper()}{stage.words[1:]}.", "", stage.letter))
    source = f"{order.name}: {order.source}; the labels' own directions win"
    return Recipe((*steps_made, last), source, order, tuple(unplaced))


def _own_order(label: Label) -> tuple[str, ...]:
    return () if label.mixing is None else label.mixing.order


def _unplaced(product: Product, order: Order) -> str:
    if not product.formulation:
        return f"{product.name}: the book does not say what formulation it is; its label says where it goes in"
    if product.formulation == GRANULES:
        return f"{product.name}: granules are spread dry, not mixed"
    kind = FORMULATIONS[product.formulation]
    return f"{product.name} ({kind}): {order.name} does not name it; its label says where it goes in"


def _water(order: Order, size: Quantity) -> str:
    least, most = (size.value * part[0] / part[1] for part in (order.least_water, order.most_water))
    share = "a third" if order.least_water == (1, 3) else "half to three quarters"
    amounts = number(least) if least == most else f"{number(least)} to {number(most)}"
    return f"Clean tank; fill it {share} with water ({amounts} {size.unit}); agitate from now on."


def _gallons(size: Quantity) -> str:
    return f"{number(size.value)} {size.unit}"


Pair = frozenset[str]  # ids of two products


def mixed_before(work: UnitOfWork, mixes: Iterable[Sequence[Product]]) -> set[Pair]:
    """Return the pairs of products that were sealed together before, of all that a day mixes.

    Args:
        work: a unit of work.
        mixes: the products of each load.
    """
    pairs: dict[Pair, tuple[str, str]] = {}
    for products in mixes:
        # What goes with everything is in most records: it is looked for beside the other one.
        for one, other in combinations(sorted(products, key=_is_adjuvant), 2):
            pairs.setdefault(frozenset((one.id, other.id)), (one.id, other.id))
    return {pair for pair, ids in pairs.items() if work.records.together(*ids)}


def _is_adjuvant(product: Product) -> bool:
    return product.kind is ProductKind.ADJUVANT


def jar_tests(products: Sequence[Product], known: set[Pair]) -> tuple[tuple[str, str], ...]:
    """Return the pairs of names that were never sealed together in the book.

    Args:
        products: of a load.
        known: the pairs that were.
    """
    return tuple(
        (one.name, other.name) for one, other in combinations(products, 2) if frozenset((one.id, other.id)) not in known
    )


def lines_of(bound: Iterable[tuple[Product, Limits]], products: Sequence[Product]) -> tuple[Line, ...]:
    """Return the lines that bind the whole load, the strictest of all labels.

    Args:
        bound: each product with the limits of its label for each ground of the load.
        products: of the load.
    """
    wind: list[tuple[Product, LimitLine[Quantity]]] = []
    heat: list[tuple[Product, LimitLine[Quantity]]] = []
    for product, limits in bound:
        wind += [(product, limits.wind)] if limits.wind is not None else []
        heat += [(product, limits.temperature)] if limits.temperature is not None else []
    return (
        *_strictest("wind", wind, "mph"),
        *_strictest("temperature", heat, "degF"),
        *_reentry(products),
        *_keep_off(products),
        *_notes(products),
    )


def _strictest(name: str, found: list[tuple[Product, LimitLine[Quantity]]], unit: str) -> list[Line]:
    """Return the lowest limit that binds, and below it a lower one that is only advised."""
    told = []
    lowest = None
    for binding, words in ((Force.MUST, "at most"), (Force.SHOULD, "advised, at most")):
        lines = [(limit.value.to(unit), product, limit) for product, limit in found if limit.force is binding]
        if not lines:
            continue
        least = min(value for value, _, _ in lines)
        if lowest is not None and least >= lowest:
            continue
        lowest = least
        mine = [(product, limit) for value, product, limit in lines if value == least]
        products = tuple(dict.fromkeys(product.name for product, _ in mine))
        told.append(Line(name, f"{words} {mine[0][1].value}", products))
    return told


def _reentry(products: Sequence[Product]) -> list[Line]:
    spans = [(p.label.reentry, p.name) for p in products if p.label is not None and p.label.reentry is not None]
    if not spans:
        return []
    hours = {"hours": 1, "days": 24, "working days": 24}
    longest = max(span.amount * hours[span.unit] for span, _ in spans)
    mine = [(span, name) for span, name in spans if span.amount * hours[span.unit] == longest]
    return [Line("re-entry", str(mine[0][0]), tuple(name for _, name in mine))]


def _keep_off(products: Sequence[Product]) -> list[Line]:
    """Return each keep-off text once; words cannot be ranked, so all of them hold."""
    found: dict[str, list[str]] = {}
    for product in products:
        if product.label is not None and product.label.keep_off:
            found.setdefault(product.label.keep_off, []).append(product.name)
    longest_first = sorted(found.items(), key=lambda one: -len(one[0]))
    return [Line("keep off", text, tuple(names)) for text, names in longest_first]


def _notes(products: Sequence[Product]) -> list[Line]:
    return [
        Line("mixing", note, (product.name,))
        for product in products
        if product.label is not None and product.label.mixing is not None
        for note in product.label.mixing.notes
    ]


def protection(products: Sequence[Product]) -> tuple[tuple[Worn, ...], tuple[Worn, ...], tuple[str, ...]]:
    """Return what is worn for mixing and for applying, the strictest first; and whose labels the book lacks it of."""
    known = [(product.name, label.ppe) for product in products if (label := product.label) and label.ppe is not None]
    unknown = tuple(
        product.name
        for product in products
        if (product.label is None or product.label.ppe is None) and product.kind is not ProductKind.FERTILIZER
    )
    mix = merged((name, ppe.mix) for name, ppe in known)
    return mix, merged((name, ppe.apply) for name, ppe in known), unknown
