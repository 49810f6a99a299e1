"""A book with two products on one weed at five sites each, rated over four weeks; made once, never changed."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from records.services.follow_up import Order, rate
from records.services.stocking.entries import log_bought
from tests.kit import SITES, Kit, days_after

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

DAY = "2026-05-14"
LOOKS = {"larkin-4": {7: 40, 14: 80, 28: 90}, "clove-mix": {7: 20, 14: 50, 28: 60}}
RATES = {"larkin-4": "0.75 fl oz/1000 sq ft", "clove-mix": "10 fl oz/1000 sq ft"}


def looked(kit: Kit, serial: str, days: int, control: int, by: str = "ruth", *, target: str = "plantain") -> None:
    """Rate a record so many days after the usual day."""
    on = days_after(DAY, days)
    kit.set("2026-07-30T18:00")
    rate(kit.book, kit.clock, Order(of=serial, marks=(f"{target}={control}",), at=f"{on}T09:00", by=by))


def buy(kit: Kit) -> None:
    """Buy a gallon of Larkin 4 for 64 dollars: 50 cents a fluid ounce."""
    kit.set("2026-05-01T08:00")
    with kit.book.write() as work:
        log_bought(work, kit.clock.now(), "larkin-4", "1x1 gal", lot="L77", price="64")
        work.commit()


@pytest.fixture(scope="session")
def compared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kit]:
    """Return the book; each site's looks lie a few points apart."""
    kit = Kit.at(tmp_path_factory.mktemp("compared"))
    front = SITES[0]["zones"][:1]
    kit.load(sites=[SITES[0] | {"id": f"site-{n}", "address": f"{n} Alder Court", "zones": front} for n in range(10)])
    buy(kit)
    for number in range(10):
        product, shift = ("larkin-4", number) if number < 5 else ("clove-mix", number - 5)
        lot = {"lot": "L77"} if product == "larkin-4" else {"lot": "C1"}
        done = kit.sealed(site=f"site-{number}", product=product, rate=RATES[product], ref=f"visit-{number}", **lot)
        assert done.serial is not None
        for days, control in LOOKS[product].items():
            looked(kit, done.serial, days, control + shift)
    yield kit
    kit.shut()


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    """Return a firm without visits."""
    made = Kit.at(tmp_path)
    yield made
    made.shut()


@pytest.fixture
def own(compared: Kit, tmp_path: Path) -> Iterator[Kit]:
    """Return a copy of the book, to be changed."""
    made = Kit(shutil.copyfile(compared.path, tmp_path / "own.db"))
    yield made
    made.shut()
