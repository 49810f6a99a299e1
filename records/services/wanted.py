"""What rules and labels would still have of an entry that is being typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from records.rules.asking import lacks
from records.rules.label_checks import limits_on, lines
from records.rules.visit_parts import visit_parts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.visit import Visit
    from records.rules.asking import Lack
    from records.rules.pack import Pack

WEATHER = {"wind_speed": "wind_speed", "wind_direction": "wind_from", "temperature": "temperature"}  # field -> key
# What is known before the products are: lawns are outdoors. The rest waits until a product is chosen.
_FOREKNOWN = frozenset({"outdoors"})


class Asker(NamedTuple):
    """Who would have something, as `us-co asks for it`, and whether a lack stops the visit."""

    words: str
    binds: bool


def asker_of(
    before: tuple[Visit, Sequence[Pack]],
    after: tuple[Visit, Sequence[Pack]],
    instead: tuple[Visit, Sequence[Pack]] | None = None,
) -> Asker | None:
    """Return which packs lack something in an entry that they do not lack in another; None where none does.

    So everything that would do in its place is looked at by the rules themselves, and nothing is asked for twice.

    Args:
        before: the entry as it is, and the packs that judge it.
        after: the same with one more answer.
        instead: the same with another answer, which is asked for later: what that one answers too is left to it.
    """
    left = {(lack.at, lack.field) for lack in _lacks(after)}
    open_still = _lacks(before if instead is None else instead)
    answered = [lack for lack in open_still if (lack.at, lack.field) not in left]
    ids = dict.fromkeys(need.pack.id for lack in answered for need in lack.needs)
    words = f"{' and '.join(ids)} {'asks' if len(ids) == 1 else 'ask'} for it"
    return Asker(words, any(lack.binds for lack in answered)) if answered else None


def _lacks(entry: tuple[Visit, Sequence[Pack]]) -> list[Lack]:
    visit, packs = entry
    return list(lacks(visit_parts(visit), packs))


def weather_wanted(visit: Visit, packs: Sequence[Pack]) -> dict[str, str]:
    """Return the parts of the weather that are asked for, by their keys in the entry, each with who asks.

    Args:
        visit: as far as it is typed; before a product is chosen, what depends on one is left out.
        packs: that judge it.
    """
    found: dict[str, str] = {}
    for pack in packs:
        for asked in pack.asked:
            if asked.field in WEATHER and _FOREKNOWN.issuperset(asked.when) and not asked.unless:
                found.setdefault(WEATHER[asked.field], pack.id)
    for lack in _lacks((visit, packs)):
        if lack.field in WEATHER:
            found.setdefault(WEATHER[lack.field], lack.needs[0].pack.id)
    for treatment, line in lines(visit):
        for limits in limits_on(line, treatment):
            for key, limit in (("wind_speed", limits.wind), ("temperature", limits.temperature)):
                if limit is not None:
                    found.setdefault(key, f"the label of {line.product.name}")
    return found
