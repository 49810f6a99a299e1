"""The calibration log: which calibration counts, for whom and until when, and what a record freezes of it."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from records.errors import NotFoundError, UsageError
from records.services import calibrating, logbook
from records.services.amending import Why, amend
from records.services.calibrating import Who, calibrate, calibrations, output_on
from records.services.calibration_methods import Typed
from records.services.directory import Directory
from records.services.logbook import withdraw
from records.services.readiness import ready
from records.storage.integrity import verify

if TYPE_CHECKING:
    from records.domain.calibration import Output
    from tests.kit import Kit

SPOT: dict[str, Any] = {
    "method": "spot",
    "area": None,
    "equipment": "can-1",
    "spray": "0.1 gal",
    "rate": "0.6 fl oz/gal",
}


def done(kit: Kit, used: str = "1 gal", at: str | None = None, **who: str) -> str:
    """Log a refill over 1,000 sq ft; return its serial."""
    typed = Typed(area="1000 sq ft", used=used)
    return calibrate(kit.book, "can-1", "refill", typed, Who(at=at, **who), kit.clock).serial


def output(kit: Kit, day: str, person: str = "") -> Output | None:
    with kit.book.read() as work:
        found = Directory(work.catalogue).equipment("can-1")
        assert found is not None
        return output_on(work, found[0], date.fromisoformat(day), person)


def gallons(found: Output | None) -> Fraction:
    assert found is not None
    return found.rate.base * 1000 / 128


def test_a_calibration_is_sealed(kit: Kit) -> None:
    """It is kept with its inputs as typed, exact, by whom and with what; the book proves."""
    kit.set("2026-05-14T18:00")
    made = calibrate(
        kit.book,
        "can-1",
        "ounces",
        Typed(caught=("7 fl oz", "7 fl oz"), per_swath=2, swath="40 in", course="102 ft"),
        Who("ruth", "2026-05-14T07:00", "fan 8004", "40 psi"),
        kit.clock,
    )
    data = made.data
    assert data["output"]["exact"] == "175/544"  # 14 / 128 gal on 340 sq ft, x 1,000
    assert data["output"]["per_acre"] == "14.012868 gal/acre"
    assert data["inputs"] == {"caught": ["7 fl oz"] * 2, "per_swath": "2", "swath": "40 in", "course": "102 ft"}
    assert data["words"] == "can-1: 0.321691 gal/1000 sq ft, by ounces, fan 8004, 40 psi"
    assert made.before is not None
    assert made.change == "67.8 % less"
    assert not verify(kit.book).problems


def test_the_newest_not_later_than_the_day_counts(kit: Kit) -> None:
    """The log wins over the document from its day on; what is withdrawn counts no more."""
    kit.set("2026-06-30T18:00")
    first = done(kit, "2 gal", "2026-05-01T07:00")
    second = done(kit, "3 gal", "2026-06-01T07:00")
    assert output(kit, "2026-04-19") is None  # the document's own is of April 20
    assert [gallons(output(kit, f"2026-{day}")) for day in ("04-20", "04-30", "05-01", "05-31", "06-01")] == [
        1,
        1,
        2,
        2,
        3,
    ]
    found = output(kit, "2026-06-01")
    assert found is not None
    assert (found.serial, found.is_stale, found.words) == (second, False, f"calibrated 2026-06-01, {second}")
    withdraw(kit.book, kit.clock, second, "the cup leaked")
    assert gallons(output(kit, "2026-06-01")) == 2
    withdraw(kit.book, kit.clock, first, "the cup leaked")
    assert gallons(output(kit, "2026-06-01")) == 1


def test_a_document_loaded_later_wins_again(kit: Kit) -> None:
    """A loaded output of a later day than the log's last counts."""
    kit.set("2026-06-30T18:00")
    done(kit, "2 gal", "2026-05-01T07:00")
    kit.load(
        equipment=[
            {"id": "can-1", "name": "Can", "output": "5 gal/1000 sq ft", "calibrated_on": "2026-06-02"},
        ]
    )
    assert gallons(output(kit, "2026-06-01")) == 2
    assert gallons(output(kit, "2026-06-02")) == 5


def test_a_person_s_own_comes_first(kit: Kit) -> None:
    """A wand puts out what the person makes of it: their own fresh calibration is taken, else the newest."""
    kit.set("2026-06-30T18:00")
    done(kit, "2 gal", "2026-05-01T07:00", by="ruth")
    done(kit, "3 gal", "2026-05-02T07:00", by="emil")
    assert gallons(output(kit, "2026-06-01", "ruth")) == 2
    assert gallons(output(kit, "2026-06-01", "emil")) == 3
    assert gallons(output(kit, "2026-06-01", "tove")) == 3
    assert gallons(output(kit, "2026-06-01")) == 3


def test_a_change_of_nozzle(kit: Kit) -> None:
    """What was measured with another nozzle does not count, not even for the person who measured it."""
    kit.set("2026-06-30T18:00")
    done(kit, "2 gal", "2026-05-01T07:00", by="ruth", nozzle="fan 8004")
    done(kit, "3 gal", "2026-05-02T07:00", by="emil", nozzle="Fan  8006")
    done(kit, "3 gal", "2026-05-03T07:00", by="emil", nozzle="fan 8006")
    assert gallons(output(kit, "2026-06-01", "ruth")) == 3
    lines = calibrations(kit.book, kit.clock, "can-1")
    assert [(one.person, one.state, one.why) for one in lines] == [
        ("emil", "fresh", ""),
        ("ruth", "stale", "another nozzle since 2026-05-02"),
    ]
    kit.load(equipment=[{"id": "can-1", "name": "Can", "nozzle": "cone 2"}])
    found = output(kit, "2026-06-01")
    assert found is not None
    assert "the nozzle is cone 2 now" in found.words


def test_the_list(kit: Kit) -> None:
    """Missing, a day without an output, stale and fresh are told apart."""
    kit.load(
        equipment=[
            {"id": "bare", "name": "Bare"},
            {"id": "spread", "name": "Spreader", "kind": "spreader", "calibrated_on": "2026-04-01"},
            {"id": "old", "name": "Old", "output": "1 gal/1000 sq ft", "calibrated_on": "2024-04-01"},
        ]
    )
    lines = {one.equipment: one for one in calibrations(kit.book, kit.clock)}
    assert {key: one.state for key, one in lines.items()} == {
        "bare": "missing",
        "can-1": "fresh",
        "old": "stale",
        "spread": "fresh",
    }
    assert (str(lines["spread"].day), lines["spread"].output) == ("2026-04-01", None)
    with pytest.raises(NotFoundError, match="no equipment 'x'"):
        calibrations(kit.book, kit.clock, "x")


def test_who_and_what_has_to_be_known(kit: Kit) -> None:
    """Unknown equipment, people and products are refused; so is a day to come. Nothing is logged."""
    typed = Typed(area="1000 sq ft", used="1 gal")
    for equipment, who in (
        ("can-x", Who()),
        ("can-1", Who(by="nobody")),
        ("can-1", Who(product="nothing")),
    ):
        with pytest.raises(NotFoundError):
            calibrate(kit.book, equipment, "refill", typed, who, kit.clock)
    with pytest.raises(UsageError, match="future"):
        done(kit, at="2030-01-01T07:00")
    with kit.book.read() as work:
        assert not logbook.entries(work)


def test_spreaders_are_told_apart_by_product(kit: Kit) -> None:
    """A spreader puts out each product in its own way; the change is told to the same product's last."""
    kit.load(equipment=[{"id": "spread", "name": "Spreader", "kind": "spreader"}])

    def spread(used: str, product: str) -> calibrating.Calibrated:
        typed = Typed(area="1000 sq ft", used=used)
        return calibrate(kit.book, "spread", "coverage", typed, Who(product=product, setting="14"), kit.clock)

    assert spread("2 lb", "larkin-4").before is None
    assert spread("4 lb", "stickfast").change == "100 % more"
    assert spread("3 lb", "larkin-4").change == "50 % more"
    assert len(calibrations(kit.book, kit.clock, "spread")) == 2


# -- in records ------------------------------------------------------------------------------------------------------


def test_a_spot_is_estimated_by_the_log(kit: Kit) -> None:
    """The log's calibration wins over the document's, and the record says by which the area was estimated."""
    kit.set("2026-05-14T08:00")
    serial = done(kit, "2 gal", "2026-05-13T07:00", by="ruth")
    body = kit.sealed(**SPOT).body
    assert body is not None
    treatment = body["treatments"][0]
    assert (treatment["area"], treatment["area_source"]) == ("50 sq ft", "estimated")
    assert treatment["calibration"] == {
        "output": "2 gal/1000 sq ft",
        "on": "2026-05-13",
        "stale": False,
        "serial": serial,
        "by": "Ruth Sandahl",
        "words": f"calibrated 2026-05-13 by Ruth Sandahl, {serial}",
    }
    assert not verify(kit.book).problems


def test_a_record_without_an_estimate_says_nothing_of_calibration(kit: Kit) -> None:
    """Only what an area was estimated by is frozen."""
    body = kit.sealed().body
    assert body is not None
    assert "calibration" not in body["treatments"][0]


def test_the_log_is_read_only_for_an_estimate(kit: Kit, monkeypatch: pytest.MonkeyPatch) -> None:
    """Closing a visit whose areas are known asks the log of calibrations for nothing."""
    asked: list[str] = []
    real = logbook.entries

    def watched(*args: Any, **kwargs: Any) -> list[Any]:  # noqa: ANN401 - whatever is handed on
        asked.append("read")
        return real(*args, **kwargs)

    monkeypatch.setattr(calibrating, "entries", watched)
    kit.sealed()
    assert not asked
    kit.sealed("2026-08-14", **SPOT)
    assert asked == ["read"]


def test_an_amendment_keeps_the_calibration_of_then(kit: Kit) -> None:
    """A correction estimates by what the log held when the record was sealed, unless all is taken as it is now."""
    kit.set("2026-05-14T18:00")
    sealed = kit.sealed(**SPOT)
    assert sealed.serial is not None
    kit.set("2026-05-15T08:00")
    done(kit, "2 gal", "2026-05-13T07:00", by="ruth")
    document = dict(sealed.body["document"]) if sealed.body else {}
    why = Why("a remark", "ruth", "")
    first = amend(kit.book, sealed.serial, document | {"remarks": "gate was open"}, why, kit.clock)
    assert first.body is not None
    assert first.body["treatments"][0]["area"] == "100 sq ft"
    second = amend(kit.book, sealed.serial, document | {"remarks": "gate shut"}, why, kit.clock, newest=True)
    assert second.body is not None
    assert second.body["treatments"][0]["area"] == "50 sq ft"


def test_a_withdrawal_after_the_seal_does_not_reach_back(kit: Kit) -> None:
    """What counted when the record was sealed still counts for its correction."""
    kit.set("2026-05-14T08:00")
    serial = done(kit, "2 gal", "2026-05-13T07:00", by="ruth")
    kit.set("2026-05-14T18:00")
    sealed = kit.sealed(**SPOT)
    assert sealed.serial is not None
    kit.set("2026-05-15T08:00")
    withdraw(kit.book, kit.clock, serial, "wrong can")
    document = dict(sealed.body["document"]) if sealed.body else {}
    again = amend(kit.book, sealed.serial, document | {"remarks": "x"}, Why("a remark", "ruth", ""), kit.clock)
    assert again.body is not None
    assert again.body["treatments"][0]["area"] == "50 sq ft"


def test_ready_names_what_was_used_uncalibrated(kit: Kit) -> None:
    """Loaded equipment that was used without a calibration that counts is told, once, and is not wrong."""
    kit.load(
        equipment=[
            {"id": "can-2", "name": "Spare can"},
            {"id": "can-3", "name": "Old can", "output": "1 gal/1000 sq ft", "calibrated_on": "2024-04-01"},
            {"id": "can-4", "name": "Unused can"},
            {"id": "spread", "name": "Spreader", "kind": "spreader", "calibrated_on": "2024-04-01"},
        ]
    )
    for number, machine in enumerate(("can-1", "can-2", "can-3", "spread", "a can not loaded")):
        kit.sealed(ref=f"r{number}", equipment=machine, rate="0.1 fl oz/1000 sq ft")
    (group,) = (one for one in ready(kit.book, kit.clock).groups if one.key == "calibration")
    assert not group.wrong
    assert [gap.subject for gap in group.gaps] == ["can-2", "can-3", "spread"]
    assert "no calibration is logged or loaded" in group.gaps[0].what
    assert "days old" in group.gaps[1].what
    assert group.gaps[0].do == "swathbook calibrate can-2 METHOD"


def catches(kit: Kit, *caught: str, together: bool = False, per_swath: int | None = None) -> Any:  # noqa: ANN401 - what was logged, with its notes
    typed = Typed(caught=caught, swath="40 in", course="102 ft", together=together, per_swath=per_swath)
    return calibrate(kit.book, "can-1", "ounces", typed, Who(), kit.clock)


def test_catches_of_several_nozzles_are_averaged_or_added_and_said(kit: Kit) -> None:
    """Each over a swath of its own: 7 and 9 fl oz are 8 GPA; all of one swath: 16 GPA (1/128 acre, fl oz = GPA)."""
    kit.set("2026-05-14T18:00")
    each, both = catches(kit, "7 fl oz", "9 fl oz"), catches(kit, "7 fl oz", "9 fl oz", together=True)
    acre = [Fraction(one.data["output"]["per_acre"].split()[0]) for one in (each, both)]
    assert acre[1] == 2 * acre[0]
    assert abs(acre[0] - 8) < Fraction(1, 20)
    assert "they are added, not averaged: --together" in each.hint
    assert any("mean of 2 nozzles, each over a swath of its own" in step for step in each.data["steps"])
    assert both.hint == ""
    assert any("sum of 2 nozzles over one swath" in step for step in both.data["steps"])
    with pytest.raises(UsageError, match="leave --per-swath out"):
        catches(kit, "7 fl oz", "9 fl oz", together=True, per_swath=2)


@pytest.mark.parametrize(
    ("method", "typed", "told"),
    [
        ("catch", Typed(caught=("2 lb",), area="500 sq ft"), "puts out spray; catch measures granules by weight"),
        ("refill", Typed(area="1000 sq ft", used="1 gal"), ""),
    ],
)
def test_a_sprayer_takes_no_granules(kit: Kit, method: str, typed: Typed, told: str) -> None:
    kit.set("2026-05-14T18:00")
    if told:
        with pytest.raises(UsageError, match=told):
            calibrate(kit.book, "can-1", method, typed, Who(), kit.clock)
        with kit.book.read() as work:
            assert not logbook.entries(work, "calibration")
    else:
        assert calibrate(kit.book, "can-1", method, typed, Who(), kit.clock).serial


@pytest.mark.parametrize(
    ("method", "typed", "note"),
    [
        ("refill", Typed(area="1000 sq ft", used="100 gal"), "hardly an output on a lawn"),
        ("refill", Typed(area="1000 sq ft", used="0.01 gal"), "hardly an output on a lawn"),
        (
            "boom",
            Typed(caught=("30 fl oz",), seconds="60 s", spacing="20 in", speed="300 mph"),
            "300 mph is hardly a speed of work on the ground",
        ),
    ],
)
def test_what_is_hardly_so_is_noted_and_kept(kit: Kit, method: str, typed: Typed, note: str) -> None:
    kit.set("2026-05-14T18:00")
    made = calibrate(kit.book, "can-1", method, typed, Who(), kit.clock)
    assert any(note in one for one in made.notes), made.notes
    with kit.book.read() as work:
        assert [one.serial for one in logbook.entries(work, "calibration")] == [made.serial]


def test_more_than_the_tank_holds_is_noted(kit: Kit) -> None:
    """Caught or put out; as much as it holds is not more."""
    kit.load(equipment=[{"id": "small", "name": "Small can", "kind": "hand can", "tank": "2 gal"}])

    def noted(**typed: Any) -> str:  # noqa: ANN401 - what `Typed` takes
        made = calibrate(kit.book, "small", "refill", Typed(area="1000 sq ft", **typed), Who(), kit.clock)
        return "; ".join(made.notes)

    assert noted(used="2 gal") == ""
    assert noted(used="3 gal") == "3 gal used is more than small holds, 2 gal"
    assert noted(before="2.5 gal", left="1 gal") == "2.5 gal at first is more than small holds, 2 gal"


def test_spray_on_a_spreader_is_refused_and_hides_nothing(kit: Kit) -> None:
    """Neither where it is tried, nor where the log has one from before: the granules count on."""
    spread = {"id": "spread", "name": "Spreader", "kind": "spreader"}
    kit.load(equipment=[spread | {"kind": "walker"}])  # of a kind that says nothing
    spray = Typed(area="1000 sq ft", used="1 gal")
    granules = calibrate(kit.book, "spread", "coverage", Typed(area="1000 sq ft", used="2 lb"), Who(), kit.clock)
    later = calibrate(kit.book, "spread", "refill", spray, Who(), kit.clock)
    kit.load(equipment=[spread])
    with pytest.raises(UsageError, match=r"spread \(spreader\) puts out granules; refill measures spray"):
        calibrate(kit.book, "spread", "refill", spray, Who(), kit.clock)
    found = {one.output.serial: one for one in calibrations(kit.book, kit.clock, "spread") if one.output}
    assert (found[granules.serial].state, found[granules.serial].why) == ("fresh", "")
    assert found[later.serial].why == "not of a spreader"
    with kit.book.read() as work:
        machine = Directory(work.catalogue).equipment("spread")
        assert machine is not None
        known = calibrating.output_on(work, machine[0], date.fromisoformat("2026-12-31"))
    assert known is not None
    assert known.serial == granules.serial


@pytest.mark.parametrize(("pressure", "is_one"), [("40 psi", True), ("2.8 bar", True), ("forty", False), ("40", False)])
def test_a_pressure_has_a_number_and_a_unit(kit: Kit, pressure: str, *, is_one: bool) -> None:
    kit.set("2026-05-14T18:00")
    if is_one:
        assert done(kit, pressure=pressure)
    else:
        with pytest.raises(UsageError, match="is no pressure with its unit"):
            done(kit, pressure=pressure)
