"""Finds the folders that stand beside the package in a checkout and inside it in a wheel."""

from __future__ import annotations

from pathlib import Path

from records.errors import StorageError, TemplateError

_PACKAGE = Path(__file__).resolve().parent


def _find(name: str) -> Path | None:
    # The packaged folder first: in a wheel, whatever lies beside the package belongs to others.
    for folder in (_PACKAGE / f"_{name}", _PACKAGE.parent / name):
        if folder.is_dir():
            return folder
    return None


def migrations() -> Path:
    """Return the folder of the migration scripts.

    Raises:
        StorageError: the installation lacks it.
    """
    folder = _find("migrations")
    if folder is None:
        raise StorageError("the migration scripts are missing from this installation", "Install the tool again")
    return folder


def report_templates() -> Path:
    """Return the folder of the report wording, layouts and fonts.

    Raises:
        TemplateError: the installation lacks it.
    """
    folder = _find("report_templates")
    if folder is None:
        raise TemplateError("the report templates are missing from this installation", "Install the tool again")
    return folder
