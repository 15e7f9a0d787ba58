"""Writes the plainest widgets without a template: a recipe has hundreds of them on one page.

The output is that of Django's own templates, which a test compares; a template for one input
takes about a millisecond, this a few hundredths of one.
"""

from collections.abc import Callable
from html import escape
from typing import Any

from django import forms
from django.utils.safestring import SafeString, mark_safe


def _attributes(attrs: dict[str, Any]) -> str:
    if not attrs:
        return ""
    written = []
    for name, value in attrs.items():
        if value is True:
            written.append(f" {escape(str(name))}")
        elif value is not False:
            written.append(f' {escape(str(name))}="{escape(str(value))}"')
    return "".join(written)


def _input(widget: dict[str, Any]) -> str:
    value = "" if widget["value"] is None else f' value="{escape(str(widget["value"]))}"'
    kind, name = escape(str(widget["type"])), escape(str(widget["name"]))
    return f'<input type="{kind}" name="{name}"{value}{_attributes(widget["attrs"])}>'


def _label(label: Any) -> str:
    # Django's own way asks of each whether it is lazy: half the time of a list of thousands
    return str(label.__html__()) if hasattr(label, "__html__") else escape(str(label))


def _select(widget: dict[str, Any]) -> str:
    parts = [f'<select name="{escape(str(widget["name"]))}"{_attributes(widget["attrs"])}>']
    for group, options, _ in widget["optgroups"]:
        if group:
            parts.append(f'<optgroup label="{escape(str(group))}">')
        parts += [
            f'<option value="{escape(str(option["value"]))}"{_attributes(option["attrs"])}>'
            f"{_label(option['label'])}</option>"
            for option in options
        ]
        if group:
            parts.append("</optgroup>")
    parts.append("</select>")
    return "".join(parts)


class LongSelect(forms.Select):
    """A choice among what may be thousands, without groups: Django makes a dictionary of each."""

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        """Write what Django writes."""
        (chosen,) = self.format_value(value)
        parts = [
            f'<select name="{escape(name)}"{_attributes(self.build_attrs(self.attrs, attrs))}>'
        ]
        for key, label in self.choices:
            selected = " selected" if str(key) == chosen else ""
            parts.append(f'<option value="{escape(str(key))}"{selected}>{_label(label)}</option>')
        return mark_safe("".join([*parts, "</select>"]))  # noqa: S308 - every part is escaped above


WRITERS: dict[str, Callable[[dict[str, Any]], str]] = {
    "django/forms/widgets/text.html": _input,
    "django/forms/widgets/hidden.html": _input,
    "django/forms/widgets/checkbox.html": _input,
    "django/forms/widgets/select.html": _select,
}


def write_widget(template_name: str, context: dict[str, Any]) -> SafeString | None:
    """Return the HTML of a widget that needs no template, every value escaped; else None."""
    writer = WRITERS.get(template_name)
    if writer is None:
        return None
    return mark_safe(writer(context["widget"]))  # noqa: S308 - every part is escaped above
