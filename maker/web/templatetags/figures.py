"""Filters that write money, numbers, lengths and shares the way the workshop does."""

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import template
from django.template.defaultfilters import length as count_of

from maker.calc.units import format_length, format_number, format_percent
from maker.web import explanations, words

if TYPE_CHECKING:
    from maker.workshop.models import Workshop

register = template.Library()


@register.filter
def money(value: Decimal | None, workshop: "Workshop") -> str:
    """Write an amount in the workshop's currency and locale; an en dash for none."""
    return words.money(value, workshop)


@register.filter
def lowest_price(value: Decimal | None, workshop: "Workshop") -> str:
    """Write a lowest price, up to the next coin; an en dash for none."""
    return words.lowest_price(value, workshop)


@register.filter
def explanation_item(line: explanations.Shown) -> str:
    """Write how a figure came about, as an item that stands open."""
    return explanations.explanation_item(line, is_open=True)


@register.filter
def number(value: Decimal | int | None, workshop: "Workshop") -> str:
    """Write a plain number without needless zeros, in the workshop's locale."""
    if value is None:
        return "–"
    return format_number(Decimal(value), workshop.locale)


@register.filter
def length(value: Any, workshop: "Workshop | None" = None) -> str | int:
    """Write a length given in millimetres in the workshop's unit.

    Without a workshop it counts, as the filter of this name that comes with Django does:
    this one stands in its place in every template, those of libraries too.
    """
    if workshop is None:
        return count_of(value)
    if value is None:
        return "–"
    return format_length(value, workshop.unit, workshop.locale)


@register.filter
def percent(value: Decimal | None, workshop: "Workshop") -> str:
    """Write a share from 0 to 1 as a percentage with at most two decimals."""
    if value is None:
        return "–"
    return format_percent(Decimal(value), workshop.locale, 2)


@register.filter
def item(mapping: dict[Any, Any], key: Any) -> Any:
    """Look a key up, where a template has it in a variable."""
    return mapping.get(key)


_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:mm|cm|m|in|g|kg|ml|min|h)\b)")


@register.filter
def units_kept(text: str) -> str:
    """Keep each number and its unit on one line of a sentence."""
    return _NUMBER_AND_UNIT.sub("\u00a0", str(text))
