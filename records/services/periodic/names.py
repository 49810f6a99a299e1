"""The names of the report layouts that come with the tool, found without reading any."""

from __future__ import annotations

from pathlib import Path

FOLDER = Path(__file__).parents[1] / "report_layouts"


def layout_ids() -> tuple[str, ...]:
    """Return the ids of the layouts: the names of their files."""
    return tuple(sorted(file.stem for file in FOLDER.glob("*.toml")))
