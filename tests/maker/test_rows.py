"""Rows of a form: empty ones do not matter, too many are refused, choices cost no query."""

from typing import Any

import pytest
from django import forms

from catalogue.suppliers.models import Supplier
from maker.web.rows import ChosenRowField, rows_by_key, rows_of
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import rows


class Bead(forms.Form):
    colour = forms.CharField(max_length=10)
    count = forms.IntegerField(required=False)


Beads = rows_of(Bead, spare=2, at_most=5)


def sent(*filled: dict[str, Any], **management: Any) -> Any:
    return Beads(rows("form", filled, **management))


def test_empty_rows_in_the_middle_are_left_out() -> None:
    beads = sent({"colour": "red"}, {"colour": "", "count": ""}, {"colour": "blue"})
    assert beads.is_valid()
    assert [form.cleaned_data["colour"] for form in beads.kept()] == ["red", "blue"]


def test_a_row_half_filled_is_told() -> None:
    beads = sent({"colour": "", "count": "3"})
    assert not beads.is_valid()
    assert "colour" in beads.forms[0].errors


def test_a_removed_row_is_neither_kept_nor_wrong() -> None:
    beads = sent({"colour": "much too long a name", "DELETE": "on"}, {"colour": "red"})
    assert beads.is_valid()
    assert [form.cleaned_data["colour"] for form in beads.kept()] == ["red"]
    assert len(list(beads.removed())) == 1


@pytest.mark.parametrize("total", [6, 100_000, 10**18])
def test_too_many_rows_are_refused_in_words(total: int) -> None:
    beads = sent({"colour": "red"}, TOTAL_FORMS=total)
    assert not beads.is_valid()
    assert beads.non_form_errors() == ["No more than 5 rows fit. Split them over two."]
    assert len(beads.forms) <= 25


@pytest.mark.parametrize("total", ["", "many", "1.5", "-1"])
def test_a_form_that_lost_its_count_is_refused_or_empty(total: str) -> None:
    beads = sent({"colour": "red"}, TOTAL_FORMS=total)
    if beads.is_valid():
        assert list(beads.kept()) == []
    else:
        assert "arrive, so nothing was saved" in beads.non_form_errors()[0]


def test_rows_are_not_compared_with_what_stands_at_their_place_now() -> None:
    # somebody else added a row in front after the page was opened
    data = rows("form", [{"colour": "red"}, {"colour": "", "count": ""}], INITIAL_FORMS=2)
    beads = Beads(data, initial=[{"colour": "new"}, {"colour": "red"}])
    assert beads.is_valid()
    assert [form.cleaned_data["colour"] for form in beads.kept()] == ["red"]


class Order(forms.Form):
    supplier = ChosenRowField(required=False, empty_label="none")


def test_a_choice_gives_the_row_and_asks_nothing(workshop: Workshop, count_queries: Any) -> None:
    chosen = factories.make_supplier(workshop)
    known = rows_by_key(Supplier.objects.of(workshop))
    form = Order({"supplier": str(chosen.pk)})
    form.fields["supplier"].use_rows(known)  # type: ignore[attr-defined]  # our own field
    with count_queries() as queries:
        assert form.is_valid()
        assert form.cleaned_data["supplier"] == chosen
        assert str(chosen) in str(form["supplier"])
    assert len(queries) == 0


def test_a_row_of_another_workshop_is_no_choice(
    workshop: Workshop, other_workshop: Workshop
) -> None:
    theirs = factories.make_supplier(other_workshop)
    form = Order({"supplier": str(theirs.pk)})
    known = rows_by_key(Supplier.objects.of(workshop))
    form.fields["supplier"].use_rows(known)  # type: ignore[attr-defined]  # our own field
    assert not form.is_valid()
