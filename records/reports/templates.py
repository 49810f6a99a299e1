"""Loads report templates: strict about every key and place, so that a typing error is told before a page is printed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import tomli

from records.domain.report_model import Wording, one_line, places
from records.errors import TemplateError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

OPEN = "words"  # the one table that may hold any key


def load_wording(file: Path, keys: Mapping[str, frozenset[str]], lists: Mapping[str, int | None]) -> Wording:
    """Read a template.

    Args:
        file: the TOML file.
        keys: every text it has to hold (`section.name`), with the places the text may use.
        lists: every list of texts it has to hold, with the number of entries wanted (None: any).

    Raises:
        TemplateError: the file is missing or no TOML; a key is missing, unknown, no text, or uses an unknown place.
    """
    document = _read(file)
    texts: dict[str, str] = {}
    found_lists: dict[str, tuple[str, ...]] = {}
    words: dict[str, str] = {}
    for section, table in document.items():
        if not isinstance(table, dict):
            raise _wrong(file, section, "stands outside every [section]", "Put it under its section or remove it")
        for name, value in table.items():
            key = f"{section}.{name}"
            if section == OPEN:
                words[name.casefold()] = _text(file, key, value)
            elif key in lists:
                found_lists[key] = _list(file, key, value, lists[key])
            elif key in keys:
                texts[key] = _text(file, key, value, keys[key])
            else:
                raise _wrong(file, key, "is not a key of this template", "Remove it, or correct its spelling")
    missing = sorted((keys.keys() | lists.keys()) - texts.keys() - found_lists.keys())
    if missing:
        more = f" (and {len(missing) - 1} more)" if len(missing) > 1 else ""
        raise _wrong(file, missing[0], f"is missing{more}", "Put it back; the template that came with the tool has it")
    return Wording(texts, found_lists, words)


def _read(file: Path) -> dict[str, Any]:
    try:
        return tomli.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise TemplateError(f"report template {file.name} is missing", f"Put it into {file.parent}") from None
    except (OSError, UnicodeDecodeError) as error:
        told = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise TemplateError(f"report template {file.name} cannot be read: {told}", "Save it as UTF-8 text") from error
    except (ValueError, RecursionError, MemoryError) as error:  # a number of a million digits is no TOML error
        told = str(error)[:160]
        raise TemplateError(f"report template {file.name} is not TOML: {told}", "Correct that line") from error


def _wrong(file: Path, key: str, what: str, hint: str) -> TemplateError:
    return TemplateError(f"report template {file.name}: {one_line(key)} {what}", hint)


def _text(file: Path, key: str, value: object, allowed: frozenset[str] = frozenset()) -> str:
    if not isinstance(value, str):
        raise _wrong(file, key, "is not a text", 'Write it in quotes: key = "text"')
    unknown = sorted(places(value) - allowed)
    if unknown:
        may = ", ".join(f"{{{place}}}" for place in sorted(allowed)) or "none"
        raise _wrong(file, key, f"uses {{{unknown[0]}}}, which it cannot have", f"It may use: {may}")
    return one_line(value, None)


def _list(file: Path, key: str, value: object, wanted: int | None) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise _wrong(file, key, "is not a list of texts", 'Write it like: key = ["text", "text"]')
    texts = tuple(_text(file, key, entry) for entry in value)
    if wanted is not None and len(texts) != wanted:
        raise _wrong(file, key, f"has {len(texts)} entries instead of {wanted}", "Give one entry for each")
    return texts
