"""Each piece that a rule wants on a notice: printed when the record holds it, named with its rule when it does not."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import pytest
from pypdf import PdfReader

from records.reports.render import notice_wording, render_notice
from records.rules.fields import NOTICE_CONTENT
from records.rules.pack import CustomerCopy, Pack, Source, Status
from records.rules.packs import newest, pack_ids
from records.services.notice_content import lacking, owed_on, wanted_content
from records.services.noticing import visit_notice
from records.services.ports import StoredRevision
from tests.bodies import ADA, BRINDLE, BRINDLE_LABEL, MO, SPREADWELL, application, treatment, visit_body
from tests.kit import labelled

if TYPE_CHECKING:
    from pathlib import Path

    from tests.kit import Kit
    from tests.notices.conftest import Run

Json = dict[str, Any]
DAY = date(2026, 5, 14)


def pack(*content: str, status: Status = Status.VERIFIED, state: str = "WI") -> Pack:
    """Return an invented pack that wants some pieces on the customer's copy."""
    source = Source("Invented Code 1.2", "https://law.example/1-2", date(2026, 11, 25), status)
    copy = CustomerCopy("visit", None, paper=True, electronic="", content=content, source=source)
    return Pack("xx-1", "1", "Invented", f"US-{state}", "all", "all", None, None, copies=(copy,))


def one_line_body(**line: Any) -> Json:  # noqa: ANN401
    """Return a record of one treatment with one application, parts of it replaced."""
    return visit_body(treatments=[treatment(applications=[application(**line)])])


def without(part: str, key: str) -> Json:
    body = visit_body()
    body[part] = body[part] | {key: ""}
    return body


def of_treatment(**changes: object) -> Json:
    return visit_body(treatments=[treatment(applications=[application(**LINE_GONE)], **changes)])


LINE_GONE: Json = {"targets": [], "area": None}
WEATHER: Json = {"not_measured": {}, "wind_speed": "6 mph", "wind_from": None, "temperature": None}

# Piece by piece: a record that cannot supply it.
ABSENT: dict[str, Json] = {
    "firm_name": without("business", "name"),
    "firm_address": without("business", "address"),
    "firm_phone": without("business", "phone"),
    "firm_licence": without("business", "licence"),
    "applicator_name": visit_body(applicator=None, supervisor=None),
    "applicator_licence": visit_body(applicator=MO | {"licence": None}, supervisor=None),
    "customer_name": visit_body(customer=None),
    "service_address": without("site", "address"),
    "date": visit_body(date=None),
    "start_time": visit_body(started=None),
    "end_time": visit_body(finished=None),
    "area": of_treatment(area=None),
    "where": visit_body(treatments=[treatment(zones=[])]),
    "target": of_treatment(targets=[]),
    "product_name": one_line_body(product=BRINDLE | {"name": ""}),
    "registration": one_line_body(product=BRINDLE | {"registration": None}),
    "active": one_line_body(product=BRINDLE | {"actives": []}),
    "product_type": one_line_body(product=BRINDLE | {"type": ""}),
    "amount": one_line_body(amount=None, rate=None),
    "rate": one_line_body(rate=None),
    "wind": visit_body(weather=WEATHER),
    "temperature": visit_body(weather=WEATHER),
    "precautions": one_line_body(label=BRINDLE_LABEL | {"precautions": []}),
    "reentry": one_line_body(label=BRINDLE_LABEL | {"keep_off": ""}),
    "sign_removal": visit_body(),
    "label_offer": without("business", "phone"),
}
# The notice prints these whatever the record holds; a product may lawfully have no signal word (40 CFR 156.64).
ALWAYS = {"signal_word", "poison_phone", "signature"}


def test_every_piece_of_every_pack_is_known_here() -> None:
    """No pack wants a piece that this table has no case for."""
    assert ABSENT.keys() | ALWAYS == NOTICE_CONTENT.keys()
    wanted = {piece for key in pack_ids() for piece in wanted_content([newest(key)])}
    assert wanted <= NOTICE_CONTENT.keys()


@pytest.mark.parametrize("piece", NOTICE_CONTENT)
def test_a_piece_that_the_record_holds_is_not_lacking(piece: str) -> None:
    """An ordinary full record supplies everything."""
    body = visit_body(sign_removal={"local": "2026-05-15T09:32-05:00", "utc": "2026-05-15T14:32:00Z"})
    assert lacking(body, [pack(piece)]) == ()


@pytest.mark.parametrize("piece", ABSENT)
def test_a_piece_that_the_record_lacks_is_named_with_its_rule(piece: str) -> None:
    """The finding holds piece, pack, citation, status and moment; a rule from memory binds nobody."""
    found = lacking(ABSENT[piece], [pack(piece), pack(piece, status=Status.MEMORY)])
    assert [one.piece for one in found] == [piece]
    assert found[0].binds
    assert found[0].words.startswith(NOTICE_CONTENT[piece])
    assert "xx-1: Invented Code 1.2 (verified), when the work is done" in [one.told for one in found[0].wanted]
    assert not lacking(ABSENT[piece], [pack(piece, status=Status.MEMORY)])[0].binds
    assert found[0].document()["wanted"][0]["url"] == "https://law.example/1-2"


@pytest.mark.parametrize("piece", sorted(ALWAYS))
def test_what_the_notice_always_prints_is_never_lacking(piece: str) -> None:
    """A product without a signal word, and lines that the notice has of its own."""
    assert lacking(one_line_body(product=BRINDLE | {"signal_word": ""}), [pack(piece)]) == ()


def test_the_ways_in_which_a_piece_is_supplied() -> None:
    """Alternatives that the notice prints in the place of the first choice are no lack."""
    exempt = one_line_body(product=BRINDLE | {"registration": None, "exemption": "FIFRA 25(b)"})
    assert lacking(exempt, [pack("registration")]) == ()
    assert lacking(visit_body(applicator=MO | {"licence": None}, supervisor=ADA), [pack("applicator_licence")]) == ()
    assert lacking(of_treatment(area=None, extent="12 spots along the walk"), [pack("area")]) == ()
    assert lacking(of_treatment(targets=[], purpose="general weed control"), [pack("target")]) == ()
    stated = WEATHER | {"not_measured": {"temperature": "thermometer broken"}}
    assert lacking(visit_body(weather=stated), [pack("temperature")]) == ()
    assert (
        lacking(one_line_body(label=BRINDLE_LABEL | {"keep_off": "", "reentry": "12 hours"}), [pack("reentry")]) == ()
    )


def test_products_are_named_once_and_others_than_pesticides_are_not_asked() -> None:
    """An adjuvant has no registration to print; a visit without any pesticide owes no notice."""
    bare = BRINDLE | {"registration": None}
    lines = [application(bare), application(bare), application(SPREADWELL)]
    (found,) = lacking(visit_body(treatments=[treatment(applications=lines)]), [pack("registration")])
    assert found.products == ("Brindle 4L",)
    assert found.words == "the registration number of Brindle 4L"
    only = visit_body(treatments=[treatment(applications=[application(SPREADWELL)])], started=None)
    assert lacking(only, [pack(*ABSENT)]) == ()


def text_of(body: Json, packs: list[Pack], language: str = "en") -> str:
    """Return the printed words of a notice, which is one page."""
    record = StoredRevision(1, "2026-000001", 1, "sealed", "2026-05-14T14:33:01.123456Z", "", "ab" * 32, body)
    model = visit_notice(record, notice_wording(language), language, DAY, owed_on(body, packs))
    pages = PdfReader(io.BytesIO(render_notice(model))).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def test_a_signature_line_where_a_rule_wants_one() -> None:
    """Under it who applied and who answered (K.S.A. 2-2455 wants both); no line where no rule wants one."""
    text = text_of(visit_body(), [newest("us-ks")])
    assert "Signature: Mo Tarn, licence MN-T-3301" in text
    assert "Signature: Ada Brook, licence MN-C-1182" in text
    assert "Firma: Mo Tarn" in text_of(visit_body(), [newest("us-ks")], "es")
    assert "Signature" not in text_of(visit_body(), [newest("us-mn")])


def test_the_day_on_which_the_sign_may_come_down_by_the_rule_of_the_state() -> None:
    """Indiana: until the next day (357 IAC 1-5-2). Ohio: 24 hours (OAC 901:5-11-09). As recorded, it wins."""
    indiana, ohio = (visit_body(site=visit_body()["site"] | {"state": state}) for state in ("IN", "OH"))
    assert "Leave our sign up until May 15, 2026, then" in text_of(indiana, [newest("us-in")])
    assert "Leave our sign up until May 15, 2026, 9:32 am" in text_of(ohio, [newest("us-oh")])
    ohio["sign_removal"] = {"local": "2026-05-16T10:00-05:00", "utc": "2026-05-16T15:00:00Z"}
    assert "May 16, 2026, 10:00 am" in text_of(ohio, [newest("us-oh")])
    # Never by the rule of another state than the site's.
    assert "Leave our sign" not in text_of(visit_body(), [newest("us-oh")])
    assert [one.piece for one in lacking(visit_body(), [newest("us-oh")])] == ["sign_removal"]
    assert "When our sign may come down is not recorded. Ask us: 612-555-0142" in text_of(
        visit_body(), [newest("us-oh")]
    )


def test_a_reentry_interval_is_printed_with_its_end() -> None:
    """The label's interval, in both languages, through the night on which the clocks go back."""
    label = BRINDLE_LABEL | {"reentry": "12 hours"}
    body = one_line_body(label=label)
    assert "The label's re-entry interval is 12 hours: until May 14, 2026, 9:32 pm" in text_of(body, [])
    assert "es de 12 horas: hasta el 14 de mayo de 2026 a las 9:32 p. m." in text_of(body, [], "es")
    body["finished"] = {"local": "2026-10-31T20:00-05:00", "utc": "2026-11-01T01:00:00Z"}
    assert "until November 1, 2026, 7:00 am" in text_of(body, [])
    body["finished"] = body["started"] = None
    assert "interval is 12 hours (end of work not recorded)" in text_of(body, [])


def test_maker_and_purpose_are_printed_where_recorded() -> None:
    """Connecticut wants the maker, Massachusetts takes the purpose for the target."""
    line = application(BRINDLE | {"maker": "Fenn & Rowe"}, targets=[])
    body = visit_body(treatments=[treatment(applications=[line], targets=[], purpose="moss control")])
    text = text_of(body, [])
    assert "made by Fenn & Rowe" in text
    assert "against moss control" in text


def test_the_command_names_what_is_missing_then_writes_and_ends_with_1(kit: Kit, run: Run, tmp_path: Path) -> None:
    """Wisconsin wants the label's precautions (ATCP 29.56); the product was loaded without any."""
    kit.load(products=[labelled()])
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    ran = run("notice", serial, "--out", "n.pdf")
    assert ran.code == 1
    talk = " ".join(ran.err.split())
    assert talk.startswith(
        "not on this notice: the label's precautions for afterwards of Larkin 4 (us-wi: Wis. Admin. Code ATCP 29.56, "
    )
    assert talk.endswith("before you hand it over wrote n.pdf")
    assert (tmp_path / "n.pdf").read_bytes().startswith(b"%PDF")
    told = run("notice", serial, "--out", "n.pdf", "--json")
    assert told.code == 1
    assert [(one["piece"], one["binds"]) for one in told.json["lacking"]] == [("precautions", True)]
    # Minnesota does not want them.
    serial = kit.sealed(site="site-mn", applicator="vera").serial
    ran = run("notice", serial, "--out", "n.pdf", "--json")
    assert (ran.code, ran.json["lacking"]) == (0, [])


def test_a_lack_under_a_rule_from_memory_is_said_and_ends_with_0(
    kit: Kit, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only verified and secondary rules make the exit code 1."""
    kit.load(products=[labelled()])
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    known = newest("us-wi")
    copies = tuple(replace(one, source=replace(one.source, status=Status.MEMORY)) for one in known.copies)
    monkeypatch.setattr(
        "records.services.rulebook.versions_of", lambda key: (replace(known, copies=copies),) if key == "us-wi" else ()
    )
    ran = run("notice", serial, "--out", "n.pdf")
    assert ran.code == 0
    assert "from memory, not checked" in ran.words


def test_what_is_owed_by_an_ordinary_record_is_nothing_more() -> None:
    """No pack, no line: the notice is the one that every customer gets."""
    assert owed_on(visit_body(), []) == owed_on(visit_body(), [newest("common")])
    assert isinstance(
        owed_on(visit_body(site=visit_body()["site"] | {"state": "OH"}), [newest("us-oh")]).sign, datetime
    )


def test_long_names_are_printed_whole_on_one_page() -> None:
    """Rules want the firm's address and the customer's name; neither is cut off, whatever stands in it."""
    body = visit_body()
    address = "480 Cooper Alley, Building C, Second Floor, Suite 2100, North Birchfold Heights, Minnesota 55290-1234"
    name = "<b>Mossgable Row Homeowners' Association</b> & =Sons, in care of the Osier Prairie Property Managers, Inc."
    body["business"] = body["business"] | {"address": address}
    body["customer"] = body["customer"] | {"name": name}
    text = text_of(body, [])
    assert address in text
    assert name in text
