"""List pages: a table that sorts in a stable order, pages in the database and has a limit."""

import datetime
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django import forms
from django.core.paginator import EmptyPage
from django.db.models import CharField, F, Model, QuerySet, TextField
from django.db.models.functions import Lower
from django.http import HttpRequest
from django.template.loader import get_template
from django.urls import reverse
from django.utils.dateformat import format as date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.timezone import localtime

from maker.calc.money import format_money
from maker.web.cells import field_at, written_rows
from maker.web.fields import OneLineField
from maker.web.words import NOTHING, amount_text

PER_PAGE = 25
MOST_PER_PAGE = 200

NUMBER = {"th": {"class": "number"}, "td": {"class": "number"}}


def on_phone(place: str, attrs: dict[str, Any] | None = None) -> dict[str, Any]:
    """Return a column's attributes with its place in a row of a long list on a phone.

    `beside` the name, `under` it in small words, `under told` with its heading, or `on-its-page`:
    not in the list.
    """
    given = attrs or {}
    cell = given.get("td", {})
    return {**given, "td": {**cell, "class": f"{cell.get('class', '')} {place}".strip()}}


class _StableData(tables.data.TableQuerysetData):
    """Rows that always end up in one order: equal ones by primary key, so pages never overlap.

    The order is the same on every database: words whatever their capitals, what is not known last.
    """

    data: Any

    def order_by(self, aliases: Any) -> None:
        super().order_by(aliases)
        order = [part for part in self.data.query.order_by if part not in ("pk", "-pk")]
        last = "-pk" if order and _is_descending(order[0]) else "pk"
        self.data = self.data.order_by(
            *(_as_people_sort(self.data.model, part) for part in order), last
        )


def _as_people_sort(model: type[Model], part: Any) -> Any:
    if not isinstance(part, str):
        return part
    name = part.removeprefix("-")
    # words and not a number, nor what the query works out
    value = Lower(name) if isinstance(field_at(model, name), CharField | TextField) else F(name)
    return value.desc(nulls_last=True) if part.startswith("-") else value.asc(nulls_last=True)


def _is_descending(part: Any) -> bool:
    return part.startswith("-") if isinstance(part, str) else bool(part.descending)


class ListTable(tables.Table):
    """A table of rows of one workshop; knows how the workshop writes money and amounts."""

    row_page = ""  # the name of the page of a row, for its `RowLink`

    def __init__(self, queryset: QuerySet[Any], *, workshop: Any, **options: Any) -> None:
        self.workshop = workshop
        super().__init__(_StableData(queryset), default=NOTHING, **options)

    def address(self, record: Any) -> str:
        """Return the address of the page of a row."""
        return reverse(self.row_page, args=[self.workshop.slug, record.pk])

    def written_rows(self) -> Iterator[SafeString]:
        """Yield the cells of each row of the page that is shown."""
        return written_rows(self)

    def money(self, value: Decimal, extra_digits: int = 0) -> str:
        """Write an amount of money."""
        return format_money(value, self.workshop.currency, self.workshop.locale, extra_digits)

    def amount(self, value: Decimal, unit: str, typed_in: str = "") -> str:
        """Write an amount of material with its unit."""
        return amount_text(value, unit, self.workshop, typed_in)


class DatedTable(ListTable):
    """A table whose rows say what is late today."""

    def __init__(self, *args: Any, today: datetime.date, **options: Any) -> None:
        self.today = today
        super().__init__(*args, **options)


class NameColumn(tables.Column):
    """A name or a subject; whatever script it is written in keeps its own direction."""

    def render(self, value: str) -> SafeString:
        """Write it apart from the text around it."""
        return format_html("<bdi>{}</bdi>", value)


class RowLink(NameColumn):
    """The column that leads to the page of its row."""

    def __init__(self, **options: Any) -> None:
        super().__init__(linkify=lambda record, table: table.address(record), **options)


class DayColumn(tables.Column):
    """A day, or a moment where its format says so; a template for each would be read each time."""

    def __init__(self, *, format: str = "j M Y", place: str = "", **options: Any) -> None:
        one_line = {"td": {"class": "one-line"}}
        super().__init__(**{"attrs": on_phone(place, one_line), **options})
        self.format = format

    def render(self, value: datetime.date) -> str:
        """Write it as people do, a moment in the time zone of the installation."""
        day = localtime(value) if isinstance(value, datetime.datetime) else value
        return date_format(day, self.format)


class PartColumn(tables.Column):
    """A cell with a template of its own, which sees what its page sees."""

    def __init__(self, template_name: str, **options: Any) -> None:
        # a button or a link says what it does: no label beside it on a phone
        attrs = {"td": {"class": "part"}}
        super().__init__(empty_values=(), orderable=False, attrs=attrs, **options)
        self.template_name = template_name

    def render(self, record: Any, table: Any) -> SafeString:
        """Write it within the context of the page, so that nothing is gathered for each row."""
        template: Any = get_template(self.template_name)
        with table.context.update({"record": record, "table": table}):
            written: SafeString = template.template.render(table.context)
        return written


class FilterForm(forms.Form):
    """Narrows a list; sent by GET. What cannot be read does not narrow."""

    use_required_attribute = False
    search = OneLineField(
        required=False, max_length=80, widget=forms.TextInput(attrs={"type": "search"})
    )

    def narrow(self, queryset: Any) -> Any:
        """Return the rows that match; each list says how in `narrow_by`."""
        self.full_clean()
        values = getattr(self, "cleaned_data", {})
        return self.narrow_by(queryset, {name: value for name, value in values.items() if value})

    def narrow_by(self, queryset: Any, values: dict[str, Any]) -> Any:
        """Return the rows that match the values given; empty ones are left out of `values`."""
        raise NotImplementedError


class ArchivableFilter(FilterForm):
    """Narrows a list of rows that can be archived: in use, archived or all."""

    STATES = (("", "In use"), ("away", "Archived"), ("all", "All"))

    state = forms.ChoiceField(label="State", choices=STATES, required=False)

    def narrow_by(self, queryset: Any, values: dict[str, Any]) -> Any:
        """Return the rows that match; their queryset says which hold a text (`matching`)."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        return queryset.in_state(values.get("state"))


def whole_number(text: str | None, default: int) -> int:
    """Return a positive number out of an address, or the default."""
    readable = text is not None and len(text) < 10 and text.isascii() and text.isdigit()
    return int(text or default) if readable else default


def show_list(request: HttpRequest, table: ListTable, *, per_page: int = PER_PAGE) -> ListTable:
    """Sort and page a table as the address says, within limits; odd values mean the default."""
    order = request.GET.getlist(table.prefixed_order_by_field)
    if order:
        known = set(table.columns.names())
        table.order_by = [part for part in order if part.removeprefix("-") in known][:3]
    elif table.order_by is None:
        table.data.order_by(())
    size = whole_number(request.GET.get(table.prefixed_per_page_field), per_page)
    page = whole_number(request.GET.get(table.prefixed_page_field), 1)
    try:
        table.paginate(per_page=min(max(size, 1), MOST_PER_PAGE), page=page)
    except EmptyPage:
        table.page = table.paginator.page(table.paginator.num_pages)
    return table


def address_of_page(request: HttpRequest, **kept: str) -> str:
    """Return where a form on pages leads: to the page its button names, else to the same one.

    `kept` goes along in the address.
    """
    query = request.GET.copy()
    if page := request.POST.get("page"):
        kept["page"] = page
    for name, value in kept.items():
        query[name] = value
    return f"{request.path}?{query.urlencode()}" if query else request.path


def count_text(count: int, one: str, many: str = "") -> str:
    """Say how many rows match: `1 material`, `37 materials`, `2 enquiries`, `no materials`."""
    more = many or (f"{one[:-1]}ies" if one.endswith("ry") else f"{one}s")
    return f"{count or 'no'} {one if count == 1 else more}"
