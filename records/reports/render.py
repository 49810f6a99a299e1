"""What the rest of the tool sees of this folder: page models in, PDF bytes out, and the firm's wording."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.reports.emergency import render_emergency
from records.reports.mix_card import render_mix_cards
from records.reports.notice import render_notice
from records.reports.packet import PacketPdf
from records.reports.sign_sheet import render_sign_sheet
from records.reports.summary import render_summary
from records.reports.wordings import LANGUAGES, notice_wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.packet_model import EmergencyModel
    from records.domain.report_model import NoticeModel, SummaryModel, Wording
    from records.reports.stream import Bytes
    from records.services.planning.card import Card
    from records.services.signs import SignSheet

__all__ = ["LANGUAGES", "PdfRenderer", "notice_wording", "render_notice", "render_summary"]


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

    def sign_sheet(self, model: SignSheet, paper: str) -> bytes:
        """Return the work sheet for a lawn sign as PDF."""
        return render_sign_sheet(model, paper)

    def packet(self, target: Bytes, paper: str) -> PacketPdf:
        """Return what draws an inspection packet into a stream of bytes."""
        return PacketPdf(target, paper)

    def emergency(self, model: EmergencyModel, paper: str) -> bytes:
        """Return the emergency sheet as PDF, one page."""
        return render_emergency(model, paper)

    def mix_cards(self, cards: Sequence[Card], paper: str) -> bytes:
        """Return mix cards as PDF, one page each."""
        return render_mix_cards(cards, paper)
