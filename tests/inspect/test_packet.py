"""The packet as a model: what its tables and records say, before anything is drawn."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.packet_model import FIELD_CODES, NO, NOT_ASKED, YES, PacketModel, RecordPart
from records.rules.fields import FIELDS
from records.services.inspecting.facts import BY_KEY
from records.services.inspecting.gather import Use, nano
from records.services.inspecting.packet import open_packet
from records.services.inspecting.request import Request
from records.services.inspecting.tables import day_ranges, share
from records.services.summarising import NANO
from tests.inspect.conftest import revise
from tests.kit import Kit

if TYPE_CHECKING:
    from pathlib import Path


def packet(kit: Kit, request: Request | None = None) -> tuple[PacketModel, dict[str, RecordPart]]:
    """Return a packet: its model, and its records by the last digit of the serial."""
    with kit.book.read() as work:
        made = open_packet(work, request or Request())
        model = made.gather(date(2026, 7, 15))
        return model, {part.serial[-1]: part for part in made.records()}


def rows(model: PacketModel, key: str) -> list[tuple[str, ...]]:
    """Return the rows of a table."""
    return list(model.table(key).rows)


def test_every_field_of_the_rules_has_a_code_and_a_reading() -> None:
    """A field nobody can read would seem to be missing; two fields with one code could not be told apart."""
    assert set(FIELD_CODES) == set(FIELDS)
    assert len(set(FIELD_CODES.values())) == len(FIELD_CODES)
    assert set(FIELDS) <= set(BY_KEY)


def test_the_counts_of_the_cover(kit: Kit) -> None:
    """Counted by hand from what the book was filled with; the voided record's three lines are no applications."""
    model, _ = packet(kit)
    assert {fact.label: fact.value for fact in model.counts} == {
        "Records": "8",
        "Applications": "7",
        "Incomplete": "2",
        "Late": "1",
        "Deviations": "1",
        "Amended": "2",
        "Voided": "1",
        "Still held": "1",
    }
    with kit.book.read() as work:
        assert model.last_seal == work.records.head()


def test_what_is_not_complete_is_told_with_its_rule(kit: Kit) -> None:
    """Missing with citation and status, late with the clock that was missed, no label revision, and what is held."""
    told = [(row[0], row[2], row[3]) for row in rows(packet(kit)[0], "not_complete")]
    assert told[0][0] == "2026-000004"
    assert told[0][1] == "completed late by 23 days; it was due 2026-06-01 23:59 (UTC-05:00)"
    assert told[0][2].startswith("common: ")
    assert told[1][:2] == ("2026-000007", "missing: the air temperature, stated: thermometer broke")
    assert told[2] == (
        "2026-000008",
        "missing: the air temperature; the direction the wind comes FROM",
        "us-mn: Minn. Stat. 18B.37 subd. 2 (verified)",
    )
    assert told[3][1] == "no label revision is recorded for Brindle 4L"
    assert told[4][0] == "H-000001"
    assert told[4][1].startswith("held, not sealed at mill-9: Larkin 4: 3 fl oz/1000 sq ft is over the label's maximum")


def test_held_entries_are_those_of_the_question(kit: Kit) -> None:
    """Other days, another site, another customer or person leave an entry out."""

    def held(request: Request) -> list[str]:
        return [row[0] for row in rows(packet(kit, request)[0], "not_complete") if row[0].startswith("H-")]

    june = Request(since=date(2026, 6, 1), until=date(2026, 6, 30))
    assert held(june) == ["H-000001"]
    assert held(Request(site="mill-9")) == ["H-000001"]
    assert held(Request(customer="Lise")) == ["H-000001"]
    assert held(Request(person="Ruth")) == ["H-000001"]
    assert held(Request(until=date(2026, 6, 1))) == []
    assert held(Request(site="odd-1")) == []
    assert held(Request(customer="odd")) == []
    assert held(Request(person="Mo Tarn")) == []
    assert held(Request(serials=("2026-000001",))) == []


def test_the_matrix_holds_each_record_and_field(kit: Kit) -> None:
    """Held, missing, and not asked; the two packs ask for different fields."""
    model, _ = packet(kit)
    table = model.table("completeness")
    keys = [column.key for column in table.columns]
    found = {row[0][-1]: dict(zip(keys, row, strict=True)) for row in table.rows}
    assert list(found) == list("12345678")
    assert found["1"]["temperature"] == YES
    assert found["7"]["temperature"] == found["8"]["temperature"] == found["8"]["wind_direction"] == NO
    assert found["8"]["start_time"] == NOT_ASKED
    assert found["1"]["start_time"] == YES
    assert found["8"]["business_address"] == YES
    assert [found[number]["standing"] for number in "234567"] == [
        "amended",
        "deviation",
        "late",
        "amended",
        "voided",
        "incomplete",
    ]
    assert table.codes == {key: FIELD_CODES[key] for key in keys[3:]}


def test_the_records_stand_in_the_order_of_their_rule(kit: Kit) -> None:
    """The pack's own field order; the facts no rule asks for come after; what is missing says so."""
    _, parts = packet(kit)
    assert [fact.label for fact in parts["8"].rule][:6] == [
        "Date",
        "End",
        "Product",
        "Registration number",
        "Rate",
        "Treated area",
    ]
    assert parts["8"].judged_by == "us-mn 1"
    missing = {fact.label: fact.value for fact in parts["8"].rule if fact.missing}
    assert missing == {"Temperature": "not recorded", "Wind from": "not recorded"}
    assert parts["7"].state == "incomplete"
    stated = next(fact for fact in parts["7"].rule if fact.missing)
    assert stated.value == "not measured: thermometer broke (INCOMPLETE)"
    assert not {fact.label for fact in parts["8"].rule} & {fact.label for fact in parts["8"].other}


def test_several_treatments_and_products_are_marked(kit: Kit) -> None:
    """A and B for treatments, 1 and 2 for products; one row in the sheets for each product."""
    part = packet(kit)[1]["6"]
    facts = {fact.label: fact.value for fact in (*part.rule, *part.other)}
    assert facts["Product"] == "A1: Larkin 4; A2: Stickfast; B1: Larkin 4"
    assert facts["Method"] == "A: broadcast; B: spot"
    assert facts["Applied by"] == "Ruth Sandahl"
    assert len(part.applications) == 3


def test_all_revisions_are_told(kit: Kit) -> None:
    """Each sealed text with its seal, who changed it, why, and what was said before."""
    model, parts = packet(kit)
    first, second = parts["2"].revisions
    assert (first.number, first.action, first.changes) == (1, "sealed", ())
    assert (second.number, second.action, second.reason) == (2, "amended", "wrong gate")
    assert second.who.startswith("Ruth Sandahl, MN-C-5501")
    assert [(one.what, one.before, one.after) for one in second.changes] == [
        ("Remarks", "gate was open", "gate was shut")
    ]
    assert parts["2"].state == "amended"
    assert parts["6"].state == "voided"
    assert [revision.action for revision in parts["6"].revisions] == ["sealed", "voided"]
    told = [(row[0][-1], row[1], row[2]) for row in rows(model, "revisions")]
    assert told == [
        ("2", "1", "sealed"),
        ("2", "2", "amended"),
        ("5", "1", "sealed"),
        ("5", "2", "amended"),
        ("6", "1", "sealed"),
        ("6", "2", "voided"),
    ]
    with kit.book.read() as work:
        seals = [revision.seal for revision in work.records.revisions("2026-000002")]
    assert [revision.seal for revision in parts["2"].revisions] == seals


def test_an_amendment_that_changes_much(tmp_path: Path) -> None:
    """Every fact that differs is told, and none that does not."""
    kit = Kit.at(tmp_path)
    serial = str(kit.sealed().serial)
    with kit.book.read() as work:
        treatments = work.records.revisions(serial)[-1].body["treatments"]
    treatments[0]["applications"][0] |= {"lot": "L99", "amount": "2.9 fl oz"}
    revise(kit, serial, "amended", "lot misread", treatments=treatments, incident="a cat on the lawn")
    changes = packet(kit)[1]["1"].revisions[-1].changes
    assert [(one.what, one.before, one.after) for one in changes] == [
        ("Incident", "not recorded", "a cat on the lawn"),
        ("Product put out", "3 fl oz", "2.9 fl oz"),
        ("Lot", "L77", "L99"),
    ]


def test_deviations_carry_their_signature(kit: Kit) -> None:
    """What was broken, why, who signed, and under which licence; in the table and in the record."""
    model, parts = packet(kit)
    ((serial, day, broken, reason, name, licence),) = rows(model, "deviations")
    assert (serial, day, reason, name) == ("2026-000003", "2026-05-27", "ran on", "Ruth Sandahl")
    assert broken.startswith("Larkin 4: 1.2 fl oz/1000 sq ft is over the label's maximum")
    assert licence == "MN-C-5501, certified, MN, 2025-01-01 to 2030-12-31"
    assert parts["3"].deviation[-1] == f"Signed for by {name}, licence {licence}"
    assert ("2026-000003", "over-rate", "stop") in [(row[0], row[2], row[3]) for row in rows(model, "findings")]


def test_licences_are_told_for_the_days_of_the_work(kit: Kit, tmp_path: Path) -> None:
    """Who, under what, and whether it was valid on each day; a licence that was not is named."""
    licences = {row[0]: row for row in rows(packet(kit)[0], "licences")}
    assert licences["Ruth Sandahl"][6:] == (
        "yes",
        "7",
        "2026-05-04, 2026-05-26 to 2026-05-27, 2026-06-01 to 2026-06-04",
    )
    (tmp_path / "other").mkdir()
    other = Kit.at(tmp_path / "other")
    serial = str(other.sealed().serial)
    with other.book.read() as work:
        person = work.records.revisions(serial)[-1].body["applicator"]
    lapsed = person | {"licence": person["licence"] | {"to": "2026-05-13"}}
    revise(other, serial, "amended", "licence misread", applicator=lapsed)
    model, _ = packet(other)
    assert rows(model, "licences")[0][6] == "NO: 2026-05-14"
    assert "was not valid on that day" in rows(model, "not_complete")[0][2]


def test_label_revisions_name_their_records(kit: Kit) -> None:
    """Which revision judged which record; one that was not recorded says so."""
    told = {row[0]: row[2:] for row in rows(packet(kit)[0], "labels")}
    assert told["Larkin 4"] == ("2025-10", "7", "2026-000001 to 2026-000007")
    assert told["Brindle 4L"] == ("NOT RECORDED", "1", "2026-000008")


def test_season_totals_and_days_between(kit: Kit) -> None:
    """By hand: 3 and 2 fl oz of a product with 4 lb/gal (128 fl oz) on one zone of 4,000 sq ft, 22 days apart."""
    model, _ = packet(kit)
    keys = [column.key for column in model.table("active_totals").columns]
    totals = [dict(zip(keys, row, strict=True)) for row in rows(model, "active_totals")]
    front = next(row for row in totals if row["site"].startswith("9 Mill") and row["zone"] == "front")
    pounds = Fraction(5 * 4, 128)
    assert (front["visits"], front["least_days"], front["zone_sq_ft"], front["basis"]) == (
        "2",
        "22",
        "4000",
        "acid equivalent",
    )
    assert abs(Fraction(front["pounds"]) - pounds) < Fraction(1, 10_000)
    assert abs(Fraction(front["lb_per_acre"]) - pounds * 43_560 / 4_000) < Fraction(1, 1000)
    visits = [row for row in rows(model, "active_visits") if row[0].startswith("9 Mill") and row[1] == "front"]
    assert [(row[3], row[9]) for row in visits] == [("2026-05-04", ""), ("2026-05-26", "22")]
    assert len(rows(model, "active_visits")) == len(model.table("active_visits").rows) == 7
    assert len(rows(model, "active_totals")) == len(model.table("active_totals").rows)


def test_a_treatment_of_several_zones_is_shared_by_area() -> None:
    """A third of the ground gets a third of the active; where an area is not known, nothing is made up."""
    thousand = 1000 * NANO
    assert share(Use("2026-05-14", "s", 3 * NANO, thousand, 3 * thousand)) == 1
    assert share(Use("2026-05-14", "s", 3 * NANO, thousand, thousand)) == 3
    assert share(Use("2026-05-14", "s", 3 * NANO, None, 3 * thousand)) is None
    assert share(Use("2026-05-14", "s", None, thousand, thousand)) is None
    assert nano("4200.5 sq ft") == 4_200_500_000_000
    assert nano("about 4200 sq ft") is nano(None) is None


def test_runs_of_days_are_folded() -> None:
    """Over the end of a month, too; a month's total stays as it is."""
    assert day_ranges(["2026-05-31", "2026-06-01", "2026-06-03", "2026-07"]) == (
        "2026-05-31 to 2026-06-01, 2026-06-03, 2026-07"
    )


def test_an_empty_answer_is_an_answer(kit: Kit) -> None:
    """Nothing found: every table is there, and empty; nothing is not complete."""
    model, parts = packet(kit, Request(since=date(2025, 1, 1), until=date(2025, 12, 31)))
    assert parts == {}
    assert {fact.value for fact in model.counts} == {"0"}
    assert [table.key for table in model.tables if len(table.rows)] == []


def test_the_rules_are_told_with_version_citation_and_status(kit: Kit) -> None:
    """Each source that what was asked rests on, once, with how it is known."""
    told = rows(packet(kit)[0], "rules")
    assert {(row[0], row[3]) for row in told} == {("common", "7"), ("us-mn", "1")}
    assert ("us-mn", "1", "Minn. Stat. 18B.37 subd. 2", "verified") in [(r[0], r[1], r[4], r[5]) for r in told]
    assert len(told) == len(set(told))
