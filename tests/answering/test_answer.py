"""Answers to a customer: built of the record, in two languages, with hostile text as data."""

from __future__ import annotations

import io
import tomllib
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import pytest
from pypdf import PdfReader

from records.domain.answer_model import CUSTOMER, AnswerModel
from records.errors import TemplateError
from records.reports.answer import render_answer
from records.reports.wordings import LANGUAGES, answer_wording, notice_wording
from records.resources import report_templates
from records.rules.allowances import Allowance
from records.rules.looks import looks
from records.services.answering.again import Around
from records.services.answering.build import Answers, answer_model
from records.services.answering.facts import readable
from records.services.answering.keys import ANSWER_KEYS
from records.services.answering.place import plain
from records.services.follow_up.repeating import Next, Repeat, repeat_words
from records.services.noticing import visit_notice
from records.services.ports import StoredRevision
from tests.bodies import visit_body

if TYPE_CHECKING:
    from pathlib import Path

DAY = date(2026, 6, 1)
QUESTIONS = ["what", "keep_off", "who", "safety", "care", "results", "again", "drift", "where", "next"]


UNKNOWN = Around((None,), ("Brindle 4L",), (), (), ())


def model_of(body: dict[str, Any], language: str = "en", around: Around = UNKNOWN) -> AnswerModel:
    """Return the answer about a body that nothing else is known of."""
    record = StoredRevision(1, "2026-000001", 1, "sealed", "2026-05-14T14:33:01.123456Z", "", "ab" * 32, body)
    notice = notice_wording(language)
    answers = Answers(answer_wording(language), notice, visit_notice(record, notice, language, DAY), [record])
    return answer_model(answers, tuple(answers.customer(around, (), DAY)), CUSTOMER, "")


def told(model: AnswerModel, key: str) -> str:
    """Return the answer to one question, its lines joined."""
    return " ".join(line.words for part in model.parts if part.key == key for line in part.lines)


def test_both_languages_have_the_same_keys_and_every_word_of_the_trade() -> None:
    """A template that lacks a key is refused; the usual looks of a mode of action are put into Spanish, all of them."""
    english, spanish = (answer_wording(language) for language in LANGUAGES)
    assert english.texts.keys() == spanish.texts.keys() == ANSWER_KEYS.keys()
    wanted = {told.words.casefold() for look in looks().values() for told in (look.first, look.dead)}
    assert wanted <= spanish.words.keys()
    assert {"certified", "technician", "trainee", "meter"} <= english.words.keys() & spanish.words.keys()


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_template_without_a_key_is_refused(language: str, tmp_path: Path) -> None:
    """Which key, and of which file, is said."""
    text = (report_templates() / f"answer.{language}.toml").read_text("utf-8")
    assert tomllib.loads(text)["question"]
    kept = [line for line in text.splitlines() if not line.startswith("toward =")]
    (tmp_path / f"answer.{language}.toml").write_text("\n".join(kept), "utf-8")
    with pytest.raises(TemplateError, match=r"line\.toward"):
        answer_wording(language, tmp_path)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_an_ordinary_visit_is_one_page_with_all_ten_questions(language: str, paper: str) -> None:
    """The ten questions of a customer are the headings, in the customer's language."""
    model = model_of(visit_body(), language)
    assert [part.key for part in model.parts] == QUESTIONS
    assert all(part.lines for part in model.parts)
    pages = PdfReader(io.BytesIO(render_answer(model, paper))).pages
    assert len(pages) == 1
    text = " ".join(pages[0].extract_text().split())
    for part in model.parts:
        assert part.question.split()[0] in text
    assert "1-800-222-1222" in text
    assert render_answer(model, paper) == render_answer(model, paper), "the same model gives the same bytes"


def test_each_line_of_a_label_stands_under_its_question() -> None:
    """Mowing is care, roses and ponds are drift, children are keep-off; what the crew has to do is not on the page."""
    model = model_of(visit_body())
    assert "Keep children and pets off" in told(model, "keep_off")
    assert "Do not mow" in told(model, "care")
    assert "vegetables, flowers or ponds" in told(model, "drift")
    lines = [line.text for part in model.parts for line in part.lines]
    labels = [line["label"] or {} for part in visit_body()["treatments"] for line in part["applications"]]
    for text in {text for label in labels for text in label.get("precautions") or ()}:
        assert lines.count(text) == (0 if "surfactant" in text else 1), text


def test_wind_is_told_from_where_and_toward_where() -> None:
    """NW wind blows toward SE: the neighbour at risk is there."""
    assert "from the northwest; it blew toward the southeast" in told(model_of(visit_body()), "drift")
    calm = visit_body()
    calm["weather"] |= {"wind_from": "calm", "wind_speed": "0 mph"}
    assert "toward" not in told(model_of(calm), "drift")
    none = visit_body()
    none["weather"] = {}
    assert "not recorded" in told(model_of(none), "drift")


def test_a_licence_is_told_with_its_kind_and_whether_it_held() -> None:
    """The licence is the one frozen in the record, judged on the day of the work."""
    body = visit_body()
    body["applicator"]["licence"] = {
        "number": "MN-C-1",
        "state": "MN",
        "kind": "certified",
        "from": "2026-01-01",
        "to": "2026-12-31",
    }
    assert "MN-C-1: certified applicator of MN" in told(model_of(body), "who")
    assert "was valid" in told(model_of(body), "who")
    body["applicator"]["licence"]["to"] = "2026-05-01"
    assert "NOT valid" in told(model_of(body), "who")
    body["applicator"]["licence"] = None
    assert "no licence valid on that day is recorded" in told(model_of(body), "who")


def test_without_the_words_of_a_label_the_usual_is_told_as_such() -> None:
    """Where a label's results are not recorded: what is usual for the group, marked, the label saying more."""
    body = visit_body()
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            line["label"] = {**(line["label"] or {}), "results": "", "spanish": {}}
    assert "twisting of leaves" in told(model_of(body), "results")
    assert "usual for this kind of product; the label says more" in told(model_of(body), "results")
    assert "hojas y tallos" in told(model_of(body, "es"), "results")


def test_a_deviation_is_told_and_a_free_visit_is_not_promised() -> None:
    """A customer hears which limit was passed and who signs, not the reason; whether a visit is free no record says."""
    body = visit_body()
    body["deviation"] = {
        "reason": "customer Berit was drunk",
        "signed_by": {"id": "mo", "name": "Mo", "licence": {"number": "C-1"}},
    }
    body["findings"] = [
        {"code": "over-wind", "severity": "stop", "message": "12 mph is over 10 mph", "at": "", "source": ""}
    ]
    body["findings"] += [
        {
            "code": "over-rate",
            "severity": "stop",
            "at": "treatments[0].products[0].rate",
            "message": "load it by 2026-06-30 if there is one",
            "limit": "1 fl oz/1000 sq ft or 3 pt/acre",
            "found": "1.8 fl oz/1000 sq ft",
        },
        {
            "code": "not-licensed",
            "severity": "stop",
            "at": "applicator",
            "message": "load the renewed licence if there is one",
            "limit": "licence in force",
            "found": "2026-06-30",
        },
    ]
    for language in LANGUAGES:
        text = told(model_of(body, language), "what")
        assert [words for words in ("drunk", "load ", "2026-06-30") if words in text] == []
        assert "Mo" in text
    assert "did not keep to the label" in told(model_of(body), "what")
    assert "limit: 1 fl oz per 1,000 sq ft or 3 pt per acre; this visit: 1.8 fl oz per 1,000 sq ft" in told(
        model_of(body), "what"
    )
    assert "June 30, 2026" in told(model_of(body), "what")
    assert "this record does not say" in told(model_of(body), "again")
    body["follow_up"] = None
    assert "No day to look again" in told(model_of(body), "again")
    body["follow_up"] = "2026-06-11"
    assert "June 11, 2026" in told(model_of(body), "again")


@pytest.mark.parametrize(
    "hostile", ["<b>x</b>", "\x1b[31mred", "a\u202eb", "{phone} {date}", "=1+1", "x" * 5000, "café\u0301"]
)
def test_hostile_text_is_data(hostile: str) -> None:
    """Markup is shown, control codes are gone, places of a template are not filled, a page is drawn."""
    body = visit_body()
    body["customer"]["name"] = hostile
    body["site"]["address"] = hostile
    for treatment in body["treatments"]:
        treatment["targets"] = [hostile]
        for zone in treatment["zones"]:
            zone["name"] = hostile
    model = model_of(body)
    texts = [model.title, model.subtitle, model.recipient, *(line.words for part in model.parts for line in part.lines)]
    assert not [char for text in texts for char in text if ord(char) < 32 or char in "\x7f\u202e"]
    if hostile.startswith("{"):
        assert "{phone} {date}" in model.recipient
    if "\x1b" not in hostile and "\u202e" not in hostile:
        assert render_answer(model).startswith(b"%PDF")


@pytest.mark.parametrize(
    ("typed", "stands"),
    [
        ("José Ángel IBÁÑEZ", "jose angel ibanez"),
        ("Łucja Wróbel-Dąbek", "lucja wrobel dabek"),
        ("Søren  Åkesson", "soren akesson"),
        ("7, Lark Lane.", "7 lark lane"),
        ("Nguyễn Thị Hồng Ánh", "nguyen thi hong anh"),
        ("Ελένη", "ελενη"),
        ("Straße", "strasse"),
    ],
)
def test_names_are_compared_without_case_and_accents(typed: str, stands: str) -> None:
    """Whoever types on a phone leaves the accents out."""
    assert plain(typed) == stands


def test_signs_and_notices_are_told_with_their_moment() -> None:
    """Why did I see no sign or notice: what is written down is told, what is not as well."""
    record = StoredRevision(1, "2026-000001", 1, "sealed", "2026-05-14T14:33:01.123456Z", "", "ab" * 32, visit_body())
    notice = notice_wording("en")
    answers = Answers(answer_wording("en"), notice, visit_notice(record, notice, "en", DAY), [record])
    around = Around((), (), (), (), (("placed", datetime.fromisoformat("2026-05-14T09:35-05:00")),))
    model = answer_model(answers, tuple(answers.customer(around, (), DAY)), CUSTOMER, "")
    assert "Our sign was put up on May 14, 2026, 9:35 am." in told(model, "next")
    assert "is not written down" in told(model, "next")


def with_lines(*lines: str) -> dict[str, Any]:
    """Return a body whose every label has these lines."""
    body = visit_body()
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            line["label"] = {**(line["label"] or {}), "precautions": list(lines), "spanish": {}}
    return body


@pytest.mark.parametrize(
    ("line", "keys"),
    [
        ("Do not let dogs chew & roll on treated turf.", {"keep_off"}),
        ("Do not water, mow or let children play within 48 hours.", {"keep_off", "care"}),
        ("Reseed after 3 weeks.", {"care"}),
        ("Do not cut the grass for 2 days.", {"care"}),
        ("Keep pets away from flowers until dry.", {"keep_off", "drift"}),
        ("Wash hands with soap and water.", {"keep_off"}),
        ("Something else.", {"keep_off"}),
        ("May stain shoes until dry.", {"keep_off"}),
        ("Treat only turf that is established and not under drought stress.", set()),
        ("For retail sale to and use only by certified applicators.", set()),
        ("May mark natural stone: try a small spot first.", set()),
    ],
)
def test_a_line_stands_under_every_question_that_it_answers(line: str, keys: set[str]) -> None:
    """Mowing is never said to be named nowhere where a line names it; what the crew has to do is no customer's."""
    model = model_of(with_lines(line))
    assert {part.key for part in model.parts for one in part.lines if one.text == line} == keys
    assert ("name none of these" in told(model, "care")) == ("care" not in keys)


def test_what_labels_do_not_say_is_not_claimed_where_they_are_not_held() -> None:
    """Without a label's lines: not in the record; never that the label names none, nor what it says to expect."""
    body = visit_body()
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            line["label"] = None
            line["product"]["actives"] = [{**one, "group": None} for one in line["product"]["actives"]]
    assert "name none of these" not in told(model_of(body), "care")
    assert "Not every label's lines are in this record" in told(model_of(body), "care")
    assert "what to expect is not in this record" in told(model_of(body), "results")
    assert "says what to expect" not in told(model_of(body), "results")


def test_a_gust_and_an_incident_are_told() -> None:
    """A drift that is written down is not denied; what was written of it stays in the office."""
    body = visit_body(incident="Gust carried spray onto the roses at 16 Oak Street, Bob Green is angry")
    body["weather"]["wind_gust"] = "22 mph"
    for language, words in (("en", "gusts up to 22 mph"), ("es", "ráfagas de hasta 22 millas por hora")):
        text = told(model_of(body, language), "drift")
        assert words in text
        assert "612-555-0142" in text
        assert [private for private in ("Oak", "Bob", "roses") if private in text] == []
    assert "Something out of the ordinary is written down" in told(model_of(body), "drift")
    assert "a record cannot tell" not in told(model_of(body), "drift")
    for none in ("none", "None.", "", None):
        assert "out of the ordinary" not in told(model_of(visit_body(incident=none)), "drift")


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("carried from an earlier stop at Bobby Tables, 1 Sly Way", "carried over from an earlier stop"),
        ("meter", "with a meter on site"),
        ("station KXYZ of Bobby", "of a weather station"),
        ("Bobby's phone", ""),
    ],
)
def test_how_weather_was_measured_is_told_in_known_words(source: str, words: str) -> None:
    """The words of a source may name another customer."""
    body = visit_body()
    body["weather"]["source"] = source
    for language in LANGUAGES:
        assert "Bobby" not in told(model_of(body, language), "drift")
    assert words in told(model_of(body), "drift")
    assert "measured May 14" in told(model_of(body), "drift")


def test_an_area_of_an_imported_record_is_whole_square_feet() -> None:
    """Nobody measures a lawn to a billionth; whole numbers and small fractions of an acre stay as they are."""
    body = visit_body()
    body["treatments"][0]["area"] = "4197.925062517 sq ft"
    assert readable(body, None)["treatments"][0]["area"] == "4198 sq ft"
    body["treatments"][0]["area"] = "0.25 acre"
    assert readable(body, None)["treatments"][0]["area"] == "0.25 acre"


def test_only_the_parts_that_a_record_has_are_told_of_its_place() -> None:
    """No zone and no method: against what alone, and that the parts are not recorded."""
    body = visit_body()
    body["treatments"] = body["treatments"][:1]
    body["treatments"][0] |= {"zones": [], "method": None}
    assert "not recorded: not recorded" not in told(model_of(body), "what")
    assert "Against ground ivy" in told(model_of(body), "what")
    assert "Which parts is not recorded: 4,200 sq ft" in told(model_of(body), "where")


def fed() -> dict[str, Any]:
    """Return a body of a fertilizer alone."""
    body = visit_body()
    body["treatments"] = body["treatments"][:1]
    body["treatments"][0] |= {"targets": [], "purpose": "feeding"}
    line = body["treatments"][0]["applications"][0]
    line |= {"label": None, "targets": [], "actives": []}
    line["product"] |= {"kind": "fertilizer", "registration": "", "actives": [], "signal_word": "", "type": ""}
    body["treatments"][0]["applications"] = [line]
    return body


def test_fertilizer_alone_asks_nobody_to_keep_off() -> None:
    """As the notice: no keep-off in large type, no first aid of no label, and feeding is no weed."""
    for language, words in (("en", ("Keep off", "against feeding")), ("es", ("No pisar", "contra feeding"))):
        model = model_of(fed(), language)
        text = " ".join(line.words for part in model.parts for line in part.lines)
        assert [one for one in words if one in text] == []
        assert not any(line.strong for part in model.parts if part.key == "keep_off" for line in part.lines)
        assert "FIRST AID" not in text
        assert "PRIMEROS AUXILIOS" not in text
        assert "612-555-0142" in told(model, "keep_off")
        assert "no active ingredient" not in text
    assert "fertilized" in told(model_of(fed()), "what")


def test_a_sign_that_was_taken_down_need_not_be_left_up() -> None:
    """What is so is told, also where it came down too early."""
    body = visit_body(sign_removal={"local": "2026-05-15T09:32-05:00", "utc": "2026-05-15T14:32:00Z"})
    assert "Leave our sign up" in told(model_of(body), "keep_off")
    signs = (
        ("placed", datetime.fromisoformat("2026-05-14T09:35-05:00")),
        ("removed", datetime.fromisoformat("2026-05-14T20:00-05:00")),
    )
    model = model_of(body, around=Around((), (), (), (), signs))
    assert "Leave our sign up" not in told(model, "keep_off")
    assert "Our sign was taken down on May 14, 2026, 8:00 pm." in told(model, "next")


def line_of(product: str, day: date | None, why: str = "", **parts: Any) -> Next:  # noqa: ANN401 - parts of a line
    """Return when one product may be put out again on the front."""
    allowance = Allowance("front", product, product, DAY, (), (), parts.pop("times", None), None, day, (), "")
    return Next("front", product, allowance, day, why, **parts)


def test_each_product_of_a_mix_is_told_by_its_own_label() -> None:
    """Four labels, three intervals: a line each, why, and when all of them may be put out together."""
    repeat = Repeat(
        "a mix",
        DAY,
        (
            line_of("Brindle 4L", date(2026, 6, 20), "21 days interval", interval=21),
            line_of("Kelbrook 60 DF", date(2026, 6, 27), "28 days interval", interval=28),
            line_of("Nidder", date(2027, 1, 1), "2 applications", times=2),
            line_of("Plain", DAY, ""),
            line_of("Fed", date(2026, 8, 1), "no fertilizer", interval=7, blackout=("no fertilizer",)),
        ),
        (),
    )
    text = told(model_of(visit_body(), around=Around((repeat,), ("a mix",), (), (), ())), "again")
    for words in (
        "Brindle 4L on Front (lawn): by its label again from June 20, 2026 on. Its label asks for 21 days",
        "Kelbrook 60 DF on Front (lawn): by its label again from June 27, 2026 on. Its label asks for 28 days",
        "Nidder on Front (lawn): by its label again from January 1, 2027 on. Until then, the amount",
        "Plain on Front (lawn): our record holds no interval and no yearly limit of its label.",
        "Fed on Front (lawn): by its label again from August 1, 2026 on. Until then, the law on fertilizer",
        "All of these together: not before January 1, 2027.",
    ):
        assert words.replace(" (lawn)", "") in text.replace(" (lawn)", "")
    assert "allows it again now" not in text
    assert "lawful now" not in repeat_words(Repeat("Plain", DAY, (line_of("Plain", DAY),), ()))


def test_a_weed_without_a_word_of_the_language_is_marked_as_english() -> None:
    """As the labels' own words are."""
    body = visit_body()
    body["treatments"][0]["targets"] = ["creeping jenny of the north"]
    assert "creeping jenny of the north (en inglés)" in told(model_of(body, "es"), "what")
    assert "(in English)" not in told(model_of(body), "what")
    assert "(en inglés)" not in told(model_of(visit_body(), "es"), "what")
