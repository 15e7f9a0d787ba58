"""Pages that hold every component once, so that the look is tested apart from any feature."""

import time
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.template import RequestContext, Template
from django.urls import path

from maker.urls import urlpatterns as project_urls
from maker.web.cells import written_rows
from maker.web.cost_bar import BarPart, cost_bar
from maker.web.fields import NumberField
from maker.web.messages import undo_message


class PieceForm(forms.Form):
    """One row."""

    name = forms.CharField()
    width = NumberField(unit="in", label="Width")
    paper = forms.ChoiceField(choices=[("", "Choose"), ("1", "Kraft card"), ("2", "White card")])
    may_turn = forms.BooleanField(required=False, label="May turn")


Pieces = forms.formset_factory(PieceForm, extra=2, max_num=6, can_order=True, can_delete=True)
STORED = [
    {"name": "Body", "width": "8 1/2", "paper": "1"},
    {"name": "Lid", "width": "3 1/2", "paper": "1"},
    {"name": "Pocket", "width": "2", "paper": "2"},
]


class SheetForm(forms.Form):
    """One of each kind of field."""

    name = forms.CharField(help_text="As you would ask for it in a shop.")
    width = NumberField(unit="mm", help_text="Across the pattern.")
    direction = forms.ChoiceField(
        widget=forms.RadioSelect, choices=[("n", "None"), ("l", "Along the long side")]
    )
    for_food = forms.BooleanField(required=False, label="May touch food")
    sides = forms.IntegerField(min_value=1, required=False)
    note = forms.CharField(widget=forms.Textarea, required=False)


@dataclass
class Sheet:
    """A row of the list."""

    name: str
    cost: str
    note: str = ""


class SheetTable(tables.Table):
    """A list of two columns."""

    written_rows = written_rows
    name = tables.Column(linkify=lambda record: f"#{record.name}")
    cost = tables.Column(attrs={"th": {"class": "number"}, "td": {"class": "number"}})
    note = tables.Column(orderable=False)


@dataclass
class Figure:
    """A figure or a line of an explanation."""

    label: str
    value_text: str
    how: str = ""
    unit: str = ""
    href: str = ""
    note: str = ""
    main: bool = False
    lines: list["Figure"] = field(default_factory=list)


PAGE = """{% extends "base.html" %}{% load django_tables2%}
{% block title %}Sample{% endblock %}{% block heading %}Sample{% endblock %}
{% block back %}<a class="back" href="/sample/">Samples</a>{% endblock %}
{% block actions %}<a class="button primary" href="#">Make</a>{% endblock %}
{% block tabs %}<nav class="tabs" aria-label="Sample"><ul>
<li><a href="#" aria-current="page">One</a></li>
<li><a href="#">Two</a></li></ul></nav>{% endblock %}
{% block content %}
{% include "components/figures.html" %}
<p><span class="badge">Plain</span> <span class="badge good">Good</span>
<span class="badge alarm">Bad</span> <span class="badge quiet">Quiet</span>
<span class="badge">cost changed, times differ, not looked at for a long time</span></p>
{% include "components/notice.html" with kind="caution" text="Hot glue burns." %}
{% include "components/notice.html" with kind="warning" text="The reel is nearly empty." %}
<div class="split"><section class="panel"><h2>Bar</h2>
{% include "components/cost_bar.html" with id="bar" title="Cost" %}</section>
<section class="panel"><h2>Drawing</h2><div class="drawing">
<svg viewBox="0 0 60 40" width="240" role="img" aria-label="A piece with one fold">
<rect class="piece" x="5" y="5" width="50" height="30"/>
<path class="fold" d="M30 5v30"/></svg></div></section></div>
<section class="panel">
{% include "components/explanation.html" with line=tree title="Why" %}</section>
<section><h2>List</h2>
{% include "components/filter_bar.html" with form=filter count_text="3 sheets" %}
{% render_table table %}</section>
<form method="post" novalidate data-unsaved>{% csrf_token %}{{ form }}
<div class="form-foot"><button class="primary">Save</button></div></form>
{% include "components/progress.html" with label="Looking" done=1 of=2 text="One of two" %}
{% include "components/empty.html" with text="Nothing yet." url="#" action="Begin" %}
{% endblock %}"""

ROWS_PAGE = """{% extends "base.html" %}
{% block title %}Rows{% endblock %}{% block heading %}Rows{% endblock %}
{% block content %}<form method="post" novalidate data-unsaved>{% csrf_token %}
{% include "components/rows.html" with legend="Pieces" add_label="Add a piece" %}
<button class="primary">Save</button></form>{% endblock %}"""


def _answer(request: HttpRequest, text: str, **context: Any) -> HttpResponse:
    return HttpResponse(Template(text).render(RequestContext(request, context)))


def sample(request: HttpRequest) -> HttpResponse:
    """Show everything; a post is refused or thanked for."""
    form = SheetForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if "slow" in request.GET:
            time.sleep(1)
        undo_message(request, "Saved the sheet.", "/sample/undo/")
        return HttpResponseRedirect("/sample/")
    sheets = [Sheet(name=f"Card {number}", cost=f"0.{number}") for number in "321"]
    table = SheetTable(sheets, order_by=request.GET.get("sort", "name"))
    table.paginate(page=request.GET.get("page", 1), per_page=2)
    receipt = Figure("Landed cost", "0.3125", href="#receipt", how="Average of two receipts")
    return _answer(
        request,
        PAGE,
        form=form,
        table=table,
        filter=SheetForm(prefix="filter"),
        figures=[Figure("Price", "6.50", main=True, note="Up to 10 p"), Figure("Cost", "3.12")],
        bar=cost_bar(
            [BarPart("Paper", Decimal(3), "3.00"), BarPart("Making", Decimal(6), "6.00")],
            total_text="9.00",
        ),
        tree=Figure("Cost", "9.00", lines=[Figure("Paper", "3.00", lines=[receipt])]),
    )


def undo(request: HttpRequest) -> HttpResponse:
    """Take the sheet back."""
    messages.success(request, f"Taken back by {request.method}.")
    return HttpResponseRedirect("/sample/")


def broken(request: HttpRequest) -> HttpResponse:
    """Fail as a bug would."""
    raise ZeroDivisionError


def rows(request: HttpRequest) -> HttpResponse:
    """Show rows, and answer a post with what arrived: name, width, paper, turn, in their order."""
    if request.method != "POST":
        return _answer(request, ROWS_PAGE, formset=Pieces(initial=STORED))
    formset = Pieces(request.POST)
    if not formset.is_valid():
        return _answer(request, ROWS_PAGE, formset=formset)
    kept = [form.cleaned_data for form in formset.ordered_forms]
    return JsonResponse(
        [[row["name"], str(row["width"]), row["paper"], row["may_turn"]] for row in kept],
        safe=False,
    )


urlpatterns = [
    path("sample/", sample),
    path("sample/undo/", undo),
    path("sample/broken/", broken),
    path("sample/rows/", rows),
    *project_urls,
]
