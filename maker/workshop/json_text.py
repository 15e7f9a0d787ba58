"""Text inside a JSON column, read by the database."""

from django.db.models import TextField, Value
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import NullIf


def json_text(column: str, key: str) -> NullIf:
    """Return what a key of a JSON column holds, as text; nothing where it is missing or null.

    Amounts are read as text: SQLite would give them as floats, and says "null" where there is none.
    """
    return NullIf(KeyTextTransform(key, column), Value("null"), output_field=TextField())
