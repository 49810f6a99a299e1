"""What a fertilizer holds, and what of it goes on the ground: nitrogen, phosphate and potash by weight.

A grade such as 16-4-8 gives per cent by weight of total nitrogen (N), available phosphate (P2O5) and soluble potash
(K2O). Phosphate and potash are oxides by law and custom, not the elements phosphorus and potassium; a rule that means
the element says so, and is compared in the element.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from records.domain.numerals import QuantityError
from records.domain.quantities import decimal_text

if TYPE_CHECKING:
    from datetime import date

    from records.domain.quantities import Quantity, Rate

ZERO = Fraction(0)
# Share of the element in its oxide, to the four decimals of the trade: 4 lb P2O5 hold 1.7456 lb P and 8 lb K2O hold
# 6.6408 lb K (the worked example of the 100 lb bag of 16-4-8, tests/reference/nutrients.json).
PHOSPHORUS = Fraction(4364, 10000)
POTASSIUM = Fraction(8301, 10000)
THOUSAND = 1000  # sq ft

NUTRIENTS = ("N", "soluble N", "P2O5", "P", "K2O")
KINDS = ("enhanced", "organic")  # enhanced-efficiency nitrogen; natural organic or organic-based
_GRADE = re.compile(r"(\d{1,3}(?:\.\d{1,3})?)\s*-\s*(\d{1,3}(?:\.\d{1,3})?)\s*-\s*(\d{1,3}(?:\.\d{1,3})?)", re.ASCII)
_SHARE = re.compile(r"(\d{1,3}(?:\.\d{1,6})?|\.\d{1,6})\s*(?:%|per\s?cent)", re.ASCII | re.IGNORECASE)

COOL = frozenset(
    {
        "kentucky bluegrass",
        "tall fescue",
        "fine fescue",
        "perennial ryegrass",
        "annual ryegrass",
        "creeping bentgrass",
        "colonial bentgrass",
        "rough bluegrass",
    }
)
WARM = frozenset(
    {
        "bermudagrass",
        "zoysiagrass",
        "st augustinegrass",
        "st. augustinegrass",
        "centipedegrass",
        "bahiagrass",
        "buffalograss",
        "carpetgrass",
        "seashore paspalum",
    }
)


class Weights(NamedTuple):
    """Nutrients of an amount of product, or on a square foot, in lb; `soluble` is None where the share is not known."""

    n: Fraction
    p2o5: Fraction
    k2o: Fraction
    soluble: Fraction | None

    def of(self, nutrient: str) -> Fraction | None:
        """Return one of `NUTRIENTS`."""
        found = {"N": self.n, "soluble N": self.soluble, "P2O5": self.p2o5, "K2O": self.k2o}
        return self.p2o5 * PHOSPHORUS if nutrient == "P" else found[nutrient]

    def over(self, area: Fraction) -> Weights:
        """Return what lies on a part, such as each of so many square feet."""
        return Weights(
            self.n / area, self.p2o5 / area, self.k2o / area, None if self.soluble is None else self.soluble / area
        )


@dataclass(frozen=True, slots=True)
class Analysis:
    """The guaranteed analysis of a product: shares by weight, 0 to 1."""

    text: str  # as written: "16-4-8"
    n: Fraction
    p2o5: Fraction
    k2o: Fraction
    slow: Fraction | None = None  # share of the nitrogen that is released slowly; None: not told
    kind: str = ""  # one of `KINDS`, where the label says so
    pounds_per_base: Fraction | None = Fraction(1)  # lb of product per lb, or per fl oz of a liquid; None: no density

    def weights(self, amount: Quantity) -> Weights | None:
        """Return the nutrients of an amount of product; None where its weight does not follow.

        Args:
            amount: of product, in its own kind of unit.
        """
        return None if amount.unit == "oz" else self.of_base(amount.base)

    def of_base(self, base: Fraction) -> Weights | None:
        """Return the nutrients of so many base units of product (lb, or fl oz of a liquid)."""
        if self.pounds_per_base is None:
            return None
        pounds = base * self.pounds_per_base
        n = pounds * self.n
        return Weights(n, pounds * self.p2o5, pounds * self.k2o, None if self.slow is None else n * (1 - self.slow))

    def product_for(self, pounds: Fraction, nutrient: str) -> Fraction | None:
        """Return the product, in base units, that holds so many lb of a nutrient; None where it holds none.

        Args:
            pounds: of the nutrient.
            nutrient: one of `NUTRIENTS`.
        """
        each = self.of_base(Fraction(1))
        share = None if each is None else each.of(nutrient)
        return pounds / share if share else None

    @property
    def has(self) -> frozenset[str]:
        """Return which of the nutrients it holds."""
        return frozenset(name for name, share in (("N", self.n), ("P2O5", self.p2o5), ("K2O", self.k2o)) if share)


@dataclass(frozen=True, slots=True)
class NutrientUse:
    """Nutrients that one sealed application put on one zone."""

    serial: str
    day: date
    zone: str
    product: str  # id
    name: str
    analysis: str
    kind: str
    weights: Weights | None  # of the whole application; None: not known
    low: Fraction  # the part of it that is sure, 0 to 1: the lowest amount that reads so
    area: Fraction | None  # sq ft of the whole application
    treated: Fraction | None  # sq ft of it in this zone
    later: bool = False  # sealed before the product had an analysis: counted by the one in the book now


def parse_grade(text: str) -> tuple[Fraction, Fraction, Fraction]:
    """Read a grade: per cent of N, P2O5 and K2O by weight, as shares.

    Raises:
        QuantityError: no grade, or more than the whole.
    """
    found = _GRADE.fullmatch(text.strip())
    if found is None:
        raise QuantityError(f"{text[:40]!r} is no grade; write N-P2O5-K2O in per cent, such as 16-4-8")
    n, p2o5, k2o = (Fraction(found[place]) / 100 for place in (1, 2, 3))
    if n + p2o5 + k2o > 1:
        raise QuantityError(f"{text[:40]!r} comes to more than 100 %; write N-P2O5-K2O in per cent, such as 16-4-8")
    return n, p2o5, k2o


def parse_share(text: str) -> Fraction:
    """Read a share such as `30 %`.

    Raises:
        QuantityError: no share from nothing to the whole.
    """
    found = _SHARE.fullmatch(text.strip())
    share = None if found is None else Fraction(f"0{found[1]}") / 100
    if share is None or share > 1:
        raise QuantityError(f"{text[:40]!r} is no share from 0 % to 100 %; write it like 30 %")
    return share


def share_text(share: Fraction) -> str:
    """Write a share as per cent."""
    return f"{decimal_text(share * 100, 2)} %"


def per_thousand(pounds: Fraction, places: int = 2) -> str:
    """Write lb per sq ft as lb for each 1,000 sq ft, rounded for the eye."""
    return decimal_text(pounds * THOUSAND, places)


def like(pounds: Fraction, limit: Rate) -> str:
    """Write lb per sq ft the way a limit is written, with enough decimals to tell it from the limit."""
    return limit.like(pounds)


def season_of(turf: tuple[str, ...]) -> str:
    """Return `cool-season` or `warm-season` where all grasses of a zone are of one kind; "" where that is not known."""
    names = {" ".join(name.lower().replace("-", " ").split()) for name in turf}
    if names and names <= COOL:
        return "cool-season"
    return "warm-season" if names and names <= WARM else ""


def is_turf(kind: str) -> bool:
    """Tell whether a zone's kind of ground is turf, which is what these laws are about."""
    return kind.lower().split()[:1] in (["turf"], ["lawn"])
