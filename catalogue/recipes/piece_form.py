"""A row of the pieces: a free rectangle, the blank of a die, or a form with its finished size.

Which sizes a row asks for depends on its form, so their fields are added when the row is made.
"""

from decimal import Decimal
from functools import cached_property
from typing import Any

from django import forms

from catalogue.calc.flat_pattern import BadSize, Form, UnknownForm
from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.form_blank import FormBlank, Sizes, form_blank, refusal_words
from catalogue.calc.recipe_changes import Writing
from catalogue.calc.recipe_columns import plain_decimal
from catalogue.recipes.form_sizes import (
    RULER_INPUT,
    shown_size,
    size_field,
    size_query,
)
from catalogue.recipes.forms import CONDITIONS, ConditionForm, NameField
from catalogue.recipes.models import Piece
from maker.web.fields import LengthField, OneLineField, WholeNumberField
from maker.workshop.models import Workshop

SIZE = "size-"  # what the names of the fields for sizes begin with


class FollowingSide(LengthField):
    """A side that follows from the form: shown, never read."""

    def clean(self, value: Any) -> None:
        """Leave what was sent."""

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return that nothing was typed."""
        return False


def fill_sizes(data: Any, prefix: str, workshop: Workshop) -> None:
    """Write the usual sizes of the form a posted row names into it, where nothing was sent."""
    form = FORMS.get(data.get(f"{prefix}-form", ""))
    if form is None or data.get(f"{prefix}-shape") != "form":
        return
    for asked in form.inputs:
        field = size_field(asked, workshop)
        if field.initial is not None:
            data.setdefault(f"{prefix}-{SIZE}{asked.name}", str(field.prepare_value(field.initial)))


def _form_choices() -> list[tuple[str, str]]:
    return [("", "Choose a form"), *((form.name, form.title) for form in FORMS.values())]


class PieceForm(ConditionForm):
    """A piece cut from a sheet."""

    name = OneLineField(label="Piece", max_length=120)
    role = NameField(label="From", of="roles", empty_label="Choose")
    width_mm = LengthField(label="Width")
    height_mm = LengthField(label="Height")
    count = WholeNumberField(label="How many", at_least=1, at_most=10_000, initial=1)
    shape = forms.ChoiceField(label="Shape", choices=Piece.Shape, initial="rectangle")
    die_margin_mm = LengthField(
        label="Margin around the die",
        required=False,
        allow_zero=True,
        help_text="The blank is this much larger on every side; often 3 mm.",
    )
    layers = WholeNumberField(
        label="Layers", at_least=1, at_most=10_000, initial=1, help_text="2 if it is doubled."
    )
    turning = forms.ChoiceField(
        label="On the sheet", choices=Piece.Turning, initial=Piece.Turning.AS_MATERIAL
    )
    form = forms.ChoiceField(label="Form", choices=_form_choices, required=False, initial="")
    tucked = ("die_margin_mm", "layers", "turning", *CONDITIONS)
    apart = ("form",)
    field_order = ("name", "role", "width_mm", "height_mm", "count", "shape", *tucked, *apart)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.folded: Form | None = None
        self.offered: list[Any] = []  # sizes it may take from other pieces
        if self["shape"].value() == "form":
            # these follow from the form, so what stands there is not read
            for name in ("width_mm", "height_mm"):
                side = FollowingSide(label=self.fields[name].label, required=False)
                side.use_unit(self.workshop.unit, self.workshop.locale)
                self.fields[name] = side
            self.folded = FORMS.get(str(self["form"].value() or ""))
        if self.folded:
            self._add_sizes(self.folded)

    def _add_sizes(self, form: Form) -> None:
        kept = self.initial.get("form_inputs", {})
        for asked in (*form.inputs, RULER_INPUT):
            self.fields[SIZE + asked.name] = size_field(asked, self.workshop)
            if kept:
                self.initial[SIZE + asked.name] = shown_size(asked, kept.get(asked.name))

    @property
    def changed_data(self) -> list[str]:
        """Name what was typed; a form that was chosen counts too."""
        return [*super().changed_data, *(["form"] if self.folded else [])]

    def size_fields(self, group: str = "") -> list[Any]:
        """Return the entries of the form's sizes, of one group if that is said."""
        asked_for = (*self.folded.inputs, RULER_INPUT) if self.folded else ()
        return [self[SIZE + asked.name] for asked in asked_for if asked.group == group or not group]

    def finished_fields(self) -> list[Any]:
        """Return the entries of the finished size, each with its letter in the drawing."""
        return self.size_fields("size")

    def allowance_fields(self) -> list[Any]:
        """Return the entries of tabs, thickness and the like."""
        return self.size_fields("allowance")

    def allowances_are_open(self) -> bool:
        """Whether something is wrong among them."""
        return any(bound.errors for bound in self.allowance_fields())

    def allowance_words(self) -> str:
        """Say in short what differs from what is usual, so that it need not be opened."""
        words = []
        for bound in self.allowance_fields():
            value, field = bound.value(), bound.field
            if value in (None, "") or not field.has_changed(
                field.initial, str(field.prepare_value(value))
            ):
                continue
            shown = (
                dict(field.choices).get(value, value)
                if hasattr(field, "choices")
                else field.prepare_value(value)
            )
            words.append(f"{bound.label.lower()} {shown}")
        return ", ".join(words)

    def other_sizes(self) -> list[tuple[str, str]]:
        """Return what was typed for sizes of another form, so that it is there to come back to."""
        if not self.is_bound:
            return []
        asked = {asked.name for form in FORMS.values() for asked in (*form.inputs, RULER_INPUT)}
        names = (
            self.add_prefix(SIZE + name) for name in sorted(asked) if SIZE + name not in self.fields
        )
        return [(name, self.data[name][:200]) for name in names if self.data.get(name)]

    def clean(self) -> None:
        """Gather the sizes of a form; say beside the size in the way why it cannot be folded."""
        if self.cleaned_data.get("shape") != "form":
            self.cleaned_data |= {"form": "", "form_inputs": {}}
            return
        sizes = self._sizes_typed()
        self.cleaned_data |= {"width_mm": None, "height_mm": None, "form_inputs": sizes}
        if self.folded is None:
            if "form" not in self.errors:
                self.add_error("form", "Choose the form it is folded from.")
        elif not any(name.startswith(SIZE) for name in self.errors):
            try:
                form_blank(self.folded.name, sizes)
            except BadSize as refused:
                where, message = refusal_words(self.folded.name, sizes, self.workshop.unit, refused)
                self.add_error(SIZE + where if SIZE + where in self.fields else "form", message)

    def _sizes_typed(self) -> dict[str, str]:
        sizes = {}
        for name, field in self.fields.items():
            if name.startswith(SIZE):
                value = self.cleaned_data.get(name)
                value = field.initial if value in (None, "") else value
                if value not in (None, ""):
                    sizes[name.removeprefix(SIZE)] = plain_decimal(Decimal(value))
        return dict(sorted(sizes.items()))

    @property
    def sizes(self) -> Sizes:
        """The sizes typed so far, or those kept."""
        if not self.is_bound:
            kept: Sizes = self.initial.get("form_inputs", {})
            return kept
        if not hasattr(self, "cleaned_data"):
            self.full_clean()
        typed: Sizes = self.cleaned_data.get("form_inputs", {})
        return typed

    @cached_property
    def blank(self) -> FormBlank | None:
        """The blank of what is typed now; None while a size is missing or in the way."""
        if self.folded is None:
            return None
        try:
            return form_blank(self.folded.name, self.sizes)
        except (BadSize, UnknownForm):
            return None

    @property
    def blank_words(self) -> str:
        """Say the blank as a sentence: `Blank 12 × 12 in, 2 for each; glue line 8 in on each.`"""
        blank = self.blank
        if blank is None:
            return ""
        writing = Writing(self.workshop.unit, self.workshop.currency, self.workshop.locale)
        words = f"Blank {writing.size(blank.width_mm, blank.height_mm)}"
        if blank.count > 1:
            words += f", {blank.count} for each"
        if blank.glue_bead_mm:
            on_each = " on each" if blank.count > 1 else ""
            words += f"; glue line {writing.length(blank.glue_bead_mm)}{on_each}"
        return f"{words}."

    def size_problems(self) -> list[str]:
        """Say what is wrong with the sizes typed so far; what is still empty is not."""
        told = []
        for name, errors in self.errors.items():
            if name == "form" or (name.startswith(SIZE) and self[name].data):
                # a reason of the form itself begins with the letter: “D, the depth, is …”
                letter = f"{name.removeprefix(SIZE)}, "
                label = f"{self[name].label}: "
                told += [text if text.startswith(letter) else label + text for text in errors]
        return told

    @property
    def drawing_query(self) -> str:
        """Return the sizes as the page of the form takes them."""
        if self.folded is None or self.blank is None:
            return ""
        return size_query(self.folded.name, self.sizes, self.workshop)
