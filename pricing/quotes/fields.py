"""Entries of a quote and of an enquiry that are read alike: quantities and names."""

from typing import Any

from django import forms

from maker.calc.refusal import Refusal
from maker.web.fields import LongText, OneLineField
from pricing.calc.enquiries.wanted import quantities_in
from pricing.quotes.inputs import names_of


class QuantitiesField(OneLineField):
    """Quantities in a customer's words; where something is typed, a number must be in it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=120, required=False, **options)

    def clean(self, value: Any) -> str:
        """Return the words, refused when no quantity can be read from them."""
        text: str = super().clean(value)
        if text:
            try:
                quantities_in(text)
            except Refusal as refusal:
                raise forms.ValidationError(refusal.message) from refusal
        return text


class NamesField(forms.CharField):
    """Names for the items, one to a row, without empty rows."""

    def __init__(self) -> None:
        super().__init__(
            label="Names",
            max_length=40_000,
            required=False,
            widget=LongText(attrs={"rows": 4, "autocomplete": "off"}),
            help_text="One name per line. You can paste a list.",
        )

    def clean(self, value: Any) -> str:
        """Return the names, each on a row of its own."""
        return "\n".join(names_of(super().clean(value)))
