"""The emergency sheet: one page, whatever was put out; the last month, and what nobody has checked yet."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from records.domain.packet_model import EmergencyProduct, EmergencyVisit, FirstAid
from records.errors import NotFoundError
from records.reports.emergency import render_emergency
from records.services.inspecting.emergency import NO_FIRST_AID, emergency, emergency_document
from tests.bodies import BRINDLE_LABEL
from tests.inspect.conftest import HOSTILE
from tests.kit import Kit

if TYPE_CHECKING:
    from pathlib import Path

    from records.domain.packet_model import EmergencyModel


def sheet(kit: Kit, site: str = "mill-9", now: str = "2026-06-20T09:00") -> EmergencyModel:
    """Return the sheet of a site on a day."""
    kit.set(now)
    return emergency(kit.book, site, kit.clock).model


def drawn(model: EmergencyModel, paper: str = "letter") -> str:
    """Return the text of the page; it is one."""
    (page,) = PdfReader(io.BytesIO(render_emergency(model, paper))).pages
    return page.extract_text()


def test_the_last_month_newest_first(kit: Kit) -> None:
    """Thirty days back, newest first; a voided record was no application."""
    model = sheet(kit)
    assert [visit.serial[-1] for visit in model.visits] == ["7", "4", "3", "2"]
    assert model.span == "All applications recorded here in the last 30 days, since May 21, 2026."
    assert model.address == "9 Mill Path, Tamarack Falls, MN 55199"
    product = model.visits[0].products[0]
    assert product.identity == "EPA Reg. No. 99999-51, signal word CAUTION, liquid"
    assert product.actives == "larkinic acid 4 lb/gal ae"
    assert product.amount == "1.5 fl oz over 2000 sq ft"


def test_an_older_visit_is_told_as_such(kit: Kit) -> None:
    """Where nothing was put out for a month, the last visit is told, and that it is older."""
    model = sheet(kit, "odd-1", "2026-09-01T09:00")
    assert [visit.serial[-1] for visit in model.visits] == ["5"]
    assert model.span.startswith("No application is recorded here in the last 30 days, since August 2, 2026.")
    assert "[U+1F331]" not in drawn(model)  # the customer is nobody's business here
    assert HOSTILE not in drawn(model)


def test_what_is_held_is_told_as_not_checked(kit: Kit) -> None:
    """It may have been put out; where that was is what an emergency asks first."""
    assert sheet(kit, now="2026-07-15T09:00").unsealed == (
        (
            "H-000001 of 2026-06-29: Larkin 4, EPA Reg. No. 99999-51, signal word CAUTION, "
            "larkinic acid 4 lb/gal ae, 3 fl oz/1000 sq ft"
        ),
    )
    assert sheet(kit, now="2026-08-15T09:00").unsealed == ()
    assert sheet(kit, "odd-1").unsealed == ()
    assert "NOT CHECKED, may have been put out, too: H-000001" in drawn(sheet(kit, now="2026-07-15T09:00"))


def test_a_site_with_nothing_but_a_held_entry(tmp_path: Path) -> None:
    """Nothing is sealed, and the page still says what is known."""
    kit = Kit.at(tmp_path)
    assert kit.close(rate="3 fl oz/1000 sq ft").status == "held"
    model = sheet(kit, now="2026-05-15T09:00")
    assert model.visits == ()
    assert len(model.unsealed) == 1
    assert model.span == "No application is recorded here in the last 30 days, since April 15, 2026."
    assert "H-000001 of 2026-05-14" in drawn(model)


def test_first_aid_in_the_label_s_own_words(kit: Kit) -> None:
    """Uncut; a product without any is named first, with what to do instead."""
    (missing,) = sheet(kit).first_aid
    assert (missing.products, missing.text, missing.missing) == (("Larkin 4",), NO_FIRST_AID, True)
    model = sheet(kit, "lark-lane-7")
    assert model.first_aid[0].products == ("Brindle 4L",)
    other = replace(model, first_aid=(FirstAid(("Brindle 4L",), BRINDLE_LABEL["first_aid"]),))
    assert "rinse skin with plenty of water for 15 minutes" in drawn(other).replace("\n", " ")
    assert emergency_document(other)["first_aid"][0]["text"] == BRINDLE_LABEL["first_aid"]
    assert json.loads(json.dumps(emergency_document(model)))["first_aid"][0]["text"] is None


@pytest.mark.parametrize("site", ["nowhere", "Mill Path 9", "dock-2"])
def test_no_page_without_a_site_or_an_application(kit: Kit, site: str) -> None:
    """An unknown place, and one where nothing was ever put out."""
    with pytest.raises(NotFoundError):
        sheet(kit, site)


def test_one_site_alone(kit: Kit) -> None:
    """A part of an address that fits several sites names them."""
    with pytest.raises(NotFoundError, match=r"fits 2 sites: dock-2, odd-1"):
        sheet(kit, "o")


names = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40)
products = st.builds(EmergencyProduct, names, names, names, names, names)
visits = st.builds(EmergencyVisit, names, names, names, st.lists(products, min_size=1, max_size=14).map(tuple))
aids = st.builds(FirstAid, st.tuples(names), st.text("abc rinse ", min_size=1, max_size=3000), st.booleans())


@pytest.fixture(scope="module")
def ordinary(full_book: Path) -> EmergencyModel:
    """Return an ordinary sheet."""
    kit = Kit(full_book)
    return sheet(kit)


@settings(max_examples=25, deadline=None)
@given(
    found=st.lists(visits, min_size=1, max_size=30),
    aid=st.lists(aids, max_size=8),
    held=st.lists(names, max_size=6),
    paper=st.sampled_from(["letter", "a4"]),
)
def test_it_is_always_one_page(
    ordinary: EmergencyModel, found: list[EmergencyVisit], aid: list[FirstAid], held: list[str], paper: str
) -> None:
    """Thirty visits of fourteen products with long first aid words; whatever characters; what is left out is said."""
    model = replace(ordinary, visits=tuple(found), first_aid=tuple(aid), unsealed=tuple(held))
    text = drawn(model, paper)
    assert "911" in text
    assert "1-800-222-1222" in text


def test_what_is_left_out_is_said(ordinary: EmergencyModel) -> None:
    """The oldest visits go first, by number of record."""
    visit = ordinary.visits[0]
    many = tuple(replace(visit, serial=f"2026-{900 - number:06d}") for number in range(60))
    text = drawn(replace(ordinary, visits=many)).replace("\n", " ")
    assert "record 2026-000900" in text
    assert "earlier visits are left out of this page: records 2026-" in text
