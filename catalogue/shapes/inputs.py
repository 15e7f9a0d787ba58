"""Rows the library of forms asks for: the sheets of a workshop."""

from catalogue.materials.models import Material
from maker.workshop.models import Workshop

# a choice longer than this is none
MOST_SHEETS = 300


def sheets_in_use(workshop: Workshop) -> list[Material]:
    """Return the sheets a workshop uses, by name (one query)."""
    sheets = Material.objects.of(workshop).in_use().filter(kind=Material.Kind.SHEET)
    return list(sheets.by_name()[:MOST_SHEETS])
