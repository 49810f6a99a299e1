"""What a sealed record says: amounts worked out, shares of a load, times, and many visits at once."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest

from records.domain.quantities import Form, parse_amount
from records.services.closing.service import close_lines
from records.services.holding import list_held
from records.services.sealing import seal
from tests.kit import ABSENT, Json, Part, codes, days_after, of, visit

if TYPE_CHECKING:
    from tests.kit import Kit

SPOTS: Json = {"method": "spot", "area": "100 sq ft", "spray": "0.1 gal", "rate": "0.6 fl oz/gal"}


def line(kit: Kit, **changes: Part) -> Json:
    """Return the first application of a sealed visit."""
    body = kit.sealed(**changes).body
    assert body is not None
    made: Json = body["treatments"][0]["applications"][0]
    return made


def test_active_in_pounds(kit: Kit) -> None:
    """3 fl oz of 4 lb a.e./gal is 3 x 4 / 128 = 0.09375 lb (128 fl oz in a gallon, NIST Handbook 44)."""
    assert line(kit)["actives"] == [{"name": "larkinic acid", "as": "ae", "pounds": "0.09375"}]


def test_spot_amount_is_dose_times_spray(kit: Kit) -> None:
    """0.6 fl oz/gal x 0.1 gal = 0.06 fl oz, as typed dose on the record."""
    made = line(kit, **SPOTS)
    assert (made["rate"], made["amount"], made["area"]) == ("0.6 fl oz/gal", "0.06 fl oz", "100 sq ft")


def test_area_follows_from_rate_and_amount(kit: Kit) -> None:
    """3 fl oz at 0.75 fl oz/1000 sq ft went on 4000 sq ft; the record says that it was worked out."""
    body = kit.sealed(area=ABSENT, amount="3 fl oz").body
    assert body is not None
    assert (body["treatments"][0]["area"], body["treatments"][0]["area_source"]) == ("4000 sq ft", "derived")


def test_a_described_spot(kit: Kit) -> None:
    """Spots described in words have no area, and the record does not invent one."""
    body = kit.sealed(**SPOTS | {"area": ABSENT, "extent": "12 plants along the walk"}).body
    assert body is not None
    treatment = body["treatments"][0]
    assert (treatment["area"], treatment["area_source"], treatment["extent"]) == (
        None,
        "described",
        "12 plants along the walk",
    )
    assert treatment["zones"][0]["treated"] is None


def test_an_estimated_spot_is_marked(kit: Kit) -> None:
    """A can calibrated to 1 gal/1000 sq ft that put out 0.1 gal treated about 100 sq ft (common practice)."""
    body = kit.sealed(**SPOTS | {"area": ABSENT, "equipment": "can-1"}).body
    assert body is not None
    assert (body["treatments"][0]["area"], body["treatments"][0]["area_source"]) == ("100 sq ft", "estimated")


def test_shares_of_a_load_add_up(kit: Kit) -> None:
    """Each site gets product x spray / load (6 NYCRR 325.25 help, N.J.A.C. 7:30-7.3); together they are the whole."""
    total = {"larkin-4": Fraction(0), "sedger-75": Fraction(0)}
    for index, spray in enumerate(("4 gal", "3.5 gal", "4 gal", "4 gal")):
        done = kit.sealed(
            days_after("2026-05-14", index), mix="load-a", spray=spray, targets=["plantain", "yellow nutsedge"]
        )
        for one in done.applications:
            form = Form.LIQUID if one["product"] == "larkin-4" else Form.DRY
            total[one["product"]] += parse_amount(one["amount"], form).value
    share = Fraction("15.5") / 50
    assert total["larkin-4"] == Fraction("37.5") * share
    assert abs(total["sedger-75"] - Fraction("1.25") * share) < Fraction(1, 10**6)


def test_treated_area_is_shared_by_zone(kit: Kit) -> None:
    """5,000 sq ft over zones of 4,000 and 1,000: each zone's ceiling counts its own part."""
    body = kit.sealed(zones=["front", "side"], area="2500 sq ft").body
    assert body is not None
    assert [zone["treated"] for zone in body["treatments"][0]["zones"]] == ["2000 sq ft", "500 sq ft"]


def test_local_and_universal_time(kit: Kit) -> None:
    """Times keep the site's offset; the day is the site's, also where UTC is already a day on."""
    day = "2026-11-01"
    done = kit.sealed(
        day,
        started=f"{day}T23:30",
        finished=f"{day}T23:45",
        measured_at=f"{day}T23:30",
        now=f"{day}T23:50",
    )
    assert done.body is not None
    assert done.body["started"] == {"local": "2026-11-01T23:30-06:00", "utc": "2026-11-02T05:30:00Z"}
    assert (done.body["date"], done.body["period"], done.body["late_days"]) == (day, "2026-11", 0)


def test_serials_count_by_the_year_of_the_work(kit: Kit) -> None:
    """A visit of last year entered now gets last year's next number."""
    days = ("2026-05-14", "2025-12-31", "2026-05-15", "2027-01-01")
    assert [kit.sealed(day, now="2027-02-01T10:00").serial for day in days] == [
        "2026-000001",
        "2025-000001",
        "2026-000002",
        "2027-000001",
    ]


def test_the_chain_holds(kit: Kit) -> None:
    """Each seal covers the one before it."""
    for day in ("2026-05-14", "2026-06-14", "2026-07-14"):
        kit.sealed(day)
    previous = ""
    with kit.book.read() as work:
        for one in work.records.walk():
            assert one.previous == previous
            assert one.seal == seal(previous, one.serial, one.revision, one.sealed_at, one.body)
            previous = one.seal
        assert work.records.head() == previous


def test_many_visits_at_once(kit: Kit) -> None:
    """Each line has its own verdict: sealed, held or refused; a bad line harms no other and nothing is half done."""
    kit.set("2026-05-20T18:00")
    lines = [
        json.dumps(visit("2026-05-14", ref="a")).encode(),
        b"",
        b"{not json",
        json.dumps(visit("2026-05-15", ref="b", rate="2 fl oz/1000 sq ft")).encode(),
        json.dumps(visit("2026-05-14", ref="a", lot="other")).encode(),
        b'{"ref": 1, "ref": 2}',
        json.dumps(visit("2026-05-16", ref="c")).encode(),
        json.dumps(visit("2026-05-14", ref="a")).encode(),
        b"[]",
        b'{"remarks": "' + b"x" * 3_000_000 + b'"}',
        b"\xff\xfe",
    ]
    done: list[int] = []
    outcomes = list(close_lines(kit.book, lines, kit.clock, done.append))
    assert [one.status for one in outcomes] == [
        "sealed",
        "refused",
        "held",
        "refused",
        "refused",
        "sealed",
        "sealed",
        "refused",
        "refused",
        "refused",
    ]
    assert [one.serial for one in outcomes if one.serial] == ["2026-000001", "2026-000002", "2026-000001"]
    assert outcomes[6].is_repeat
    assert [one.line for one in outcomes] == [1, 3, 4, 5, 6, 7, 8, 9, 10, 11]
    assert outcomes[1].error.startswith("line 3 is not JSON")
    assert outcomes[4].error.startswith("line 6: the name 'ref' stands twice")
    assert done[-1] == 10  # commits come by number and by time: how many there are depends on the machine
    assert [entry.ref for entry in list_held(kit.book)] == ["b"]
    assert list(close_lines(kit.book, [], kit.clock)) == []


def test_later_lines_see_earlier_ones(kit: Kit) -> None:
    """Within one batch a ceiling counts what was sealed a line before."""
    kit.set("2026-05-20T18:00")
    lines = [json.dumps(visit("2026-05-14", rate="0.5 fl oz/1000 sq ft", lot=str(n))).encode() for n in range(3)]
    first, second, third = close_lines(kit.book, lines, kit.clock)
    assert first.status == "sealed"
    assert codes(second) == codes(third) == {"over-rate", "same-day", "late"}
    assert of(second, "over-rate")["found"] == "1 fl oz/1000 sq ft"


@pytest.mark.parametrize("name", ["ref", "site", "remarks", "confirmed", "supervisor"])
def test_text_is_data(kit: Kit, name: str) -> None:
    """Markup, formulas, paths and quotes are kept as typed or told as unknown, nothing else happens."""
    for text in ("<b>&amp;</b>", "=1+1", "../../etc/passwd", "'; DROP TABLE revision; --", "\U0001f33f ålesund"):
        changes: Json = {name: [text] if name == "confirmed" else text}
        outcome = kit.close(**changes, lot=text)
        assert outcome.status in {"sealed", "held"}
        assert codes(outcome) <= {"unknown-name", "same-day", "over-rate"}


def test_the_sign_and_a_misspelt_confirmation(kit: Kit) -> None:
    """When the lawn sign may come down is kept for the notice; a code that is none is said, not swallowed."""
    outcome = kit.close(sign_removal="2026-06-12T10:00", confirmed=["same-dya"])
    assert outcome.status == "sealed"
    assert outcome.body is not None
    assert outcome.body["sign_removal"]["local"].startswith("2026-06-12T10:00")
    told = [finding for finding in outcome.findings if finding["at"] == "confirmed"]
    assert [finding["severity"] for finding in told] == ["note"]
    assert "same-day" in told[0]["message"]
