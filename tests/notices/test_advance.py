"""Whom to tell before the work, by when, and every try: another day needs a new notice."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from records.domain.contacts import Contact, counts_as_told
from records.domain.findings import Code, Severity
from records.domain.place import Site, ToNotify
from records.domain.spans import Span
from records.rules.advance_checks import check_advance, owed_contacts, packs_of_state
from records.rules.context import Context
from records.rules.packs import newest
from records.services.advance import contacts_of
from records.services.closing.reading import read_visit
from records.services.directory import Directory
from tests.kit import visit
from tests.notices.places import HART, LUND, site

if TYPE_CHECKING:
    from records.domain.visit import Visit
    from tests.kit import Kit
    from tests.notices.conftest import Run

CHICAGO = ZoneInfo("America/Chicago")
DAY = date(2026, 5, 14)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=CHICAGO)


def place(*notify: ToNotify, state: str = "WI") -> Site:
    return Site("near-wi", "berg", "9 Near Way", "Fairbank", "", state, "54990", "", (), notify=notify)


def lund(lead: Span | None = None, **parts: Any) -> ToNotify:  # noqa: ANN401
    return ToNotify("lund", "Nora Lund", "registry", lead, **parts)


def contact(when: str, day: date = DAY, *, told: bool = True, who: str = "lund") -> Contact:
    return Contact(who, day, at(when), told)


@pytest.mark.parametrize(
    ("state", "lead", "latest"),
    [
        # ATCP: at least 12 hours, from the pack; the list's own lead wins.
        ("WI", None, "2026-05-13T21:10"),
        ("WI", Span(2, "days"), "2026-05-12T09:10"),
        # Pa. Code 128.112: 12 to 72 hours. RCW 17.21.430: 2 hours. N.Y. ECL 33-1005: 48 hours.
        ("PA", None, "2026-05-13T21:10"),
        ("WA", None, "2026-05-14T07:10"),
        ("NY", None, "2026-05-12T09:10"),
        # Michigan: one business day.
        ("MI", None, "2026-05-13T23:59:59"),
        # Connecticut: prior. Texas: no rule known.
        ("CT", None, "2026-05-14T09:10"),
        ("TX", None, "2026-05-14T09:10"),
    ],
)
def test_the_last_moment_at_which_telling_counts(state: str, lead: Span | None, latest: str) -> None:
    """From the list's own lead, else the rule of the site's state."""
    (told,) = owed_contacts(place(lund(lead)), DAY, at("2026-05-14T09:10"), [], packs_of_state(state, DAY))
    assert told.latest == at(latest)


def test_hours_are_counted_as_they_pass() -> None:
    """On 1 November 2026 the clocks go back at 2 am: twelve hours before 9:10 is 22:10 of the day before."""
    (told,) = owed_contacts(place(lund(Span(12, "hours"))), date(2026, 11, 1), at("2026-11-01T09:10"), [], ())
    assert told.latest.isoformat() == "2026-10-31T22:10:00-05:00"


def test_working_days_leave_out_the_weekend() -> None:
    """One business day before a Monday is the Friday."""
    (told,) = owed_contacts(
        place(lund(), state="MI"), date(2026, 5, 18), at("2026-05-18T09:10"), [], packs_of_state("MI", DAY)
    )
    assert told.latest.date() == date(2026, 5, 15)


def test_what_counts_and_what_does_not() -> None:
    """In time, told, for this very day, by this person's own entry; the last moment itself still counts."""
    start, who = at("2026-05-14T09:10"), place(lund(Span(12, "hours")))

    def owed(*contacts: Contact) -> int:
        return len(owed_contacts(who, DAY, start, contacts, ()))

    assert owed(contact("2026-05-13T21:10")) == 0
    assert owed(contact("2026-05-13T21:11")) == 1
    assert owed(contact("2026-05-13T21:11"), contact("2026-05-12T10:00")) == 0
    assert owed(contact("2026-05-13T12:00", told=False)) == 1
    assert owed(contact("2026-05-13T12:00", who="hart")) == 1
    assert owed(contact("2026-05-10T12:00", date(2026, 5, 11))) == 1
    assert owed(Contact("lund", DAY, datetime(2026, 5, 14, 2, 10, tzinfo=UTC), told=True)) == 0


@pytest.mark.parametrize(
    ("how", "result", "counts"),
    [
        ("phone", "reached", True),
        ("phone", "message", False),
        ("phone", "no-answer", False),
        ("door", "left-note", True),
        ("door", "no-answer", False),
        ("letter", "message", True),
        ("letter", "left-note", True),
        ("letter", "no-answer", False),  # came back
        ("email", "message", False),
        ("text", "reached", True),
    ],
)
def test_which_results_count_as_told(how: str, result: str, counts: bool) -> None:  # noqa: FBT001
    """Reached, a note left, a letter."""
    assert counts_as_told(how, result) is counts


def test_a_listing_holds_from_its_first_to_its_last_day() -> None:
    """Both ends count."""
    who = place(lund(first_day=date(2026, 3, 15), last_day=date(2026, 5, 14)))
    for day, number in ((date(2026, 3, 14), 0), (date(2026, 3, 15), 1), (DAY, 1), (date(2026, 5, 15), 0)):
        start = datetime(day.year, day.month, day.day, 9, tzinfo=CHICAGO)
        assert len(owed_contacts(who, day, start, [], ())) == number


def test_only_packs_of_the_sites_own_state() -> None:
    """Whichever the firm names; a state without one has none, and no prefix of another is taken for it."""
    assert [pack.id for pack in packs_of_state("FL", DAY)] == ["us-fl-482", "us-fl-487"]
    assert packs_of_state("AL", DAY) == ()
    assert packs_of_state("", DAY) == ()
    assert all(pack.state == "WI" for pack in packs_of_state("WI", DAY))


def read(kit: Kit, **changes: Any) -> Visit:  # noqa: ANN401
    with kit.book.read() as work:
        return read_visit(visit(site="near-wi", applicator="vera", **changes), Directory(work.catalogue))[0]


def context(*contacts: Contact) -> Context:
    return Context(datetime(2026, 5, 14, 15, tzinfo=UTC), (newest("us-wi"),), contacts=contacts)


def test_closing_asks_for_everyone_who_was_not_told(kit: Kit) -> None:
    """One finding for each, with the last moment and the rule."""
    found = list(check_advance(read(kit), context()))
    assert [(one.code, one.severity, one.at) for one in found] == [(Code.NOT_NOTIFIED, Severity.ASK, "site")] * 2
    assert "Nora Lund (registry) had to be told 12 hours before the work: no contact is logged" in found[0].message
    assert (found[0].limit, found[0].found) == ("2026-05-13 21:10", "nothing that counts")
    assert found[0].source == "the list of near-wi"
    assert found[1].source == "us-wi: DATCP landscape pesticide registry (verified)"


def test_closing_says_late_tries_and_other_days(kit: Kit) -> None:
    """A put-off visit is told as such."""
    late = contact("2026-05-14T08:00")
    tries = [contact("2026-05-13T08:00", told=False), contact("2026-05-13T09:00", told=False)]
    other = contact("2026-05-11T08:00", date(2026, 5, 12), who="hart")
    found = list(check_advance(read(kit), context(late, other)))
    assert "told 2026-05-14 08:00, the last moment was 2026-05-13 21:10" in found[0].message
    assert found[0].found == "2026-05-14 08:00"
    assert "told of 2026-05-12 only, and another day needs a new notice" in found[1].message
    assert "2 tries logged, none that counts" in next(check_advance(read(kit), context(*tries))).message
    both = [contact("2026-05-13T08:00", who=who) for who in ("lund", "hart")]
    assert list(check_advance(read(kit), context(*both))) == []


def test_nobody_is_asked_about_where_nobody_is_listed_or_nothing_is_known(kit: Kit) -> None:
    """No list, no day, no pesticide."""
    made = read(kit)
    assert made.site is not None
    assert list(check_advance(replace(made, site=replace(made.site, notify=())), context())) == []
    assert list(check_advance(replace(made, started=None, finished=None), context())) == []
    assert list(check_advance(replace(made, treatments=()), context())) == []
    assert list(check_advance(replace(made, site=None), context())) == []


def test_notify_shows_whom_by_when_and_what_to_say(kit: Kit, run: Run) -> None:
    """The state's facts stand with their citation and status."""
    kit.set("2026-05-13T10:00")
    ran = run("notify", "near-wi", "--on", "2026-05-14", "--at", "09:10", "--product", "larkin-4")
    assert ran.code == 0
    for part in (
        "TELL Nora Lund (lund, registry) at the latest 2026-05-13 21:10 (UTC-05:00) (12 hours before; the site's list)",
        "608-555-0121",
        "registered people on the block or the next blocks, at least 12 hours before",
        "(us-wi: DATCP landscape pesticide registry (verified))",
        "Thursday, 2026-05-14, from about 09:10",
        "9 Near Way, Fairbank, WI 54990",
        "Larkin 4, EPA Reg. No. 99999-51, larkinic acid",
        "Otter Bend Turf Works, 612-555-0188",
    ):
        assert part in ran.words, part
    assert max(map(len, ran.out.splitlines())) <= 80
    kit.set("2026-05-13T22:00")
    ran = run("notify", "near way", "--on", "2026-05-14", "--at", "09:10", "--json")
    assert (ran.code, ran.json["missed"]) == (1, ["lund", "hart"])
    assert ran.json["rules"][0]["status"] == "verified"


def test_every_try_is_logged_and_only_some_count(kit: Kit, run: Run) -> None:
    """A message does not count, reaching does; each is a sealed event of the site."""
    kit.set("2026-05-12T10:00")
    ran = run("contact", "near-wi", "lund", "--for", "2026-05-14", "--how", "phone", "--result", "message")
    assert "that does not count as told" in ran.words
    ran = run("contact", "near-wi", "nora", "--for", "2026-05-14", "--how", "phone", "--result", "reached", "--json")
    assert (ran.json["told"], ran.json["in_time"], [one["id"] for one in ran.json["left"]]) == (True, True, ["hart"])
    ran = run(
        "contact", "near-wi", "hart", "--for", "2026-05-14", "--how", "letter", "--at", "2026-05-11T17:00",
        "--by", "vera", "--note", "posted",
    )  # fmt: skip
    assert ran.words.endswith("still to be told of 2026-05-14: nobody")
    with kit.book.read() as work:
        found = work.records.events("contact", site="near-wi")
    assert found[0].body["data"] == {
        "site": "near-wi",
        "notify": "hart",
        "name": "Piet Hart",
        "for": "2026-05-14",
        "how": "letter",
        "result": "left-note",
        "at": "2026-05-11T17:00-05:00",
        "note": "posted",
    }
    assert found[0].body["applicator"]["id"] == "vera"
    assert [one.told for one in contacts_of(found)] == [True, False, True]
    assert "2026-05-12 10:00 phone: message, does not count" in run("notify", "near-wi", "--on", "2026-05-14").words


def test_a_postponed_visit_asks_for_a_new_notice(kit: Kit, run: Run) -> None:
    """What was told of the earlier day is said, and everyone is to be told anew."""
    kit.set("2026-05-12T10:00")
    run("contact", "near-wi", "lund", "--for", "2026-05-14", "--how", "phone", "--result", "reached")
    ran = run("postpone", "near-wi", "--from", "2026-05-14", "--to", "2026-05-18", "--reason", "wind over the limit")
    assert ran.code == 0
    assert "TELL Nora Lund" in ran.words
    assert "was told of 2026-05-14; another day needs a new notice" in ran.words
    with kit.book.read() as work:
        event = work.records.events("contact")[-1]
        assert contacts_of(work.records.events("contact"))[-1].day == DAY
    assert (event.body["data"]["result"], event.body["data"]["to"]) == ("postponed", "2026-05-18")
    assert run("notify", "near-wi", "--on", "2026-05-18", "--json").json["tell"][0]["told_of"] == ["2026-05-14"]


def test_what_was_told_of_a_day_that_was_worked_is_no_postponed_visit(kit: Kit, run: Run) -> None:
    """The next regular visit has nothing to do with the last one's notice."""
    kit.set("2026-05-12T10:00")
    run("contact", "near-wi", "lund", "--for", "2026-05-14", "--how", "phone", "--result", "reached")
    kit.sealed(site="near-wi", applicator="vera", confirmed=["not-notified"])
    assert run("notify", "near-wi", "--on", "2026-06-04", "--json").json["tell"][0]["told_of"] == []


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["contact", "near-wi", "lund", "--for", "2026-05-14", "--how", "phone"], 2, "no result"),
        (["contact", "near-wi", "lund", "--for", "2026-05-14", "--how", "shout", "--result", "reached"], 2, "no way"),
        (["contact", "near-wi", "lund", "--for", "2026-05", "--how", "phone", "--result", "reached"], 2, "no day"),
        (
            ["contact", "near-wi", "zed", "--for", "2026-05-14", "--how", "phone", "--result", "reached"],
            9,
            "On it: lund",
        ),
        (["contact", "nowhere", "lund", "--for", "2026-05-14", "--how", "phone", "--result", "reached"], 9, "no site"),
        (["notify", "wi", "--on", "2026-05-14"], 9, "fits 3 sites"),
        (["notify", "near-wi", "--on", "2026-05-14", "--at", "9 o'clock"], 2, "no time of day"),
        (["notify", "near-wi", "--on", "2026-05-14", "--product", "larkin"], 9, "larkin-4"),
        (["postpone", "near-wi", "--from", "2026-05-14", "--to", "2026-05-14", "--reason", "x"], 2, "both"),
        (["postpone", "near-wi", "--from", "2026-05-14", "--to", "2026-05-15", "--reason", " "], 2, "empty"),
    ],
)
def test_what_makes_no_sense_is_one_line_and_no_event(
    words: list[str], code: int, told: str, kit: Kit, run: Run
) -> None:
    """And nothing is logged."""
    ran = run(*words)
    assert (ran.code, ran.out, ran.err.count("\n")) == (code, "", 1), ran
    assert told in ran.err
    with kit.book.read() as work:
        assert work.records.events() == []


def test_the_list_may_have_a_shorter_lead_than_the_rule_and_that_is_said(kit: Kit, run: Run) -> None:
    """The list counts, the rule is shown."""
    kit.load(sites=[site("WI", id="near-wi", notify=[LUND | {"lead": "1 hour"}, HART | {"from": "2027-01-01"}])])
    kit.set("2026-05-12T10:00")
    ran = run("notify", "near-wi", "--on", "2026-05-14", "--at", "09:10")
    assert "shorter lead than the rule: us-wi asks 12 hours for registered people" in ran.words
    assert "Piet Hart (hart) is not on the list on that day: 2027-01-01 to ..." in ran.words


def test_a_day_that_was_put_off_and_taken_up_again_is_told_anew(kit: Kit, run: Run) -> None:
    """What was told of a day before it was put off counts no more; what is told afterwards does."""
    kit.set("2026-05-11T10:00")
    said = ("contact", "near-wi", "lund", "--for", "2026-05-14", "--how", "phone", "--result", "reached")
    run(*said)
    kit.set("2026-05-11T11:00")
    run("postpone", "near-wi", "--from", "2026-05-14", "--to", "2026-05-18", "--reason", "rain")
    ran = run("postpone", "near-wi", "--from", "2026-05-18", "--to", "2026-05-14", "--reason", "dry after all")
    assert "2026-05-11 10:00 phone: reached, put off since" in ran.words
    told = run("notify", "near-wi", "--on", "2026-05-14", "--json").json["tell"][0]
    assert (told["in_time"], told["tried"][0]["told"]) == (False, False)
    held = kit.close(site="near-wi", applicator="vera")
    lund_says = next(one["message"] for one in held.findings if one["code"] == "not-notified")
    assert "told before the work was put off, and that needs a new notice" in lund_says
    kit.set("2026-05-12T10:00")
    run(*said)
    assert run("notify", "near-wi", "--on", "2026-05-14", "--json").json["tell"][0]["in_time"]


def test_the_command_to_log_it_fits_what_the_list_knows(kit: Kit, run: Run) -> None:
    """A phone, else an e-mail address, else the door; late marks stand apart from the name; never over 80 columns."""
    kit.load(sites=[site("WI", id="near-wi", notify=[LUND, HART, {"id": "jo", "name": "Jo", "why": "asked"}])])
    kit.set("2026-05-13T22:00")
    ran = run("notify", "near-wi", "--on", "2026-05-14", "--at", "09:10")
    for part in ("lund --for 2026-05-14 --how phone", "hart --for 2026-05-14 --how email", "--how door"):
        assert part in ran.words.replace("\\ ", "")
    assert "TOO LATE Piet Hart" in ran.words
    assert max(map(len, ran.out.splitlines())) <= 80


def test_new_york_neighbours_get_it_in_writing(kit: Kit, run: Run) -> None:
    """N.Y. ECL 33-1005: abutters are told in writing; a call or a talk at the door leaves nothing to read."""
    vik = {"id": "vik", "name": "Vik Osei", "why": "abutting", "phone": "607-555-0188"}
    kit.load(sites=[site("NY", id="near-ny", notify=[vik, LUND])])
    kit.set("2026-05-11T09:00")
    ran = run("notify", "near-ny", "--on", "2026-05-14", "--at", "09:10")
    assert "vik --for 2026-05-14 --how letter" in ran.words.replace("\\ ", "")
    assert "lund --for 2026-05-14 --how phone" in ran.words.replace("\\ ", "")  # no neighbour: as before
    words = ["contact", "near-ny", "vik", "--for", "2026-05-14", "--how"]
    for how, result in (("phone", "reached"), ("door", "reached"), ("phone", "left-note")):
        ran = run(*words, how, "--result", result)
        assert "that does not count as told: it has to be in writing" in ran.words
        assert "still to be told of 2026-05-14: Vik Osei, Nora Lund" in ran.words
    assert run(*words, "phone", "--result", "reached", "--json").json["told"] is False
    assert "phone: reached, does not count" in run("notify", "near-ny", "--on", "2026-05-14").words
    assert run(*words, "door", "--result", "left-note").words.endswith("still to be told of 2026-05-14: Nora Lund")


def test_a_call_in_the_evening_counts_for_a_start_that_is_late_enough(kit: Kit, run: Run) -> None:
    """12 hours after 19:00 is 07:00; without a start nobody is called late who may be early enough."""
    kit.set("2026-05-13T19:00")
    words = ("contact", "near-wi", "lund", "--for", "2026-05-14", "--how", "phone", "--result", "reached")
    ran = run(*words)
    assert "early enough for a start at 07:00 or later, not before still to be told of 2026-05-14: Piet" in ran.words
    ran = run("notify", "near-wi", "--on", "2026-05-14")
    assert "told Nora Lund" in ran.words
    assert "early enough for a start at 07:00 or later" in ran.words
    ran = run("notify", "near-wi", "--on", "2026-05-14", "--at", "06:30")
    assert "TOO LATE Nora Lund" in ran.words
    assert run("notify", "near-wi", "--on", "2026-05-14", "--at", "07:00", "--json").json["tell"][0]["in_time"]


def test_new_yorks_condition_alternate_days_and_statement_are_told(run: Run) -> None:
    """N.Y. ECL 33-1005(3)(a)(iii) and (v), read on laws9 and instalawyer; the counties from the DEC's own page."""
    ran = run("notify", "site-ny", "--on", "2026-05-14")
    assert max(map(len, ran.out.splitlines())) <= 80
    for part in (
        "in counties that opted in: occupants of abutting property whose boundary lies within 150 ft, at least",
        "- the day, and two alternate days in case the weather prevents it",
        'statement: "This notice is to inform you of a pending pesticide application to: 1. a neighboring property; or',
        "1-800-858-7378",
        "1-800-458-1158",
        "in English and Spanish",
        "only where the county, or New York City, adopted the law: Albany, Erie",
        "this site is in the county of Dell",
    ):
        assert part in ran.words, part
    told = run("notify", "site-ny", "--on", "2026-05-14", "--json").json
    assert "Westchester" in told["duties"][0]["text"]
