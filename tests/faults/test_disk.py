"""Disks that are full, read-only or lie; files cut short; a clock set back; many processes at once."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from records.cli.app import main
from records.clock import FixedClock
from records.errors import RecordsError
from records.storage.integrity import verify
from records.storage.unit_of_work import SqlBook
from tests.cli.conftest import AFTER, TOOL, season, visit
from tests.faults.kills import sealed_in, serials
from tests.faults.scenes import Scenes

if TYPE_CHECKING:
    from pathlib import Path

LINES = 150


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> Scenes:
    """Return books and files."""
    return Scenes(tmp_path_factory.mktemp("disk"))


@pytest.fixture(scope="module")
def season_lines(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo season as lines."""
    path = tmp_path_factory.mktemp("season") / "season.jsonl"
    path.write_text("".join(json.dumps(one) + "\n" for one in season()[:LINES]), "utf-8")
    return path


def on_own_disk(script: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a script of the shell where it may mount disks of its own, at `disk` in a folder."""
    (folder / "disk").mkdir(exist_ok=True)
    probe = ["unshare", "-Urm", "mount", "-t", "tmpfs", "none", str(folder / "disk")]
    if shutil.which("unshare") is None or subprocess.run(probe, capture_output=True, check=False).returncode:
        pytest.skip("this machine lets nobody mount a disk of his own (unshare -Urm)")
    return subprocess.run(  # noqa: S602 - a script of the test
        f"exec unshare -Urm sh -euc '{script}'",
        shell=True,
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )


def test_a_full_disk(scenes: Scenes, season_lines: Path, tmp_path: Path) -> None:
    """One line says so, all that was told is there, nothing half; with room again, the same command goes on."""
    shutil.copy(scenes.firm, tmp_path / "firm.db")
    room = (tmp_path / "firm.db").stat().st_size // 1024 + 300
    script = f"""
        mount -t tmpfs -o size={room}k none disk
        cp firm.db disk/book.db
        export SWATHBOOK_BOOK=disk/book.db
        code=0; {TOOL} --json close --lines {season_lines} >out 2>err || code=$?
        echo "ended $code"
        {TOOL} verify >verified
        dd if=/dev/zero of=disk/filler bs=1k 2>/dev/null || :
        code=0; {TOOL} backup disk/copy.db 2>err_backup || code=$?
        rm disk/filler
        echo "backup $code"; ls -A disk >files
        cp disk/book.db full.db
        mount -o remount,size=20m disk
        code=0; {TOOL} close --lines {season_lines} >again || code=$?
        echo "again $code"
        {TOOL} verify
    """
    ran = on_own_disk(script, tmp_path)
    assert ran.returncode == 0, ran.stderr
    lines = ran.stdout.splitlines()
    error = (tmp_path / "err").read_text()
    assert "full" in error, error
    assert error.count("\n") == 1
    assert lines[0] not in {"ended 0", "ended 1"}
    assert lines[1] not in {"backup 0", "backup 1"}
    assert (tmp_path / "err_backup").read_text().count("\n") == 1
    assert set((tmp_path / "files").read_text().split()) <= {"book.db", "book.db-journal"}
    assert "the chain is whole" in (tmp_path / "verified").read_text()
    told = sealed_in((tmp_path / "out").read_text())
    assert set(told) <= set(serials(SqlBook(tmp_path / "full.db")))
    assert lines[2] in {"again 0", "again 1"}
    assert any("the chain is whole" in line for line in lines[3:])


def test_a_read_only_disk(scenes: Scenes, season_lines: Path, tmp_path: Path) -> None:
    """Reading works; writing is one line that says what to do."""
    shutil.copy(scenes.firm, tmp_path / "firm.db")
    script = f"""
        mount -t tmpfs -o size=9m none disk
        cp firm.db disk/book.db
        export SWATHBOOK_BOOK=disk/book.db
        head -n 5 {season_lines} >five; {TOOL} close --lines five >/dev/null || :
        mount -o remount,ro disk
        {TOOL} find >found
        {TOOL} verify >verified
        for words in "close --lines {season_lines}" "void 2026-000001 --reason x --by mo" "backup disk/b.db" init; do
            code=0; {TOOL} $words >/dev/null 2>>err || code=$?
            echo "$code"
        done
    """
    ran = on_own_disk(script, tmp_path)
    assert ran.returncode == 0, ran.stderr
    assert "2026-000001" in (tmp_path / "found").read_text()
    assert "the chain is whole" in (tmp_path / "verified").read_text()
    assert all(int(code) >= 3 for code in ran.stdout.split()[:3]), ran.stdout
    told = (tmp_path / "err").read_text().splitlines()
    assert sum(line.startswith("swathbook: ") for line in told) >= 3
    assert "Traceback" not in "".join(told)


@pytest.mark.parametrize("seed", range(12))
def test_a_file_cut_short_or_torn(scenes: Scenes, tmp_path: Path, seed: int) -> None:
    """Cut off or overwritten anywhere, a book ends in one line or in named problems, whatever is asked of it."""
    chance = random.Random(seed)  # noqa: S311 - places, no secrets
    path = tmp_path / "book.db"
    shutil.copy(scenes.season, path)
    size = path.stat().st_size
    with path.open("r+b") as file:
        if seed % 2:
            file.truncate(chance.randrange(size))
        else:
            file.seek(chance.randrange(size - 512))
            file.write(chance.randbytes(512))
    try:
        problems = verify(SqlBook(path)).problems
    except RecordsError as error:
        assert "\n" not in str(error)  # noqa: PT017 - that is the one line
    else:
        assert problems or _is_unused(scenes.season, path)
    for words in (["find"], ["summary", "2026"], ["ready"], ["close", str(scenes.visit)]):
        assert main(["--book", str(path), *words], FixedClock(AFTER)) < 70, words  # 70 is trouble that was not foreseen


def _is_unused(before: Path, after: Path) -> bool:
    """Tell whether all rows are as they were: the bytes belonged to no row."""
    with SqlBook(before).read() as one, SqlBook(after).read() as other:
        return [row.seal for row in one.records.walk()] == [row.seal for row in other.records.walk()]


def test_a_clock_set_back(scenes: Scenes, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record sealed by a clock that stands before the last seal is kept, chained, and told by `verify`."""
    path = shutil.copy(scenes.firm, tmp_path / "book.db")
    for number, hours in ((1, 0), (2, -30)):
        document = visit(ref=f"r-{number}", started="2026-10-19T09:10", finished="2026-10-19T09:32")
        document["weather"]["measured_at"] = "2026-10-19T09:05"
        document["site"], document["confirmed"] = "lark-lane-7", ["same-day"]
        document["treatments"][0]["zones"] = [["front"], ["back"]][number - 1]
        document["treatments"][0]["area"] = ["4200 sq ft", "3000 sq ft"][number - 1]
        file = tmp_path / "visit.json"
        file.write_text(json.dumps(document), "utf-8")
        code = main(["--book", str(path), "close", str(file)], FixedClock(AFTER + timedelta(hours=hours)))
        assert code == 0, capsys.readouterr().out
    report = verify(SqlBook(path))
    assert report.problems == []
    assert len(report.notes) == 1
    assert report.notes[0].startswith("2026-000002 revision 1: sealed at 2026-10-20")
    assert main(["--book", str(path), "verify"]) == 0
    assert "set back" in " ".join(capsys.readouterr().out.split())


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_what_is_no_file_is_never_replaced(scenes: Scenes, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A pipe or a device is written to or refused; it stays what it is, with its permissions."""
    pipe, got = tmp_path / "pipe", tmp_path / "got.pdf"
    os.mkfifo(pipe, 0o666)
    before = pipe.stat()
    with subprocess.Popen(["cp", str(pipe), str(got)]) as reader:  # noqa: S607
        assert main(["--book", str(scenes.one), "notice", "2026-000001", "--out", str(pipe)]) == 0
        assert reader.wait(10) == 0
    assert got.read_bytes().startswith(b"%PDF")
    named = tmp_path / "packet.pdf"
    os.mkfifo(named)
    for words in (["--book", str(pipe), "init"], ["--book", str(scenes.one), "inspect", "--out", str(named)]):
        assert main(words) not in {0, 1, 70}
        assert "no file" in capsys.readouterr().err
    assert (pipe.stat().st_mode, pipe.stat().st_ino) == (before.st_mode, before.st_ino)


@pytest.mark.parametrize("processes", [2, 8])
def test_processes_at_once(scenes: Scenes, season_lines: Path, tmp_path: Path, processes: int) -> None:
    """Several processes that close the same season into one book seal each visit once, in one chain."""
    shutil.copy(scenes.firm, tmp_path / "book.db")
    command = [str(TOOL), "--json", "--book", "book.db", "close", "--lines", str(season_lines)]
    started = [subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.PIPE, text=True) for _ in range(processes)]
    answers = [json.loads(process.communicate(timeout=100)[0]) for process in started]
    assert len({json.dumps([one["serial"] for one in answer["results"]]) for answer in answers}) == 1
    report = verify(SqlBook(tmp_path / "book.db"))
    assert report.problems == []
    assert report.revisions == answers[0]["sealed"]
