"""Templates: a wrong one is named with its file and key; both that come with the tool are right."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from records.errors import TemplateError
from records.reports.fonts import check_glyphs
from records.reports.layout import fitted, length, wrap
from records.reports.render import LANGUAGES, notice_wording
from records.resources import report_templates

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_templates_that_come_with_the_tool_are_whole(language: str) -> None:
    """Every key is there, and every text can be drawn."""
    wording = notice_wording(language)
    for text in [
        *wording.texts.values(),
        *wording.words.values(),
        *(t for texts in wording.lists.values() for t in texts),
    ]:
        check_glyphs(text)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('calm = "calm"\n', "", r"notice\.en\.toml: value\.calm is missing"),
        ('calm = "calm"', 'clam = "calm"', r"notice\.en\.toml: value\.clam is not a key"),
        ('calm = "calm"', "calm = 3", r"value\.calm is not a text"),
        ('calm = "calm"', 'calm = "{wind}"', r"value\.calm uses \{wind\}, which it cannot have"),
        ('calm = "calm"', "calm = [[[", "is not TOML"),
        ('"January", ', "", r"dates\.months has 11 entries instead of 12"),
        ("cautions = [", 'cautions = "x"\nother = [', r"footer\.cautions is not a list"),
        ("[document]", 'stray = "x"\n[document]', "stray stands outside every"),
    ],
    ids=["missing", "unknown", "number", "place", "toml", "months", "list", "stray"],
)
def test_a_wrong_template_is_named_with_file_and_key(tmp_path: Path, old: str, new: str, told: str) -> None:
    """One broken file for each mistake."""
    text = (report_templates() / "notice.en.toml").read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "notice.en.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(TemplateError, match=told):
        notice_wording("en", tmp_path)


def test_a_missing_template_and_a_path_for_a_language_are_refused(tmp_path: Path) -> None:
    """A language is a word, not a path."""
    with pytest.raises(TemplateError, match=r"no wording in 'fr'\. Use en or es"):
        notice_wording("fr", tmp_path)
    with pytest.raises(TemplateError, match="not a language"):
        notice_wording("../../etc/x", tmp_path)


def test_a_template_that_is_not_text_is_refused(tmp_path: Path) -> None:
    """Binary rubbish gets one line."""
    shutil.copy(report_templates() / "fonts" / "NotoSans-Regular.ttf", tmp_path / "notice.en.toml")
    with pytest.raises(TemplateError, match="cannot be read"):
        notice_wording("en", tmp_path)


def test_lines_fill_the_width_and_lose_nothing() -> None:
    """Wrapping keeps every word; a word wider than the line is broken."""
    text = "one two three " * 30 + "W" * 300
    lines = wrap(text, 120.0, 9.0)
    assert all(length(line, 9.0) <= 120 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert len(wrap(text, 120.0, 9.0, most=3)) == 3
    assert wrap(text, 120.0, 9.0, most=3)[-1].endswith("\N{HORIZONTAL ELLIPSIS}")


def test_a_text_cut_to_a_width_shows_that_it_was_cut() -> None:
    """The mark is within the width."""
    cut = fitted("a very long name indeed", 60.0, 9.0)
    assert cut.endswith("\N{HORIZONTAL ELLIPSIS}")
    assert length(cut, 9.0) <= 60
    assert fitted("short", 60.0, 9.0) == "short"
