"""A whole close-out by questions: what is offered, what never is, and what Ctrl-C leaves behind.

The answers are fed as lines; `tests/cli/test_process.py` does a part of it on a real terminal.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import pytest

from records.cli.prompts import moment
from records.domain.quantities import Form
from records.errors import BookBusyError
from records.rules.asking import needed_fields
from records.rules.packs import packs_for
from records.services.suggesting import other_side, read_use
from tests.cli.conftest import AFTER, visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook
    from tests.screen import Ran

NOON = "2026-10-20T12:00-05:00"
PLACE = ["lark", "mo", "11:30", ""]  # site, person, start, end as offered (now)
WEATHER = ["6", "nw", "61", "", ""]  # wind, from, temperature, measured now, by meter
BROADCAST = ["front", "b", "ground ivy", "skid-1", "", ""]  # the measured area, the calibrated spray
PRODUCT = ["", "brindle-4l", "1.1 fl oz/M", "B2311", ""]  # no mix; product, rate, lot; no other product
END = ["", "", "", ""]  # no other treatment, no follow-up, no remarks, all right


def close(swathbook: Swathbook, book: Path, answers: list[str], at: str = NOON, *words: str) -> Ran:
    """Close by questions."""
    return swathbook("--book", book, "close", *words, stdin="".join(f"{answer}\n" for answer in answers), at=at)


def test_a_whole_visit(swathbook: Swathbook, firm: Path) -> None:
    """One broadcast; the entry that is sealed says what was typed, with every unit."""
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *END])
    assert ran.code == 0, ran.out + ran.err
    assert ran.out.startswith("SEALED 2026-000001")
    assert "7 Lark Lane, Birchfold; Berit Halvorsen" in ran.err  # the right address, and who lives there
    assert "4200 sq ft = 0.0964 acre" in ran.err
    assert "rate 1.1 fl oz/1000 sq ft = 4.62 fl oz over 4200 sq ft" in ran.err
    assert "label of 2025-11: 0.8 to 1.1 fl oz/1000 sq ft; 2.2 to 3 pt/acre" in ran.err
    body = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]
    assert body["document"] == {
        "site": "lark-lane-7",
        "applicator": "mo",
        "started": "2026-10-20T11:30",
        "finished": "2026-10-20T12:00",
        "weather": {
            "wind_speed": "6 mph",
            "wind_from": "NW",
            "temperature": "61 degF",
            "measured_at": "2026-10-20T11:30",
            "source": "meter",
        },
        "treatments": [
            {
                "zones": ["front"],
                "method": "broadcast",
                "targets": ["ground ivy"],
                "equipment": "skid-1",
                "area": "4200 sq ft",
                "spray": "8.4 gal",
                "products": [{"product": "brindle-4l", "rate": "1.1 fl oz/M", "lot": "B2311"}],
            }
        ],
        "remarks": "",
    }


def test_an_ordinary_stop_takes_few_keystrokes(swathbook: Swathbook, firm: Path) -> None:
    """What has a default takes Enter alone; the rest is under 70 characters."""
    answers = [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *END]
    assert close(swathbook, firm, answers).code == 0
    assert sum(map(len, answers)) < 70
    assert answers.count("") >= 10


def earlier(swathbook: Swathbook, book: Path, measured: str) -> None:
    """Seal an earlier stop of Mo's day."""
    document = visit(ref="earlier", site="kettle-ct-31", started="2026-10-20T10:40", finished="2026-10-20T11:10")
    document["weather"] |= {"measured_at": measured, "wind_speed": "5 mph", "wind_from": "SW"}
    document["treatments"][0].update(zones=["front"], area="2600 sq ft", spray="5.2 gal")
    ran = swathbook("--book", book, "close", "-", stdin=json.dumps(document), at="2026-10-20T11:15-05:00")
    assert ran.code == 0, ran.out


@pytest.mark.parametrize(
    ("what", "most"),
    [
        (["", "brindle-4l", "1.1 fl oz/M", "B2311", ""], 8),  # no mix; product, rate, lot; no other product
        (["mix-1020"], 6),
    ],
)
def test_an_ordinary_stop_of_the_route_takes_few_entries(
    what: list[str], most: int, swathbook: Swathbook, firm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted are answers that are more than Enter, at the second stop of a day, with the weather measured anew."""
    monkeypatch.setenv("SWATHBOOK_PERSON", "mo")
    made = swathbook(
        "--book", firm, "mix", "make", "mix-1020", "--equipment", "skid-1", "--spray", "40 gal",
        "--product", "brindle-4l=22 fl oz:B2311", "--at", "2026-10-20T08:00", at=NOON,
    )  # fmt: skip
    assert made.code == 0, made.err
    earlier(swathbook, firm, "2026-10-20T10:20")
    place, weather = ["lark", "", "11:30", ""], ["6 nw 61", "", ""]  # the person as this machine knows, the end is now
    ground = ["front", "", "", "", "", ""]  # method, weed, equipment of the last stop; area and spray as worked out
    answers = [*place, *weather, *ground, *what, *END]
    ran = close(swathbook, firm, answers)
    assert ran.code == 0, ran.out + ran.err
    assert "wind 6 mph from NW, 61 degF" in " ".join(ran.err.split())
    typed = [answer for answer in answers if answer]
    assert len(typed) <= most, f"{len(typed)} entries: {typed}"


def test_weather_of_half_an_hour_ago_is_offered_and_needs_a_yes(swathbook: Swathbook, firm: Path) -> None:
    """It shows its age; its own time and its source go into the record."""
    earlier(swathbook, firm, "2026-10-20T11:00")
    ran = close(swathbook, firm, [*PLACE, "y", *BROADCAST, *PRODUCT, *END])
    assert ran.code == 0, ran.out + ran.err
    words = " ".join(ran.err.split())
    assert "weather of your last stop, 2026-000001: 5 mph from SW, 61 degF, 30 minutes old" in words
    assert "your last stop ended 11:10; now it is 12:00" in words
    assert "at your last stop: brindle-4l product (? lists):" in words  # said, not filled in
    weather = swathbook("--book", firm, "show", "2026-2", "--json").json["revisions"][0]["body"]["weather"]
    assert (weather["wind_speed"], weather["wind_from"]) == ("5 mph", "SW")
    assert weather["measured_at"]["local"] == "2026-10-20T11:00-05:00"
    assert weather["source"] == "carried from 2026-000001"


def test_enter_does_not_take_the_weather_of_another_stop(swathbook: Swathbook, firm: Path) -> None:
    """Enter means no: wind is asked, and has no default."""
    earlier(swathbook, firm, "2026-10-20T11:00")
    ran = close(swathbook, firm, [*PLACE, "", "", *WEATHER, *BROADCAST, *PRODUCT, *END])
    assert ran.code == 0, ran.out + ran.err
    assert "an answer is needed here" in ran.err
    weather = swathbook("--book", firm, "show", "2026-2", "--json").json["revisions"][0]["body"]["weather"]
    assert weather["wind_speed"] == "6 mph"


@pytest.mark.parametrize(("measured", "answer"), [("10:30", ["n"]), ("10:29", [])])
def test_weather_is_offered_for_an_hour(measured: str, answer: list[str], swathbook: Swathbook, firm: Path) -> None:
    """60 minutes before the start it still is, 61 minutes before it is not (common practice: measured each hour)."""
    earlier(swathbook, firm, f"2026-10-20T{measured}")
    ran = close(swathbook, firm, [*PLACE, *answer, *WEATHER, *BROADCAST, *PRODUCT, *END])
    assert ran.code == 0, ran.out + ran.err
    assert ("does it still stand here?" in ran.err) is bool(answer)
    assert ("more than an hour old" in ran.err) is not bool(answer)


def test_spot_area_and_product_have_no_default(swathbook: Swathbook, firm: Path) -> None:
    """Even right after a stop with the same product: each is asked until it is typed."""
    earlier(swathbook, firm, "2026-10-20T11:00")
    spot = ["back", "spot", "yellow nutsedge", "can-1", "?", "", "0.4 gal"]
    product = ["", "", "sedgeline-75", "0.9 g/gal", "G1", ""]
    ran = close(swathbook, firm, [*PLACE, "y", *spot, *product, *END])
    assert "spot area treated (300 sq ft) (Enter = estimated from the spray)" in ran.err
    assert "a size, such as 300 sq ft or 0.1 acre, or Enter: estimated from the spray" in " ".join(ran.err.split())
    assert "estimated area: 400 sq ft by 1 gal/1000 sq ft, calibrated 2026-04-13" in " ".join(ran.err.split())
    assert "then describe where and how much:" not in ran.err
    assert "1. back: spot, estimated area: 400 sq ft, against yellow nutsedge" in " ".join(ran.err.split())
    assert "product (? lists): \n  an answer is needed here" in ran.err
    assert "at your last stop" not in ran.err  # a broadcast is no hint for spots
    assert "lot on the container (Enter = none)" in ran.err


def test_a_trainee_is_asked_for_the_supervisor_once(swathbook: Swathbook, firm: Path) -> None:
    """The second stop of the day offers the same one."""
    answers = ["lark", "jory", "mo", "11:30", "", *WEATHER, *BROADCAST, *PRODUCT, *END]
    assert close(swathbook, firm, answers).code == 0
    again = ["kettle", "jory", "", "12:10", "", "y", *BROADCAST, *PRODUCT, *END]
    ran = close(swathbook, firm, again, "2026-10-20T12:20-05:00")
    assert "supervised by [mo]" in ran.err
    assert ran.code == 0, ran.out + ran.err


def test_a_long_list_of_sites_is_numbered(swathbook: Swathbook, firm: Path) -> None:
    """Too little typed shows twelve and a way on; a number takes one; `?` lists."""
    ran = close(swathbook, firm, ["?", "zzz", "row", "2", "?", "mo", *PLACE[2:]])
    assert "and 5 more: type a part of what you look for" in ran.err
    assert "nothing here is called so" in ran.err
    assert ran.err.count("  12  ") == 1
    told = swathbook("--book", firm, "held", "show", "1", "--json").json
    assert told["document"]["site"] == "mossgable-common"
    assert told["document"]["applicator"] == "mo"


def test_zones_by_number_by_name_and_by_kind(swathbook: Swathbook, firm: Path) -> None:
    """`turf` is every lawn; an unknown one is told with those there are."""
    zones = ["nowhere", "9", "turf", "b", "ground ivy", "skid-1", "", ""]
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *zones, *PRODUCT, *END])
    assert ran.code == 0, ran.out + ran.err
    assert "has no zone 'nowhere'; it has front, back, drive" in ran.err
    body = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]
    assert body["document"]["treatments"][0]["zones"] == ["front", "back"]
    assert body["document"]["treatments"][0]["area"] == "9300 sq ft"


def test_two_treatments_and_a_surfactant(swathbook: Swathbook, firm: Path) -> None:
    """Several products in one tank, then spots out of the hand can."""
    tank = ["", "brindle", "1.1 fl oz/M", "B1", "spreadwell", "0.25 % v/v", "", ""]
    spot = ["y", "2", "spot", "yellow nutsedge", "can-1", "300 sq ft", "0.3"]
    can = ["", "sedge", "0.9 g/gal", "G1", ""]
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *BROADCAST, *tank, *spot, *can, *END])
    assert ran.code == 0, ran.out + ran.err
    assert "rate 0.9 g/gal = 0.27 g in 0.3 gal" in ran.err
    told = swathbook("--book", firm, "find", "--json").json["applications"]
    assert [line["product_id"] for line in told] == ["brindle-4l", "spreadwell", "sedgeline-75"]


def test_a_mix_is_taken_from_the_list(swathbook: Swathbook, firm: Path) -> None:
    """The newest first; a mix stands for its products."""
    broadcast = ["front", "b", "dandelion", "skid-1", "", ""]
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *broadcast, "?", "1", *END])
    assert "1  mix-0909: 2026-09-09 09:32, brindle-4l" in ran.err
    document = swathbook("--book", firm, "find", "--json").json["applications"]
    held = swathbook("--book", firm, "held", "--json").json["held"]
    assert document or held
    if held:
        told = swathbook("--book", firm, "held", "show", "1", "--json").json["document"]
        assert told["treatments"][0]["mix"] == "mix-0909"
        assert "products" not in told["treatments"][0]


def test_what_is_left_in_the_tank_is_told(swathbook: Swathbook, firm: Path) -> None:
    """38 gal were made: 8.4 of them go out at one stop, and 30 of the 29.6 that are left are too many."""
    broadcast = ["front", "b", "dandelion", "skid-1", "", "", "mix-0909"]
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *broadcast, *END])
    assert ran.code == 0, ran.out + ran.err
    assert "left before this stop: 38 of 38 gal" in ran.err
    assert "more than is left" not in ran.err
    broadcast[5] = "30 gal"
    ran = close(swathbook, firm, ["kettle", *PLACE[1:], "", *WEATHER, *broadcast, *END])
    assert "left before this stop: 29.6 of 38 gal" in ran.err
    assert "30 gal here is more than is left" in ran.err


def test_an_amount_in_place_of_a_rate(swathbook: Swathbook, firm: Path) -> None:
    """What was poured is as good; the screen says which it took and what rate it makes."""
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *BROADCAST, "", "brindle-4l", "4.6 oz", "B1", "", *END])
    assert ran.code == 0, ran.out + ran.err
    assert "amount 4.6 fl oz = 1.0952 fl oz/1000 sq ft over 4200 sq ft" in ran.err


def test_what_is_not_right_is_asked_again_at_the_end(swathbook: Swathbook, firm: Path) -> None:
    """The entry is shown before it is closed; a part of it is changed, the rest takes Enter."""
    end = ["", "", "", "weather", "7", "", "", "", "", "rem", "", "Dog in the yard.", ""]
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *end])
    assert ran.code == 0, ran.out + ran.err
    assert "1. front: broadcast, 4200 sq ft, against ground ivy: brindle-4l 1.1 fl oz/M" in " ".join(ran.err.split())
    body = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]
    assert body["weather"]["wind_speed"] == "7 mph"
    assert body["remarks"] == "Dog in the yard."


def test_another_site_at_the_end_asks_for_its_zones(swathbook: Swathbook, firm: Path) -> None:
    """Zones of the wrong address never stay."""
    end = ["", "", "", "site", "kettle", "treatments", *BROADCAST, *PRODUCT, "", ""]
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *end])
    assert ran.code == 0, ran.out + ran.err
    body = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]
    assert body["site"]["id"] == "kettle-ct-31"
    assert body["document"]["treatments"][0]["area"] == "2600 sq ft"


def test_calm_needs_no_direction_and_unmeasured_needs_a_reason(swathbook: Swathbook, firm: Path) -> None:
    """0 is calm; a dash asks why."""
    ran = close(swathbook, firm, [*PLACE, "0", "-", "thermometer broken", "", ""])
    assert "wind FROM" not in ran.err
    assert "why not" in ran.err
    weather = swathbook("--book", firm, "held", "show", "1", "--json").json["document"]["weather"]
    assert weather["wind_speed"] == "0 mph"
    assert weather["wind_from"] == "calm"
    assert weather["temperature"] == {"not_measured": "thermometer broken"}


def test_a_question_of_the_book_is_asked_at_once(swathbook: Swathbook, firm: Path) -> None:
    """A yes seals with the code confirmed; Enter leaves the entry held."""
    assert close(swathbook, firm, [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *END]).code == 0
    spot = ["back", "spot", "yellow nutsedge", "can-1", "300 sq ft", "0.3", "", "sedge", "0.9 g/gal", "", ""]
    answers = ["lark", "mo", "14:00", "", *WEATHER, *spot, *END]
    later = "2026-10-20T14:20-05:00"
    held = close(swathbook, firm, [*answers, "", ""], later)
    assert held.code == 1
    assert "is that right as typed? y/n [n]" in held.err
    assert "--confirm same-day" in " ".join(held.out.split())
    sealed = close(swathbook, firm, [*answers, "y", "y", "y"], later)
    assert sealed.code == 0, sealed.out + sealed.err
    body = swathbook("--book", firm, "show", "2026-2", "--json").json["revisions"][0]["body"]
    assert "same-day" in body["confirmed"]


@pytest.mark.parametrize("count", range(1, 26))
def test_leaving_at_any_question_holds_what_was_typed(count: int, swathbook: Swathbook, firm: Path) -> None:
    """No more input after any number of answers: 130, held, and never sealed."""
    answers = [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *END]
    assert len(answers) == 24
    ran = close(swathbook, firm, answers[:count])
    if count >= len(answers):
        assert ran.code == 0
        return
    assert ran.code == 130
    assert "HELD as H-000001" in ran.out
    assert "the questions were left before the end" in ran.out
    document: dict[str, Any] = swathbook("--book", firm, "held", "show", "1", "--json").json["document"]
    assert document["site"] == "lark-lane-7"
    if count > 4:
        assert document["weather"]["wind_speed"] == "6 mph"
    if count > 16:
        assert document["treatments"][0]["products"][0]["product"] == "brindle-4l"
    assert swathbook("--book", firm, "find").out == "nothing found\n"


def test_what_was_left_is_gone_through_again(swathbook: Swathbook, firm: Path) -> None:
    """`held correct --ask` begins with what was typed; only the rest is asked for."""
    assert close(swathbook, firm, [*PLACE, *WEATHER]).code == 130
    answers = ["treatments", *BROADCAST, *PRODUCT, "", ""]
    ran = swathbook("--book", firm, "held", "correct", "1", "--ask", stdin="\n".join(answers) + "\n", at=NOON)
    assert ran.code == 0, ran.out + ran.err
    assert "SEALED 2026-000001" in ran.out


def test_what_the_book_cannot_take_goes_into_a_file(
    swathbook: Swathbook, firm: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twenty answers are not lost to a locked book; the file closes later, and a second one takes another name."""

    def busy(*_: object, **__: object) -> None:
        raise BookBusyError("the book is locked", "Try again")

    answers = [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *END]
    with monkeypatch.context() as broken:
        broken.setattr("records.services.closing.service.close_visit", busy)
        ran = close(swathbook, firm, answers)
        assert ran.code == BookBusyError.exit_code
        assert "it is in typed-visit.json. Later: swathbook close typed-visit.json" in ran.err
        assert "typed-visit-1.json" in close(swathbook, firm, answers[:6]).err
    assert "SEALED" in swathbook("--book", firm, "close", tmp_path / "typed-visit.json", at=NOON).out


def test_trouble_in_the_middle_of_the_questions_keeps_the_answers(
    swathbook: Swathbook, firm: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever goes wrong between two questions, those before it were answered."""

    def trouble(*_: object, **__: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("records.cli.guided_treatment.ask_treatment", trouble)
    ran = close(swathbook, firm, [*PLACE, *WEATHER])
    assert ran.code == 70
    assert json.loads((tmp_path / "typed-visit.json").read_text("utf-8"))["weather"]["wind_speed"] == "6 mph"


def test_nothing_typed_leaves_nothing(swathbook: Swathbook, firm: Path) -> None:
    """130 and no held entry."""
    ran = close(swathbook, firm, [])
    assert (ran.code, ran.out) == (130, "")
    assert "nothing was closed" in ran.err
    assert swathbook("--book", firm, "held").out == "nothing is held\n"


def test_the_answer_in_json_and_the_talk_apart(swathbook: Swathbook, firm: Path) -> None:
    """Questions go to stderr; stdout is one JSON document."""
    ran = close(swathbook, firm, [*PLACE, *WEATHER, *BROADCAST, *PRODUCT, *END], NOON, "--json")
    assert ran.code == 0
    assert ran.json["status"] == "sealed"


def test_the_person_of_this_machine(swathbook: Swathbook, firm: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SWATHBOOK_PERSON is the default, never the last record's person."""
    monkeypatch.setenv("SWATHBOOK_PERSON", "ines")
    ran = close(swathbook, firm, ["lark", "", "11:30", "", *WEATHER, *BROADCAST, *PRODUCT, *END])
    assert ran.code == 0, ran.out + ran.err
    assert "who applied [ines]" in ran.err


def test_an_empty_book_says_what_to_load(swathbook: Swathbook, book_path: Path) -> None:
    """One line, exit 8."""
    ran = close(swathbook, book_path, ["x"])
    assert (ran.code, ran.out) == (8, "")
    assert "the book has no firm yet" in ran.err


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("9:10", "2026-10-20T09:10"),
        ("0910", "2026-10-20T09:10"),
        ("9.10", "2026-10-20T09:10"),
        ("5:30", "2026-10-20T05:30"),
        ("03:05", "2026-10-20T03:05"),
        ("3:05 am", "2026-10-20T03:05"),
        ("2:15 pm", "2026-10-20T14:15"),
        ("215p", "2026-10-20T14:15"),
        ("12:05 am", "2026-10-20T00:05"),
        ("12:05 PM", "2026-10-20T12:05"),
        ("2026-10-19 09:10", "2026-10-19T09:10"),
        ("2026-10-19T09:10-05:00", "2026-10-19T09:10-05:00"),
    ],
)
def test_times_as_people_write_them(text: str, kept: str) -> None:
    """A time alone is today's."""
    assert moment(text, datetime.fromisoformat(NOON)) == kept


@pytest.mark.parametrize(
    "text", ["9", "25:00", "9:61", "13:00 pm", "0:30 am", "2026-10-19", "noon", "\uff19:10", "20261019T0910", "-9:10"]
)
def test_times_that_are_none(text: str) -> None:
    """Refused with an example."""
    with pytest.raises(ValueError, match="write the time like 9:10"):
        moment(text, AFTER)


@pytest.mark.parametrize("text", ["3:00", "300", "1.15", "4:59"])
def test_an_afternoon_without_pm_is_not_taken_for_the_night(text: str) -> None:
    """Three at six in the evening means three in the afternoon; which one is asked, not guessed."""
    with pytest.raises(ValueError, match=r"in the afternoon is \d:\d\d pm"):
        moment(text, AFTER)


def test_the_evening_is_no_default_for_the_end_of_a_morning_visit(swathbook: Swathbook, firm: Path) -> None:
    """Now is offered as the end only where the visit began less than two hours ago."""
    ran = close(swathbook, firm, ["lark", "mo", "9:10", "", "9:35", *WEATHER], "2026-10-20T18:10-05:00")
    assert "finished (like 9:10): \n  an answer is needed here" in ran.err
    ran = close(swathbook, firm, ["lark", "mo", "16:30"], "2026-10-20T18:10-05:00")
    assert "finished (like 9:10) [18:10]:" in ran.err


def test_an_unknown_method_is_said_to_be_one(swathbook: Swathbook, firm: Path) -> None:
    """A label may print others, so it is kept; a slip is seen at once."""
    ran = close(swathbook, firm, [*PLACE, *WEATHER, "front", "bcast"])
    assert "none of these; kept as typed" in ran.err


def test_rate_and_amount_are_told_apart() -> None:
    """What is per something is a rate; an ounce follows the product's form."""
    name, use = read_use("4.6 oz", Form.LIQUID)
    assert (name, str(use)) == ("amount", "4.6 fl oz")
    name, use = read_use("0.9 oz/M", Form.DRY)
    assert (name, str(use)) == ("rate", "0.9 oz wt/1000 sq ft")
    assert other_side(use, None, None) == ""


def test_a_late_entry_keeps_its_own_day(swathbook: Swathbook, firm: Path) -> None:
    """A time alone belongs to the day the work began, not to the day it is typed."""
    late = ["lark", "mo", "2026-10-19T15:00", "15:28"]
    weather = ["6", "nw", "61", "15:05", ""]
    ran = close(swathbook, firm, [*late, *weather, *BROADCAST, *PRODUCT, *END])
    assert ran.code == 0, ran.out + ran.err
    document = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]["document"]
    assert document["finished"] == "2026-10-19T15:28"
    assert document["weather"]["measured_at"] == "2026-10-19T15:05"


def test_what_was_not_measured_has_neither_time_nor_meter(swathbook: Swathbook, firm: Path) -> None:
    """Two reasons are asked for, and nothing about an instrument that was not used."""
    weather = ["-", "meter broken", "-", "meter broken"]
    ran = close(swathbook, firm, [*PLACE, *weather, *BROADCAST, *PRODUCT, *END, "y", "y"])
    assert ran.code == 0, ran.out + ran.err
    body = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]
    assert (body["weather"]["measured_at"], body["weather"]["source"]) == (None, None)
    assert "  wind not measured, temperature not measured\n" in ran.err


def test_a_held_entry_is_finished_by_questions(swathbook: Swathbook, firm: Path) -> None:
    """What it is held for is said first; a question that stands is answered with y, and the entry is sealed."""
    document = visit(ref="held-1")
    document["weather"]["wind_speed"] = {"not_measured": "meter broken"}
    document["weather"]["wind_from"] = {"not_measured": "meter broken"}
    held = swathbook("--book", firm, "close", "-", stdin=json.dumps(document))
    assert held.code == 1, held.out
    ran = swathbook("--book", firm, "held", "correct", "H-000001", "--ask", stdin="\ny\ny\n")
    assert ran.code == 0, ran.out + ran.err
    assert "- the wind speed was not measured (meter broken)" in ran.err
    assert ran.out.startswith("SEALED")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("4pm", "16:00"),
        ("4 PM", "16:00"),
        ("4:15pm", "16:15"),
        ("12am", "00:00"),
        ("12 pm", "12:00"),
        ("9.10", "09:10"),
    ],
)
def test_the_hour_as_people_write_it(text: str, told: str) -> None:
    """A whole hour with am or pm, as well as hours and minutes."""
    assert moment(text, datetime(2026, 5, 14, 8, tzinfo=UTC)) == f"2026-05-14T{told}"


@pytest.mark.parametrize("text", ["4", "13pm", "0pm", "pm", "4p"])
def test_an_hour_that_can_be_two_is_asked_again(text: str) -> None:
    """An hour alone is no time of day, nor is one that no clock shows."""
    with pytest.raises(ValueError, match="write the time"):
        moment(text, datetime(2026, 5, 14, 8, tzinfo=UTC))


def test_an_end_before_the_start_is_asked_again_at_once(swathbook: Swathbook, firm: Path) -> None:
    """It is said at the question, not when the visit is closed."""
    ran = close(swathbook, firm, ["lark", "mo", "11:30", "11:10", "12:00", *WEATHER, *BROADCAST, *PRODUCT, *END])
    assert "that is before the start, 11:30" in ran.err
    assert ran.code == 0, ran.out + ran.err


@pytest.mark.parametrize(
    ("state", "asked", "free"),
    [
        ("OR", {"equipment": "us-or"}, {"dilution", "total_mix"}),
        ("GA", {"equipment": "us-ga"}, {"dilution", "total_mix"}),
        ("VA", {"equipment": "us-va", "dilution": "us-va", "total_mix": "us-va"}, set()),
        ("MN", {}, {"dilution", "equipment"}),
    ],
)
def test_what_a_rule_needs_is_asked_until_it_is_answered(state: str, asked: dict[str, str], free: set[str]) -> None:
    """Oregon and Georgia want the equipment, Virginia also spray and dilution (matrix.csv); where any of several parts
    does, as a rate in place of a dilution in Oregon, none of them is insisted on."""
    packs = packs_for((f"us-{state.lower()}",), state, date(2026, 5, 14), has_restricted=False)
    needed = needed_fields(packs)
    assert asked.items() <= needed.items()
    assert not free & needed.keys()
