"""Nothing private of a record reaches a neighbour: every other text of it becomes a mark that must not come out."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from records.domain.answer_model import NEIGHBOUR
from records.reports.answer import render_answer
from records.reports.wordings import answer_wording, notice_wording
from records.services.answering.build import Answers, answer_model
from records.services.answering.document import answer_document
from records.services.answering.neighbour import for_neighbour
from records.services.noticing import visit_notice
from records.services.ports import StoredRevision
from tests.bodies import visit_body

DAY = date(2026, 6, 1)
# What the page is allowed to say; a path with * stands for any place of a list.
TOLD = {
    *("kind", "date", "period", "timezone", "started.local", "started.utc", "finished.local", "finished.utc"),
    *("business.name", "business.address", "business.phone", "business.licence", "business.state", "site.address"),
    *("weather.wind_speed", "weather.wind_gust", "weather.wind_from", "weather.temperature"),
    *("weather.measured_at.local", "weather.measured_at.utc", "weather.measured_at"),
    *(f"treatments.*.applications.*.product.{key}" for key in ("name", "registration", "exemption", "kind", "type")),
    "treatments.*.applications.*.product.signal_word",
    *(f"treatments.*.applications.*.product.actives.*.{key}" for key in ("name", "content", "as")),
    "treatments.*.zones.*.kind",
}
LABEL = "treatments.*.applications.*.label."
LABEL_TOLD = ("keep_off", "precautions", "first_aid", "reentry", "spanish")


def marked(part: Any, path: str, marks: list[str]) -> Any:  # noqa: ANN401 - JSON of any kind
    """Return a body in which every text that is not let through is a mark of its own."""
    if isinstance(part, dict):
        return {key: marked(value, f"{path}.{key}".lstrip("."), marks) for key, value in part.items()}
    if isinstance(part, list):
        return [marked(value, f"{path}.*", marks) for value in part]
    is_label = path.startswith(LABEL) and path.removeprefix(LABEL).partition(".")[0] in LABEL_TOLD
    if not isinstance(part, str) or path in TOLD or is_label:
        return part
    marks.append(f"zq{len(marks):03d}zq")
    return marks[-1]


def page(body: dict[str, Any], language: str) -> tuple[str, str]:
    """Return what a neighbour gets of a body: as JSON, and as the text of the PDF."""
    record = StoredRevision(1, "2026-000001", 1, "sealed", "2026-06-01T14:33:01.123456Z", "", "ab" * 32, body)
    near = replace(record, body=for_neighbour(body))
    notice = notice_wording(language)
    answers = Answers(answer_wording(language), notice, visit_notice(near, notice, language, DAY), [near])
    model = answer_model(
        answers, tuple(answers.neighbour(is_deviation=bool(body["deviation"]))), NEIGHBOUR, "7 Lark Lane"
    )
    drawn = "\n".join(one.extract_text() for one in PdfReader(io.BytesIO(render_answer(model))).pages)
    return json.dumps(answer_document(model), ensure_ascii=False), drawn


def full() -> dict[str, Any]:
    """Return a body that has something to hide in every place where one can."""
    body = visit_body()
    body |= {
        "remarks": "gate code 4711, dog bites",
        "incident": "spilled a cup by the shed",
        "permit": "P-1",
        "authorized_by": "the husband",
        "mixing_place": "the garage",
        "follow_up": "2026-06-11",
        "deviation": {"reason": "the customer insisted", "signed_by": {"id": "x", "name": "Someone", "licence": None}},
        "findings": [{"code": "over-wind", "severity": "stop", "at": "weather", "message": "too windy", "source": "s"}],
    }
    body["weather"] = {
        **body["weather"],
        "wind_gust": "22 mph",
        "source": "the meter she lent us",
        "not_measured": {"humidity": "her dog ate it"},
    }
    for treatment in body["treatments"]:
        treatment |= {"extent": "behind her shed", "purpose": "she asked", "plot": "T1/2"}
        for zone in treatment["zones"]:
            zone["name"] = "Berit's roses"
        for line in treatment["applications"]:
            line |= {"lot": "L1", "supplier": "a shop", "mix": "load-1"}
    return body


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_text_that_is_not_let_through_comes_out(language: str) -> None:
    """Every other text of the body is a mark; none of the marks is in the JSON or on the page."""
    marks: list[str] = []
    told = page(marked(full(), "", marks), language)
    assert len(marks) > 60, "the body has to hold much that is private"
    for text in told:
        assert [mark for mark in marks if mark in text] == []


def test_what_a_neighbour_may_know_does_come_out() -> None:
    """Products, numbers, actives, signal word, keep-off, wind from and toward, first aid, emergency lines."""
    text, drawn = page(full(), "en")
    for told in (
        *("Brindle 4L", "99999-41", "brindlac acid", "CAUTION", "until the spray has dried", "from the northwest"),
        *("toward the southeast", "1-800-222-1222", "1-800-858-7378", "911", "If on skin", "label"),
        *("did not keep to a label or a rule", "Something out of the ordinary is written down", "gusts up to 22 mph"),
    ):
        assert told in text
        assert told in " ".join(drawn.split())


def test_a_neighbour_is_told_all_of_people_and_pets_and_nothing_of_our_sign() -> None:
    """Every line on children and dogs; the sign is not theirs to take down."""
    body = visit_body(sign_removal={"local": "2026-05-15T09:32-05:00", "utc": "2026-05-15T14:32:00Z"})
    lines = ["Do not let dogs chew & roll on treated turf.", "Do not water, mow or let children play within 48 hours."]
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            line["label"] = {**(line["label"] or {}), "precautions": lines}
    text, _ = page(body, "en")
    assert [one for one in lines if one not in text] == []
    assert "our sign" not in text
    assert "out of the ordinary" not in text


_WORDS = st.text("abcdefghijklmnopqrstuvwxyz", min_size=6, max_size=12)


@given(name=_WORDS, phone=st.from_regex(r"9\d\d-555-9\d\d\d", fullmatch=True), remark=_WORDS, zone=_WORDS)
def test_no_customer_is_ever_named(name: str, phone: str, remark: str, zone: str) -> None:
    """Whatever a customer is called: name, phone, e-mail, remarks and names of zones stay inside."""
    body = full()
    body["customer"] = {"id": f"q{name}", "name": f"Q{name} Z{name}", "phone": phone, "email": f"{name}@example.org"}
    body["remarks"] = f"x{remark}"
    for treatment in body["treatments"]:
        for one in treatment["zones"]:
            one |= {"id": f"z{zone}", "name": f"{zone} of Q{name}"}
    text = json.dumps(for_neighbour(body), ensure_ascii=False)
    for private in (f"Q{name}", f"Z{name}", phone, f"{name}@example.org", f"x{remark}", f"z{zone}", f"{zone} of"):
        assert private not in text
