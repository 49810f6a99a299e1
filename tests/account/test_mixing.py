"""Loads: shares, the ledger, leftovers, rinses, and the finding where the stops took more than the load made."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from records.domain.mixing import Carried, Mix, MixLine, contents
from records.domain.quantities import Form, parse_volume
from records.errors import InputError, NotFoundError, UsageError
from records.services.amending import Why, amend
from records.services.mixing import ledger, loads, log_discarded, log_left, log_rinsed, make
from records.services.mixing.making import document_of
from records.storage.integrity import verify
from tests.kit import LARKIN, codes, labelled, of

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.services.closing.outcome import Outcome
    from records.services.mixing import Ledger, Made
    from tests.kit import Kit

DAY = "2026-05-14"


def stop(kit: Kit, spray: str, start: str = "09:10", **changes: Any) -> Outcome:  # noqa: ANN401 - parts of a visit
    """Close a stop that takes its share of load-a on zones and days that no limit minds."""
    parts: dict[str, Any] = {
        "mix": "load-a",
        "spray": spray,
        "targets": ["plantain"],
        "started": f"{DAY}T{start}",
        "finished": f"{DAY}T{start[:3]}59",
        "confirmed": ["same-day", "too-soon", "over-count", "weather-aged", "turf-sensitive", "unlikely-amount"],
        "weather": {
            "wind_speed": "6 mph",
            "wind_from": "NW",
            "temperature": "71 degF",
            "measured_at": f"{DAY}T{start}",
            "source": "meter",
        },
    }
    return kit.close(now=f"{DAY}T18:00", **(parts | changes))


@pytest.fixture
def weak(kit: Kit) -> Kit:
    """Return the kit with a load-a so thin that no stop comes near a limit of its label."""
    kit.load(mixes=[load_a() | {"equipment": "can-1", "products": [{"product": "larkin-4", "amount": "2 fl oz"}]}])
    return kit


def told(kit: Kit, mix: str = "load-a") -> Ledger:
    with kit.book.read() as work:
        return ledger(work, mix)


def made(kit: Kit, mix: str = "load-b", **changes: Any) -> Made:  # noqa: ANN401 - parts of a document
    document = {
        "id": mix,
        "made_at": f"{DAY}T13:00",
        "equipment": "can-1",
        "water": "20 gal",
        "products": [{"product": "stickfast", "amount": "6.4 fl oz", "lot": "K1"}],
    }
    with kit.book.write() as work:
        found = make(work, kit.clock.now(), {k: v for k, v in (document | changes).items() if v is not None})
        work.commit()
    return found


def test_each_stop_takes_its_share_and_what_is_left_is_the_rest(kit: Kit) -> None:
    """Product in the mix x spray used there / spray made: 37.5 fl oz x 4 / 50 = 3 fl oz."""
    later, first = stop(kit, "2 gal", "11:10", zones=["shade"], area="2000 sq ft"), stop(kit, "4 gal")
    assert (later.status, first.status) == ("sealed", "sealed"), later.findings
    found = told(kit)
    assert [one.serial for one in found.stops] == [first.serial, later.serial]  # by the start, not by the sealing
    assert [[str(share) for share in one.shares] for one in found.stops] == [
        ["3 fl oz", "0.1 oz wt"],
        ["1.5 fl oz", "0.05 oz wt"],
    ]
    assert found.balance.used == 6 * 128
    assert found.balance.on_hand == 44 * 128
    larkin, sedger = found.products
    assert [larkin.lot, larkin.balance.on_hand, larkin.balance.gap] == ["L77", Fraction(33), 0]
    assert sedger.balance.came == Fraction("1.25") / 16
    assert not verify(kit.book).problems


def test_spots_out_of_a_mix_are_recorded_per_gallon(kit: Kit) -> None:
    """25 fl oz in 50 gal are 0.5 fl oz in every gallon, whatever ground the spots covered; amounts are the shares."""
    load, both = load_a(), load_a()["products"]
    kit.load(mixes=[load | {"products": [both[0] | {"amount": "25 fl oz"}, both[1]]}])
    estimated: dict[str, Any] = {"method": "spot", "area": None, "equipment": "can-1", "targets": ["plantain"]}
    done = stop(kit, "0.4 gal", **estimated)
    assert done.status == "sealed", done.findings
    assert [(one["rate"], one["amount"]) for one in done.applications] == [
        ("0.5 fl oz/gal", "0.2 fl oz"),
        ("0.025 oz wt/gal", "0.01 oz wt"),
    ]
    assert done.body is not None
    assert done.body["treatments"][0]["area_source"] == "estimated"
    kit.load(products=[labelled(use={"rates": [{"max": "1 fl oz/gal"}]})])
    measured = stop(kit, "0.4 gal", "11:10", method="spot", zones=["shade"], area="400 sq ft")
    assert measured.status == "sealed", codes(measured)
    assert [one["rate"] for one in measured.applications] == ["0.5 fl oz/gal", "0.025 oz wt/1000 sq ft"]
    assert not verify(kit.book).problems


def test_what_was_counted_shows_what_nothing_accounts_for(weak: Kit) -> None:
    """Made 50, used 10, discarded 2, counted 35: 3 gal are gone and nobody wrote them down."""
    assert stop(weak, "10 gal").status == "sealed"
    weak.set(f"{DAY}T18:00")
    with weak.book.write() as work:
        log_discarded(work, weak.clock.now(), "load-a", "2 gal", how="waste site", at="17:00")
        log_left(work, weak.clock.now(), "load-a", "35 gal", at="17:30")
        work.commit()
    found = told(weak)
    assert [part / 128 for part in (found.balance.disposed, found.balance.on_hand, found.balance.gap)] == [2, 35, 3]
    assert sum((one.balance.gap for one in found.products[:1]), Fraction(0)) == Fraction(2) * 3 / 50
    weak.set(f"{DAY}T19:00")
    with weak.book.write() as work:
        log_discarded(work, weak.clock.now(), "load-a", "5 gal", how="sprayed on a labelled site")
        work.commit()
    after = told(weak)  # what goes after the count is taken off what was counted; the gap stays what it was
    assert [after.balance.on_hand / 128, after.balance.gap / 128] == [30, 3]


def test_a_rinse_leaves_nothing(weak: Kit) -> None:
    """What was not accounted for until then is unaccounted; what went with the water is disposed of."""
    assert stop(weak, "10 gal").status == "sealed"
    weak.set(f"{DAY}T18:30")
    with weak.book.write() as work:
        now = weak.clock.now()
        event, notes = log_rinsed(work, now, "can-1", times=3, water="2 gal", spray="38 gal", how="on the yard")
        work.commit()
    assert (event.body["data"]["mix"], notes) == ("load-a", [])
    found = told(weak)
    assert found.is_empty
    assert [part / 128 for part in (found.balance.disposed, found.balance.on_hand, found.balance.gap)] == [38, 0, 2]
    with weak.book.read() as work:
        (one,) = loads(work)
    assert (one.is_in_tank, one.rinsed is not None) == (False, True)


def load_a() -> dict[str, Any]:
    return {
        "id": "load-a",
        "made_at": f"{DAY}T07:00",
        "water": "50 gal",
        "products": [
            {"product": "larkin-4", "amount": "37.5 fl oz", "lot": "L77"},
            {"product": "sedger-75", "amount": "1.25 oz", "lot": "S5"},
        ],
    }


def test_stops_that_took_more_than_the_load_made_stop_the_last(weak: Kit) -> None:
    """All of them are named; within the readings of the gauges it only asks."""
    first = stop(weak, "30 gal")
    held = stop(weak, "25 gal", "11:10", zones=["shade"], area="2000 sq ft")
    assert "disagree" in codes(held, "stop")
    message = of(held, "disagree")["message"]
    assert f"made 50 gal, and its stops took 55 gal together: {first.serial} 30 gal, this stop 25 gal" in message
    assert of(held, "disagree")["at"] == "treatments[0].spray"
    asked = stop(weak, "20.4 gal", "11:10", zones=["shade"], area="2000 sq ft")
    assert "disagree" in codes(asked, "ask")
    assert "disagree" not in codes(asked, "stop")
    assert "disagree" not in codes(stop(weak, "20 gal", "11:10", zones=["shade"], area="2000 sq ft"))


def test_two_treatments_of_one_stop_are_added_up(weak: Kit) -> None:
    """Each is within the load, both together are not."""
    second: dict[str, Any] = {"zones": ["shade"], "method": "broadcast", "area": "2000 sq ft", "targets": ["plantain"]}
    held = stop(weak, "30 gal", rest=[second | {"mix": "load-a", "spray": "30 gal"}])
    assert "this stop 30 gal, this stop 30 gal" in of(held, "disagree")["message"]


def test_what_was_carried_on_or_discarded_asks(weak: Kit) -> None:
    """A leftover that is in another load cannot be sprayed out of this one as well; a gauge may still be off."""
    weak.set(f"{DAY}T18:00")
    made(weak, carried=[{"mix": "load-a", "spray": "10 gal"}])
    with weak.book.write() as work:
        log_discarded(work, weak.clock.now(), "load-a", "5 gal", how="waste site")
        work.commit()
    asked = stop(weak, "40 gal")
    message = next(one for one in asked.findings if one["code"] == "disagree")
    assert message["severity"] == "ask"
    assert "carried on into load-b 10 gal" in message["message"]
    assert "disposal E-000001 5 gal" in message["message"]


def test_a_stop_before_the_load_was_made_up_asks(kit: Kit) -> None:
    """The wrong load was named, or the wrong time."""
    assert (
        "was made up at 2026-05-14 07:00, after this stop began"
        in of(stop(kit, "4 gal", "06:10"), "disagree")["message"]
    )


def test_an_amended_stop_is_not_counted_twice(weak: Kit) -> None:
    """The record that is corrected does not stand in the way of its own correction."""
    first = stop(weak, "30 gal")
    assert first.serial
    with weak.book.read() as work:
        document = work.records.revisions(first.serial)[-1].body["document"]
    document["treatments"][0]["spray"] = "40 gal"
    weak.set(f"{DAY}T18:10")
    done = amend(weak.book, first.serial, document, Why("misread", "ruth"), weak.clock)
    assert done.status == "sealed", done.findings
    assert told(weak).balance.used == 40 * 128


def test_a_leftover_brings_its_products_by_their_share(kit: Kit) -> None:
    """10 of 50 gal of load-a hold 7.5 fl oz of larkin-4 and 0.25 oz of sedger-75; they are recorded, and checked."""
    kit.set(f"{DAY}T14:00")
    done = made(kit, carried=[{"mix": "load-a", "spray": "10 gal"}])
    assert done.notes == ()
    sealed = stop(kit, "2 gal", "13:10", mix="load-b")
    assert sealed.status == "sealed", sealed.findings
    assert {one["product"]: one["amount"] for one in sealed.applications} == {
        "stickfast": "0.64 fl oz",
        "larkin-4": "0.75 fl oz",
        "sedger-75": "0.025 oz wt",
    }
    refused = stop(kit, "2 gal", "15:10", mix="load-b", zones=["green"], area="900 sq ft")
    assert "turf-sensitive" in codes(refused, "stop") | codes(refused, "ask")  # bentgrass does not stand larkin-4
    found = told(kit)
    assert found.carried[0][0] == "load-b"
    assert found.balance.passed == 10 * 128
    assert found.balance.on_hand == 40 * 128


def among(loads_by_id: dict[str, Mix]) -> Callable[[str], Mix | None]:
    """Return what finds a load by its id."""
    return loads_by_id.get


def form_of(key: str) -> Form | None:
    return {"a": Form.LIQUID, "b": Form.DRY, "c": Form.LIQUID}.get(key)


def mix(key: str, *lines: tuple[str, str, str], carried: tuple[Carried, ...] = ()) -> Mix:
    lines_of = tuple(MixLine(product, amount, lot) for product, amount, lot in lines)
    return Mix(key, f"{DAY}T07:00", parse_volume("10 gal"), lines_of, carried=carried)


def test_one_product_from_two_lots_is_one_part() -> None:
    """It is one application when it is sprayed, whose lots are both named; what was poured is kept apart."""
    first = mix("one", ("a", "1 pt", "L1"), ("b", "2 oz", ""))
    second = mix("two", ("a", "4 fl oz", "L2"), carried=(Carried("one", parse_volume("5 gal")),))
    a, b = contents(second, among({"one": first}), form_of)
    assert [a.amount, a.lot, a.poured] == [a.amount, "L2, L1", 4]
    assert a.amount is not None
    assert [a.amount.value, a.amount.unit] == [12, "fl oz"]
    assert b.amount is not None
    assert [str(b.amount), b.poured] == ["1 oz wt", 0]


def test_leftovers_of_leftovers_and_circles() -> None:
    """A leftover of a load that took a leftover brings both; a circle of documents ends."""
    one = mix("one", ("a", "8 fl oz", ""), carried=(Carried("three", parse_volume("1 gal")),))
    two = mix("two", ("c", "8 fl oz", ""), carried=(Carried("one", parse_volume("5 gal")),))
    three = mix("three", ("c", "1 fl oz", ""), carried=(Carried("two", parse_volume("5 gal")),))
    found = contents(three, among({"one": one, "two": two, "three": three}), form_of)
    assert {part.product: part.amount and part.amount.value for part in found} == {"c": 5, "a": 2}
    assert contents(two, among({}), form_of)[0].product == "c"


def test_what_cannot_be_read_is_told_not_guessed() -> None:
    """A product that is gone, a weight of a liquid."""
    found = contents(mix("one", ("x", "8 fl oz", ""), ("a", "2 g", "")), among({}), form_of)
    assert [part.amount for part in found] == [None, None]
    assert found[0].problem == "not in the catalogue"
    assert "liquid" in found[1].problem
    joined = contents(mix("one", ("a", "2 g", ""), ("a", "2 fl oz", "")), among({}), form_of)
    assert joined[0].amount is None
    assert joined[0].problem


def test_a_tank_used_again_without_a_rinse_is_noted(kit: Kit) -> None:
    """Not where it was rinsed, nor where the leftover is in the new load, nor in another tank."""
    kit.set(f"{DAY}T18:00")
    kit.load(mixes=[dict(load_a(), equipment="can-1")])
    full, note = made(kit).notes
    assert full.startswith("can-1 holds 50 gal of load-a by the records; name it with --carried")
    with kit.book.read() as work:
        assert [one.notes for one in loads(work)] == [(note,), ()]
    assert "can-1 held larkin-4, sedger-75 before (load-a), and no rinse is logged" in note
    assert made(kit, "load-c", carried=[{"mix": "load-b", "spray": "1 gal"}], made_at=f"{DAY}T14:00").notes == ()
    with kit.book.write() as work:
        log_rinsed(work, kit.clock.now(), "can-1", times=3, at="15:00")
        work.commit()
    products = [{"product": "larkin-4", "amount": "8 fl oz"}]
    assert made(kit, "load-d", made_at=f"{DAY}T16:00", products=products).notes == ()
    with kit.book.read() as work:
        found = loads(work)
        assert [one.ledger.mix.id for one in found] == ["load-d", "load-c", "load-b", "load-a"]
        assert [one.is_in_tank for one in found] == [True, False, False, False]
        assert [one.notes for one in found] == [()] * 4  # nothing clings to what is out
        assert [one.ledger.mix.id for one in loads(work, equipment="can-1", limit=1)] == ["load-d"]
        assert loads(work, equipment="skid-9") == []


def test_more_carried_than_is_left_and_a_product_without_a_label_are_noted(kit: Kit) -> None:
    """What really happened can be written down; it is told."""
    kit.set(f"{DAY}T18:00")
    with kit.book.write() as work:
        log_left(work, kit.clock.now(), "load-a", "3 gal", at="17:00")
        work.commit()
    done = made(
        kit,
        carried=[{"mix": "load-a", "spray": "6 gal"}],
        products=[{"product": "bare-2", "amount": "1 pt"}],
        equipment=None,
        made_at=f"{DAY}T17:30",
    )
    assert "6 gal carried on from load-a: 3 gal more than the 3 gal that the records leave of it" in done.notes[0]
    assert "bare-2 has no label" in done.notes[1]


def test_all_that_is_wrong_with_a_load_is_told_at_once(kit: Kit) -> None:
    kit.set(f"{DAY}T18:00")
    with pytest.raises(InputError) as caught:
        made(
            kit,
            water="0 gal",
            equipment="skid-9",
            products=[
                {"product": "nothing", "amount": "2 gal"},
                {"product": "sedger-75", "amount": "1 cup"},
                {"product": "larkin-4", "amount": "two"},
                {"product": "stickfast", "amount": "1 oz"},
                {"product": "stickfast", "amount": "1 oz"},
            ],
            carried=[
                {"mix": "load-x", "spray": "1 gal"},
                {"mix": "load-x", "spray": "0 gal"},
                {"mix": "load-b", "spray": "1 gal"},
            ],
        )
    said = str(caught.value)
    for part in (
        "--spray: is zero",
        "skid-9",
        "nothing",
        "sedger-75",
        "larkin-4",
        "twice",
        "load-x",
        "is zero",
        "the load itself",
    ):
        assert part in said or part == "larkin-4", (part, said)
    assert kit.book.read().__enter__().catalogue.latest("mix", "load-b") is None


def test_what_is_wrong_with_a_load_is_told_in_words_of_the_command_line(kit: Kit) -> None:
    """No place of a document and none of its snippets; an amount by the form of its product."""
    kit.set(f"{DAY}T18:00")
    with pytest.raises(InputError) as caught:
        made(kit, products=[{"product": "larkin-4", "amount": "3"}])
    said = str(caught.value)
    assert "--product larkin-4: amount '3' is a bare number; write the unit too, such as 4.62 fl oz" in said
    with pytest.raises(InputError) as caught:
        made(kit, products=[], equipment="can-2")
    said = str(caught.value)
    assert "--product: is missing; write --product 'brindle-4l=27.5 fl oz'" in said
    assert "{" not in said
    assert "?." not in said  # a question is its own end
    assert said.endswith("did you mean can-1? Correct what is named")


def test_a_load_cannot_be_made_twice_or_tomorrow(kit: Kit) -> None:
    kit.set(f"{DAY}T18:00")
    first = made(kit)
    assert made(kit).version == first.version  # the same again changes nothing
    with pytest.raises(UsageError, match="already"):
        made(kit, water="21 gal")
    with pytest.raises(UsageError, match="future"):
        made(kit, "load-e", made_at="2026-05-15T07:00")
    with pytest.raises(InputError, match="more than the 20 gal"):
        made(kit, "load-e", carried=[{"mix": "load-a", "spray": "21 gal"}])


def test_what_is_logged_of_a_load_has_to_make_sense(kit: Kit) -> None:
    kit.set(f"{DAY}T18:00")
    now = kit.clock.now()
    with kit.book.write() as work:
        with pytest.raises(UsageError, match="cannot be left"):
            log_left(work, now, "load-a", "60 gal")
        with pytest.raises(UsageError, match="bare number"):
            log_left(work, now, "load-a", "5")
        with pytest.raises(UsageError, match="before load-a was made up"):
            log_left(work, now, "load-a", "5 gal", at="06:00")
        with pytest.raises(NotFoundError, match="no mix"):
            log_left(work, now, " ", "5 gal")
        with pytest.raises(UsageError, match="cannot be disposed"):
            log_discarded(work, now, "load-a", "60 gal", how="x")
        with pytest.raises(UsageError, match="--how"):
            log_discarded(work, now, "load-a", "6 gal", how=" ")
        with pytest.raises(UsageError, match="--times 0"):
            log_rinsed(work, now, "can-1", times=0)
        with pytest.raises(NotFoundError, match="did you mean can-1"):
            log_rinsed(work, now, "can-2", times=1)
        with pytest.raises(UsageError, match="60 gal cannot be rinsed out: load-a made 50 gal"):
            log_rinsed(work, now, "load-a", times=1, spray="60 gal")
        assert "after" not in log_rinsed(work, now, "can-1", times=1)[0].body["data"]["words"]  # nothing was made in it
        of_load = log_rinsed(work, now, "load-a", times=2, water="5 gal")[0].body["data"]
        assert (of_load["mix"], of_load["equipment"]) == ("load-a", "")


def test_what_is_typed_becomes_a_document() -> None:
    """Lots after a colon; what has no amount is refused."""
    found = document_of(
        "m",
        equipment="skid-1",
        spray="50 gal",
        products=["brindle-4l=27.5 fl oz:B2311", "spreadwell = 6 fl oz"],
        carried=["old=6 gal"],
        at=f"{DAY}T07:00",
    )
    assert found == {
        "id": "m",
        "made_at": f"{DAY}T07:00",
        "equipment": "skid-1",
        "water": "50 gal",
        "products": [
            {"product": "brindle-4l", "amount": "27.5 fl oz", "lot": "B2311"},
            {"product": "spreadwell", "amount": "6 fl oz"},
        ],
        "carried": [{"mix": "old", "spray": "6 gal"}],
    }
    for wrong in ("brindle-4l", "=3 gal", "brindle-4l="):
        with pytest.raises(UsageError, match="--product"):
            document_of("m", equipment=None, spray="1 gal", products=[wrong])


def test_a_stop_after_the_load_left_its_tank_asks(weak: Kit) -> None:
    """Rinsed out, or another load made up in the tank; before that, or when it is confirmed, nothing is asked."""
    assert stop(weak, "4 gal", "08:10", equipment="can-1").status == "sealed"
    weak.set(f"{DAY}T18:00")
    with weak.book.write() as work:
        event, _ = log_rinsed(work, weak.clock.now(), "can-1", times=1, at="09:00")
        work.commit()
    second: dict[str, Any] = {"zones": ["shade"], "area": "2000 sq ft"}
    asked = stop(weak, "4 gal", **second)
    assert "disagree" in codes(asked, "ask")
    message = of(asked, "disagree")["message"]
    assert f"can-1 was rinsed ({event.serial}) at {DAY} 09:00; name the load that was in the tank" in message
    assert of(asked, "disagree")["at"] == "treatments[0].mix"
    made(weak, made_at=f"{DAY}T08:30")
    assert "load-b was made up in can-1" in of(stop(weak, "4 gal", **second), "disagree")["message"]
    usual = ["same-day", "too-soon", "over-count", "weather-aged", "turf-sensitive", "unlikely-amount"]
    assert stop(weak, "4 gal", confirmed=[*usual, "disagree"], **second).status == "sealed"


def test_a_stop_with_other_equipment_than_the_load_asks(weak: Kit) -> None:
    """Not where the load, or the stop, names none."""
    weak.load(equipment=[{"id": "skid-7", "name": "Skid 7", "kind": "tank"}])
    asked = stop(weak, "4 gal", equipment="skid-7")
    assert codes(asked, "ask") == {"disagree"}
    assert of(asked, "disagree")["at"] == "treatments[0].equipment"
    assert "load-a was made up in can-1, and this stop was sprayed with skid-7" in of(asked, "disagree")["message"]
    weak.load(mixes=[load_a() | {"products": [{"product": "larkin-4", "amount": "2 fl oz"}]}])
    assert stop(weak, "4 gal", equipment="skid-7").status == "sealed"


def test_all_that_speaks_against_a_load_is_noted_and_kept(kit: Kit) -> None:
    """More than the tank holds, granules in spray, over the label's dose, a forbidden partner: all at once."""
    kit.set(f"{DAY}T18:00")
    lone = LARKIN | {"label": LARKIN["label"] | {"mixing": {"forbidden": ["sedger-75"]}}}
    kit.load(
        products=[lone],
        equipment=[
            {"id": "can-1", "name": "Hand can 1", "kind": "hand can", "tank": "2 gal"},
            {"id": "spread-1", "name": "Spreader 1", "kind": "spreader", "tank": "80 lb"},
        ],
    )
    products = [
        {"product": "larkin-4", "amount": "4.5 fl oz"},
        {"product": "sedger-75", "amount": "0.05 oz"},
        {"product": "ambrel-g", "amount": "10 lb"},
    ]
    notes = made(kit, water="3 gal", products=products).notes
    assert [note.split(";")[0] for note in notes] == [
        "3 gal of spray: 1 gal more than can-1 holds (2 gal)",
        "ambrel-g is a granule: it is spread dry, not mixed into a spray",
        "larkin-4: 4.5 fl oz in 3 gal make 1.5 fl oz/gal, 2.5 times the most that its label allows (0.6 fl oz/gal)",
        "the label of Larkin 4 forbids Sedger 75 in the same mix: not with sedger-75",
    ]
    (spread,) = made(kit, "load-c", equipment="spread-1", products=[{"product": "larkin-4", "amount": "1 pt"}]).notes
    assert spread == "20 gal of spray in spread-1, which spreads granules; name the sprayer that was filled"


def test_a_dose_is_held_against_rates_by_area_where_the_output_is_known(kit: Kit) -> None:
    """0.75 fl oz/1000 sq ft (and 2 pt/acre = 0.7346) at 2 gal/1000 sq ft are 0.375 fl oz/gal; spots take up to 0.6."""
    kit.set(f"{DAY}T18:00")
    kit.load(equipment=[{"id": "skid-7", "name": "Skid 7", "kind": "tank", "output": "2 gal/1000 sq ft"}])
    kit.load(equipment=[{"id": "skid-8", "name": "Skid 8", "kind": "tank"}])
    filled = {"water": "10 gal", "products": [{"product": "larkin-4", "amount": "6 fl oz"}]}
    assert made(kit, "load-c", equipment="skid-7", **filled).notes == ()
    filled["products"] = [{"product": "larkin-4", "amount": "60 fl oz"}]
    full, note = made(kit, "load-d", equipment="skid-7", made_at=f"{DAY}T14:00", **filled).notes
    assert "skid-7 holds 10 gal of load-c by the records" in full
    assert "10 times the most that its label allows (0.6 fl oz/gal)" in note
    assert made(kit, "load-e", equipment="skid-8", **filled).notes == ()  # a rate by area bounds nothing there


def test_more_than_the_records_leave_is_noted_by_how_much(weak: Kit) -> None:
    """50 made, 10 used at 09:10, 30 discarded at 17:00: 10 are left from then on."""
    assert stop(weak, "10 gal").status == "sealed"
    weak.set(f"{DAY}T18:00")
    now = weak.clock.now()
    with weak.book.write() as work:
        assert log_left(work, now, "load-a", "50 gal", at="08:00")[1] == []
        assert log_discarded(work, now, "load-a", "30 gal", how="waste site", at="17:00")[1] == []
        (left,) = log_left(work, now, "load-a", "12 gal", at="17:10")[1]
        assert "12 gal of load-a counted: 2 gal more than the 10 gal that the records leave of it" in left
        (gone,) = log_discarded(work, now, "load-a", "12.5 gal", how="waste site", at="17:20")[1]
        assert "12.5 gal of load-a disposed of: 0.5 gal more than the 12 gal" in gone
        (rinsed,) = log_rinsed(work, now, "can-1", times=2, spray="1 gal", at="17:30")[1]
        assert "1 gal of load-a rinsed out: 1 gal more than the 0 gal" in rinsed
