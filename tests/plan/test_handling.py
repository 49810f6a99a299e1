"""Protective equipment of several labels as one list; the published mixing orders; the label's own order wins."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from records.domain.formulations import AWAMLES, FORMULATIONS, ORDERS, SDSU, WALES, Order
from records.domain.handling import merged, strictness
from records.domain.quantities import Quantity
from records.services.planning.recipe import lines_of, protection, recipe_of
from records.services.reading import read_product

if TYPE_CHECKING:
    from records.domain.product import Product

SIZE = Quantity(Fraction(40), "gal")


def made(key: str, formulation: str = "", **label: Any) -> Product:  # noqa: ANN401 - JSON of any shape
    """Return an adjuvant-like product, the least a reader takes, with a label where parts of one are given."""
    doc: dict[str, Any] = {"id": key, "name": key.title(), "form": "liquid"}
    doc |= {"formulation": formulation} if formulation else {}
    doc |= {"label": {"revision": "1", **label}} if label else {}
    problems: list[Any] = []
    product = read_product(doc, problems)
    assert product is not None, problems
    return product


def steps(products: list[Product], order: Order = AWAMLES) -> list[str]:
    """Return the products of a recipe in their order."""
    return [step.product for step in recipe_of(products, order, SIZE).steps if step.product]


def test_the_oklahoma_order() -> None:
    """A-W-A-M-L-E-S: ammonium sulfate, dry, agitate, microcapsules and suspensions, soluble, emulsifiable, surfactants.

    Herbicide Mixing Order, Oklahoma State University Extension.
    """
    kinds = ["NIS", "EC", "SL", "ME", "SC", "WP", "DF", "AMS", "DEFOAMER"]
    found = steps([made(kind.lower(), kind) for kind in kinds])
    assert found == ["defoamer", "ams", "wp", "df", "me", "sc", "sl", "ec", "nis"]
    recipe = recipe_of([made("wp", "WP")], AWAMLES, SIZE)
    assert "half to three quarters with water (20 to 30 gal)" in recipe.steps[0].words
    assert "slurry" in recipe.steps[1].words
    assert "gitate" in recipe.steps[2].words  # the second A, only where something dry went in
    assert "Fill up to 40 gal" in recipe.steps[-1].words
    assert not any(step.letter == "A" for step in recipe_of([made("ec", "EC")], AWAMLES, SIZE).steps)


def test_the_other_published_orders() -> None:
    """W-A-L-E-S; South Dakota State puts microcapsules after emulsifiable ones, and a third of the water first."""
    products = [made(kind.lower(), kind) for kind in ("NIS", "ME", "EC", "SC", "WDG")]
    assert steps(products, SDSU) == ["wdg", "sc", "ec", "me", "nis"]
    assert "a third with water (13.33 gal)" in recipe_of(products, SDSU, SIZE).steps[0].words
    assert steps(products, WALES) == ["wdg", "sc", "ec", "nis"]
    (unplaced,) = recipe_of(products, WALES, SIZE).unplaced
    assert "W-A-L-E-S does not name it" in unplaced


def test_an_unknown_formulation_is_said_and_not_guessed() -> None:
    recipe = recipe_of([made("mystery"), made("dust", "G")], AWAMLES, SIZE)
    assert "the book does not say what formulation it is" in recipe.unplaced[0]
    assert "spread dry" in recipe.unplaced[1]
    assert not [step for step in recipe.steps if step.product]


def test_the_label_own_order_wins() -> None:
    own = made("own", "EC", mixing={"order": ["Fill a quarter.", "Add Own last."]})
    recipe = recipe_of([made("wp", "WP"), own], AWAMLES, SIZE)
    assert [step.words for step in recipe.steps] == ["Fill a quarter.", "Add Own last."]
    assert recipe.source == "the order on the label of Own, revision 1"
    other = made("other", "SC", mixing={"order": ["Add Other first."]})
    both = recipe_of([own, other], AWAMLES, SIZE)
    assert "differ: ask their makers" in both.warnings[0]
    assert both.steps[-1].words == "Other: Add Other first."


@pytest.mark.parametrize("order", ORDERS.values(), ids=lambda order: order.id)
def test_orders_are_data_with_a_source(order: Order) -> None:
    kinds = [kind for stage in order.stages for kind in stage.kinds]
    assert len(kinds) == len(set(kinds))
    assert set(kinds) <= set(FORMULATIONS)
    assert order.source
    assert order.url.startswith("https://")


def test_equipment_is_merged_strictest_first_and_once() -> None:
    worn = merged(
        [
            ("One", ("Long-sleeved shirt and long pants", "Protective eyewear")),
            ("Two", ("long sleeved shirt and long pants.", "Chemical-resistant gloves", "A red scarf")),
            ("Three", ("Dust mask respirator",)),
        ]
    )
    assert [one.item for one in worn] == [
        "Dust mask respirator",
        "Chemical-resistant gloves",
        "Protective eyewear",
        "Long-sleeved shirt and long pants",
        "A red scarf",
    ]
    assert worn[3].products == ("One", "Two")
    assert strictness("Chemical-resistant apron") < strictness("Chemical-resistant gloves") < strictness("Shoes")


def test_equipment_by_task_and_unknown() -> None:
    both = made("both", ppe=["Gloves"])
    task = made("task", ppe={"mix": ["Apron"]})
    mix, apply, unknown = protection([both, task, made("bare")])
    assert [one.item for one in mix] == ["Apron", "Gloves"]
    assert [one.item for one in apply] == ["Gloves"]
    assert unknown == ("Bare",)


def test_the_strictest_line_of_all_labels_is_told_with_its_label() -> None:
    hot = made("hot", limits={"wind": "12 mph", "temperature": "90 degF"}, keep_off="until dry", reentry="12 hours")
    mild = made(
        "mild",
        limits={"wind": "10 mph", "temperature": {"value": "29 degC", "force": "should"}},
        keep_off="for a day",
        reentry="1 days",
        mixing={"notes": ["Use at once."]},
    )
    bound = [(one, one.label.limits) for one in (hot, mild) if one.label]
    told = [(line.name, line.words, line.products) for line in lines_of(bound, [hot, mild])]
    assert told == [
        ("wind", "at most 10 mph", ("Mild",)),
        ("temperature", "at most 90 degF", ("Hot",)),
        ("temperature", "advised, at most 29 degC", ("Mild",)),
        ("re-entry", "1 day", ("Mild",)),
        ("keep off", "until dry", ("Hot",)),
        ("keep off", "for a day", ("Mild",)),
        ("mixing", "Use at once.", ("Mild",)),
    ]
