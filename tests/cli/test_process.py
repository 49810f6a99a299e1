"""The installed command as other programs meet it: pipes, signals, exit codes, streams."""

from __future__ import annotations

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from tests.cli.conftest import FIRM, TOOL, VISITS

if TYPE_CHECKING:
    from pathlib import Path

ENVIRONMENT = {**{k: v for k, v in os.environ.items() if not k.startswith("SWATHBOOK")}, "PYTHONIOENCODING": ""}


def tool(
    *words: object, book: Path | None = None, stdin: str = "", line: str = "", cwd: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """Run the installed command, or a line of the shell in which `swathbook` is that command."""
    environment = {**ENVIRONMENT, "PATH": f"{TOOL.parent}{os.pathsep}{os.environ['PATH']}"}
    environment.pop("COLUMNS", None)
    if book is not None:
        environment["SWATHBOOK_BOOK"] = str(book)
    words_ = ["bash", "-c", f"set -o pipefail; {line}"] if line else [str(TOOL), *map(str, words)]
    return subprocess.run(
        words_, input=stdin, capture_output=True, text=True, timeout=60, env=environment, cwd=cwd, check=False
    )


def test_a_day_from_nothing_to_a_notice(tmp_path: Path) -> None:
    """Init, load, close, find, notice, summary, verify: each a process of its own."""
    book = tmp_path / "book.db"
    assert tool("init", book=book).returncode == 0
    assert tool("load", *FIRM, book=book).returncode == 0
    held = tool("close", VISITS / "over-rate.json", book=book)
    assert (held.returncode, held.stderr) == (1, "")
    sealed = tool("--json", "close", "-", book=book, stdin=(VISITS / "good.json").read_text("utf-8"))
    assert sealed.returncode == 0
    serial = json.loads(sealed.stdout)["serial"]
    assert serial == "2026-000001"
    assert "quarry-rd-58" in tool("find", book=book).stdout
    made = tool("notice", serial, book=book, cwd=tmp_path)
    assert made.returncode == 0
    assert "KEEP OFF: until the spray has dried" in made.stdout
    assert (tmp_path / "notice-2026-000001.pdf").read_bytes().startswith(b"%PDF")
    pdf = subprocess.run(
        [str(TOOL), "--book", str(book), "summary", "2026", "--pdf", "-", "--json"], capture_output=True, check=False
    )
    assert pdf.returncode == 0
    assert pdf.stdout.startswith(b"%PDF")
    assert tool("verify", book=book).returncode == 0


@pytest.mark.parametrize(
    "line",
    [
        "swathbook find | head -1",
        "swathbook find --json | head -1",
        "swathbook summary 2026 | head -1",
        "swathbook show 2026-25 2>&1 | head -1",
        "swathbook catalogue products --json | true",
        "swathbook schema catalogue | head -c 10",
    ],
)
def test_a_reader_that_has_seen_enough_is_no_fault(line: str, season_book: Path) -> None:
    """`| head -1` ends quietly with exit 0."""
    ran = tool(book=season_book, line=line)
    assert ran.returncode == 0
    assert "Traceback" not in ran.stderr
    assert "Broken" not in ran.stderr
    assert "Exception" not in ran.stderr


@pytest.mark.parametrize(
    "line", ["swathbook show 9 --json | true", "swathbook nonsense --json | true", "swathbook show 9 2>&1 | true"]
)
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_reader_that_left_before_an_error_was_told(line: str, unbuffered: str, season_book: Path) -> None:
    """The error has nobody to go to; it still is no traceback, with and without a buffer, and the code is its own."""
    ran = tool(book=season_book, line=f"export PYTHONUNBUFFERED={unbuffered}; {line}")
    assert ran.returncode in {2, 9}
    assert "Traceback" not in ran.stderr
    assert "Exception" not in ran.stderr


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device here")  # noqa: PTH110 - a device, not a path of ours
@pytest.mark.parametrize("words", ["find", "find --json", "summary 2026", "schema visit", "--help"])
def test_an_answer_that_cannot_be_written_is_told(words: str, season_book: Path) -> None:
    """A full disk behind `>` is exit 12 and one line, not silence."""
    ran = tool(book=season_book, line=f"swathbook {words} > /dev/full")
    assert ran.returncode == 12
    assert "the answer cannot be written: No space left on device" in ran.stderr
    assert "Exception" not in ran.stderr


def test_closed_streams_end_in_a_code(season_book: Path) -> None:
    """Without stdout or stdin there is an exit code and no traceback."""
    for line in ("swathbook find >&-", "swathbook close - <&-", "swathbook find 2>&-"):
        ran = tool(book=season_book, line=line)
        assert "Traceback" not in ran.stderr
        assert ran.returncode < 128


def test_names_reach_a_terminal_that_is_no_unicode(season_book: Path) -> None:
    """A terminal without the letters gets escapes, not an error."""
    ran = tool(book=season_book, line="PYTHONUTF8=0 PYTHONIOENCODING=ascii LC_ALL=C swathbook catalogue customers")
    assert ran.returncode == 0
    assert "Berit Halvorsen" in ran.stdout


def test_bytes_that_are_no_text_on_the_command_line(season_book: Path) -> None:
    """Refused with exit 2, before anything is looked up."""
    ran = tool(book=season_book, line=r"swathbook find --site $'\xff\xfe'")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "no UTF-8 text" in ran.stderr


def test_python_m_records_is_the_same_command() -> None:
    """For machines where scripts are not on the path."""
    ran = subprocess.run([sys.executable, "-m", "records", "--version"], capture_output=True, text=True, check=False)
    assert ran.returncode == 0
    assert ran.stdout == tool("--version").stdout


# Makes the terminal on its streams its own, so that Ctrl-C typed there reaches it, then becomes the command.
_OWN = """
import fcntl, os, sys, termios
os.setsid()
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execv(sys.argv[1], sys.argv[1:])
"""


class Terminal:
    """The installed command on a terminal of its own, 80 by 24."""

    def __init__(self, book: Path, *words: str) -> None:
        self.screen, inner = pty.openpty()
        environment = {**ENVIRONMENT, "SWATHBOOK_BOOK": str(book), "COLUMNS": "80", "LINES": "24", "TERM": "xterm"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", _OWN, str(TOOL), *words], stdin=inner, stdout=inner, stderr=inner, env=environment
        )
        os.close(inner)
        self.seen = ""

    def until(self, text: str, seconds: float = 20) -> str:
        """Read the screen until a text stands on it."""
        end = time.monotonic() + seconds
        mark = len(self.seen)
        while text not in self.seen[mark:]:
            ready, _, _ = select.select([self.screen], [], [], max(0.0, end - time.monotonic()))
            assert ready, f"waited for {text!r}, saw {self.seen[-300:]!r}"
            try:
                read = os.read(self.screen, 65536)
            except OSError:  # the other side has gone
                read = b""
            assert read, f"ended before {text!r}: {self.seen[-300:]!r}"
            self.seen += read.decode("utf-8", "replace").replace("\r\n", "\n")
        return self.seen[mark:]

    def type(self, text: str) -> None:
        """Type a line."""
        os.write(self.screen, f"{text}\n".encode())

    def interrupt(self) -> int:
        """Press Ctrl-C, again after each second in which nothing happens, as people do; return the exit code."""
        for _ in range(20):
            os.write(self.screen, b"\x03")
            try:
                while select.select([self.screen], [], [], 1)[0]:
                    self.seen += os.read(self.screen, 65536).decode("utf-8", "replace").replace("\r\n", "\n")
            except OSError:  # the other side has gone
                break
        code = self.process.wait(timeout=20)  # before the terminal goes: that would be a hang-up
        os.close(self.screen)
        return code


def test_ctrl_c_before_anything_was_typed_leaves_nothing(firm: Path) -> None:
    """Exit 130; nothing is held."""
    screen = Terminal(firm, "close")
    screen.until("site (")
    assert screen.interrupt() == 130
    assert "nothing was closed" in screen.seen
    assert "Traceback" not in screen.seen
    assert tool("held", book=firm).stdout == "nothing is held\n"


def test_ctrl_c_in_the_middle_holds_what_was_typed(firm: Path) -> None:
    """On a real terminal: the wind typed a moment ago is there again."""
    screen = Terminal(firm, "close")
    screen.until("site (")
    screen.type("lark")
    screen.until("who applied")
    screen.type("mo")
    screen.until("started")
    screen.type("9:10")
    screen.until("finished")
    screen.type("9:32")
    screen.until("wind, mph")
    screen.type("6")
    screen.until("wind FROM")
    assert screen.interrupt() == 130
    assert "HELD as H-000001" in screen.seen
    assert "Traceback" not in screen.seen
    told = json.loads(tool("held", "show", "1", "--json", book=firm).stdout)
    assert told["document"]["site"] == "lark-lane-7"
    assert told["document"]["weather"] == {"wind_speed": "6 mph"}


def test_a_closed_window_holds_what_was_typed(firm: Path) -> None:
    """The terminal goes away in the middle of the questions: what was typed is in the book all the same."""
    screen = Terminal(firm, "close")
    screen.until("site (")
    screen.type("lark")
    screen.until("who applied")
    screen.type("mo")
    screen.until("started")
    os.close(screen.screen)
    screen.process.wait(timeout=20)
    told = json.loads(tool("held", "show", "1", "--json", book=firm).stdout)
    assert (told["document"]["site"], told["document"]["applicator"]) == ("lark-lane-7", "mo")


def test_a_process_told_to_end_holds_what_was_typed(firm: Path) -> None:
    """The computer shuts down in the middle of the questions."""
    screen = Terminal(firm, "close")
    screen.until("site (")
    screen.type("lark")
    screen.until("who applied")
    time.sleep(0.5)  # the question stands there a moment before the line editor waits for keys
    screen.process.send_signal(signal.SIGTERM)
    screen.until("HELD as H-000001")
    assert screen.process.wait(timeout=20) == 130
    os.close(screen.screen)
    assert json.loads(tool("held", "show", "1", "--json", book=firm).stdout)["document"]["site"] == "lark-lane-7"


def test_an_interrupt_of_a_long_run_is_130_and_keeps_the_chain(firm: Path) -> None:
    """SIGINT while many lines come in: what was told as sealed is sealed, and the chain is whole."""
    process = subprocess.Popen(
        [str(TOOL), "--book", str(firm), "close", "--lines", "-"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdin is not None
    process.stdin.write((VISITS / "good.json").read_text("utf-8").replace("\n", " ") + "\n")
    process.stdin.flush()
    time.sleep(2.5)  # it waits for more lines by now, on a busy machine too
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert process.returncode == 130
    assert "Traceback" not in err + out
    assert tool("verify", book=firm).returncode == 0


def test_two_processes_close_into_one_book(firm: Path, tmp_path: Path) -> None:
    """Both at the same moment: every visit is sealed once and the chain is unbroken."""
    good = json.loads((VISITS / "good.json").read_text("utf-8"))
    running = []
    for truck in range(2):
        lines = tmp_path / f"{truck}.jsonl"
        visits = [
            {**good, "ref": f"{truck}-{i}", "confirmed": ["same-day", "too-soon", "over-count", "over-year"]}
            for i in range(3)
        ]
        lines.write_text("".join(json.dumps(one) + "\n" for one in visits), "utf-8")
        running.append(
            subprocess.Popen(
                [str(TOOL), "--book", str(firm), "close", "--json", "--lines", str(lines)],
                stdout=subprocess.PIPE,
                text=True,
            )
        )
    results = [result for process in running for result in json.loads(process.communicate(timeout=60)[0])["results"]]
    assert len(results) == 6
    assert {result["status"] for result in results} <= {"sealed", "held"}
    serials = [result["serial"] for result in results if result["serial"]]
    numbers = [result["held"] for result in results if result["held"]]
    assert len(set(serials)) == len(serials)
    assert len(set(numbers)) == len(numbers)
    assert tool("verify", book=firm).returncode == 0
