"""What hostile input once broke, each by itself."""

from __future__ import annotations

import io
import json
from datetime import datetime
from email import message_from_bytes
from email.policy import default
from typing import TYPE_CHECKING

import pytest

from records.errors import InputError
from records.mail import compose
from records.services.closing.documents import read_document
from records.services.inspecting.sheets import PacketXlsx
from records.services.loading import MAX_PROBLEMS, LoadProblem, parse
from records.services.mail_port import Letter
from records.services.summarising import cell, workbook_text
from tests.hostile import clean
from tests.kit import visit

if TYPE_CHECKING:
    from tests.hostile.conftest import World


@pytest.mark.parametrize("char", ["\ufffe", "\uffff", "\x00", "\x1b", "\ud800"], ids=ascii)
def test_a_character_that_xml_cannot_hold(char: str) -> None:
    """XML 1.0, 2.2: a workbook with one could not be opened at all."""
    target = io.BytesIO()
    made = PacketXlsx(target)
    made._add("x", ("x",))
    made._append((f"a{char}b", "_x0041_"))
    made.end()
    clean.sheet(target.getvalue())
    assert workbook_text(f"a{char}b") == "a\ufffdb"


def test_what_a_workbook_would_read_as_another_character() -> None:
    """ECMA-376 part 1, ST_Xstring, from memory: `_x0041_` is read as an A unless its first sign is escaped."""
    assert workbook_text("_x0041_ x_y _x5_") == "_x005F_x0041_ x_y _x5_"


@pytest.mark.parametrize("lead", "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
def test_leads_of_formulas(lead: str) -> None:
    """Wide forms too, which some spreadsheets take for the signs."""
    assert cell(f"{lead}1+1") == f"'{lead}1+1"


def test_a_name_twice_at_the_end_of_a_long_document() -> None:
    """It was looked for in a time that grew with the square of the names."""
    text = "{" + ",".join(f'"a{i}":1' for i in range(130_000)) + ',"a129999":1}'
    with pytest.raises(InputError, match="'a129999' stands twice"):
        read_document(text, "x.json")


def test_a_reference_with_a_nul_is_held(world: World) -> None:
    """PostgreSQL cannot keep it in a column, so it names nothing there; in the document it stands as typed."""
    ran = world.run("close", "-", "--json", stdin=json.dumps(visit(ref="a\0b")).encode(), codes=(1,))
    assert ran.json["held"] == "H-000001"
    entry = world.run("held", "show", "1", "--json").json
    assert entry["ref"] is None
    assert entry["document"]["ref"] == "a\0b"


def test_long_texts_are_cut_where_they_are_only_named(world: World) -> None:
    """Lists and verdicts name an entry; the whole of it comes when it is asked for."""
    document = json.dumps(visit(ref="r" * 500_000, site="s" * 500_000)).encode()
    for words in (["close", "--lines", "-"], ["held"], ["ready"], ["inspect", "--from", "2026"]):
        ran = world.run(*words, stdin=document)
        assert len(ran.out) + len(ran.err) < 5_000, words
    assert "s" * 500_000 in world.run("held", "show", "1").out


def test_errors_are_one_line_whatever_they_name(world: World) -> None:
    """A line break in the name of a file or a word of the command line makes no second line."""
    (world.folder / "a\nb.json").write_bytes(b"{")
    for words in (["close", "a\nb.json"], ["a\nb"], ["show", "a\nb"], ["find", "--from", "x" * 50_000]):
        ran = world.run(*words, codes=(2, 8, 9))
        assert len(ran.err) < 3_000


def test_reading_stops_after_many_problems() -> None:
    """Each empty table has several; nobody reads hundreds of thousands of them."""
    problems: list[LoadProblem] = []
    assert parse("x.json", b'{"people":[' + b"{}," * 600_000 + b"{}]}", problems) is None
    assert "more than 1,000,000 values" in problems[0].what
    assert MAX_PROBLEMS < 1_000


def test_a_host_that_no_name_can_be(world: World) -> None:
    """The encoder of host names raises an error of its own."""
    world.run("--book", "postgresql://\x9b31m\x85", "find", codes=(2, 7))


@pytest.mark.parametrize("name", ["A. Firm, Inc. <eve@example.org>", "Zo\u00eb, <eve@example.org>"])
def test_a_long_name_names_no_other_recipient(name: str) -> None:
    """Python's library drops the quotes of a name that it folds, so that its comma parts two addresses."""
    at = datetime.fromisoformat("2026-05-14T09:42-05:00")
    for times in range(1, 7):
        long = ", ".join([name] * times)
        letter = Letter("ola@berg.example", long, long, "o@x.example", "s", "t", b"", "f.pdf", "m", at)
        read = message_from_bytes(compose(letter, "o@x.example").as_bytes(), policy=default)
        for header, address in (("To", "ola@berg.example"), ("From", "o@x.example")):
            assert [one.addr_spec for one in read[header].addresses] == [address]
    short = Letter("o@b.example", "A. Firm, Inc.", "x", "o@x.example", "s", "t", b"", "f.pdf", "m", at)
    assert compose(short, "o@x.example")["To"] == '"A. Firm, Inc." <o@b.example>'
