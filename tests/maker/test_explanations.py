"""How a figure came about, as a list that opens line by line."""

from dataclasses import dataclass

from django.template.loader import render_to_string

from maker.web.explanations import explanation_item


@dataclass(frozen=True)
class Told:
    label: str
    how: str = ""
    value_text: str = "1"
    unit: str = ""
    href: str = ""
    lines: tuple["Told", ...] = ()


def test_a_line_opens_to_what_it_is_made_of_and_only_the_first_stands_open():
    leaf = Told("card", "2 × €0.50", "€1.00", href="/receipt/")
    tree = Told("cost", "card + work", lines=(Told("sheets", lines=(leaf,), unit="sheets"),))
    assert render_to_string("components/explanation.html", {"line": tree}).count("<li>") == 3
    page = explanation_item(tree, is_open=True)
    assert page.count("<details open>") == 1
    assert page.count("<details>") == 1
    assert '<p class="explanation-how">card + work</p>' in page
    assert '<span class="unit">sheets</span>' in page
    assert '<a href="/receipt/">Card</a>' in page
    assert '<p class="explanation-how">2 × €0.50</p>' in page


def test_a_line_that_opens_leads_to_where_it_comes_from():
    rest = (Told("rate"),)
    with_sum = explanation_item(Told("wage", "60 × €0.30", href="/settings/", lines=rest))
    without = explanation_item(Told("wage", href="/settings/", lines=rest))
    words = 'See where this comes from<span class="visually-hidden">: wage</span>'
    link = f'<a href="/settings/">{words}</a>'
    assert f'<p class="explanation-how">60 × €0.30 {link}</p>' in with_sum
    assert f'<p class="explanation-how">{link}</p>' in without


def test_names_with_markup_are_written_as_they_are():
    nasty = "<b>&\"'"
    one = Told(nasty, nasty, nasty, nasty, nasty)
    page = explanation_item(Told(nasty, nasty, nasty, nasty, nasty, (one,)))
    assert "<b>" not in page
    # six times of the one that opens, whose link says its label again, and five of the other
    assert page.count("&lt;b&gt;") == 6 + 5
    assert "&amp;lt;" not in page
