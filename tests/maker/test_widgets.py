"""Widgets written without a template look as Django's own templates write them."""

import re
from typing import Any

import pytest
from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.safestring import mark_safe

from maker.web.forms import FormRenderer
from maker.web.widgets import LongSelect

ODD = "<b>\"quoted\" & 'odd'</b>"
CHOICES = [
    ("", "none"),
    (ODD, ODD),
    (7, mark_safe("<i>safe</i>")),
    ("a group", [("x", "X"), ("y", "Y & Z")]),
]
CASES = [
    (forms.TextInput({"class": "amount", "data-on": True, "data-off": False, "title": ODD}), value)
    for value in (None, "", "7 1/2", ODD, 0, 12.5)
]
CASES += [(forms.HiddenInput(), value) for value in (None, ODD, 3)]
CASES += [(forms.CheckboxInput(), value) for value in (None, False, True, "on", ODD)]
CASES += [(forms.Select(choices=CHOICES), value) for value in (None, "", ODD, 7, "7", "y", "?")]


def _squeezed(html: Any) -> str:
    return re.sub(r">\s+", ">", re.sub(r"\s+<", "<", str(html))).strip()


@pytest.mark.parametrize(("widget", "value"), CASES)
def test_a_widget_reads_as_djangos_template_writes_it(widget, value):
    attrs = {"id": "id_one", "aria-invalid": "true", "disabled": True}
    ours = widget.render("rows-0-one", value, attrs, FormRenderer())
    theirs = widget.render("rows-0-one", value, attrs, TemplatesSetting())
    assert _squeezed(ours) == _squeezed(theirs)
    assert "<b>" not in ours


def test_a_date_still_comes_from_its_template():
    html = forms.DateInput({"type": "date"}).render("day", "2026-01-02", None, FormRenderer())
    assert 'value="2026-01-02"' in html


@pytest.mark.parametrize("value", [None, "", ODD, 7, "7", "?"])
def test_a_long_choice_reads_as_djangos_template_writes_it(value):
    attrs = {"id": "id_one", "aria-invalid": "true", "disabled": True, "title": ODD}
    ours = LongSelect({"class": "wide"}, CHOICES[:3]).render("one", value, attrs, FormRenderer())
    plain = forms.Select({"class": "wide"}, CHOICES[:3])
    theirs = plain.render("one", value, attrs, TemplatesSetting())
    assert _squeezed(ours) == _squeezed(theirs)
    assert "<b>" not in ours
