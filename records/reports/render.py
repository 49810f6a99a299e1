"""What the rest of the tool sees of this folder: page models in, PDF bytes out, and the firm's wording."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import TemplateError
from records.reports.notice import render_notice
from records.reports.summary import render_summary
from records.reports.templates import load_wording
from records.resources import report_templates
from records.services.notice_words import NOTICE_KEYS, NOTICE_LISTS

if TYPE_CHECKING:
    from pathlib import Path

    from records.domain.report_model import NoticeModel, SummaryModel, Wording

__all__ = ["LANGUAGES", "PdfRenderer", "notice_wording", "render_notice", "render_summary"]

LANGUAGES = ("en", "es")


def notice_wording(language: str, folder: Path | None = None) -> Wording:
    """Return the firm's wording of the notice in a language.

    Args:
        language: `en` or `es`, or any other with its own `notice.XX.toml` in the folder.
        folder: of the templates; None: the one of this installation.

    Raises:
        TemplateError: no such template, or something in it is wrong.
    """
    if not (language.isascii() and language.isalpha() and len(language) <= 8):
        raise TemplateError("that is not a language for notices", f"Use one of: {', '.join(LANGUAGES)}")
    place = report_templates() if folder is None else folder
    return load_wording(place / f"notice.{language.lower()}.toml", NOTICE_KEYS, NOTICE_LISTS)


class PdfRenderer:
    """Draws page models with ReportLab (the `Renderer` of `services/ports.py`)."""

    def wording(self, language: str) -> Wording:
        """Return the firm's wording of the notice in a language."""
        return notice_wording(language)

    def notice(self, model: NoticeModel, paper: str) -> bytes:
        """Return a notice as PDF."""
        return render_notice(model, paper)

    def summary(self, model: SummaryModel, paper: str) -> bytes:
        """Return a summary as PDF."""
        return render_summary(model, paper)
