"""Import of tables that somebody else wrote, by small layout files."""

from records.services.importing.layout import Layout, find_layout, read_layout, shipped
from records.services.importing.service import Progress, import_table
from records.services.importing.tally import Tally

__all__ = ["Layout", "Progress", "Tally", "find_layout", "import_table", "read_layout", "shipped"]
