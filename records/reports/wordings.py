"""The firm's wording of what is handed out, by language; needs no ReportLab, so that a screen comes at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import TemplateError
from records.reports.templates import load_wording
from records.resources import report_templates
from records.services.answering.keys import ANSWER_KEYS, ANSWER_LISTS
from records.services.notice_words import NOTICE_KEYS, NOTICE_LISTS

if TYPE_CHECKING:
    from pathlib import Path

    from records.domain.report_model import Wording

LANGUAGES = ("en", "es")


def notice_wording(language: str, folder: Path | None = None) -> Wording:
    """Return the firm's wording of the notice in a language.

    Args:
        language: `en` or `es`, or any other with its own `notice.XX.toml` in the folder.
        folder: of the templates; None: the one of this installation.

    Raises:
        TemplateError: no such template, or something in it is wrong.
    """
    return load_wording(_file("notice", language, folder), NOTICE_KEYS, NOTICE_LISTS)


def answer_wording(language: str, folder: Path | None = None) -> Wording:
    """Return the firm's wording of answers in a language.

    Args:
        language: `en` or `es`, or any other with its own `answer.XX.toml` in the folder.
        folder: of the templates; None: the one of this installation.

    Raises:
        TemplateError: no such template, or something in it is wrong.
    """
    return load_wording(_file("answer", language, folder), ANSWER_KEYS, ANSWER_LISTS)


def _file(kind: str, language: str, folder: Path | None) -> Path:
    """Return the template in a language; of one that the tool does not come with, only where the firm has put it."""
    name = f"{kind}.{language.lower()}.toml"
    if not (language.isascii() and language.isalpha() and len(language) <= 8):
        raise TemplateError("that is not a language for notices", f"Use one of: {', '.join(LANGUAGES)}")
    file = (report_templates() if folder is None else folder) / name
    if language.lower() not in LANGUAGES and not file.exists():
        told = f"there is no wording in {language.lower()!r}"
        raise TemplateError(told, f"Use {' or '.join(LANGUAGES)}; a further language is a file {name} of your own")
    return file


class FirmWordings:
    """Has the wording of notices and of answers."""

    def wording(self, language: str) -> Wording:
        """Return the wording of notices."""
        return notice_wording(language)

    def answers(self, language: str) -> Wording:
        """Return the wording of answers."""
        return answer_wording(language)
