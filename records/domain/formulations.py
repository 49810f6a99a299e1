"""Formulation kinds as labels print them, and the published orders in which kinds go into a tank.

An order is an aid: the label's own order wins over every one of them. What an order does not name has no place in it,
and none is guessed.
"""

from __future__ import annotations

from dataclasses import dataclass

# Letters as printed behind a product's name -> what they stand for. Adjuvants have the short names of the trade.
FORMULATIONS: dict[str, str] = {
    "WP": "wettable powder",
    "WSP": "water soluble packet",
    "WDG": "water dispersible granules",
    "WG": "water dispersible granules",
    "DG": "dispersible granules",
    "DF": "dry flowable",
    "SP": "soluble powder",
    "SG": "soluble granules",
    "SC": "suspension concentrate",
    "F": "flowable",
    "FL": "flowable",
    "AS": "aqueous suspension",
    "CS": "capsule suspension",
    "ME": "microcapsule suspension",
    "EW": "emulsion in water",
    "EC": "emulsifiable concentrate",
    "E": "emulsifiable concentrate",
    "SL": "soluble liquid",
    "S": "solution",
    "L": "liquid",
    "G": "granules, spread dry",
    "AMS": "ammonium sulfate",
    "NIS": "nonionic surfactant",
    "COC": "crop oil concentrate",
    "MSO": "methylated seed oil",
    "COMPATIBILITY": "compatibility agent",
    "DEFOAMER": "defoamer",
    "DRIFT": "drift control agent",
}
GRANULES = "G"


@dataclass(frozen=True, slots=True)
class Stage:
    """One place of an order: its letter ("" where it has none), the kinds that go in there, and how."""

    letter: str
    kinds: tuple[str, ...]
    words: str  # what is done there beside adding; "" = nothing


@dataclass(frozen=True, slots=True)
class Order:
    """A published order: how much water first (as parts of the finished spray), its places, who published it."""

    id: str
    name: str
    least_water: tuple[int, int]  # numerator and denominator
    most_water: tuple[int, int]
    stages: tuple[Stage, ...]
    source: str
    url: str

    def place(self, kind: str) -> int | None:
        """Return the place of a kind in the order; None where the order does not name it."""
        return next((index for index, stage in enumerate(self.stages) if kind in stage.kinds), None)


_DRY = ("WSP", "WP", "WDG", "WG", "DG", "DF")
_SLURRY = "make a slurry with water, add it slowly"

# Oklahoma State names WP and DF ("and so on") under W and ME, SC, AS ("and other suspensions") under M; the other dry
# and suspended kinds stand with those here. EW is not named, so it has no place.
AWAMLES = Order(
    id="awamles",
    name="A-W-A-M-L-E-S",
    least_water=(1, 2),
    most_water=(3, 4),
    stages=(
        Stage("", ("COMPATIBILITY", "DEFOAMER"), ""),
        Stage("A", ("AMS",), "keep agitating"),
        Stage("W", (*_DRY, "SP", "SG"), _SLURRY),
        Stage("A", (), "agitate until all of it is dispersed; this takes a few minutes"),
        Stage("M", ("ME", "CS", "SC", "AS", "F", "FL"), ""),
        Stage("L", ("SL", "S", "L"), ""),
        Stage("E", ("EC", "E"), ""),
        Stage("S", ("NIS", "COC", "MSO"), ""),
    ),
    source="Herbicide Mixing Order, Oklahoma State University Extension",
    url="https://extension.okstate.edu/fact-sheets/herbicide-mixing-order.html",
)
# The older aid, as the same fact sheet and the trade spell it out.
WALES = Order(
    id="wales",
    name="W-A-L-E-S",
    least_water=(1, 2),
    most_water=(3, 4),
    stages=(
        Stage("W", (*_DRY, "SP", "SG"), _SLURRY),
        Stage("A", (), "agitate until all of it is dispersed"),
        Stage("L", ("SC", "F", "FL", "AS", "SL", "S", "L"), ""),
        Stage("E", ("EC", "E"), ""),
        Stage("S", ("NIS", "COC", "MSO"), ""),
    ),
    source="W-A-L-E-S, named in Herbicide Mixing Order, Oklahoma State University Extension; its letters are "
    "common practice",
    url="https://extension.okstate.edu/fact-sheets/herbicide-mixing-order.html",
)
SDSU = Order(
    id="sdsu",
    name="South Dakota State order",
    least_water=(1, 3),
    most_water=(1, 3),
    stages=(
        Stage("", ("AMS",), ""),
        Stage("", ("COMPATIBILITY",), ""),
        Stage("", ("DEFOAMER",), ""),
        Stage("", _DRY, "presoak; slurry wettable powders and dry flowables with water 2 to 1"),
        Stage("", (), "agitate until all of it is dispersed, then bring the water to 80 % of the spray"),
        Stage("", ("L", "SL", "S", "F", "FL", "SC", "AS"), ""),
        Stage("", ("EC", "E"), ""),
        Stage("", ("CS", "ME"), ""),
        Stage("", ("NIS", "COC", "MSO", "DRIFT"), ""),
    ),
    source="Preparing Spray Solutions: Mixing Order, South Dakota State University Extension",
    url="https://extension.sdstate.edu/preparing-spray-solutions-mixing-order",
)
ORDERS = {order.id: order for order in (AWAMLES, WALES, SDSU)}
