"""A book comes whole into an empty one, every line proved; one bad line, and nothing is kept."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.errors import InputError, OverwriteError
from records.services.moving import reading
from records.services.moving.importing import check_export, import_book
from records.services.sealing import sealed
from records.storage.integrity import verify
from records.storage.migrate import upgrade
from records.storage.schema import PROTECTED
from records.storage.unit_of_work import SqlBook
from tests.moving.conftest import documents, everything, write, written
from tests.moving.test_export import exported
from tests.storage.chain import AT, visit

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Swathbook

Lines = list[dict[str, Any]]


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> Lines:
    """Return the lines of a book that holds everything; take a copy to change them."""
    path = tmp_path_factory.mktemp("full") / "full.db"
    upgrade(path)
    return documents(exported(everything(SqlBook(path))))


def new_book(empty_book: Path, folder: Path) -> SqlBook:
    return SqlBook(shutil.copyfile(empty_book, folder / "new.db"))


def dump(path: Path) -> dict[str, list[Any]]:
    with closing(sqlite3.connect(path)) as connection:
        return {table: connection.execute(f"SELECT * FROM {table}").fetchall() for table in PROTECTED}  # noqa: S608


def test_everything_comes_over(full: SqlBook, empty_book: Path, tmp_path: Path) -> None:
    """All rows of all tables are as they were, seals too, the new book verifies, and exports the same again."""
    data = exported(full)
    made = new_book(empty_book, tmp_path)
    told = import_book(made, io.BytesIO(data), "x")
    report = verify(made)
    assert (report.problems, report.revisions, report.last_seal) == ([], 8, told.last_seal)
    assert exported(made) == data
    before, after = dump(full.path), dump(made.path)
    for table in ("catalogue", "revision", "held_event", "removed_revision"):
        assert after[table] == before[table]
    # Numbers that nothing sealed names are given anew: what was removed left gaps in them
    assert [row[2:-1] for row in after["application"]] == [row[2:-1] for row in before["application"]]
    with made.write() as unit:
        assert unit.records.next_number(2025) == 3
        assert unit.records.next_event() == 3
        assert unit.held.next_number() == "H-000003"
        assert len(unit.held.open()) == 1


def test_an_empty_book_comes_over(book: SqlBook, empty_book: Path, tmp_path: Path) -> None:
    """Nothing, and no complaint."""
    made = new_book(empty_book, tmp_path)
    assert import_book(made, io.BytesIO(exported(book)), "x").is_empty
    assert verify(made).problems == []


def test_only_into_an_empty_book(full: SqlBook) -> None:
    """One line says so, and nothing changes."""
    before = dump(full.path)
    with pytest.raises(OverwriteError, match="only come into an empty one"):
        import_book(full, io.BytesIO(exported(full)), "x")
    assert dump(full.path) == before


def place_of(lines: Lines, **parts: object) -> int:
    return next(n for n, line in enumerate(lines) if all(line.get(name) == value for name, value in parts.items()))


def resealed(lines: Lines, place: int, body: dict[str, Any]) -> None:
    """Give a revision another body and make every seal after it fit again, as whoever means harm can do."""
    lines[place]["body"] = body
    previous = lines[place]["previous"]
    for line in lines[place:]:
        if "kind" in line:
            if line["kind"] == "end":
                line["last_seal"] = lines[0]["last_seal"] = previous
            continue
        line["previous"] = previous
        line["seal"], _ = sealed(previous, line["serial"], line["revision"], line["sealed_at"], line["body"])
        previous = line["seal"]


def _drop(**parts: object) -> Callable[[Lines], object]:
    return lambda lines: lines.pop(place_of(lines, **parts))


def _set(name: str, value: object, **parts: object) -> Callable[[Lines], None]:
    def change(lines: Lines) -> None:
        lines[place_of(lines, **parts)][name] = value

    return change


def _body(**changes: object) -> Callable[[Lines], None]:
    """Change the body of the last visit, and seal it again."""

    def change(lines: Lines) -> None:
        place = place_of(lines, serial="2027-000001")
        resealed(lines, place, lines[place]["body"] | changes)

    return change


def _swap(lines: Lines) -> None:
    place = place_of(lines, serial="2027-000001")
    lines[place - 1], lines[place] = lines[place], lines[place - 1]


BAD: dict[str, tuple[Callable[[Lines], object], str | None]] = {
    "no header": (_drop(kind="book"), "line 1: a book's export begins"),
    "two headers": (lambda lines: lines.insert(1, lines[0]), "line 2: a book's export begins"),
    "another format": (_set("format", "x/9", kind="book"), "line 1: its format is 'x/9'"),
    "header count": (_set("revisions", 9, kind="book"), "line 22: the first line says revisions 9"),
    "header seal": (_set("last_seal", "0" * 64, kind="book"), "the first line says last_seal 000"),
    "catalogue seal": (_set("catalogue_seal", "0" * 64, kind="book"), "it does not say what the first line"),
    "more parts": (_set("more", 1, kind="book"), "has a part 'more' that is not known"),
    "parts short": (lambda lines: lines[1].pop("type"), "line 2: it has no 'type'"),
    "catalogue version": (_drop(kind="catalogue", version=2), "line 3: version 2 of site wren should come first"),
    "catalogue kind": (_set("type", "spell", kind="catalogue"), "line 2: .*refused the change"),
    "catalogue instant": (_set("loaded_at", "today", kind="catalogue"), "loaded_at is no instant of UTC"),
    "catalogue changed": (_set("body", {"name": "x"}, kind="catalogue"), "says catalogue_seal"),
    "catalogue late": (lambda lines: lines.insert(8, lines.pop(4)), "line 9: a line of kind catalogue comes before"),
    "held order": (_drop(kind="held", seq=2), "line 8: event 2 of H-000001 should come first"),
    "held number": (_set("number", "H-x", kind="held"), "line 6: number is no number such as"),
    "held document": (_set("document", "[]", kind="held"), "document is not the JSON of an object"),
    "held json": (_set("findings", "[", kind="held"), "findings is not JSON"),
    "held surrogate": (_set("reason", "\ud800", kind="held"), "not UTF-8|half a pair"),
    "held changed": (_set("person", "ada", kind="held"), "says held_seal"),
    "chain order": (_swap, "does not follow the seal"),
    "chain gap": (_drop(serial="2026-000002", revision=1), "does not follow|its place in the order"),
    "serial": (_set("serial", "2026-1", serial="2026-000002"), "seal does not fit"),
    "revision": (_set("revision", 0, serial="2026-000002"), "revision is no whole number of 1 or more"),
    "true is no number": (_set("revision", value=True, serial="2026-000002"), "revision is no whole number"),
    "seal": (_set("seal", "0" * 64, serial="2026-000002"), "seal does not fit"),
    "body": (_set("body", {}, serial="2026-000002"), "seal does not fit"),
    "body no object": (_set("body", [], serial="2026-000002"), "body is no object"),
    "stub order": (_set("order", 9, kind="removed"), "its place in the order of sealing is 9, not 2"),
    "stub seal": (_set("seal", "0" * 64, kind="removed"), "does not follow the seal|its place|was changed"),
    "stub serial": (_set("serial", "2025-000009", kind="removed"), "the numbers of 2025 have a gap"),
    "stub event": (_set("event", "E-000009", kind="removed"), "what is left of the 3 revisions"),
    "no end": (_drop(kind="end"), "is cut short after line 21"),
    "after the end": (lambda lines: lines.append(lines[-1]), "more after the line that ends"),
    "kind": (_set("kind", "spell", kind="held"), "line 6: it is no line of a book's export"),
    "kind is a list": (_set("kind", [], kind="held"), "line 6: it is no line of a book's export"),
    # Sealed anew by whoever wrote the file: the seals fit, but no such record can be
    "no parts": (_body(kind=None), "line 20: .*(refused|parts)"),
    "ref no text": (_body(ref=5), "column ref says '5'"),
    "ref an object": (_body(ref={}), "line 20: "),
    "period": (_body(period="x"), "line 20: .*refused"),
    "treatments": (_body(treatments=7), "does not have the parts"),
    "origin": (_body(origin="x"), "does not have the parts"),
    "late": (_body(late_days=2**53 - 1), None),
    "kind of event": (_body(kind="event"), "line 20: .*refused"),
    "ref twice": (_body(ref="visit-1"), "line 20: .*refused"),
    "removal": (_body(kind="event", origin={"kind": "removal"}), "what is left of the 0 revisions"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_line_keeps_nothing(name: str, lines: Lines, empty_book: Path, tmp_path: Path) -> None:
    """The first bad line is named with its number and the reason, in one line, and the book stays empty."""
    change, told = BAD[name]
    changed: Lines = json.loads(json.dumps(lines))
    change(changed)
    raw: list[Any] = [json.dumps(line).encode() + b"\n" for line in changed]
    data = written(raw[:-1]) + raw[-1] if name == "after the end" else written(raw, ends=name != "no end")
    made = new_book(empty_book, tmp_path)
    if told is None:
        import_book(made, io.BytesIO(data), "x")
        assert verify(made).problems == []
        return
    with pytest.raises(InputError, match=told) as caught:
        import_book(made, io.BytesIO(data), "x")
    assert "\n" not in str(caught.value)
    with made.read() as unit:
        assert unit.moving.extent().is_empty


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (b'{"kind":"held","kind":"held"}', "the name 'kind' stands twice"),
        (b'{"kind":"held","seq":1.5}', "1.5 is not a whole number"),
        (b'{"kind":"held","seq":1e400}', "1e400 is not a whole number"),
        (b'{"kind":"held","seq":NaN}', "NaN is not a whole number"),
        (b'{"kind":"held","seq":-Infinity}', "-Infinity is not a whole number"),
        (b'{"kind":"held","seq":' + b"9" * 5000 + b"}", "too many digits"),
        (b"[" * 100_000, "nested too deep"),
        (b'{"a":' * 100_000, "nested too deep"),
        (b"[{}]", "it is no JSON object"),
        (b"", "it is not JSON"),
        (b"\xff", "it is not UTF-8"),
        (b"\xef\xbb\xbf{}", "it is not JSON"),
        (b'{"kind":"held"', "it is not JSON"),
        (b"{}{}", "it is not JSON"),
        (b"null", "it is no JSON object"),
    ],
    ids=lambda value: repr(value)[:30],
)
def test_hostile_lines_are_one_line(line: bytes, told: str, lines: Lines) -> None:
    """Whatever stands there, it is named with its number."""
    data = written([*lines[:5], line + b"\n", *lines[5:]])
    with pytest.raises(InputError, match=told) as caught:
        check_export(io.BytesIO(data), "x")
    assert str(caught.value).startswith("x line 6: ")
    assert len(str(caught.value)) < 250


def test_a_line_has_an_end(lines: Lines, monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines without end, and lines of nothing but brackets, are refused before they are read as JSON."""
    monkeypatch.setattr(reading, "MAX_LINE", 100_000)
    asked: list[int] = []

    class Stream(io.BytesIO):
        def readline(self, size: int | None = -1) -> bytes:
            asked.append(size or 0)
            return super().readline(size)

    with pytest.raises(InputError, match="line 2: it is longer than 100,000 bytes"):
        check_export(Stream(written(lines[:1], ends=False) + b"x" * 10_000_000), "x")
    assert set(asked) == {100_001}
    monkeypatch.setattr(reading, "MAX_PARTS", 50)
    with pytest.raises(InputError, match="line 2: it holds more than 50 lists"):
        check_export(io.BytesIO(written(lines[:1], ends=False) + b"[" + b"{}," * 60 + b"{}]\n"), "x")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(data=st.data())
def test_any_changed_byte_is_seen(data: st.DataObject, lines: Lines) -> None:
    """A byte changed anywhere, or the file cut anywhere, is refused in one line."""
    whole = written(lines)
    at = data.draw(st.integers(0, len(whole) - 2))
    if data.draw(st.booleans()):
        changed = whole[:at]
    else:
        changed = whole[:at] + bytes([whole[at] ^ data.draw(st.integers(1, 255))]) + whole[at + 1 :]
    try:
        told = check_export(io.BytesIO(changed), "x")
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017 - not every change has to raise
        return
    # The moment of export in the digest's own line, or a blank that JSON lets stand: nothing that is kept
    assert json.loads(changed.splitlines()[-1]) == json.loads(whole.splitlines()[-1])
    assert told.last_seal == lines[0]["last_seal"]


@settings(max_examples=200)
@given(st.binary(max_size=200))
def test_any_bytes_are_refused_in_one_line(data: bytes) -> None:
    """No bytes at all make more than one line of complaint."""
    with pytest.raises(InputError) as caught:
        check_export(io.BytesIO(data), "x")
    assert "\n" not in str(caught.value)


def test_the_command(full: SqlBook, swathbook: Swathbook) -> None:
    """The book is made where there is none; a table is still a table; a bad file leaves no book behind."""
    data = exported(full)
    write(Path("e.jsonl"), data)
    dry = swathbook("--book", "n.db", "import", "e.jsonl", "--dry-run")
    assert dry.code == 0
    assert "proved" in dry.out
    assert not Path("n.db").exists()
    done = swathbook("--book", "n.db", "import", "e.jsonl")
    assert done.code == 0
    assert "a book's export" in done.out
    assert Path("n.db").stat().st_mode & 0o777 == 0o600
    proved = swathbook("--book", "n.db", "verify", "--json").json
    assert (proved["ok"], proved["last_seal"]) == (True, documents(data)[0]["last_seal"])
    again = swathbook("--book", "n.db", "import", "e.jsonl")
    assert again.code == 20
    assert again.err.count("\n") == 1
    assert swathbook("--book", "m.db", "import", "-", "--json", stdin=data).json["revisions"] == 8
    write(Path("cut.jsonl"), data[:-300])
    cut = swathbook("--book", "kk.db", "import", "cut.jsonl")
    assert cut.code == 8
    assert "cut.jsonl line" in cut.err
    assert not [path.name for path in Path().iterdir() if "kk.db" in path.name]
    Path("kk.db").touch()
    assert swathbook("--book", "kk.db", "import", "e.jsonl").code == 0
    assert Path("kk.db").stat().st_mode & 0o777 == 0o600
    assert swathbook("--book", "no/such.db", "import", "e.jsonl").code == 12
    write(Path("t.csv"), b"a,b\n1,2\n")
    assert swathbook("--book", "n.db", "import", "t.csv").code == 2
    wrong = swathbook("--book", "n.db", "import", "e.jsonl", "--layout", "county-single-job")
    assert wrong.code == 2
    assert "book's export" in wrong.err
    assert swathbook("--book", "n.db", "import", "none.jsonl").code == 8


def test_a_bad_instant_is_refused(lines: Lines) -> None:
    """The moment of export is checked, too."""
    changed = [lines[0] | {"exported_at": AT[:-1]}, *lines[1:]]
    with pytest.raises(InputError, match="exported_at"):
        check_export(io.BytesIO(written(changed)), "x")
    assert visit(1)["ref"] == "visit-1"
