"""Mail is handed to a real SMTP server on this machine; whatever goes wrong is one line, and nothing is recorded."""

from __future__ import annotations

import email
import socket
import ssl
import subprocess
import threading
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from email.policy import default
from typing import TYPE_CHECKING, Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult

from records.errors import MailError
from records.mail import MailSettings, SmtpMailer, compose, read_mail_settings
from records.services.mail_port import Letter
from tests.kit import labelled

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.kit import Kit
    from tests.notices.conftest import Run

LETTER = Letter(
    to="ola@berg.example",
    to_name="Ola Berg",
    firm="Otter Bend Turf Works",
    firm_email="office@otterbend.example",
    subject="Notice of lawn treatment, May 14, 2026",
    text="The attached page tells what was put on the lawn.",
    pdf=b"%PDF-1.4 invented",
    file="notice-2026-000001.pdf",
    message_id="2026-000001.abc",
    at=datetime.fromisoformat("2026-05-14T09:42-05:00"),
)


class Box:
    """Takes what is sent, or says no."""

    def __init__(self, answer: str = "250 taken") -> None:
        self.answer = answer
        self.taken: list[Any] = []
        self.recipients: list[str] = []

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:  # noqa: ANN401, ARG002, N802
        if self.answer.startswith("550"):
            return self.answer
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: ANN401, ARG002, N802
        self.recipients += envelope.rcpt_tos
        self.taken.append(email.message_from_bytes(envelope.original_content, policy=default))
        return self.answer


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(box: Box, **options: Any) -> Iterator[int]:  # noqa: ANN401
    """Run a mail server on a free port of this machine."""
    port = free_port()
    controller = Controller(box, hostname="127.0.0.1", port=port, **options)
    controller.start()
    try:
        yield port
    finally:
        controller.stop()


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a file with a fresh key and certificate for 127.0.0.1."""
    folder = tmp_path_factory.mktemp("tls")
    made = folder / "both.pem"
    words = "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=localhost -addext subjectAltName=IP:127.0.0.1"
    line = ["openssl", *words.split(), "-keyout", str(folder / "key.pem"), "-out", str(folder / "cert.pem")]
    try:
        subprocess.run(line, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("no openssl that makes certificates")
    made.write_text((folder / "cert.pem").read_text() + (folder / "key.pem").read_text())
    return made


def server_side(certificate: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    return context


def plain(port: int, **changes: Any) -> SmtpMailer:  # noqa: ANN401
    """Return a mailer without encryption, for a server on this machine."""
    return SmtpMailer(replace(MailSettings("127.0.0.1", port, "none"), **changes), timeout=3)


def test_a_letter_arrives_whole() -> None:
    """From, to, subject, date, id, text and the PDF, byte for byte."""
    box = Box()
    with serving(box) as port:
        kept = plain(port).send(LETTER)
    (message,) = box.taken
    assert box.recipients == ["ola@berg.example"]
    assert str(message["From"]) == "Otter Bend Turf Works <office@otterbend.example>"
    assert str(message["To"]) == "Ola Berg <ola@berg.example>"
    assert message["Date"].datetime == LETTER.at
    assert kept == message["Message-ID"] == "<2026-000001.abc@otterbend.example>"
    text, pdf = message.iter_parts()
    assert text.get_content().strip() == LETTER.text
    assert pdf.get_content() == LETTER.pdf
    assert (pdf.get_content_type(), pdf.get_filename()) == ("application/pdf", LETTER.file)


def test_names_in_any_script_arrive() -> None:
    """Headers are encoded, not cut."""
    box = Box()
    with serving(box) as port:
        plain(port, sender="rasen@firma.example").send(replace(LETTER, to_name="Олена Гнатюк", firm="Müller, Čapek"))
    assert box.taken[0]["To"].addresses[0].display_name == "Олена Гнатюк"
    assert box.taken[0]["From"].addresses[0].display_name == "Müller, Čapek"
    assert box.taken[0]["From"].addresses[0].addr_spec == "rasen@firma.example"


BREAK = "x\r\nBcc: spy@evil.example\r\n\r\nbody"


@pytest.mark.parametrize("part", ["to_name", "firm", "subject", "text", "file", "message_id"])
def test_no_text_can_add_a_header_or_a_recipient(part: str) -> None:
    """Line breaks in any part of the letter stay words of that part."""
    box = Box()
    with serving(box) as port:
        changes: dict[str, Any] = {part: BREAK}
        plain(port).send(replace(LETTER, **changes))
    (message,) = box.taken
    assert box.recipients == ["ola@berg.example"]
    assert message["Bcc"] is None
    assert sorted(message.keys()) == sorted(
        [
            "From",
            "To",
            "Subject",
            "Date",
            "Message-ID",
            "MIME-Version",
            "Content-Type",
            "X-Peer",
            "X-MailFrom",
            "X-RcptTo",
        ]
    ) or sorted(message.keys()) == sorted(
        ["From", "To", "Subject", "Date", "Message-ID", "MIME-Version", "Content-Type"]
    )


@pytest.mark.parametrize(
    "address",
    [
        "ola@berg.example\r\nBcc: spy@evil.example",
        "ola@berg.example, spy@evil.example",
        "ola",
        "@",
        "a b@c.example",
        "<ola@berg.example>",
        "ola@berg.example\x00",
        "ola@",
    ],
)
def test_what_is_no_single_address_is_refused(address: str) -> None:
    """One address, and nothing else, on either side."""
    with pytest.raises(MailError, match="no e-mail address"):
        compose(replace(LETTER, to=address), "office@otterbend.example")
    with pytest.raises(MailError, match="no e-mail address"):
        compose(LETTER, address)
    with pytest.raises(MailError, match="no address to send from"):
        compose(LETTER, "")


@pytest.mark.parametrize("answer", ["550 5.1.1 nobody of that name\x1b[2J here", "554 no", "451 later"])
def test_a_server_that_says_no(answer: str) -> None:
    """Its words are told in one safe line."""
    with serving(Box(answer)) as port, pytest.raises(MailError) as told:
        plain(port).send(LETTER)
    assert answer[:3] in str(told.value)
    assert "\x1b" not in str(told.value)
    assert "\n" not in str(told.value)


def test_no_server_a_silent_one_and_one_that_hangs_up() -> None:
    """Nobody there, nobody who answers in time, somebody who goes away: one line each."""
    with pytest.raises(MailError, match="did not take the e-mail"):
        plain(free_port()).send(LETTER)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        mailer = SmtpMailer(MailSettings("127.0.0.1", silent.getsockname()[1], "none"), timeout=0.3)
        with pytest.raises(MailError, match="no answer in time"):
            mailer.send(LETTER)
    with socket.create_server(("127.0.0.1", 0)) as rude:

        def hang_up() -> None:
            rude.accept()[0].close()

        thread = threading.Thread(target=hang_up)
        thread.start()
        with pytest.raises(MailError, match="did not take the e-mail"):
            plain(rude.getsockname()[1]).send(LETTER)
        thread.join()


WRONG = "wr0ng"


def _check(server: SMTP, session: Any, envelope: Any, mechanism: str, data: Any) -> AuthResult:  # noqa: ANN401, ARG001
    return AuthResult(success=(data.login, data.password) == (b"otter", b"s3cret"), handled=False)


def test_starttls_with_user_and_password(certificate: Path) -> None:
    """The server is believed when its certificate is; a wrong password is told without being told."""
    box = Box()
    options = {"tls_context": server_side(certificate), "require_starttls": True, "authenticator": _check}
    trust = ssl.create_default_context(cafile=certificate)
    with serving(box, **options, auth_required=True) as port:
        settings = MailSettings("127.0.0.1", port, "starttls", "otter", "s3cret")
        SmtpMailer(settings, timeout=3, trust=trust).send(LETTER)
        with pytest.raises(MailError, match="does not take the user or the password") as told:
            SmtpMailer(replace(settings, password=WRONG), timeout=3, trust=trust).send(LETTER)
        assert WRONG not in str(told.value) + repr(settings)
        with pytest.raises(MailError):
            SmtpMailer(replace(settings, password=f"{WRONG}ä"), timeout=3, trust=trust).send(LETTER)
    assert len(box.taken) == 1


def test_a_certificate_that_nobody_vouches_for_is_not_believed(certificate: Path) -> None:
    """Nothing is sent over a connection that could be anybody's."""
    box = Box()
    with (
        serving(box, tls_context=server_side(certificate)) as port,
        pytest.raises(MailError, match="no safe connection"),
    ):
        SmtpMailer(MailSettings("127.0.0.1", port, "starttls"), timeout=3).send(LETTER)
    assert box.taken == []


def test_a_server_without_starttls_gets_nothing() -> None:
    """The default never falls back to plain text."""
    box = Box()
    with serving(box) as port, pytest.raises(MailError, match="STARTTLS"):
        SmtpMailer(MailSettings("127.0.0.1", port), timeout=3).send(LETTER)
    assert box.taken == []


def test_tls_from_the_first_byte(certificate: Path) -> None:
    """The other usual kind of server."""
    box = Box()
    trust = ssl.create_default_context(cafile=certificate)
    with serving(box, ssl_context=server_side(certificate)) as port:
        SmtpMailer(MailSettings("127.0.0.1", port, "tls"), timeout=3, trust=trust).send(LETTER)
    assert len(box.taken) == 1


@pytest.mark.parametrize(
    ("environ", "told"),
    [
        ({}, "no mail server is set"),
        ({"SWATHBOOK_SMTP": "mail.example.org"}, "is not a server"),
        ({"SWATHBOOK_SMTP": "mail.example.org:99999"}, "is not a server"),
        ({"SWATHBOOK_SMTP": "a@b:25\r\nx:25"}, "is not a server"),
        ({"SWATHBOOK_SMTP": "mail.example.org:25", "SWATHBOOK_SMTP_TLS": "none"}, "on this machine only"),
        ({"SWATHBOOK_SMTP": "localhost.evil.example:25", "SWATHBOOK_SMTP_TLS": "none"}, "on this machine only"),
        ({"SWATHBOOK_SMTP": "mail.example.org:25", "SWATHBOOK_SMTP_TLS": "ssl3"}, "none of starttls, tls, none"),
        ({"SWATHBOOK_SMTP": "mail.example.org:25", "SWATHBOOK_SMTP_USER": "x"}, "only one of"),
        ({"SWATHBOOK_SMTP": "mail.example.org:25", "SWATHBOOK_SMTP_FROM": "x"}, "no e-mail address"),
    ],
)
def test_settings_that_make_no_sense(environ: dict[str, str], told: str) -> None:
    """Each is one line that says what to set."""
    with pytest.raises(MailError, match=told) as error:
        read_mail_settings(environ)
    assert "\n" not in str(error.value)


def test_settings_that_do() -> None:
    """Encryption is on unless the server is on this machine and says so."""
    assert read_mail_settings({"SWATHBOOK_SMTP": "mail.example.org:587"}).tls == "starttls"
    assert read_mail_settings({"SWATHBOOK_SMTP": "[::1]:25", "SWATHBOOK_SMTP_TLS": "NONE"}).host == "::1"
    for host in ("localhost", "127.0.0.9"):
        assert read_mail_settings({"SWATHBOOK_SMTP": f"{host}:25", "SWATHBOOK_SMTP_TLS": "none"}).tls == "none"


def test_deliver_sends_and_records_what_the_server_took(kit: Kit, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sealed event carries the id of the e-mail and the digest of the very PDF that arrived."""
    from hashlib import sha256  # noqa: PLC0415

    serial = kit.sealed(site="site-wi", applicator="vera").serial
    box = Box()
    with serving(box) as port:
        monkeypatch.setenv("SWATHBOOK_SMTP", f"127.0.0.1:{port}")
        monkeypatch.setenv("SWATHBOOK_SMTP_TLS", "none")
        ran = run("deliver", serial, "--how", "email", "--send", "--json")
    assert ran.code == 0, ran.err
    (message,) = box.taken
    _, pdf = message.iter_parts()
    assert ran.json["message_id"] == message["Message-ID"]
    assert ran.json["sha256"] == sha256(pdf.get_content()).hexdigest()
    assert (ran.json["to"], ran.json["how"], ran.json["at"]) == ("ola@berg.example", "email", "2026-05-14T09:42-05:00")
    with kit.book.read() as work:
        (event,) = work.records.events("delivery")
    assert event.body["data"]["message_id"] == message["Message-ID"]


def test_nothing_is_recorded_unless_the_server_took_it(kit: Kit, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Exit 18, one line, no event; neither without a server, nor with one that refuses."""
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    monkeypatch.delenv("SWATHBOOK_SMTP", raising=False)
    assert run("deliver", serial, "--how", "email", "--send").code == 18
    with serving(Box("550 no such person")) as port:
        monkeypatch.setenv("SWATHBOOK_SMTP", f"127.0.0.1:{port}")
        monkeypatch.setenv("SWATHBOOK_SMTP_TLS", "none")
        ran = run("deliver", serial, "--how", "email", "--send")
    assert (ran.code, ran.out, ran.err.count("\n")) == (18, "", 1)
    assert "550 no such person" in ran.err
    with kit.book.read() as work:
        assert work.records.events("delivery") == []


def test_a_notice_with_a_piece_missing_that_a_rule_wants_is_not_sent(
    kit: Kit, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody can write it in by hand on its way; on paper that is possible, and told."""
    kit.load(products=[labelled()])
    serial = kit.sealed(site="site-wi", applicator="vera").serial
    box = Box()
    with serving(box) as port:
        monkeypatch.setenv("SWATHBOOK_SMTP", f"127.0.0.1:{port}")
        monkeypatch.setenv("SWATHBOOK_SMTP_TLS", "none")
        ran = run("deliver", serial, "--how", "email", "--send")
    assert (ran.code, ran.err.count("\n"), box.taken) == (18, 1, [])
    assert "does not say the label's precautions for afterwards of Larkin 4 (us-wi: Wis. Admin. Code ATCP" in ran.err
    with kit.book.read() as work:
        assert work.records.events("delivery") == []
    ran = run("deliver", serial, "--how", "paper")
    assert (ran.code, "E-000001" in ran.err) == (1, True)


def test_a_password_is_never_told(certificate: Path) -> None:
    """Not even a letter of it, in an error or in how the settings look."""
    settings = MailSettings("127.0.0.1", 1, "starttls", "office", "pässword")
    assert "pässword" not in repr(settings)
    assert "ssword" not in repr(settings)
    box = Box()
    trust = ssl.create_default_context(cafile=certificate)
    options: dict[str, Any] = {"auth_required": True, "authenticator": lambda *_: AuthResult(success=True)}
    with serving(box, tls_context=server_side(certificate), require_starttls=True, **options) as port:
        mailer = SmtpMailer(replace(settings, port=port), timeout=3, trust=trust)
        with pytest.raises(MailError, match="letters beyond ASCII") as error:
            mailer.send(LETTER)
    assert "ä" not in str(error.value)
    assert "xe4" not in str(error.value)
