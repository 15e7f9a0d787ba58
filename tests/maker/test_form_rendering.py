"""Forms are written with our templates: unit, hint and error read out with the entry."""

from django import forms
from django.template import Context, Template
from django.utils.html import escape

from maker.web.fields import NumberField


class SheetForm(forms.Form):
    """Fields of several kinds."""

    name = forms.CharField()
    width = NumberField(unit="mm", help_text="Across the pattern.")
    sides = forms.IntegerField(min_value=1, max_value=2, required=False)
    price = forms.DecimalField(decimal_places=2)
    for_food = forms.BooleanField(required=False, label="May touch food")


def test_a_unit_stands_beside_the_entry_and_is_read_out_with_it() -> None:
    html = SheetForm()["width"].as_field_group()
    assert '<span class="suffix" id="id_width_unit">mm</span>' in html
    assert 'aria-describedby="id_width_helptext id_width_unit"' in html


def test_a_field_without_unit_has_no_suffix() -> None:
    assert "suffix" not in SheetForm()["name"].as_field_group()


def test_label_hint_error_and_entry_follow_each_other() -> None:
    html = SheetForm({"name": "Card", "width": "wide"})["width"].as_field_group()
    places = [html.index(text) for text in ("<label", "_helptext", "_error", "<input")]
    assert places == sorted(places)
    assert 'aria-invalid="true"' in html
    assert 'value="wide"' in html


def test_numbers_are_typed_as_text() -> None:
    html = str(SheetForm())
    assert 'type="number"' not in html
    assert 'step="' not in html
    assert 'max="' not in html
    assert 'inputmode="numeric" autocomplete="off" name="sides"' in html
    assert 'inputmode="decimal" autocomplete="off" name="price"' in html


def test_only_what_may_be_left_out_is_marked() -> None:
    form = SheetForm()
    assert "(optional)" in form["sides"].as_field_group()
    assert "(optional)" not in form["name"].as_field_group()
    assert "(optional)" not in form["for_food"].as_field_group()


def test_the_summary_links_every_error_to_its_entry_and_escapes_what_was_typed() -> None:
    form = SheetForm({"name": "Card", "width": "<b>", "price": "1", "sides": ""})
    form.add_error(None, "Nothing fits <here>.")
    html = Template('{% include "components/error_summary.html" %}').render(Context({"form": form}))
    assert "There is a problem" in html
    assert escape("Nothing fits <here>.") in html
    assert 'href="#id_width"' in html
    assert "<b>" not in html


def test_the_summary_names_the_row_of_an_error() -> None:
    rows = forms.formset_factory(SheetForm)
    data = {"form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "0"}
    for number, width in enumerate(["5", "wide"]):
        data |= {f"form-{number}-{name}": "1" for name in ("name", "price")}
        data[f"form-{number}-width"] = width
    context = Context({"formset": rows(data)})
    html = Template('{% include "components/error_summary.html" %}').render(context)
    assert html.count("<a ") == 1
    assert '<a href="#id_form-1-width">Row 2, Width: ' in html


def test_what_is_missing_is_asked_for_in_our_words() -> None:
    class Choice(forms.Form):
        name = forms.CharField()
        paper = forms.ChoiceField(choices=[("1", "Card")])
        own = forms.CharField(error_messages={"required": "Which one?"})

    assert Choice({}).errors == {
        "name": ["Fill this in."],
        "paper": ["Choose one."],
        "own": ["Which one?"],
    }
    assert forms.Field().error_messages["required"] == "This field is required."


def test_no_errors_no_summary() -> None:
    html = Template('{% include "components/error_summary.html" %}')
    assert html.render(Context({"form": SheetForm()})).strip() == ""
