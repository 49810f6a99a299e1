"""What rule packs ask of a visit being closed, state by state, each named by its source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from records.rules.asking import asked_fields
from records.rules.packs import newest, pack_ids, versions_of
from records.rules.visit_parts import visit_parts
from records.services.advance import log_contact
from records.services.body_parts import parts_of_body
from records.services.closing.reading import read_visit
from records.services.directory import Directory
from tests.kit import ABSENT, BUSINESS, PEOPLE, PRODUCTS, SITES, Kit, codes, of, visit, zone_treatment

if TYPE_CHECKING:
    from records.rules.pack import Pack
    from records.services.closing.service import Outcome


def move(kit: Kit, state: str, *names: str, **business: object) -> None:
    """Put the kit's first site, its firm and its people into a state that keeps these packs."""
    people = [
        person
        | {"licences": [one | {"state": state, "number": f"{state}-{one['number']}"} for one in person["licences"]]}
        for person in PEOPLE
    ]
    kit.load(
        business=BUSINESS | {"state": state, "packs": list(names)} | business,
        people=people,
        sites=[SITES[0] | {"state": state}],
    )


def missing(outcome: Outcome, severity: str = "") -> set[str]:
    """Return the places where something is missing."""
    return {
        finding["at"]
        for finding in outcome.findings
        if finding["code"] == "missing" and severity in {"", finding["severity"]}
    }


NO_WEATHER: dict[str, Any] = {"wind_speed": ABSENT, "wind_from": ABSENT, "temperature": ABSENT, "measured_at": ABSENT}


def test_new_york_wants_no_weather_and_no_end(kit: Kit) -> None:
    """ECL 33-1205 asks for neither; a firm there is not held for what its rule does not ask."""
    move(kit, "NY", "us-ny")
    assert kit.close(**NO_WEATHER, finished=ABSENT).status == "sealed"


def test_minnesota_wants_wind_and_says_where_that_stands(kit: Kit) -> None:
    """Minn. Stat. 18B.37 subd. 2; the finding names field, rule and citation."""
    move(kit, "MN", "us-mn")
    held = kit.close(wind_speed=ABSENT)
    assert missing(held, "stop") == {"weather.wind_speed"}
    told = of(held, "missing")
    assert "the wind speed is missing, and us-mn asks for it" in told["message"]
    assert told["limit"] == "wind_speed"
    assert told["source"] == "us-mn: Minn. Stat. 18B.37 subd. 2 (verified)"


def test_minnesota_does_not_want_the_target(kit: Kit) -> None:
    """It is said that the label's targets cannot be looked at, and the record is sealed."""
    move(kit, "MN", "us-mn")
    done = kit.close(targets=ABSENT)
    assert done.status == "sealed"
    assert of(done, "not-checkable")["at"] == "treatments[0].targets"


def test_georgia_takes_area_or_amount_and_wants_an_answer_about_incidents(kit: Kit) -> None:
    """Ga. R. 40-21-5-.02: area OR total amount; unexpected occurrences are part of the record."""
    move(kit, "GA", "us-ga")
    only_amount: dict[str, Any] = {
        "area": ABSENT,
        "rate": ABSENT,
        "amount": "3 fl oz",
        "spray": "4 gal",
        "equipment": "can-1",
        "confirmed": ["not-checkable"],
    }
    assert kit.close(**only_amount, incident="none").status == "sealed"
    only_area: dict[str, Any] = {"equipment": "can-1", "incident": "none", "on": "2026-06-20"}
    assert kit.close(**only_area).status == "sealed"
    held = kit.close(on="2026-07-20", equipment="can-1")
    assert missing(held, "stop") == {"incident"}


def test_wisconsin_takes_concentration_and_total_or_rate_and_area(kit: Kit) -> None:
    """ATCP 29.21: either pair is whole; half of each is not."""
    move(kit, "WI", "us-wi")
    assert kit.close().status == "sealed"
    other: dict[str, Any] = {
        "area": ABSENT,
        "rate": ABSENT,
        "amount": "3 fl oz",
        "spray": "4 gal",
        "confirmed": ["not-checkable"],
    }
    assert kit.close(on="2026-06-20", **other).status == "sealed"
    held = kit.close(on="2026-07-20", area=ABSENT, rate=ABSENT, amount="3 fl oz")
    assert "missing" in codes(held, "stop")


def test_ohio_takes_a_reason_where_wind_does_not_apply(kit: Kit) -> None:
    """OAC 901:5-11-10 asks for weather "when applicable": a reason answers, a blank does not."""
    move(kit, "OH", "us-oh")
    full: dict[str, Any] = {"equipment": "can-1", "spray": "4 gal"}
    reasons: dict[str, str] = dict.fromkeys(("wind_speed", "wind_from", "temperature"), "granules under a roofed walk")
    assert kit.close(**full, **NO_WEATHER, not_measured=reasons).status == "sealed"
    held = kit.close(on="2026-06-20", **full, **NO_WEATHER)
    assert missing(held, "stop") == {"weather.wind_speed", "weather.wind_from", "weather.temperature"}


def test_where_wind_is_plainly_asked_a_reason_is_a_question(kit: Kit) -> None:
    """Minnesota's text knows no "when applicable": it is asked, and shown on the record."""
    move(kit, "MN", "us-mn")
    held = kit.close(wind_speed=ABSENT, not_measured={"wind_speed": "meter broken"})
    assert missing(held, "ask") == {"weather.wind_speed"}
    assert kit.close(wind_speed=ABSENT, not_measured={"wind_speed": "meter broken"}, confirmed=["missing"]).serial


def test_colorado_wants_undiluted_said(kit: Kit) -> None:
    """8 CCR 1203-2 part 6: undiluted use has to be entered as such; a blank is not the same as none."""
    move(kit, "CO", "us-co")
    assert "treatments[0].products[0].rate" in missing(kit.close(), "stop")
    assert kit.close(on="2026-06-20", dilution="undiluted").status == "sealed"
    assert kit.close(on="2026-07-20", spray="4 gal").status == "sealed"


def test_what_is_known_from_memory_only_asks(kit: Kit) -> None:
    """Washington's statute was not seen: its wind asks, and its verified times stop."""
    move(kit, "WA", "us-wa")
    held = kit.close(wind_speed=ABSENT, finished=ABSENT)
    assert "weather.wind_speed" in missing(held, "ask")
    assert "finished" in missing(held, "stop")


def test_two_packs_for_one_visit_are_both_cited(kit: Kit) -> None:
    """Restricted use in Minnesota: the state and the federal rule both want the customer; one finding names both."""
    move(kit, "MN", "us-mn")
    customers = [{"id": "aune", "name": "Lise Aune", "phone": "612-555-0133"}]
    kit.load(customers=customers)
    held = kit.close(product="torvane-r", rate="0.9 fl oz/1000 sq ft")
    (told,) = [finding for finding in held.findings if finding["code"] == "missing"]
    assert "us-mn and us-40cfr171 ask for it" in told["message"]
    assert "18B.37" in told["source"]
    assert "40 CFR 171" in told["source"]


HOUSE = {
    "id": "otter-house",
    "version": "1",
    "title": "House rules",
    "jurisdiction": "US",
    "sources": {"handbook": {"citation": "Handbook page 3"}},
    "fields": [{"field": "equipment", "source": "handbook"}],
    "complete": {"within": "4 hours", "source": "handbook"},
}


def test_a_firm_writes_an_overlay_that_only_adds(kit: Kit) -> None:
    """Its own field stops too, beside the state's; the record names both packs; a later version judges later days."""
    kit.load(packs=[HOUSE], business=BUSINESS | {"packs": ["us-mn", "otter-house"]})
    held = kit.close()
    assert missing(held, "stop") == {"treatments[0].equipment"}
    assert of(held, "missing")["source"] == "otter-house: Handbook page 3 (the firm's own rule)"
    done = kit.close(equipment="can-1")
    assert done.body is not None
    assert done.body["packs"] == [{"id": "us-mn", "version": "1"}, {"id": "otter-house", "version": "1"}]
    newer = HOUSE | {"version": "2", "fields": [{"field": "incident", "source": "handbook"}]}
    kit.load(packs=[newer | {"effective_from": "2026-06-01"}])
    assert missing(kit.close(on="2026-06-20")) == {"incident"}
    assert kit.close(on="2026-05-30", equipment="can-1", area="300 sq ft").status == "sealed"


def test_a_pack_nobody_knows_is_refused_at_loading(kit: Kit) -> None:
    """With the place and what was meant."""
    with pytest.raises(AssertionError, match=r"business\.packs\[0\]: 'us-mm' is no pack.*did you mean us-m"):
        kit.load(business=BUSINESS | {"packs": ["us-mm"]})


@pytest.mark.parametrize(
    ("names", "now", "due"),
    [
        # Minn. Stat. 18B.37: five days; Wisconsin ATCP 29.21: the same day; 7 Pa. Code 128.35: 24 hours.
        ("us-mn", "2026-05-19T23:59", None),
        ("us-mn", "2026-05-20T00:00", "2026-05-20T04:59:59.000000Z"),
        ("us-wi", "2026-05-14T23:59", None),
        ("us-wi", "2026-05-15T00:00", "2026-05-15T04:59:59.000000Z"),
        ("us-pa", "2026-05-15T09:31", None),
        ("us-pa", "2026-05-15T09:33", "2026-05-15T14:32:00.000000Z"),
    ],
)
def test_late_is_by_the_clock_of_the_rule(kit: Kit, names: str, now: str, due: str | None) -> None:
    """The last second of the last day still counts; the moment of entry stays what it is."""
    move(kit, names[3:].upper(), names)
    done = kit.close(now=now, spray="4 gal", equipment="can-1")
    assert done.status == "sealed", done.findings
    assert done.body is not None
    assert ("late" in codes(done)) == (due is not None)
    assert (done.body["late"] or {}).get("due") == due
    assert (done.body["late"] or {}).get("by") == (None if due is None else [names])
    with kit.book.read() as work:  # a summary names it by the same clock
        assert [row.serial for row in work.records.summary(2026).flagged] == ([done.serial] if due else [])
    assert done.body["entered_at"] > done.body["finished"]["utc"]


# A whole record: everything that any rule asks for, said.
WHOLE: dict[str, Any] = {
    "equipment": "can-1",
    "spray": "4 gal",
    "incident": "none",
    "permit": "none: county not regulated",
    "supplier": "Prairie Turf Supply",
    "product": "torvane-r",
    "rate": "0.9 fl oz/1000 sq ft",
}


@pytest.mark.parametrize("key", [key for key in pack_ids() if key.startswith("us-")])
def test_a_whole_record_lacks_nothing_of_any_pack(kit: Kit, key: str) -> None:
    """Sealed without a question about anything missing; years later the sealed record is judged the same."""
    state = newest(key).state or "MN"
    move(kit, state, key, insurer="Prairie Mutual", insured="1,000,000 USD")
    product = next(one for one in PRODUCTS if one["id"] == "torvane-r")
    kit.load(products=[product | {"maker": "Torvane Works"}])
    day = "2025-05-14" if key == "us-7cfr110" else "2026-05-14"
    done = kit.close(on=day, **WHOLE)
    assert missing(done) == set()
    assert done.status == "sealed", done.findings
    body = done.body or {}
    packs = tuple(_pack(entry) for entry in body["packs"])
    assert all(asked_fields(parts_of_body(body), packs).values())


def _pack(entry: dict[str, str]) -> Pack:
    return next(pack for pack in versions_of(entry["id"]) if pack.version == entry["version"])


@pytest.mark.parametrize(
    "changes",
    [
        {},
        WHOLE,
        {"product": "ambrel-g", "rate": "3 lb/1000 sq ft"},
        {"method": "spot", "rate": "0.5 fl oz/gal", "spray": "0.5 gal", "area": "400 sq ft"},
        {"rest": [zone_treatment(zones=["side"], product="sedger-75", rate="0.02 oz wt/1000 sq ft", area="900 sq ft")]},
        {"applicator": "emil", "supervisor": "ruth"},
        {"product": "clove-mix", "rate": "8 fl oz/1000 sq ft", "dilution": "undiluted"},
        NO_WEATHER
        | {"not_measured": {"wind_speed": "x", "wind_from": "x", "temperature": "x"}, "confirmed": ["missing"]},
    ],
    ids=["plain", "whole", "granule", "spot", "two", "supervised", "minimum-risk", "unmeasured"],
)
def test_a_sealed_record_tells_what_the_visit_told(kit: Kit, changes: dict[str, Any]) -> None:
    """The parts read out of the body are those that the visit was judged by."""
    done = kit.sealed(**({"confirmed": ["missing", "same-day", "not-checkable", "target-not-listed"]} | changes))
    with kit.book.read() as work:
        typed, _ = read_visit(visit(**changes), Directory(work.catalogue))
    told, kept = visit_parts(typed), parts_of_body(done.body or {})
    hidden = {"supervisor", "applicator_licence"}  # licences are looked up anew for a visit
    assert told.visit.has - hidden == kept.visit.has - hidden
    assert told.visit.true == kept.visit.true
    for one, other in zip(told.treatments, kept.treatments, strict=True):
        assert (one.part.has, one.part.true) == (other.part.has, other.part.true)
        assert [(line.at, line.has, line.true) for line in one.lines] == [
            (line.at, line.has, line.true) for line in other.lines
        ]


def test_licence_findings_cite_the_rule(kit: Kit) -> None:
    """Who asks for the number of the licence is named where one is lacking."""
    move(kit, "MN", "us-mn")
    held = kit.close(applicator="nils")
    assert of(held, "licence-missing")["source"].startswith("us-mn: Minn. Stat. 18B.37 subd. 2")


def test_new_york_neighbours_are_told_in_writing(kit: Kit) -> None:
    """N.Y. ECL 33-1005: abutters get it in writing, 48 hours before; a call alone leaves the question open."""
    move(kit, "NY", "us-ny")
    neighbour = {"id": "vik", "name": "Vik Osei", "why": "abutting", "lead": "48 hours"}
    kit.load(sites=[SITES[0] | {"state": "NY", "notify": [neighbour]}])
    kit.set("2026-05-11T09:00")
    log_contact(kit.book, kit.clock, "mill-9", "vik", day="2026-05-14", how="phone", result="reached")
    held = kit.close()
    assert "told, but not in writing" in of(held, "not-notified")["message"]
    kit.set("2026-05-11T09:30")
    log_contact(kit.book, kit.clock, "mill-9", "vik", day="2026-05-14", how="door", result="left-note")
    assert kit.close(ref="again").status == "sealed"


def test_a_rule_is_not_cited_for_what_it_does_not_ask(kit: Kit) -> None:
    """4 TAC 7.33 wants the certified person's number; of a supervised helper without a licence it asks none."""
    move(kit, "TX", "us-tx-ag")
    helped = kit.close(applicator="nils", supervisor="ruth")
    assert "7.33" not in of(helped, "licence-missing")["source"]
    alone = kit.close(on="2026-06-20", applicator="nils")
    assert "7.33" in of(alone, "licence-missing")["source"]


def test_handing_over_late_is_late(kit: Kit) -> None:
    """Arizona R3-8-501: to the business within five business days, which the entry in the book is."""
    move(kit, "AZ", "us-az")
    # 14 May 2026 is a Thursday: the fifth business day after it is Thursday the 21st
    assert "late" not in codes(kit.close(now="2026-05-21T23:00"))
    late = kit.close(on="2026-06-11", now="2026-06-19T08:00")  # the fifth ended on Thursday the 18th
    assert "late" in codes(late)


def test_a_question_mark_is_no_weed(kit: Kit) -> None:
    """What lists the choices elsewhere does not become a target of a sealed record."""
    assert of(kit.close(targets=["?"]), "not-understood")["at"] == "treatments[0].targets"
