"""What a notice says: everything the record holds, the labels' own words, and plainly what is not recorded."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from records.domain.report_model import CUT, MARK, NoticeModel, Wording, one_line
from records.errors import NotFoundError
from records.reports.render import notice_wording
from records.services.noticing import season_notice, visit_notice
from records.services.ports import StoredRevision
from tests.bodies import ADA, BRINDLE, BRINDLE_LABEL, SEDGELINE, application, spot_treatment, treatment, visit_body

DAY = date(2026, 5, 14)


def sealed(body: dict[str, Any], number: int = 1, revision: int = 1) -> StoredRevision:
    """Return a sealed revision of a body."""
    return StoredRevision(
        number, f"2026-{number:06d}", revision, "sealed", "2026-05-14T14:33:01.123456Z", "", "ab" * 32, body
    )


def notice(body: dict[str, Any], language: str = "en", revision: int = 1) -> NoticeModel:
    """Return the notice of a body in the wording that comes with the tool."""
    return visit_notice(sealed(body, revision=revision), notice_wording(language), language, DAY)


def facts(model: NoticeModel) -> dict[str, str]:
    """Return the named values of a visit notice."""
    return {fact.label: fact.value for fact in model.visits[0].facts}


def test_the_facts_of_the_visit_are_all_there() -> None:
    """Date, start, end, people with licences, weather and serial stand on the notice."""
    assert facts(notice(visit_body())) == {
        "Date": "May 14, 2026",
        "Time": "9:10 am to 9:32 am",
        "Applied by": "Mo Tarn, licence MN-T-3301",
        "Supervised by": "Ada Brook, licence MN-C-1182",
        "Wind": "6 mph from the northwest",
        "Temperature": "71 °F",
        "Record": "2026-000001",
    }


def test_the_firm_and_the_customer_are_named() -> None:
    """Firm with address, phone and licence; customer and treated address."""
    model = notice(visit_body())
    assert (model.firm.name, model.firm.phone) == ("Loon Hollow Lawn Care", "612-555-0142")
    assert model.firm.licence == "Pesticide business licence MN-B-990417"
    assert [fact.value for fact in model.recipient] == ["Ines Harrow", "7 Lark Lane, Birchfold, MN 55290"]


def test_each_product_says_what_it_is_what_for_where_and_how_much() -> None:
    """Name, number, type, active, target, zone, rate, amount and method of each line."""
    front, back = notice(visit_body()).visits[0].treatments
    assert front.heading == "Front (lawn): over the whole area, against ground ivy"
    assert back.heading == "Back (lawn): on single weeds and patches, against yellow nutsedge"
    brindle, spreadwell = front.products
    assert brindle.identity == "EPA Reg. No. 99999-41, herbicide, signal word CAUTION"
    assert brindle.actives == "brindlac acid 4 lb per gallon (acid equivalent)"
    assert (brindle.rate.value, brindle.amount.value) == ("1.1 fl oz per 1,000 sq ft", "4.62 fl oz")
    assert spreadwell.identity == "not a registered pesticide, adjuvant"
    assert spreadwell.rate.value == "0.25 % of the spray by volume"
    assert back.products[0].rate.value == "0.9 g per gallon"


def test_label_words_are_copied_and_never_made_up() -> None:
    """Keep-off wording, precautions, first aid and results are the label data's own texts, each once."""
    model = notice(visit_body())
    assert [words.text for words in model.keep_off] == ["until the spray has dried"]
    assert model.keep_off[0].source == "Front: Brindle 4L; Back: Sedgeline 75 WG"
    assert model.first_aid.words[0].text == BRINDLE_LABEL["first_aid"]
    said = [words.text for words in model.precautions.words]
    assert said[:3] == BRINDLE_LABEL["precautions"]
    assert len(said) == len(set(said))


def test_words_of_some_labels_only_name_whose_they_are() -> None:
    """Nobody takes one product's words for another's; what all products say needs no name."""
    assert [words.source for words in notice(visit_body()).results.words] == ["Brindle 4L:", "Sedgeline 75 WG:"]
    alone = visit_body(treatments=[treatment(applications=[application()])])
    assert {words.source for words in notice(alone).precautions.words} == {""}


def test_a_label_without_keep_off_wording_is_said_to_lack_it() -> None:
    """No re-entry wording is invented: the customer is asked to call."""
    bare = application(label=None)
    model = notice(visit_body(treatments=[treatment(applications=[bare])]))
    assert model.keep_off[0].missing
    assert "not recorded" in model.keep_off[0].text
    assert "612-555-0142" in model.keep_off[0].text
    assert model.first_aid.words[0].missing
    assert "1-800-222-1222" in model.first_aid.words[0].text


def test_the_question_is_never_left_open_even_without_products() -> None:
    """An empty visit still tells the reader to ask before stepping on it."""
    assert notice(visit_body(treatments=[])).keep_off[0].missing


def test_emergency_numbers_are_the_national_ones() -> None:
    """911, Poison Help (day and night) and NPIC (weekdays): the numbers in use across the United States."""
    numbers = {line.number: line.when for line in notice(visit_body()).emergency}
    assert list(numbers) == ["911", "1-800-222-1222", "1-800-858-7378"]
    assert numbers["911"] == "someone has collapsed, has a seizure or cannot breathe"


def test_missing_facts_are_shown_as_not_recorded() -> None:
    """Nothing is filled in for a record imported with gaps."""
    body = visit_body(
        business=None,
        customer=None,
        site=None,
        date=None,
        started=None,
        finished=None,
        applicator=None,
        supervisor=None,
        weather=None,
        treatments=[
            treatment(
                zones=[],
                method=None,
                targets=[],
                spray=None,
                area=None,
                area_source=None,
                equipment=None,
                applications=[application(BRINDLE | {"registration": None}, None, rate=None, amount=None, area=None)],
            )
        ],
    )
    model = notice(body)
    assert facts(model) == {
        "Date": "during May 2026, day not recorded",
        "Time": "not recorded",
        "Applied by": "not recorded",
        "Wind": "not recorded",
        "Temperature": "not recorded",
        "Record": "2026-000001",
    }
    part = model.visits[0].treatments[0]
    assert part.heading == "not recorded: not recorded, against not recorded"
    assert part.products[0].identity.startswith("EPA Reg. No. not recorded")
    assert part.products[0].amount.missing
    assert model.firm.phone == "not recorded"


@pytest.mark.parametrize(
    ("weather", "told"),
    [
        ({"wind_speed": "0 mph", "wind_from": "calm"}, "calm"),
        ({"wind_speed": "6 mph", "wind_from": None}, "6 mph, direction not recorded"),
        ({"not_measured": {"wind_speed": "meter broken"}}, "not measured (reason: meter broken)"),
        (
            {"wind_speed": "6 mph", "not_measured": {"wind_from": "vane lost"}},
            "6 mph, direction not measured (reason: vane lost)",
        ),
        ({"wind_speed": "6 mph", "wind_from": "SW (225 deg)"}, "6 mph from the southwest"),
        ({"wind_speed": "6 mph", "wind_from": "225 deg"}, "6 mph from the southwest"),
        ({"wind_speed": "2 mph", "wind_from": "variable"}, "2 mph, direction variable"),
    ],
    ids=["calm", "no direction", "not measured", "one of two", "degrees", "only degrees", "variable"],
)
def test_wind_says_what_is_known_of_it(weather: dict[str, Any], told: str) -> None:
    """Calm is calm, a missing direction is missing, and not measured has its reason."""
    assert facts(notice(visit_body(weather=weather)))["Wind"] == told


def test_a_described_and_an_estimated_area_are_said_to_be_so() -> None:
    """Spot work without a measured area keeps its practical description."""
    described = treatment(area=None, area_source="described", extent="along the fence, about 12 plants")
    estimated = spot_treatment(area_source="estimated")
    first, second = notice(visit_body(treatments=[described, estimated])).visits[0].treatments
    assert first.facts[0].value == "along the fence, about 12 plants (area not measured)"
    assert second.facts[0].value == "300 sq ft (estimated)"


def test_a_deviation_is_told_with_reason_limit_and_signature() -> None:
    """What broke a limit is not hidden from the customer."""
    finding = {"code": "over-rate", "severity": "stop", "message": "1.3 fl oz/1000 sq ft is over the label's 1.1"}
    body = visit_body(deviation={"reason": "Meter stuck", "signed_by": ADA}, findings=[finding])
    assert notice(body).visits[0].deviation == (
        "This visit did not keep to the label or the rules. Reason given: Meter stuck",
        "1.3 fl oz/1000 sq ft is over the label's 1.1",
        "Signed for by Ada Brook, licence MN-C-1182. Ask us about it: 612-555-0142",
    )


def test_a_later_revision_says_so() -> None:
    """A notice of an amended record names its revision."""
    assert facts(notice(visit_body(), revision=2))["Record"] == "2026-000001, revision 2"


def test_sign_removal_is_told_where_the_record_has_it() -> None:
    """Until when the sign stays."""
    body = visit_body(sign_removal={"local": "2026-05-15T09:32-05:00", "utc": "2026-05-15T14:32:00Z"})
    assert notice(body).sign == "Leave our sign up until May 15, 2026, 9:32 am, then you may take it down."
    assert notice(visit_body()).sign == ""


def test_spanish_uses_the_labels_own_spanish_and_marks_english() -> None:
    """A label's Spanish is used where it exists; the rest is marked as the label's English text."""
    model = notice(visit_body(), "es")
    assert [(words.text, words.note) for words in model.keep_off] == [
        ("hasta que el rociado se haya secado", ""),
        ("Antes de pisar, pregúntenos: 612-555-0142", "La etiqueta lo dice en inglés: “until the spray has dried”"),
    ]
    assert {words.note for words in model.first_aid.words if not words.missing} >= {"(texto de la etiqueta, en inglés)"}
    assert facts(model)["Fecha"] == "14 de mayo de 2026"
    assert facts(model)["Viento"] == "6 millas por hora, del noroeste"
    assert model.visits[0].treatments[0].heading == "Frente (césped): sobre toda el área, contra hiedra terrestre"


def test_a_season_has_every_visit_in_order_and_each_label_once() -> None:
    """The season notice tells all visits, oldest first, and asks about the last one first."""
    later = visit_body(date="2026-06-20", period="2026-06")
    model = season_notice([sealed(later, 2), sealed(visit_body(), 1)], 2026, notice_wording("en"), "en", DAY)
    assert [visit.serial for visit in model.visits] == ["2026-000001", "2026-000002"]
    assert model.keep_off_heading.startswith("LAST VISIT, June 20, 2026.")
    assert len(model.first_aid.words) == 3
    assert model.title == "Everything applied in 2026"


def test_a_season_keeps_off_for_every_visit_of_the_last_day() -> None:
    """A longer time of the morning's visit is not hidden by the afternoon's."""
    longer = BRINDLE_LABEL | {"keep_off": "for 24 hours"}
    morning = visit_body(
        started={"local": "2026-05-14T08:00-05:00", "utc": "2026-05-14T13:00:00Z"},
        treatments=[treatment(applications=[application(BRINDLE, longer)])],
    )
    days = [visit_body(date="2026-05-13"), morning, visit_body(treatments=[spot_treatment()])]
    records = [sealed(body, number) for number, body in enumerate(days, 1)]
    model = season_notice(records, 2026, notice_wording("en"), "en", DAY)
    assert [words.text for words in model.keep_off] == ["for 24 hours", "until the spray has dried"]


def test_a_season_without_visits_is_an_error() -> None:
    """Nothing to tell is told as one line."""
    with pytest.raises(NotFoundError, match="no visits at this site in 2026"):
        season_notice([], 2026, notice_wording("en"), "en", DAY)


def test_what_is_filled_in_is_never_read_for_places() -> None:
    """A customer's braces stay braces, and no attribute is reached through a template."""
    wording = Wording({"a.b": "to {name}, {name.__class__}"}, {}, {})
    assert wording("a.b", name="{phone}") == "to {phone}, {name.__class__}"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\x00b", f"a{MARK}b"),
        ("a\x1b[31mb", f"a{MARK}[31mb"),
        ("evil\u202egnp.exe", f"evil{MARK}gnp.exe"),
        ("zero\u200bwidth\ufeff", "zerowidth"),
        ("two\r\nlines\tand  blanks ", "two lines and blanks"),
        ("e\u0301", "é"),
        ("\ud800", MARK),
        ("x" * 1000, "x" * 239 + CUT),
        (None, ""),
    ],
    ids=["null", "escape", "bidi", "invisible", "blanks", "nfc", "surrogate", "long", "none"],
)
def test_one_line_is_safe_to_show(text: object, shown: str) -> None:
    """Control and direction marks become visible, invisible ones go, and length has an end."""
    assert one_line(text) == shown


def test_in_spanish_numbers_times_and_places_read_as_they_are_said() -> None:
    """One gallon is no gallons, one o'clock is feminine, and what is not translated stands behind what is."""
    zones = [{"id": "lawn", "kind": "turf"}, {"id": "the-oval", "kind": "turf"}]
    weather = {"wind_speed": "1 mph", "wind_from": "SW (225 deg)", "not_measured": {"temperature": "sin termómetro"}}
    body = visit_body(
        treatments=[treatment(zones=zones, spray="1 gal")],
        weather=weather,
        finished={"local": "2026-05-15T01:05-05:00", "utc": "2026-05-15T06:05:00Z"},
    )
    model = notice(body, "es")
    assert facts(model)["Viento"] == "1 milla por hora, del suroeste"
    assert facts(model)["Temperatura"] == "no se midió (motivo anotado: sin termómetro)"
    assert facts(model)["Hora"] == "de 9:10 a. m. hasta el 15 de mayo de 2026 a la 1:05 a. m."
    part = model.visits[0].treatments[0]
    assert part.heading.startswith("Césped, Césped (en nuestros datos: The oval): sobre")
    assert "1 galón" in [fact.value for fact in part.facts]
    assert "palabra de advertencia CAUTION (precaución)" in part.products[0].identity
    assert part.products[0].actives == "brindlac acid 4 libras por galón (equivalente ácido)"


def test_english_keep_off_words_are_no_headline_of_a_spanish_notice() -> None:
    """Whom to ask stands large, once; the label's words stand below, marked as English."""
    labels = [BRINDLE_LABEL | {"spanish": {}}, BRINDLE_LABEL | {"spanish": {}, "keep_off": "for 24 hours"}]
    body = visit_body(treatments=[treatment(applications=[application(BRINDLE, label) for label in labels])])
    told = notice(body, "es").keep_off
    assert [words.text for words in told] == ["Antes de pisar, pregúntenos: 612-555-0142", ""]
    assert [words.note for words in told] == [
        "La etiqueta lo dice en inglés: “until the spray has dried”",
        "La etiqueta lo dice en inglés: “for 24 hours”",
    ]


def test_what_to_expect_is_left_out_where_no_label_says_it() -> None:
    """No rule asks for it; a heading over nothing tells nobody anything."""
    bare = BRINDLE_LABEL | {"results": ""}
    body = visit_body(treatments=[treatment(applications=[application(BRINDLE, bare)])])
    assert notice(body).results.words == ()
    both = [application(BRINDLE, bare), application(SEDGELINE, BRINDLE_LABEL)]
    (words,) = notice(visit_body(treatments=[treatment(applications=both)])).results.words
    assert words.source == "Sedgeline 75 WG:"
