"""What the services need of a mailer, as a Protocol: the real one is plugged in at the rim."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from datetime import datetime


@dataclass(frozen=True, slots=True)
class Letter:
    """One e-mail with one PDF, to one address."""

    to: str
    to_name: str
    firm: str  # name of who sends it
    firm_email: str  # "" where the firm has none
    subject: str
    text: str
    pdf: bytes
    file: str  # name of the PDF
    message_id: str  # its part before the @
    at: datetime  # aware, local


class Mailer(Protocol):
    """Hands letters to a mail server."""

    def send(self, letter: Letter) -> str:
        """Hand over a letter; return the message id that it carries.

        Raises:
            MailError: the server did not take it.
        """
