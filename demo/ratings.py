"""What the invented firm saw when it came back: the same numbers every time, drawn from a hash of treatment and day.

Each product has a curve for each weed: how much it ends at, in how many days half of that is reached, and how much
grows again after four weeks. All of it is invented.
"""

from __future__ import annotations

import hashlib
from typing import NamedTuple

SEED = "loon-hollow-looks-2026"


class Curve(NamedTuple):
    """Control in per cent at its best, days to half of it, and per cent that comes back after day 21."""

    best: int
    half: int
    back: int = 0


CURVES: dict[tuple[str, str], Curve] = {
    ("brindle-4l", "dandelion"): Curve(92, 6),
    ("brindle-4l", "ground ivy"): Curve(72, 8, 10),
    ("brindle-4l", "broadleaf plantain"): Curve(88, 6),
    ("orlop-3w", "dandelion"): Curve(96, 5),
    ("orlop-3w", "white clover"): Curve(91, 6),
    ("orlop-3w", "broadleaf plantain"): Curve(93, 5),
    ("orlop-3w", "black medic"): Curve(86, 7),
    ("orlop-3w", "ground ivy"): Curve(78, 8, 8),
    ("pellam-3w", "dandelion"): Curve(88, 7),
    ("pellam-3w", "white clover"): Curve(82, 8),
    ("pellam-3w", "black medic"): Curve(80, 8),
    ("sedgeline-75", "yellow nutsedge"): Curve(94, 11),
    ("sedgeline-75", "field horsetail"): Curve(35, 12),
    ("flintel-4f", "yellow nutsedge"): Curve(90, 3, 35),
    ("flintel-4f", "prostrate spurge"): Curve(88, 3),
    ("flintel-4f", "ground ivy"): Curve(60, 3, 20),
    ("kelbrook-60", "white clover"): Curve(88, 10),
    ("kelbrook-60", "ground ivy"): Curve(66, 11),
    ("kelbrook-60", "wild violet"): Curve(48, 12),
    ("tessaly-4sc", "smooth crabgrass"): Curve(88, 8),
    ("tessaly-4sc", "barnyardgrass"): Curve(84, 8),
    ("tessaly-4sc", "nimblewill"): Curve(52, 9, 20),
    ("wexcombe-2l", "wild violet"): Curve(74, 9),
    ("wexcombe-2l", "creeping bellflower"): Curve(58, 10),
    ("wexcombe-2l", "canada thistle"): Curve(66, 9),
    ("cobbet-wf", "dandelion"): Curve(80, 9),
    ("cobbet-wf", "white clover"): Curve(70, 10),
    ("cobbet-wf", "broadleaf plantain"): Curve(74, 9),
    ("nidder-04g", "smooth crabgrass"): Curve(85, 10),
}
USUAL = Curve(82, 4, 15)  # of what the table does not name: burn-down on hard ground
SKIPPED = 7  # one look in so many was never taken
POOR = 12  # one treatment in so many disappointed
COUNTED = frozenset({"mossgable-common", "mossgable-gate", "mossgable-pond"})  # where plants were counted


class Seen(NamedTuple):
    """What was seen at one look; None: it was not taken."""

    control: int
    injury: int
    before: int
    cover: int
    count: str  # BEFORE:AFTER of plants; "" where nobody counted
    check: str
    rain: str  # since the treatment, as the rater heard; "" where nobody said
    mowed: int  # days after the treatment; 0 where nobody said


def _pick(low: int, high: int, *key: object) -> int:
    text = "|".join([SEED, *(str(part) for part in key)])
    return low + int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big") % (high - low + 1)


def seen(serial: str, site: str, products: tuple[str, ...], target: str, days: int) -> Seen | None:
    """Return what was seen of a weed so many days after it was treated; None where nobody went.

    Args:
        serial: of the record.
        site: id.
        products: ids of what was put out against weeds.
        target: the weed.
        days: after treatment.
    """
    if not _pick(0, SKIPPED - 1, serial, days, "skipped"):
        return None
    curve = next((CURVES[one, target] for one in products if (one, target) in CURVES), USUAL)
    level = curve.best + _pick(-5, 5, serial, target, "site")
    if not _pick(0, POOR - 1, serial, "poor"):
        level -= 38
    # Whole numbers throughout: each half-life leaves half of what was left, the rest of one in proportion.
    left = 1000
    for _ in range(days // curve.half):
        left //= 2
    left -= left * (days % curve.half) // (2 * curve.half)
    control = level * (1000 - left) // 1000
    if days > 21:
        control -= curve.back * min(days - 21, 21) // 21
    control = max(0, min(100, control + _pick(-3, 3, serial, target, days)))
    control = control // 5 * 5
    before = _pick(3, 11, serial, target, "before") * 5
    injury = _pick(0, 2, serial, "injury") * 5 if days <= 14 else 0
    count = check = ""
    if site in COUNTED:
        plants, others = _pick(20, 60, serial, target, "plants"), _pick(20, 60, serial, target, "check")
        still = others * _pick(88, 104, serial, target, days, "drift") // 100
        count = f"{plants}:{plants * (100 - control) // 100 * still // others}"
        check = f"{others}:{still}"
    # What happened since is the same for every weed of a visit; it is asked at the first look only.
    is_told = days <= 14 and not _pick(0, 2, serial, "told")
    rain = f"0.{_pick(1, 8, serial, 'rain')} in" if is_told else ""
    mowed = _pick(3, 6, serial, "mowed") if is_told and _pick(0, 1, serial, "who mowed") else 0
    return Seen(control, injury, before, before * (100 - control) // 100, count, check, rain, mowed)
