"""Rings of corners on whole numbers: whether one crosses itself or another, and whether a point lies within.

All is done with whole numbers, so that every answer is exact. Longitude and latitude are taken for a plane, which over
the width of a yard they are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Corner = tuple[int, int]
Edge = tuple[Corner, Corner]


def edges(ring: Sequence[Corner]) -> list[Edge]:
    """Return the edges of a ring whose first corner is not repeated at its end."""
    return [(ring[index - 1], ring[index]) for index in range(len(ring))]


def _turn(a: Corner, b: Corner, c: Corner) -> int:
    """Return which way the path a, b, c turns: above zero to the left, below to the right, zero straight."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _within_box(a: Corner, b: Corner, c: Corner) -> bool:
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def _touch(one: Edge, other: Edge) -> bool:
    """Tell whether two edges have a point in common."""
    (a, b), (c, d) = one, other
    t1, t2, t3, t4 = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if ((t1 > 0) != (t2 > 0)) and ((t3 > 0) != (t4 > 0)) and 0 not in {t1, t2, t3, t4}:
        return True
    return (
        (t1 == 0 and _within_box(a, b, c))
        or (t2 == 0 and _within_box(a, b, d))
        or (t3 == 0 and _within_box(c, d, a))
        or (t4 == 0 and _within_box(c, d, b))
    )


def _cross(one: Edge, other: Edge) -> bool:
    """Tell whether two edges go through each other; touching is not enough."""
    (a, b), (c, d) = one, other
    return _turn(a, b, c) * _turn(a, b, d) < 0 and _turn(c, d, a) * _turn(c, d, b) < 0


def _near(found: list[tuple[int, Edge]]) -> Iterator[tuple[tuple[int, Edge], tuple[int, Edge]]]:
    """Yield pairs of edges that overlap from west to east, each pair once."""
    ordered = sorted(found, key=lambda one: min(one[1][0][0], one[1][1][0]))
    open_edges: list[tuple[int, Edge]] = []
    for one in ordered:
        west = min(one[1][0][0], one[1][1][0])
        open_edges = [other for other in open_edges if max(other[1][0][0], other[1][1][0]) >= west]
        for other in open_edges:
            yield one, other
        open_edges.append(one)


def crosses_itself(ring: Sequence[Corner]) -> bool:
    """Tell whether a ring crosses or touches itself, or runs back over its own edge."""
    size = len(ring)
    for (i, one), (j, other) in _near(list(enumerate(edges(ring)))):
        if (i - j) % size in {1, size - 1}:  # neighbours share a corner; more than that is a spike
            first, second = (other, one) if (i - j) % size == 1 else (one, other)
            a, b, c = first[0], first[1], second[1]
            back = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
            if _turn(a, b, c) == 0 and back < 0:
                return True
        elif _touch(one, other):
            return True
    return False


def cross(one: Sequence[Corner], other: Sequence[Corner]) -> bool:
    """Tell whether the edges of two rings go through each other."""
    marked = [(0, edge) for edge in edges(one)] + [(1, edge) for edge in edges(other)]
    return any(a[0] != b[0] and _cross(a[1], b[1]) for a, b in _near(marked))


def holds(ring: Sequence[Corner], point: Corner) -> bool | None:
    """Tell whether a point lies within a ring; None on its edge."""
    y = point[1]
    inside = False
    for a, b in edges(ring):
        if _turn(a, b, point) == 0 and _within_box(a, b, point):
            return None
        if (a[1] > y) != (b[1] > y):
            side = _turn(a, b, point)
            inside ^= side > 0 if b[1] > a[1] else side < 0
    return inside


def probes(ring: Sequence[Corner]) -> Iterator[Corner]:
    """Yield points of a ring to look up in another of the same, doubled scale: corners, and the middles of edges."""
    for a, b in edges(ring):
        yield (2 * a[0], 2 * a[1])
        yield (a[0] + b[0], a[1] + b[1])


def doubled(ring: Sequence[Corner]) -> list[Corner]:
    """Return a ring in twice the scale, where the middle of every edge is a whole number."""
    return [(2 * x, 2 * y) for x, y in ring]


def _boxes_meet(one: Sequence[Corner], other: Sequence[Corner]) -> bool:
    return all(
        min(corner[axis] for corner in one) <= max(corner[axis] for corner in other)
        and min(corner[axis] for corner in other) <= max(corner[axis] for corner in one)
        for axis in (0, 1)
    )


def overlap(one: Sequence[Corner], other: Sequence[Corner]) -> bool:
    """Tell whether two rings that do not cross have ground in common: one within the other, or both the same."""
    if set(one) == set(other):
        return True
    if not _boxes_meet(one, other):
        return False
    return any(holds(doubled(one), point) for point in probes(other)) or any(
        holds(doubled(other), point) for point in probes(one)
    )


def is_within(inner: Sequence[Corner], outer: Sequence[Corner]) -> bool:
    """Tell whether a ring that does not cross another lies in it; it may touch its edge."""
    large = doubled(outer)
    return all(holds(large, point) is not False for point in probes(inner))
