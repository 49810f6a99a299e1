"""Where the label and the data sheet of a number and lot are, as an inspector asks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from records.services.papers import is_lot
from tests.cli.conftest import ROOT
from tests.cli.test_reports import LAYOUT

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook


@pytest.mark.parametrize("asked", ["99999-41", "brindle-4l", "Brindle", "BRINDLE 4L"])
def test_number_name_and_id_lead_to_the_same_papers(asked: str, year: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", year, "papers", asked)
    assert ran.code == 0, ran.err
    assert "office binder, tab" in ran.out
    assert "label 2025-11, the one the book checks by" in ran.words
    assert "copy: truck folder, and office binder" in ran.out


def test_a_lot_leads_to_its_product_its_purchase_and_its_records(year: Path, swathbook: Swathbook) -> None:
    bought = swathbook(
        "--book", year, "stock", "buy", "brindle-4l", "1x2.5gal", "--lot", "B2311", "--label", "2026-07",
        "--expires", "2028-04-01", "--at", "2026-10-01", "--by", "mo",
    )  # fmt: skip
    assert bought.code == 0, bought.err
    told = swathbook("--book", year, "papers", "--lot", "B2311", "--json").json
    (lot,) = told["lots"]
    assert told["product"] == "brindle-4l"
    assert (lot["bought"][0]["label"], lot["bought"][0]["expires"]) == ("2026-07", "2028-04-01")
    found = swathbook("--book", year, "find", "--product", "brindle-4l", "--from", "2026-07", "--json").json
    assert set(lot["records"]) <= {one["serial"] for one in found["applications"]}
    assert len(lot["records"]) == len(set(lot["records"])) > 0
    assert "label 2026-07 on it" in swathbook("--book", year, "papers", "--lot", "B2311").words
    assert "no purchase of it is logged" in swathbook("--book", year, "papers", "--lot", "B2207").words


def test_a_recall_is_followed_to_every_lawn(year: Path, swathbook: Swathbook) -> None:
    """Whatever the case of the lot: every record with day, site, address and amount; find gives the same."""
    told = swathbook("--book", year, "papers", "99999-41", "--lot", "b2311", "--json").json
    (lot,) = told["lots"]
    assert lot["lot"] == "B2311"
    ran = swathbook("--book", year, "papers", "99999-41", "--lot", "b2311")
    assert len(lot["used"]) > 3
    for one in lot["used"]:
        assert one["record"] in ran.out
        assert one["site"] in ran.out
        assert one["address"]
        assert one["amount"] in ran.out
    assert "more" not in ran.out
    assert swathbook("--book", year, "papers", "--lot", "b2311").code == 0
    found = swathbook("--book", year, "find", "--lot", "b2311", "--json").json
    assert {one["serial"] for one in found["applications"]} == set(lot["records"])
    assert found["records"] == len(lot["records"])
    assert swathbook("--book", year, "find", "--lot", "231", "--json").json["records"] == 0
    assert swathbook("--book", year, "find", "--lot", "B2311", "--product", "tessaly", "--json").json["records"] == 0
    assert "more: --lot B2311" in swathbook("--book", year, "papers", "brindle-4l").words


@pytest.mark.parametrize(("lot", "written"), [("b1", "B1"), ("B1", "A7, b1"), ("a7", "A7,B1"), ("B1", "b1 ")])
def test_a_lot_is_the_same_in_any_case_and_in_a_list(lot: str, written: str) -> None:
    assert is_lot(lot, written)
    assert not is_lot(lot, "B12")
    assert not is_lot("", "")


def test_each_revision_has_its_records(year: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """A newer label was loaded: the older one keeps the records it judged."""
    text = (ROOT / "demo" / "firm" / "products.toml").read_text("utf-8")
    newer = tmp_path / "newer.toml"
    newer.write_text(text.replace('revision = "2025-11"', 'revision = "2026-09"', 1), "utf-8")
    assert swathbook("--book", year, "load", newer).code == 0
    labels = swathbook("--book", year, "papers", "brindle-4l", "--json").json["labels"]
    assert [(one["revision"], one["newest"], one["records"] > 0) for one in labels] == [
        ("2026-09", True, False),
        ("2025-11", False, True),
    ]


def test_what_is_not_recorded_is_said_with_what_to_do(year: Path, swathbook: Swathbook) -> None:
    assert 'load the product with sds = "where it is kept"' in swathbook("--book", year, "papers", "sourleaf").words


@pytest.mark.parametrize(
    ("asked", "product"),
    [
        ("EPA Reg. No. 099999-00041", "brindle-4l"),  # as it stands on a container, or in a table with zeros
        ("99999-41-55555", "brindle-4l"),  # a distributor's container of the registrant's product
        ("99999-58", "orlop-3w"),
        ("99999-58-88888", "pellam-3w"),
    ],
)
def test_registrant_and_distributor(asked: str, product: str, year: Path, swathbook: Swathbook) -> None:
    """A distributor's number is the registrant's with a third group (40 CFR 152.132): each leads to the other."""
    assert swathbook("--book", year, "papers", asked, "--json").json["product"] == product


def test_those_of_one_federal_number_name_each_other(year: Path, swathbook: Swathbook) -> None:
    assert (
        "the same federal number: pellam-3w (99999-58-88888)" in swathbook("--book", year, "papers", "99999-58").words
    )
    ran = swathbook("--book", year, "papers", "99999-58-77777")
    assert (ran.code, "orlop-3w (99999-58), pellam-3w (99999-58-88888)" in ran.words) == (9, True)


def test_form_signal_word_and_the_records_of_a_revision(year: Path, swathbook: Swathbook) -> None:
    found = swathbook("--book", year, "papers", "brindle-4l", "--json").json
    assert (found["form"], found["signal_word"]) == ("liquid", "CAUTION")
    (label,) = found["labels"]
    listed = swathbook("--book", year, "find", "--product", "brindle-4l", "--from", "2026-01", "--json").json
    serials = {one["serial"]: one["date"] for one in listed["applications"]}
    assert label["records"] == len(serials)
    assert serials[label["first_serial"]] == label["first"] == min(serials.values())
    assert serials[label["last_serial"]] == label["last"] == max(serials.values())


def test_a_voided_record_used_no_label_and_no_lot(year: Path, swathbook: Swathbook) -> None:
    before = swathbook("--book", year, "papers", "--lot", "B2207", "--json").json
    (lot,) = before["lots"]
    for serial in lot["records"]:
        assert swathbook("--book", year, "void", serial, "--reason", "twice", "--by", "mo").code == 0
    after = swathbook("--book", year, "papers", "brindle-4l", "--json").json
    assert after["labels"][0]["records"] == before["labels"][0]["records"] - len(lot["records"])
    assert "B2207" not in {one["lot"] for one in after["lots"]}


def test_imported_records_are_told_with_the_number_they_have(firm: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """Another system's rows name the number, not the product of this book, and no label revision."""
    layout, rows = tmp_path / "layout.toml", tmp_path / "rows.csv"
    layout.write_text(LAYOUT.replace("[constants]", 'lot = "Lot"\n[constants]'), "utf-8")
    rows.write_text(
        "Day,Customer,Product,Number,Used,Unit,Lot\n2025-06-03,Ida Dalby,Old Brindle,99999-41,4.5,floz,OLD-1\n",
        "utf-8",
    )
    ran = swathbook("--book", firm, "import", rows, "--layout", layout)
    assert ran.code == 0, ran.err
    found = swathbook("--book", firm, "papers", "--lot", "old-1", "--json").json
    assert (found["product"], found["records_without_label"]) == ("brindle-4l", 1)
    assert [(one["lot"], len(one["bought"]), len(one["records"])) for one in found["lots"]] == [("OLD-1", 0, 1)]
    assert "1 record without a label revision" in swathbook("--book", firm, "papers", "brindle-4l").words


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "no product is named"),
        (("nothing",), "swathbook catalogue products"),
        (("brindl-4l",), "Did you mean brindle-4l?"),
        (("Brindel 4L",), "Did you mean brindle-4l?"),
        (("three-way",), "fits 2 products"),
        (("--lot", "X9"), "no lot 'X9'"),
        (("--lot", "b2113"), "Did you mean B2311"),
        (("brindle-4l", "--lot", "b2208"), "Did you mean B2207"),
        (("brindle-4l", "--lot", "X9"), "Its lots: B2207, B2311"),
    ],
)
def test_what_cannot_be_found(words: tuple[str, ...], told: str, year: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", year, "papers", *words)
    assert ran.code != 0
    assert told in ran.words
