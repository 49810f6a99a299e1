"""Hands e-mail to the firm's mail server: SMTP by the standard library, settings from the environment alone."""

from __future__ import annotations

import ipaddress
import os
import re
import smtplib
import ssl
from contextlib import suppress
from dataclasses import dataclass
from email import message_from_bytes
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.errors import MailError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from records.services.mail_port import Letter

SERVER, USER, PASSWORD = "SWATHBOOK_SMTP", "SWATHBOOK_SMTP_USER", "SWATHBOOK_SMTP_PASSWORD"
SENDER, TLS = "SWATHBOOK_SMTP_FROM", "SWATHBOOK_SMTP_TLS"
MODES = ("starttls", "tls", "none")
TIMEOUT = 20.0  # seconds for each answer of the server
_ADDRESS = re.compile(r"[^\s\x00-\x1f\x7f@<>()\[\]\\,;:\"]{1,64}@[^\s\x00-\x1f\x7f@<>()\[\]\\,;:\"]{1,255}")
_PARTING = re.compile(r"[()<>\[\]:;@\\,.\"]+")  # RFC 5322, 3.2.3 (specials)
_SERVER = re.compile(r"(\[[0-9a-fA-F:.]+\]|[^\s:\[\]/@]+):(\d{1,5})", re.ASCII)


@dataclass(frozen=True, slots=True)
class MailSettings:
    """Where mail is handed over, and as whom."""

    host: str
    port: int
    tls: str = "starttls"
    user: str = ""
    password: str = ""
    sender: str = ""  # "" = the firm's own address

    def __repr__(self) -> str:
        """Return the settings without the password."""
        return f"MailSettings({self.host}:{self.port}, {self.tls}, user={self.user!r})"


def read_mail_settings(environ: Mapping[str, str] | None = None) -> MailSettings:
    """Read where mail is handed over.

    Args:
        environ: environment to read instead of the process's own.

    Raises:
        MailError: no server is named, or a setting makes no sense.
    """
    env = os.environ if environ is None else environ
    server = env.get(SERVER, "").strip()
    if not server:
        raise MailError("no mail server is set", f"Set {SERVER}=host:port, or leave --send out and log what you sent")
    found = _SERVER.fullmatch(server)
    if found is None or not 0 < int(found[2]) < 65536:
        raise MailError(f"{SERVER} is not a server", "Write it like mail.example.org:587")
    host, tls = found[1].strip("[]"), env.get(TLS, "").strip().lower() or "starttls"
    if tls not in MODES:
        raise MailError(f"{TLS} is none of {', '.join(MODES)}", "Leave it out for starttls")
    if tls == "none" and not _is_local(host):
        raise MailError(f"{TLS}=none is for a server on this machine only", "Use starttls or tls")
    user, password, sender = env.get(USER, ""), env.get(PASSWORD, ""), env.get(SENDER, "").strip()
    if bool(user) != bool(password):
        raise MailError(f"only one of {USER} and {PASSWORD} is set", "Set both, or neither")
    if sender and _ADDRESS.fullmatch(sender) is None:
        raise MailError(f"{SENDER} is no e-mail address", "Write it like office@example.org")
    return MailSettings(host, int(found[2]), tls, user, password, sender)


def _is_local(host: str) -> bool:
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class SmtpMailer:
    """Hands letters to one mail server (the `Mailer` of `services/mail_port.py`)."""

    def __init__(
        self, settings: MailSettings, *, timeout: float = TIMEOUT, trust: ssl.SSLContext | None = None
    ) -> None:
        """Use these settings.

        Args:
            settings: server, user and so on.
            timeout: seconds that each answer of the server may take.
            trust: whose certificates are believed; None: those that the system believes.
        """
        self._settings = settings
        self._timeout = timeout
        self._trust = trust

    def send(self, letter: Letter) -> str:
        """Hand over a letter; return the message id that it carries.

        Raises:
            MailError: the server cannot be reached, is not to be trusted, or did not take it.
        """
        message = compose(letter, self._settings.sender or letter.firm_email)
        where = f"{self._settings.host}:{self._settings.port}"
        try:
            server = self._connect()
            try:
                if self._settings.user:
                    server.login(self._settings.user, self._settings.password)
                server.send_message(message)
            finally:
                with suppress(smtplib.SMTPException, OSError):  # what was taken stays taken, however they part
                    server.quit()
        except smtplib.SMTPAuthenticationError as error:
            raise MailError(
                f"the mail server {where} does not take the user or the password", f"Correct {USER} and {PASSWORD}"
            ) from error
        except ssl.SSLError as error:
            told = f"no safe connection to the mail server {where}: {_reason(error)}"
            raise MailError(told, f"Look at the port and {TLS}; nothing was recorded") from error
        except (smtplib.SMTPException, OSError, ValueError) as error:  # ValueError: what cannot be encoded
            told = f"the mail server {where} did not take the e-mail: {_reason(error)}"
            raise MailError(told, "Nothing was recorded") from error
        return str(message["Message-ID"])

    def _connect(self) -> smtplib.SMTP:
        settings = self._settings
        trust = self._trust or ssl.create_default_context()
        if settings.tls == "tls":
            return smtplib.SMTP_SSL(settings.host, settings.port, timeout=self._timeout, context=trust)
        server = smtplib.SMTP(settings.host, settings.port, timeout=self._timeout)
        if settings.tls == "starttls":
            try:
                server.starttls(context=trust)
            except BaseException:
                server.close()
                raise
        return server


def compose(letter: Letter, sender: str) -> EmailMessage:
    """Return the e-mail of a letter: plain text and one PDF.

    Args:
        letter: what to send; whatever it holds stays within its own header.
        sender: address that it comes from.

    Raises:
        MailError: an address is none.
    """
    if not sender:
        raise MailError("there is no address to send from", f"Load the firm with its email, or set {SENDER}")
    for address, whose in ((sender, "the sender"), (letter.to, "the customer")):
        if _ADDRESS.fullmatch(address) is None:
            raise MailError(f"the address of {whose} is no e-mail address", "Load it again, corrected")
    message = EmailMessage(policy=SMTP)
    try:
        message["From"] = _named(letter.firm, sender)
        message["To"] = _named(letter.to_name, letter.to)
        message["Subject"] = one_line(letter.subject)
        message["Date"] = format_datetime(letter.at)
        message["Message-ID"] = f"<{one_line(letter.message_id)}@{sender.rpartition('@')[2].encode('idna').decode()}>"
    except (ValueError, LookupError) as error:  # what the parser of addresses raises
        raise MailError(f"the e-mail cannot be addressed: {_reason(error)}", "Load the address again") from error
    message.set_content(one_line(letter.text, None) + "\n")
    message.add_attachment(letter.pdf, maintype="application", subtype="pdf", filename=one_line(letter.file))
    return message


def _named(text: str, address: str) -> Address:
    """Return an address with a name, without the signs that part addresses where they would part it.

    Python's library loses the quotes around a name that it breaks over two lines, and a comma in it would then begin
    another recipient.
    """
    made = Address(one_line(text), addr_spec=address)
    trial = EmailMessage(policy=SMTP)
    trial["To"] = made
    read = message_from_bytes(trial.as_bytes(), policy=SMTP)["To"]
    if [one.addr_spec for one in read.addresses] == [address]:
        return made
    return Address(" ".join(_PARTING.sub(" ", one_line(text)).split()), addr_spec=address)


def _reason(error: BaseException) -> str:
    """Return what a server or the system said, as one short line."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        error = smtplib.SMTPResponseException(*next(iter(error.recipients.values())))
    if isinstance(error, smtplib.SMTPResponseException):
        said = error.smtp_error
        text = said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)
        return f"{error.smtp_code} {one_line(text, 160)}"
    if isinstance(error, UnicodeError):  # its own words would show a piece of the password
        return "it does not take letters beyond ASCII in an address, a user or a password"
    if isinstance(error, TimeoutError) or "timed out" in str(error):  # smtplib tells some of them as a hang-up
        return "no answer in time"
    return one_line(getattr(error, "strerror", None) or str(error) or type(error).__name__, 160)
