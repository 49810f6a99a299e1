"""A lawn sign by the rules of the site's own state and no other, and when it may come down."""

from __future__ import annotations

import io
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from records.reports.sign_sheet import render_sign_sheet
from records.rules.packs import newest, pack_ids
from records.services.notice_content import OutTime, out_time
from records.services.sign_lines import SignFacts, sign_lines
from records.services.signs import told_out, work_sheet
from tests.notices.places import STATES, WHOLE

if TYPE_CHECKING:
    from pathlib import Path

    from records.rules.pack import Sign
    from tests.kit import Kit
    from tests.notices.conftest import Run

CHICAGO = ZoneInfo("America/Chicago")
END = datetime(2026, 5, 14, 9, 32, tzinfo=CHICAGO)
COLOURS = ("yellow", "white", "red", "green", "black")


def rule(key: str) -> Sign:
    return newest(key).signs[0]


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("us-oh", "2026-05-15 09:32 (UTC-05:00)"),  # 24 hours, Ohio Department of Agriculture
        ("us-md", "2026-05-16 09:32 (UTC-05:00)"),  # 48 hours, COMAR 15.05.01.15
        ("us-nj", "2026-05-17 09:32 (UTC-05:00)"),  # 72 hours, N.J.A.C. 7:30-9.13
        ("us-wi", "at sunset of 2026-05-15"),  # ATCP 29.56(6)
        ("us-in", "on 2026-05-15"),  # until the next day, 357 IAC 1-5-2
        ("us-ga", "on 2026-05-15"),  # until the day after, Ga. Comp. R. & Regs. 40-21-9-.02
        ("us-il", "on 2026-05-15"),  # until the next day, 415 ILCS 65/3
        ("us-mn", ""),  # up to 48 hours: no least time
        ("us-fl-482", ""),  # no set minimum
    ],
)
def test_when_a_sign_may_come_down(key: str, told: str) -> None:
    """By the text of each state's rule, from the end of the work."""
    assert told_out(out_time(rule(key), END, None)) == told


def test_a_longer_reentry_interval_counts_where_the_rule_says_so() -> None:
    """Iowa and Wisconsin: as long as the label's re-entry interval, if that is later. Ohio's text does not say so."""
    three_days = datetime(2026, 5, 17, 9, 32, tzinfo=CHICAGO)
    assert out_time(rule("us-ia"), END, three_days) == OutTime(three_days)
    assert out_time(rule("us-wi"), END, three_days) == OutTime(three_days)
    assert told_out(out_time(rule("us-oh"), END, three_days)) == "2026-05-15 09:32 (UTC-05:00)"
    tonight = END.replace(hour=21)
    assert told_out(out_time(rule("us-wi"), END, tonight)) == "at sunset of 2026-05-15"
    assert told_out(out_time(rule("us-ia"), END, tonight)) == "2026-05-15 09:32 (UTC-05:00)"


def test_hours_pass_through_the_night_on_which_the_clocks_change() -> None:
    """24 hours after 9:32 on 31 October 2026 is 8:32."""
    end = datetime(2026, 10, 31, 9, 32, tzinfo=CHICAGO)
    assert told_out(out_time(rule("us-oh"), end, None)) == "2026-11-01 08:32 (UTC-06:00)"


@pytest.mark.parametrize("state", STATES)
def test_no_sheet_ever_shows_another_states_rule(state: str, kit: Kit) -> None:
    """Whatever packs the firm names; where none of the state has a sign rule, no colour is named."""
    sheet = work_sheet(kit.book, kit.clock, f"site-{state.lower()}")
    packs = {key for key in pack_ids() if newest(key).state == state}
    assert {rule.heading.removeprefix("NOT CHECKED: ").partition(",")[0] for rule in sheet.rules} <= packs
    wanted = sum(len(newest(key).signs) for key in packs)
    assert len(sheet.rules) == wanted
    whole = str(sheet.document()).lower()
    if not wanted:
        assert "no sign rule of" in sheet.missing.lower()
        assert not any(colour in whole for colour in COLOURS)
    own = " ".join(sign.look.lower() for key in packs for sign in newest(key).signs)
    assert [colour for colour in COLOURS if colour in whole] == [colour for colour in COLOURS if colour in own]


def test_a_fact_from_memory_is_marked_and_binds_nothing(kit: Kit) -> None:
    """Massachusetts: 72 hours are from memory; no due-out time is made of them."""
    serial = kit.sealed(site="site-ma", applicator="vera", **WHOLE).serial
    assert serial is not None
    sheet = work_sheet(kit.book, kit.clock, serial)
    assert sheet.rules[0].heading.startswith("NOT CHECKED: us-ma")
    assert not sheet.rules[0].is_checked
    assert sheet.due_out == ""


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("state", ["NY", "MI", "FL", "TX", "KS"])
def test_the_sheet_is_one_page(state: str, paper: str, kit: Kit) -> None:
    """Long rules, two packs of one state, none at all; the same bytes twice."""
    sheet = work_sheet(kit.book, kit.clock, f"site-{state.lower()}")
    pdf = render_sign_sheet(sheet, paper)
    (page,) = PdfReader(io.BytesIO(pdf)).pages
    text = " ".join(page.extract_text().split())
    for one in sheet.rules:
        assert one.heading in text
    assert sheet.missing in text
    assert pdf == render_sign_sheet(sheet, paper)


def test_the_command_shows_and_writes_it(kit: Kit, run: Run, tmp_path: Path) -> None:
    """On the screen within 80 columns, as PDF, as JSON."""
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    ran = run("sign", serial)
    assert ran.code == 0
    assert max(map(len, ran.out.splitlines())) <= 80
    assert "may come down, not before: at sunset of 2026-05-15" in ran.out
    assert "red on white" in ran.out
    assert run("sign", "site-wi", "--out", "s.pdf").words == "wrote s.pdf"
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")
    told = run("sign", serial, "--json").json
    assert (told["due_out"], told["rules"][0]["look"]) == ("at sunset of 2026-05-15", "red on white")
    assert run("sign", "nowhere").code == 9
    assert run("sign", "2026-99").code == 9


def test_a_sign_put_up_and_taken_down_is_logged(kit: Kit, run: Run) -> None:
    """Before the work there is no record yet; the day brings the two together."""
    kit.set("2026-05-14T09:05")
    ran = run("sign", "site-oh", "--placed", "09:00", "--by", "vera", "--json")
    assert ran.json["events"][0]["event"] == "E-000001"
    serial = kit.sealed(site="site-oh", applicator="vera", **WHOLE).serial
    with kit.book.read() as work:
        (event,) = work.records.events("sign", site="site-oh")
    assert event.body["data"] == {
        "serial": None,
        "site": "site-oh",
        "what": "placed",
        "at": "2026-05-14T09:00-05:00",
    }
    assert "put up 2026-05-14 09:00" in run("sign", serial).out
    kit.set("2026-05-16T10:00")
    ran = run("sign", serial, "--removed", "2026-05-15T09:32")
    assert (ran.code, ran.words) == (0, "E-000002: the sign was taken down 2026-05-15 09:32 (UTC-05:00)")


def test_a_sign_that_came_down_too_early_is_logged_and_told(kit: Kit, run: Run) -> None:
    """Exit 1 with the rule; what is recorded wins over the rule's own hours."""
    serial = kit.sealed(site="site-oh", applicator="vera", **WHOLE).serial
    kit.set("2026-05-15T09:00")
    ran = run("sign", serial, "--removed", "2026-05-15T08:00")
    assert ran.code == 1
    assert "too early: it had to stay up until 2026-05-15 09:32 (UTC-05:00) (us-oh: Ohio Department" in ran.words
    serial = kit.sealed(site="site-in", applicator="vera", sign_removal="2026-05-16T12:00").serial
    kit.set("2026-05-16T09:00")
    assert "the record says" in run("sign", serial, "--removed", "2026-05-16T08:00").words
    ran = run("sign", serial, "--placed", "2026-05-14T10:00", "--removed", "2026-05-14T09:00")
    assert (ran.code, ran.err.count("\n")) == (2, 1)


def test_the_hours_count_from_the_sign_where_it_went_up_after_the_work(kit: Kit, run: Run) -> None:
    """Michigan: right after the application, 24 hours (R 285.637)."""
    serial = kit.sealed(site="site-mi", applicator="vera", **WHOLE).serial
    kit.set("2026-05-14T12:00")
    run("sign", serial, "--placed", "09:50")
    assert run("sign", serial, "--json").json["due_out"] == "2026-05-15 09:50 (UTC-05:00)"


def test_no_sign_comes_down_before_sunset_at_noon(kit: Kit, run: Run) -> None:
    """Wisconsin: until sunset of the next day (ATCP 29.56(6)); from the afternoon on the tool leaves it to the eye."""
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    kit.set("2026-05-16T10:00")
    ran = run("sign", serial, "--removed", "2026-05-15T12:00")
    assert ran.code == 1
    assert "too early: it had to stay up until sunset of 2026-05-15 (us-wi: Wis. Admin. Code ATCP 29.56(6)" in ran.words
    assert run("sign", serial, "--removed", "2026-05-15T20:30").code == 0


def test_logging_and_the_sheet_in_one_go(kit: Kit, run: Run, tmp_path: Path) -> None:
    """The sheet shows what was logged just now; a day beside a moment makes no sense."""
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    ran = run("sign", serial, "--placed", "09:05", "--out", "s.pdf")
    assert (ran.code, ran.out) == (0, "")
    (page,) = PdfReader(tmp_path / "s.pdf").pages
    assert "put up 2026-05-14 09:05" in " ".join(page.extract_text().split())
    ran = run("sign", "site-wi", "--placed", "09:05", "--on", "2026-05-14")
    assert (ran.code, ran.err.count("\n")) == (2, 1)


def test_a_sign_put_up_too_late_is_told(kit: Kit, run: Run) -> None:
    """Wisconsin: before the application (ATCP 29.56(6)); in time it says nothing."""
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    ran = run("sign", serial, "--placed", "09:25")
    assert ran.code == 1
    assert "too late: it had to be up by the start of the work, 2026-05-14 09:10" in ran.words
    assert run("sign", serial, "--placed", "09:05").code == 0


def lines(key: str, **known: str) -> list[tuple[str, str]]:
    """Return the lines of a pack's sign."""
    told = sign_lines(rule(key).wording, SignFacts(firm="Otter Bend", phone="612-555-0100", **known))
    return [(line.text, line.note) for line in told]


def test_the_words_of_a_sign_are_lines_as_one_would_write_them() -> None:
    """New York: 6 NYCRR 325.40(f), read in a reprint; facts are filled in as far as they are known, else left open."""
    assert lines("us-ny", date="2026-05-14") == [
        ("PESTICIDE APPLICATION", "or PESTICIDE TREATMENT or PESTICIDES APPLIED"),
        ("DO NOT ENTER", ""),
        ("DO NOT REMOVE SIGN FOR 24 HOURS", ""),
        ("Date: 2026-05-14, Time: ____________", "date and time unless handed over before leaving"),
        ("Otter Bend, 612-555-0100", "the company's name and phone may stand on the front and nothing else"),
    ]
    # 357 IAC 1-5-2(b)(4); Minn. Stat. 18B.09; N.J.A.C. 7:30-9.13.
    assert lines("us-in") == [("LAWN CARE APPLICATION", ""), ("KEEP OFF THE GRASS", "")]
    assert lines("us-mn") == [("Otter Bend", ""), ("TREATED", ""), ("KEEP OFF UNTIL ____________", "")]
    assert lines("us-nj")[0] == ("PESTICIDE TREATED AREA", "")
    assert lines("us-oh")[0] == ("", "the state's text: take it from the state's own form")


def test_why_no_time_is_told_is_said_in_plain_words(kit: Kit, run: Run) -> None:
    """Minnesota's rule sets no least time; before the work there is no end to count from."""
    serial = kit.sealed(site="site-mn", applicator="vera").serial
    assert (
        "cannot be worked out from this record because the rule, as far as it is known here, sets no"
        in run("sign", serial).words
    )
    assert "worked out from the end of the work, once the visit is sealed" in run("sign", "site-mn").words
    told = run("sign", "site-in", "--json").json["rules"][0]["lines"]
    assert [line["text"] for line in told] == ["LAWN CARE APPLICATION", "KEEP OFF THE GRASS"]


@pytest.mark.parametrize("key", [key for key in pack_ids() if newest(key).signs])
def test_every_rules_lines_have_something_to_write_or_say_where_it_is(key: str) -> None:
    """No part of any pack's wording is lost."""
    for sign in newest(key).signs:
        told = sign_lines(sign.wording, SignFacts())
        assert bool(told) is bool(sign.wording)
        assert all(line.text or line.note for line in told)
