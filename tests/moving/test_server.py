"""A whole book goes from a file to a server and back, and nothing about it changes."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest

from records.errors import InputError, OverwriteError, UsageError
from records.services.moving.importing import check_export, import_book
from records.storage.backup import backup_book
from records.storage.integrity import verify
from records.storage.restoring import restore
from records.storage.unit_of_work import SqlBook
from tests.moving.conftest import documents, written
from tests.moving.test_export import exported
from tests.storage.chain import NOW, fill, visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook
    from tests.servers import Postgres


def test_to_a_server_and_back(full: SqlBook, postgres: Postgres, empty_book: Path, tmp_path: Path) -> None:
    """The same lines come out of each of them, all three verify, and work goes on where it was."""
    data = exported(full)
    server = SqlBook(postgres.url(postgres.database("empty_book")))
    import_book(server, io.BytesIO(data), "x")
    assert exported(server) == data
    assert verify(server).problems == []
    with pytest.raises(OverwriteError, match="only come into an empty one"):
        import_book(server, io.BytesIO(data), "x")
    fill(server, visit(7))
    later = exported(server)
    back = tmp_path / "back.db"
    back.write_bytes(empty_book.read_bytes())
    import_book(SqlBook(back), io.BytesIO(later), "x")
    assert exported(SqlBook(back)) == later
    assert verify(SqlBook(back)).problems == []


def test_a_bad_line_keeps_nothing_on_a_server(full: SqlBook, postgres: Postgres) -> None:
    """What the server itself refuses is told with its line, too."""
    server = SqlBook(postgres.url(postgres.database("empty_book")))
    lines = documents(exported(full))
    for change in ({"type": "spell"}, {"id": "nul\0"}):
        changed = [lines[0], lines[1] | change, *lines[2:]]
        with pytest.raises(InputError, match="x line 2: "):
            import_book(server, io.BytesIO(written(changed)), "x")
    with server.read() as unit:
        assert unit.moving.extent().is_empty


def test_a_backup_of_a_server(full: SqlBook, postgres: Postgres, tmp_path: Path, swathbook: Swathbook) -> None:
    """It is an export, read back; it goes into an empty database, or becomes a file."""
    url = postgres.url(postgres.database())
    (tmp_path / "e.jsonl").write_bytes(exported(full))
    assert swathbook("--book", url, "import", "e.jsonl").code == 0
    done = backup_book(SqlBook(url), tmp_path / "b", NOW, replace=False)
    assert done.kind == "export"
    assert done.path.stat().st_mode & 0o777 == 0o600
    with done.path.open("rb") as stream:
        assert check_export(stream, "b") == done.extent
    with pytest.raises(UsageError, match="import FILE"):
        restore(done.path, url)
    assert restore(done.path, tmp_path / "file.db").extent == done.extent
    told = swathbook("--book", url, "backup", "b", "--replace", "--json").json
    assert (told["kind"], told["last_seal"]) == ("export", done.extent.last_seal)
    assert swathbook("--book", url, "export").out.encode().splitlines()[1:-1] == exported(full).splitlines()[1:-1]
