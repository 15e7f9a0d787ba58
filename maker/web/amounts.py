"""A form field for an amount of material, typed with or without its unit."""

from decimal import Decimal
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError

from maker.calc.amounts import (
    Amount,
    read_amount,
    stock_unit,
    typed_amount,
    unit_to_keep,
    unit_word,
)
from maker.calc.refusal import Refusal
from maker.calc.units import format_number
from maker.web.fields import PLAIN
from maker.web.readings import note_reading

# of a longer entry no more is read
_MOST_TYPED = 200


class AmountField(forms.Field):
    """An amount as typed (`24`, `50 m`, `25 yd`, `1' 6"`, `250 ml`).

    Gives an `Amount`, because only the form knows what the material is counted in: call
    `amount.in_unit(material.unit)` in its `clean` (or `amount_in`, which puts the error beside
    the field). With `measure` set the field converts by itself and gives a Decimal; the measure
    is then shown beside the entry.
    """

    # letters are needed as well, so no number keys on a phone
    widget = forms.TextInput(attrs={"autocomplete": "off", "class": "amount"})
    unit: str = ""
    locale: str | None = None

    def __init__(self, *, measure: str = "", allow_zero: bool = False, **options: Any) -> None:
        super().__init__(**options)
        self.allow_zero, self.lengths = allow_zero, "mm"
        self.use_measure(measure)

    def use_measure(self, measure: str) -> None:
        """Count in this recipe unit from now on (sheet, piece, pair, m, ml, g)."""
        self.measure, self.unit = measure, unit_word(stock_unit(measure, self.lengths))

    def use_lengths(self, lengths: str) -> None:
        """Show lengths, and read bare ones, in yards where they are measured in inches ("in")."""
        self.lengths = lengths
        self.use_measure(self.measure)

    def in_unit(self, amount: Amount, unit: str) -> Decimal:
        """Return what was typed in a recipe unit. Errors: Refusal."""
        return amount.in_unit(unit, stock_unit("m", self.lengths))

    def to_python(self, value: Any) -> Any:
        """Return what was typed, or None for an empty entry. Errors: ValidationError."""
        if value in self.empty_values:
            return None
        text = str(value).strip()[:_MOST_TYPED]
        if not text:
            return None
        try:
            amount = read_amount(text, self.locale)
            result = self.in_unit(amount, self.measure) if self.measure else amount
        except Refusal as refusal:
            raise ValidationError(refusal.message, code="unreadable") from refusal
        note_reading(text, self.locale)
        if not amount.value and not self.allow_zero:
            raise ValidationError("Enter an amount above 0.", code="too_small")
        return result

    def prepare_value(self, value: Any) -> Any:
        """Show a stored amount without needless zeros, and typed text as it was typed."""
        if not isinstance(value, Decimal):
            return value
        if self.measure == "m" and self.lengths == "in":
            return typed_amount(value, "m", self.locale or PLAIN, "in")
        return format_number(value, self.locale or PLAIN)

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare amounts, so that `50 m` and `50` are the same where metres are counted."""
        try:
            typed = self.to_python(data)
            if isinstance(initial, str):
                initial = self.to_python(initial)
        except ValidationError:
            return True
        if isinstance(typed, Amount) and isinstance(initial, Decimal):
            return typed.unit != "" or typed.value != initial
        return bool(typed != initial)


def amount_in(form: forms.BaseForm, name: str, unit: str) -> Decimal | None:
    """Return a cleaned amount in the unit, or None with the error put beside the field."""
    amount = form.cleaned_data.get(name)
    if not isinstance(amount, Amount):
        return amount
    try:
        return cast(AmountField, form.fields[name]).in_unit(amount, unit)
    except Refusal as refusal:
        form.add_error(name, refusal.message)
        return None


def typed_in(form: forms.BaseForm, name: str, unit: str, value: Decimal) -> str:
    """Return the unit to keep beside an amount that was read: a bare length is in the field's.

    Call it with what a valid entry came to in the recipe unit.
    """
    field = cast(AmountField, form.fields[name])
    typed = read_amount(str(form[name].data).strip()[:_MOST_TYPED], field.locale).unit
    return unit_to_keep(value, unit, typed or stock_unit("m", field.lengths), field.lengths)
