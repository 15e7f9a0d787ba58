"""The sizes a form asks for as entries of a page, and in an address from one page to another."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.core.exceptions import ValidationError

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.pattern import Form, FormInput
from catalogue.calc.recipes.form_blank import RULER, Sizes, is_length, rounded
from catalogue.shapes.words import in_few_words
from maker.calc.sums import plain_text
from maker.calc.units import MM_PER_INCH, format_length
from maker.web.fields import LengthField, WholeNumberField
from maker.workshop.models import Workshop

LETTERS = 2  # a name no longer than this is what a drawing marks the size with
RULER_INPUT = FormInput(
    name=RULER,
    title="rounded to",
    is_optional=True,
    group="allowance",
    limit="your ruler's marks, 1/16 in or 0.5 mm; blank for none",
)


# the steps the page of a form offers, by their millimetres
_RULER_KEYS = {"1.5875": "1/16", "0.79375": "1/32", "0.5": "0.5", "1": "1"}


def default_size(asked: FormInput, unit: str) -> Decimal | None:
    """Return the usual value of a size in the unit she types in, in mm; a number as it is."""
    usual = asked.default_in if unit == "in" else asked.default_mm
    if usual is None:
        return None
    number = rounded(usual)
    return number * MM_PER_INCH if unit == "in" and is_length(asked) else number


def usual_sizes(form: Form, workshop: Workshop) -> dict[str, str]:
    """Return the usual values of a form in the unit she types in, as a recipe keeps them."""
    usual = {one.name: default_size(one, workshop.unit) for one in form.inputs}
    return {name: plain_text(value) for name, value in usual.items() if value is not None}


def size_field(asked: FormInput, workshop: Workshop) -> forms.Field:
    """Return the entry of one size of a form."""
    default = default_size(asked, workshop.unit)
    label = asked.title[:1].upper() + asked.title[1:]
    if len(asked.name) <= LETTERS and is_length(asked):
        label = f"{label} {asked.name}"  # as the drawing has it
    if asked.is_yes_no:
        return forms.ChoiceField(
            label=label,
            choices=[("0", "no"), ("1", "yes")],
            required=False,
            initial=str(int(default or 0)),
        )
    if asked.choices:
        # the first is what it is when left out, so nothing is kept of it
        words = enumerate(asked.choices)
        return forms.ChoiceField(
            label=label,
            choices=[(str(at) if at else "", word) for at, word in words],
            required=False,
        )
    is_needed = default is None and not asked.is_optional
    if asked.is_count:
        initial = None if default is None else int(default)
        return WholeNumberField(
            label=label, at_least=1, at_most=100, required=is_needed, initial=initial
        )
    hint = asked.default_note or in_few_words(asked.limit)
    field = LengthField(
        label=label,
        required=is_needed,
        allow_zero=asked.may_be_zero,
        initial=default,
        help_text=hint[:1].upper() + hint[1:],
    )
    field.use_unit(workshop.unit, workshop.locale)
    return field


def shown_size(asked: FormInput, value: str | None) -> Any:
    """Return a kept size as its entry takes it."""
    if value is None or asked.is_yes_no:
        return value
    if asked.choices:
        return value if int(value) else ""
    return int(value) if asked.is_count else Decimal(value)


def size_query(form: str, sizes: Sizes, workshop: Workshop, sheet: int | None = None) -> str:
    """Write kept sizes as the page of the form takes them: `W=7 1/2&D=4`, as typed."""
    field = LengthField(allow_zero=True)
    field.use_unit(workshop.unit, workshop.locale)
    query = {}
    for asked in FORMS[form].inputs:
        text = sizes.get(asked.name)
        if text is not None:
            query[asked.name] = (
                str(field.prepare_value(Decimal(text))) if is_length(asked) else text
            )
    if key := _RULER_KEYS.get(sizes.get(RULER, "")):
        query[RULER] = key
    if sheet:
        query["sheet"] = str(sheet)
    return urlencode(query)


def sizes_of_query(form: Form, query: Mapping[str, Any], workshop: Workshop) -> dict[str, str]:
    """Read sizes out of an address; what cannot be read is left for her to type."""
    sizes = {}
    marks = {key: step for step, key in _RULER_KEYS.items()}
    for asked in form.inputs:
        field = size_field(asked, workshop)
        try:
            value = field.clean(str(query.get(asked.name, ""))[:60])
        except ValidationError:
            value = None
        value = field.initial if value in (None, "") else value
        if value not in (None, ""):
            sizes[asked.name] = plain_text(Decimal(value))
    if step := marks.get(str(query.get(RULER, ""))):
        sizes[RULER] = step
    return dict(sorted(sizes.items()))


def size_words(form: Form, sizes: Sizes, workshop: Workshop) -> str:
    """Say the finished size: `width 7 1/2 in, depth 4 in, height 8 in`."""
    return ", ".join(
        f"{asked.title} {format_length(Decimal(sizes[asked.name]), workshop.unit, workshop.locale)}"
        for asked in form.inputs
        if asked.group == "size" and is_length(asked) and asked.name in sizes
    )
