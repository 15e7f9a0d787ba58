"""Writes how a figure came about as a list that opens line by line.

A page has hundreds of these lines, so they are joined here and not by a template of each.
"""

from collections.abc import Sequence
from typing import Protocol

from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import capfirst


class Shown(Protocol):
    """A line as a page shows it, with the lines it is made of."""

    @property
    def label(self) -> str:
        """What it is."""

    @property
    def how(self) -> str:
        """How it came about, or nothing."""

    @property
    def value_text(self) -> str:
        """Its value as it is written."""

    @property
    def unit(self) -> str:
        """What the value counts, or nothing."""

    @property
    def href(self) -> str:
        """The page it rests on, or nothing."""

    @property
    def lines(self) -> Sequence["Shown"]:
        """What it is made of."""


def explanation_item(line: Shown, *, is_open: bool = False) -> SafeString:
    """Return a line and all below it as one item of a list; only the first stands open."""
    return _opening(line, is_open) if line.lines else _leaf(line)


def _opening(line: Shown, is_open: bool) -> SafeString:
    how: SafeString | str = conditional_escape(line.how)
    if line.href:
        words = "See where this comes from"
        link = format_html(
            '<a href="{}">{}<span class="visually-hidden">: {}</span></a>',
            line.href,
            words,
            line.label,
        )
        how = format_html("{} {}", how, link) if how else link
    return format_html(
        "<li><details{}><summary>{} {}</summary>{}<ul>{}</ul></details></li>",
        " open" if is_open else "",
        _label(capfirst(line.label)),
        _value(line),
        _how(how),
        _joined([explanation_item(child) for child in line.lines]),
    )


def _leaf(line: Shown) -> SafeString:
    label: SafeString | str = capfirst(line.label)
    if line.href:
        label = format_html('<a href="{}">{}</a>', line.href, label)
    return format_html(
        '<li><div class="explanation-leaf">{} {}</div>{}</li>',
        _label(label),
        _value(line),
        _how(line.how),
    )


def _label(label: SafeString | str) -> SafeString:
    return format_html('<span class="explanation-label">{}</span>', label)


def _value(line: Shown) -> SafeString:
    if not line.unit:
        return format_html('<span class="explanation-value">{}</span>', line.value_text)
    return format_html(
        '<span class="explanation-value">{} <span class="unit">{}</span></span>',
        line.value_text,
        line.unit,
    )


def _how(how: SafeString | str) -> SafeString | str:
    return format_html('<p class="explanation-how">{}</p>', how) if how else ""


def _joined(items: Sequence[SafeString]) -> SafeString:
    return mark_safe("".join(items))  # noqa: S308 - each item is escaped already
