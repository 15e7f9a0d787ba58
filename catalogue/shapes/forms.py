"""What is asked for on a form's page: its sizes, the ruler, the sheet it is cut from."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from catalogue.calc.flat_patterns import flat_pattern
from catalogue.calc.flat_patterns.asking import longest
from catalogue.calc.flat_patterns.numbers import MM_PER
from catalogue.calc.flat_patterns.pattern import BadSize, Form, FormInput
from catalogue.materials.models import Material
from catalogue.shapes.samples import needs_a_size, sample_size
from catalogue.shapes.words import MM_PER_INCH, in_few_words
from maker.calc.refusal import Refusal
from maker.calc.units import format_number, parse_exact_length, parse_length
from maker.web.fields import (
    LengthField,
    NumberField,
    WholeNumberField,
    WorkshopForm,
    tell_fields,
)
from maker.web.widgets import LongSelect
from maker.workshop.models import Workshop

# the marks of her ruler, in millimetres
RULERS: dict[str, Fraction | None] = {
    "": None,
    "1/16": MM_PER_INCH / 16,
    "1/32": MM_PER_INCH / 32,
    "0.5 mm": Fraction(1, 2),
    "1 mm": Fraction(1),
}
RULER_WORDS = (
    ("", "Exact sizes"),
    ("1/16", "Rounded to 1/16 in"),
    ("1/32", "Rounded to 1/32 in"),
    ("0.5 mm", "Rounded to 0.5 mm"),
    ("1 mm", "Rounded to 1 mm"),
)


class SizeForm(WorkshopForm):
    """The sizes of one form; sent by GET, so that an address is a size.

    Keys are the names of the form's inputs, as typed: `?W=7 1/2&D=4&H=8&ruler=1/16`.
    """

    def __init__(
        self,
        *args: Any,
        workshop: Workshop,
        form: Form,
        sheets: Sequence[Material] = (),
        **options: Any,
    ) -> None:
        super().__init__(*args, workshop=workshop, **options)
        self.folded = form
        self.size_names = [one.name for one in form.inputs if one.group == "size"]
        self.allowance_names = [one.name for one in form.inputs if one.group != "size"]
        for one in form.inputs:
            self.fields[one.name] = _entry(one)
        self.fields["ruler"] = forms.ChoiceField(
            label="Your ruler", choices=RULER_WORDS, required=False
        )
        self.sheets = {str(sheet.pk): sheet for sheet in sheets}
        self.fields["sheet"] = forms.ChoiceField(
            label="Cut from",
            required=False,
            widget=LongSelect,
            choices=[
                ("", "Any of your sheets"),
                *((pk, row.name) for pk, row in self.sheets.items()),
            ],
        )
        self.fields["grammage"] = NumberField(
            label="Paper weight",
            unit="g/m²",
            required=False,
            at_most=5000,
            above_zero=True,
            decimals=2,
            help_text="Leave blank to use the sheet's weight.",
        )
        tell_fields(self, workshop)

    def size_fields(self) -> list[Any]:
        """Return the entries of the finished size."""
        return [self[name] for name in self.size_names]

    def allowance_fields(self) -> list[Any]:
        """Return the entries of tabs, thickness and the like."""
        return [self[name] for name in self.allowance_names]

    def other_fields(self) -> list[Any]:
        """Return ruler, sheet and weight."""
        return [self["ruler"], self["sheet"], self["grammage"]]

    def sizes(self) -> dict[str, Fraction]:
        """Return what was typed, in the workshop's unit; what was left out has no entry."""
        found = {}
        for one in self.folded.inputs:
            value = self.cleaned_data.get(one.name)
            if value is None or value == "":
                continue
            if not one.is_length:
                found[one.name] = Fraction(value)
            else:
                found[one.name] = in_unit(value, self.workshop.unit)
        return found

    def ruler_step(self) -> Fraction | None:
        """Return the step of her ruler in the workshop's unit."""
        step = RULERS[self.cleaned_data.get("ruler") or ""]
        return step / MM_PER_INCH if step and self.workshop.unit == "in" else step

    def chosen_sheet(self) -> Material | None:
        """Return the sheet it is to be cut from, if one was chosen."""
        return self.sheets.get(self.cleaned_data.get("sheet") or "")

    def grammage(self) -> Decimal | None:
        """Return the weight typed, else that of the sheet chosen."""
        typed: Decimal | None = self.cleaned_data.get("grammage")
        sheet = self.chosen_sheet()
        return typed or (sheet.grammage if sheet else None)


def in_unit(length_mm: Decimal, unit: str) -> Fraction:
    """Return a length that was read as millimetres in the unit of the workshop."""
    return Fraction(length_mm) / MM_PER_INCH if unit == "in" else Fraction(length_mm)


def _entry(one: FormInput) -> forms.Field:
    label = one.title[:1].upper() + one.title[1:]
    help_text = _help_text(one)
    if one.is_yes_no:
        return forms.ChoiceField(label=label, choices=(("0", "No"), ("1", "Yes")), required=False)
    if one.choices:
        words = [(str(at) if at else "", word) for at, word in enumerate(one.choices)]
        return forms.ChoiceField(label=label, choices=words, required=False)
    is_required = needs_a_size(one)
    if one.is_count:
        return WholeNumberField(
            label=label, required=is_required, at_least=1, at_most=100, help_text=help_text
        )
    return LengthField(
        label=label, required=is_required, allow_zero=one.may_be_zero, help_text=help_text
    )


def _help_text(one: FormInput) -> str:
    parts = []
    if one.default_note:
        parts.append(f"Leave blank for {one.default_note}")
    # what is taken when left blank keeps to the limit, and often says it
    if one.limit and not one.default_note and not (one.is_yes_no or one.choices):
        parts.append(in_few_words(one.limit[:1].upper() + one.limit[1:]))
    return ". ".join(part.rstrip(".") for part in parts) + ("." if parts else "")


def first_entries(form: Form, workshop: Workshop) -> dict[str, str]:
    """Return what is in the fields at first: a sample size, and the usual allowances."""
    found, unit = {}, workshop.unit
    for one in form.inputs:
        value = sample_size(form, one, unit)
        if value is None:
            value = one.default_in if unit == "in" else one.default_mm
        if value is not None:
            found[one.name] = as_typed(value, workshop)
    return found


def as_typed(value: Fraction, workshop: Workshop) -> str:
    """Write a length as it may be typed, exactly where that can be: `7 1/2`, `88.5`."""
    if workshop.unit == "in" and 64 % value.denominator == 0:
        whole, rest = divmod(value, 1)
        return f"{whole} {rest}" if whole and rest else f"{rest or whole}"
    # towards zero, so that a limit taken over is not overstepped
    thousandths = int(value * 1000)
    return format_number(Decimal(thousandths).scaleb(-3), workshop.locale)


def likely_length(text: str, workshop: Workshop) -> Fraction | None:
    """Return the length meant by one typed below nothing or beyond all measure, in the unit.

    The sign is left out, the rest cut to the longest there is; None where it is not a number.
    """
    plain = text.strip().lstrip("-\u2212").strip()
    try:
        length_mm = parse_exact_length(plain, workshop.unit, workshop.locale)
    except Refusal:
        return None
    unit = workshop.unit
    return min(length_mm / MM_PER[unit], longest(unit))


def nearest_entry(form: Form, size_form: SizeForm, *, name: str, nearest: Fraction) -> str:
    """Return how the nearest size is typed so that it works; empty when it does not.

    A limit that is not a neat number is met from below, or from above where it is the least.
    """
    workshop = size_form.workshop
    unit = workshop.unit
    typed = as_typed(nearest, workshop)
    step = Fraction(1, 1000)
    for text in (typed, as_typed(nearest + step, workshop)):
        value = in_unit(parse_length(text, unit, workshop.locale), unit)
        try:
            flat_pattern(
                form.name,
                {**size_form.sizes(), name: value},
                unit=unit,
                ruler=size_form.ruler_step(),
            )
        except BadSize:
            continue
        return text
    return ""
