"""The command line itself: hostile words, names of files and of the book, answers, settings, templates, mail."""

from __future__ import annotations

import json
import shutil
from datetime import datetime
from email import message_from_bytes
from email.policy import default
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.errors import MailError, TemplateError
from records.mail import compose
from records.reports.render import notice_wording
from records.services.mail_port import Letter
from tests.hostile import clean
from tests.hostile.texts import STEERING, TYPED, sealed
from tests.kit import ASKED, visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.hostile.conftest import World

WORDS = [
    *STEERING,
    "-rf",
    "--",
    "-",
    "\udcff",
    "",
    "../../../etc/passwd",
    "/etc/passwd",
    "/dev/stdin",
    "file:///etc/passwd",
    "con",
    "x" * 100_000,
    "\N{FULLWIDTH DIGIT TWO}\N{ARABIC-INDIC DIGIT ZERO}26",
    "1e400",
    "NaN",
    "-0",
    "9" * 5_000,
    *TYPED,
]
SHARE = 13
COMMANDS: list[list[str]] = [
    ["{}"],
    ["--{}"],
    ["show", "{}"],
    ["find", "{}"],
    ["find", "--site", "{}"],
    ["find", "--from", "{}"],
    ["notice", "{}"],
    ["notice", "2026-1", "--language", "{}"],
    ["notice", "2026-1", "--paper", "{}"],
    ["summary", "{}"],
    ["catalogue", "people", "{}"],
    ["catalogue", "{}"],
    ["held", "show", "{}"],
    ["held", "correct", "1", "--set", "{}={}"],
    ["held", "drop", "1", "--reason", "{}"],
    ["inspect", "--site", "{}", "--seed", "{}"],
    ["inspect", "--from", "{}"],
    ["close", "{}"],
    ["load", "{}"],
    ["import", "{}", "--layout", "{}"],
    ["import", "x", "--layout", "{}"],
    ["pack", "show", "{}"],
    ["why", "{}"],
    ["sign", "{}"],
    ["notify", "{}", "--on", "{}"],
    ["contact", "mill-9", "{}", "--for", "2026-05-20", "--how", "phone", "--result", "reached", "--note", "{}"],
    ["deliver", "2026-1", "--how", "paper", "--to", "{}"],
    ["report", "by", "--by", "{}"],
    ["amend", "2026-1", "{}", "--reason", "{}"],
    ["void", "2026-1", "--reason", "{}", "--by", "{}"],
    ["keep", "{}"],
    ["emergency", "{}"],
    ["--book", "{}", "find"],
    ["--book", "{}/{}", "find"],
    ["--book", "postgresql://{}", "find"],
    ["--book", "sqlite:///{}", "find"],
    ["--book", "{}://x", "find"],
]


PARTS: list[dict[str, Any]] = [{"confirmed": ASKED}, {"site": "none"}]


@pytest.fixture
def busy(world: World) -> World:
    """Return a world with a record and a held entry."""
    for number, parts in enumerate(PARTS):
        document = json.dumps(visit(ref=f"r{number}", **parts)).encode()
        world.run("close", "-", stdin=document)
    return world


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_every_word_of_a_command(command: list[str], busy: World) -> None:
    """An answer or one line; never a traceback, a raw escape, or a file outside."""
    for text in WORDS[COMMANDS.index(command) % SHARE :: SHARE]:  # each word meets some commands
        if ("--book" in command and text in {"", "-"}) or "\0" in text:
            continue
        words = [word.replace("{}", text) for word in command]
        ran = busy.run(*words, codes=(*range(70), 130))
        assert len(ran.err) < 8_000, words


@pytest.mark.parametrize("text", [text for text in (*STEERING, *TYPED[::4]) if "\0" not in text and len(text) < 100])
def test_names_of_files(text: str, busy: World) -> None:
    """A book, a visit and a table may be called anything; what is written goes where it was told."""
    name = text.replace("/", ":")
    busy.run("load", f"./{name}", codes=(8,))
    (busy.folder / name).write_bytes(b"{")
    for words in (["close"], ["load"], ["import", "--layout", "county-single-job"], ["pack", "check"]):
        busy.run(*words, f"./{name}", codes=(1, 8, 15))
    (busy.folder / name).write_bytes(json.dumps(visit(ref="f", confirmed=ASKED, area="100 sq ft")).encode())
    busy.run("close", f"./{name}", codes=(0, 1))
    (busy.folder / name).unlink()
    made = busy.folder / f"{name}.db"
    shutil.copyfile(busy.kit.path, made)
    busy.run("--book", f"./{name}.db", "find", codes=(0,))
    busy.run("--book", f"./{name}.db", "verify", codes=(0,))
    busy.run("summary", "2026", "--out", f"./{name}.csv", codes=(0,))
    clean.table((busy.folder / f"{name}.csv").read_bytes())


@pytest.mark.parametrize("text", [text for text in WORDS[::6] if "\0" not in text and text])
def test_settings_of_the_environment(text: str, busy: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """The book, the person and the width of the screen."""
    for name in ("SWATHBOOK_PERSON", "COLUMNS", "SWATHBOOK_SMTP", "TZ", "SWATHBOOK_SMTP_FROM"):
        monkeypatch.setenv(name, text)
    busy.run("find", codes=(0,))
    busy.run("close", stdin=b"\n\n\n", codes=(0, 1, 8, 9, 130))
    busy.run("void", "2026-1", "--reason", "x", codes=(2, 9))
    busy.run("deliver", "2026-1", "--how", "email", "--send", codes=tuple(range(1, 70)))
    from records.cli.app import main  # noqa: PLC0415

    monkeypatch.setenv("SWATHBOOK_BOOK", text)
    before = sorted(path.name for path in busy.folder.iterdir())
    assert main(["find"]) in range(2, 70)
    assert sorted(path.name for path in busy.folder.iterdir()) == before


@pytest.mark.parametrize("text", [*STEERING[::2], *TYPED[::6], "x" * 100_000])
def test_answers_to_questions(text: str, busy: World) -> None:
    """What is typed at a question is data, too."""
    answers = "\n".join([text] * 40)
    busy.run("close", stdin=answers.encode(), codes=(0, 1, 8, 130))
    busy.run("held", "correct", "1", "--ask", stdin=answers.encode(), codes=(0, 1, 8, 130))
    busy.run("held", codes=(0,))
    busy.run("held", "show", "1", codes=(0,))


@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(st.fixed_dictionaries(dict.fromkeys(("to_name", "firm", "subject", "text", "file"), sealed)), sealed)
def test_mail(texts: dict[str, str], address: str) -> None:
    """Each header stands alone, and no text makes another one, another recipient or another part."""
    parts: dict[str, Any] = {
        "to": "ola@berg.example",
        "firm_email": "office@otterbend.example",
        "pdf": b"%PDF",
        "message_id": "2026-000001.abc",
        "at": datetime.fromisoformat("2026-05-14T09:42-05:00"),
    }
    for to in ("ola@berg.example", address):
        try:
            message = compose(Letter(**parts | texts | {"to": to}), parts["firm_email"])
            data = message.as_bytes()
        except MailError:
            continue
        head, _, _ = data.partition(b"\r\n\r\n")
        names = [line.split(b":")[0].lower() for line in head.split(b"\r\n") if not line.startswith((b" ", b"\t"))]
        usual = [b"from", b"to", b"subject", b"date", b"message-id", b"mime-version", b"content-type"]
        assert sorted(names) == sorted(usual), head
        read = message_from_bytes(data, policy=default)
        assert [one.addr_spec for one in read["To"].addresses] == [to]
        assert len(list(read.iter_parts())) == 2


@pytest.mark.parametrize(
    "content",
    [
        "a = " + "[" * 100_000,
        "a = " + "9" * 100_000,
        "=" * 1_000,
        "\0",
        '[notice]\n"\x1b[31m" = 1',
        '["\\u001b[31m\\u202e\\n"]\nx = "y"',
        "\udcff",
    ],
    ids=range(7),
)
def test_templates(content: str, tmp_path: Path) -> None:
    """A template that is none is told in one line."""
    (tmp_path / "notice.en.toml").write_bytes(content.encode("utf-8", "surrogateescape"))
    with pytest.raises(TemplateError) as caught:
        notice_wording("en", tmp_path)
    clean.screen(" ".join(str(caught.value).split()))
