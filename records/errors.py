"""Every error the tool can end with: one class, one exit code, one line saying what, why and what to do.

Exit codes 0-2 belong to the command line itself (done, findings, usage); each class below has its own from 3 up.
Problems in what a user typed about a visit are findings (`domain/findings.py`), never exceptions.
"""

from __future__ import annotations

from pathlib import Path


class RecordsError(Exception):
    """Base of all expected errors; `str()` gives the line shown to the user."""

    exit_code = 3
    code = "error"

    def __init__(self, what: str, hint: str = "") -> None:
        """Keep the sentence and what to do about it."""
        super().__init__(what)
        self.what = what
        self.hint = hint

    def __str__(self) -> str:
        """Return the sentence followed by the hint."""
        if not self.hint:
            return self.what
        stop = "" if self.what.endswith(("?", "!", ".")) else "."  # a question is its own end
        return f"{self.what}{stop} {self.hint}".strip()


class UsageError(RecordsError):
    """The command line itself makes no sense."""

    exit_code = 2
    code = "usage"


class BookMissingError(RecordsError):
    """There is no book where one was looked for."""

    exit_code = 3
    code = "book-missing"

    def __init__(self, where: str) -> None:
        """Name the place."""
        kind = "URL" if "://" in where else "FILE"
        what = f"{where} is a folder, no book" if Path(where).is_dir() else f"no book at {where}"
        super().__init__(what, f"Make one with: swathbook --book {kind} init")


class BookVersionError(RecordsError):
    """The book was made by another version of the tool."""

    exit_code = 4
    code = "book-version"


class BookBusyError(RecordsError):
    """Another process kept the book locked too long."""

    exit_code = 5
    code = "book-busy"


class BookDamagedError(RecordsError):
    """The file is not a book, or its protections are gone."""

    exit_code = 6
    code = "book-damaged"


class StorageError(RecordsError):
    """The book could not be read or written (disk full, read-only, server gone)."""

    exit_code = 7
    code = "storage"


class InputError(RecordsError):
    """A file cannot be read as what it should be."""

    exit_code = 8
    code = "input"


class NotFoundError(RecordsError):
    """Nothing in the book has that name or number."""

    exit_code = 9
    code = "not-found"


class RefConflictError(RecordsError):
    """A visit with the same `ref` but other content is already sealed."""

    exit_code = 10
    code = "ref-conflict"

    def __init__(self, ref: str, serial: str, *, is_voided: bool = False) -> None:
        """Name the reference and the record that holds it, which may have been voided since."""
        if is_voided:
            super().__init__(
                f"ref {ref!r} is that of {serial}, which was voided",
                "If the visit took place, close it with another ref, or with none",
            )
            return
        super().__init__(
            f"ref {ref!r} is already sealed as {serial} with other content",
            "A sealed record is never overwritten; give a new visit a ref of its own",
        )


class GlyphError(RecordsError):
    """A report would need a character that the fonts do not have."""

    exit_code = 11
    code = "glyph"


class OutputError(RecordsError):
    """A file could not be written."""

    exit_code = 12
    code = "output"


class SignatureError(RecordsError):
    """The person named cannot sign for a deviation."""

    exit_code = 13
    code = "signature"


class HeldStateError(RecordsError):
    """The held entry was already sealed or dropped."""

    exit_code = 14
    code = "held-state"


class LayoutError(RecordsError):
    """An import layout file is wrong."""

    exit_code = 15
    code = "layout"


class TemplateError(RecordsError):
    """A report template is missing or malformed."""

    exit_code = 16
    code = "template"


class RulePackError(RecordsError):
    """A rule pack is wrong or not known."""

    exit_code = 17
    code = "pack"


class MailError(RecordsError):
    """An e-mail could not be handed to the mail server."""

    exit_code = 18
    code = "mail"


class RetentionError(RecordsError):
    """Records have to be kept still."""

    exit_code = 19
    code = "retention"


class OverwriteError(RecordsError):
    """Something that is kept stands where the new would go."""

    exit_code = 20
    code = "overwrite"
