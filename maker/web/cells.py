"""Writes the cells of a list: what is the same down a column is worked out once, not in each row.

django-tables2 asks again for every cell which attributes its column has and which arguments its
`render` takes; that is more than half of the time a list needs. Here both are asked once a column,
so attributes of a cell cannot depend on its row.
"""

from collections.abc import Callable, Iterator
from typing import Any

from django.core.exceptions import FieldDoesNotExist
from django.db.models import Field, Model
from django.template import Context
from django.template.base import render_value_in_context
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django_tables2.utils import signature

from maker.web.words import NOTHING

CLOSING = SafeString("</td>")
AS_IN_A_TEMPLATE = Context()


def field_at(model: type[Model], path: str) -> "Field[Any, Any] | None":
    """Return the field a name leads to, perhaps across relations; None for what is worked out."""
    found: Any = None
    for step in path.split("__"):
        try:
            found = model._meta.get_field(step)
        except FieldDoesNotExist:
            return None
        model = found.related_model or model
    return found if isinstance(found, Field) else None


class Cells:
    """The cells of one column."""

    def __init__(self, table: Any, column: Any) -> None:
        self.table, self.column = table, column
        self.path = column.accessor.bits
        # rows of a queryset know their model, those of a list do not
        model = getattr(table.data, "model", None)
        field = field_at(model, column.accessor) if model else None
        self.shows_choice = field is not None and bool(field.choices)
        self.empty_values, self.default = column.column.empty_values, column.default
        self.render, self.takes = column.render, _takes(column.render)
        self.url = column.link.url if column.link else None
        self.url_takes = _takes(self.url) if self.url else ()
        self.opening, self.opening_blank = (
            format_html(start, column.header, column.attrs["td"].as_html())
            for start in (
                '<td role="cell" data-label="{}" {}>',
                '<td role="cell" data-label="{}" data-blank {}>',
            )
        )

    def written(self, row: Any) -> SafeString:
        """Return one cell as HTML."""
        value = self._value(row.record)
        content: Any = self.default if value in self.empty_values else self._content(row, value)
        opening = self.opening_blank if content == NOTHING else self.opening
        text: Any = render_value_in_context(content, AS_IN_A_TEMPLATE)
        written: SafeString = opening + text + CLOSING
        return written

    def _content(self, row: Any, value: Any) -> Any:
        given = {
            "value": value,
            "record": row.record,
            "column": self.column.column,
            "bound_column": self.column,
            "bound_row": row,
            "table": self.table,
        }
        content = self.render(**{name: given[name] for name in self.takes})
        if self.url is None:
            return content
        address = self.url(**{name: given[name] for name in self.url_takes})
        return format_html('<a href="{}">{}</a>', address, content)

    def _value(self, record: Any) -> Any:
        """Read what the column stands for; None for one that is only worked out."""
        *way, last = self.path
        for step in way:
            record = getattr(record, step, None)
        if self.shows_choice and record is not None:
            return getattr(record, f"get_{last}_display")()
        return getattr(record, last, None)


def _takes(function: Callable[..., Any]) -> tuple[str, ...]:
    names, _ = signature(function)
    return tuple(names)


def written_rows(table: Any) -> Iterator[SafeString]:
    """Yield the cells of each row of the page that is shown, as HTML."""
    columns = [Cells(table, column) for column in table.columns]
    for row in table.paginated_rows:
        cells = (cells_below.written(row) for cells_below in columns)
        yield mark_safe("\n".join(cells))  # noqa: S308 # each is safe
