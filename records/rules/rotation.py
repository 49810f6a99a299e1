"""Modes of action that follow each other on one ground: from when on a row of them is worth a word.

Resistance is documented in turf weeds; groups are rotated or combined, and two products of one group are no rotation:
Brosnan et al. 2020, Weed Technology 34(3), wet.2020.28, and Mississippi State University Extension
(extension.msstate.edu/publications/preventing-and-managing-herbicide-resistant-weeds-turfgrass).
That the third time in a row is worth a note is common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.rules.ground import ordinal

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

REPEATS = 3  # resistance management in turf asks to rotate; a third time in a row is worth a note
SOURCE = "common practice (HRAC groups)"
NOT_ROTATION = "two products of one group are not rotation"
WHY = (
    "Resistance is documented in turf weeds, and it comes of one group used again and again: Brosnan et al. 2020, Weed "
    "Technology 34(3), wet.2020.28; Mississippi State University Extension, preventing and managing "
    "herbicide-resistant weeds in turfgrass. From the third time in a row on: common practice."
)


def row_of(group: str, visits: Sequence[Collection[str]]) -> int:
    """Count how many visits in a row used a group.

    Args:
        group: mode-of-action number.
        visits: groups of each, the last visit first.
    """
    return next((count for count, groups in enumerate(visits) if group not in groups), len(visits))


def repeat_words(group: str, where: str, count: int) -> str:
    """Return the caution about a group that was used so many times in a row."""
    return (
        f"group {group} on {where} for the {ordinal(count)} time in a row; "
        "rotate groups to keep weeds from becoming resistant"
    )
