"""What the storage answers of loads, lots and amounts: in a file and on a server, through indexes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from records.storage import account
from tests.bodies import application, treatment
from tests.storage.chain import append, fill, later, visit

if TYPE_CHECKING:
    from records.storage.unit_of_work import SqlBook


def stop(
    number: int,
    mix: str | None,
    spray: str,
    start: str,
    day: str = "2026-05-14",
    **changes: Any,  # noqa: ANN401 - parts of an application
) -> dict[str, Any]:
    """Return a visit with one application that took its share of a load."""
    one = application(mix=mix, amount=f"{number} fl oz", **changes)
    return visit(number, day, treatments=[treatment(spray=spray, applications=[one])]) | {
        "started": {"local": "", "utc": f"{day}T{start}:00Z"}
    }


def test_the_uses_of_a_load_come_in_the_order_of_work(book: SqlBook) -> None:
    """By the start, whatever was sealed first; what was voided is gone, what was amended stands as amended."""
    late, early, gone, changed, other = fill(
        book,
        stop(1, "m-1", "4 gal", "15:00"),
        stop(2, "m-1", "3 gal", "13:00"),
        stop(3, "m-1", "2 gal", "14:00"),
        stop(4, "m-1", "2 gal", "16:00"),
        stop(5, "m-2", "2 gal", "16:00"),
    )
    with book.write() as unit:
        append(unit, later(gone.body, "voided"), gone.serial, 2, "voided")
        append(unit, later(stop(6, "m-1", "2 gal", "12:00"), "amended"), changed.serial, 2, "amended")
        append(unit, later(stop(7, None, "2 gal", "12:00"), "amended"), other.serial, 2, "amended")
        unit.commit()
    with book.read() as unit:
        uses = unit.account.of_mixes(["m-1", "m-2", "m-3"])
        assert [(one.serial, one.amount) for one in uses] == [
            (changed.serial, "6 fl oz"),
            (early.serial, "2 fl oz"),
            (late.serial, "1 fl oz"),
        ]
        assert uses[0].mix == "m-1"
        sums = {(one.mix, one.product, one.unit): (one.lines, one.amount_nano) for one in unit.account.mix_sums()}
        assert sums == {("m-1", "brindle-4l", "fl oz"): (3, 9 * 10**9)}


def test_sums_by_lot_and_label(book: SqlBook) -> None:
    """One row for each; missing amounts are counted; what has no id keeps its name."""
    nameless = application()["product"] | {"id": None, "registration": None, "name": "a spray"}
    bodies = [
        stop(1, None, "4 gal", "15:00"),
        stop(2, None, "4 gal", "15:00", lot="B1"),
        stop(3, None, "4 gal", "15:00", lot=None, label=None),
        stop(4, None, "4 gal", "15:00", product=nameless),
    ]
    bodies[1]["treatments"][0]["applications"].append(application(amount=None, lot="B1"))
    first, *_ = fill(book, *bodies)
    with book.read() as unit:
        rows = unit.account.used()
        found = {(one.product, one.name, one.lot, one.label, one.unit): one[7:] for one in rows}
        assert found == {
            ("brindle-4l", None, "B2207", "2025-11", "fl oz"): (1, 10**9, 0),
            ("brindle-4l", None, "B1", "2025-11", "fl oz"): (1, 2 * 10**9, 0),
            ("brindle-4l", None, "B1", "2025-11", None): (1, 0, 1),
            ("brindle-4l", None, None, None, "fl oz"): (1, 3 * 10**9, 0),
            (None, "a spray", "B2207", "2025-11", "fl oz"): (1, 4 * 10**9, 0),
        }
        assert len(unit.account.used("brindle-4l")) == 4
        assert unit.account.used("nothing") == []
        assert unit.account.serial(min(one.first for one in rows)) == first.serial
        assert unit.account.serial(99) == ""


def test_what_was_spent_between_two_days(book: SqlBook) -> None:
    """Both ends count; each treated area counts once, with the first line of its treatment."""
    two = treatment(applications=[application(amount="1 fl oz"), application(amount="2 fl oz", lot="B1")])
    month = visit(3) | {"date": None, "period": "2026-05", "started": None, "finished": None}
    made = fill(book, visit(1, "2026-05-01", treatments=[two]), visit(2, "2026-05-31", treatments=[two]), month)
    with book.read() as unit:
        for per, keys in (
            ("visit", {one.serial for one in made}),
            ("product", {"brindle-4l", "spreadwell", "sedgeline-75"}),
            ("site", {"lark-lane-7"}),
            ("month", {"2026-05"}),
        ):
            rows = unit.account.spent(per, "2026-05-01", "2026-05-31")
            assert {one.key for one in rows} == keys
            assert sum(one.uses for one in rows) == 7
            assert sum(one.ground_nano for one in rows) == (3 * 4200 + 300) * 10**9
            assert sum(one.uses for one in unit.account.spent(per, "2026-05-02", "2026-05-30")) == 0
        assert unit.account.addresses("2026-05-01", "2026-05-31") == {"lark-lane-7": "7 Lark Lane"}
        assert unit.account.addresses("2026-06-01", "2026-06-30") == {}
        (first, *_) = unit.account.spent("visit", "2026-05-31", "2026-05-31")
        assert (first.day, first.address) == ("2026-05-31", "7 Lark Lane")


def test_the_uses_of_a_lot_come_by_their_start(book: SqlBook) -> None:
    made = fill(
        book,
        stop(1, None, "4 gal", "15:00", "2026-05-15"),
        stop(2, "m", "4 gal", "16:00"),
        stop(3, None, "4 gal", "12:00", lot="B9"),
        stop(4, None, "4 gal", "11:00"),
    )
    with book.read() as unit:
        every = unit.account.lot_uses("brindle-4l", (), "")
        assert [one.serial for one in every] == [made[place].serial for place in (3, 2, 1, 0)]
        assert [one.mix for one in every] == [None, None, "m", None]
        chosen = unit.account.lot_uses("brindle-4l", ["B2207"], "2026-05-15")
        assert [one.serial for one in chosen] == [made[0].serial]


@pytest.mark.parametrize(
    ("statement", "index"),
    [
        ("_OF_MIX", "ix_application_mix (mix_id=?)"),
        ("_MIX_SUMS", "ix_application_mix"),
        ("_USED_OF", "ix_application_product_id_method (product_id=?)"),
    ],
)
def test_a_ledger_walks_through_no_whole_table(file_book: SqlBook, statement: str, index: str) -> None:
    """The account of a load in a book of a million records reads the rows of that load."""
    prepared = getattr(account, statement)
    with file_book.read() as unit:
        assert unit.link is not None
        values = ("1",) * prepared.text.count("?")
        plan = [row[3] for row in unit.link.raw.execute(f"EXPLAIN QUERY PLAN {prepared.text}", values)]
    assert any(index in line for line in plan), plan
    assert not any(line.startswith("SCAN revision") for line in plan)
