"""A row of the pieces: a free rectangle, the blank of a die, or a form with its finished size.

Which sizes a row asks for depends on its form, so their fields are added when the row is made.
"""

from typing import Any

from django import forms

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.pattern import Form
from catalogue.recipes.folded_fields import SIZE, FoldedFields
from catalogue.recipes.form_sizes import (
    RULER_INPUT,
    size_field,
    size_query,
)
from catalogue.recipes.forms import CONDITIONS, ConditionForm
from catalogue.recipes.models import Piece
from catalogue.recipes.row_form import NameField, OtherMaterialField, with_unit
from maker.web.fields import LengthField, OneLineField, WholeNumberField
from maker.workshop.models import Workshop


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


def is_typed(bound: Any) -> bool:
    """Whether a size is typed, not chosen or ticked."""
    return isinstance(bound.field.widget, forms.TextInput)


def _form_choices() -> list[tuple[str, str]]:
    return [("", "Choose a shape"), *((form.name, form.title) for form in FORMS.values())]


class PieceForm(FoldedFields, ConditionForm):
    """A piece cut from a sheet."""

    name = OneLineField(label="Piece", max_length=120)
    role = NameField(label="From", of="roles", empty_label="Choose")
    other = OtherMaterialField(label="Or another sheet")
    width_mm = LengthField(label="Width")
    height_mm = LengthField(label="Height")
    count = WholeNumberField(label="How many", at_least=1, at_most=10_000, initial=1)
    shape = forms.ChoiceField(label="Cut or folded", choices=Piece.Shape, initial="rectangle")
    die_margin_mm = LengthField(
        label="Border around the die",
        required=False,
        allow_zero=True,
        help_text="Added to the blank on every side; often 3 mm.",
    )
    layers = WholeNumberField(
        label="Layers", at_least=1, at_most=10_000, initial=1, help_text="2 if it is doubled."
    )
    turning = forms.ChoiceField(
        label="On the sheet", choices=Piece.Turning, initial=Piece.Turning.AS_MATERIAL
    )
    form = forms.ChoiceField(label="Shape", choices=_form_choices, required=False, initial="")
    tucked = ("die_margin_mm", "layers", "turning", *CONDITIONS)
    apart = ("form",)
    line = (
        ("name", "{name}"),
        ("size", "{width_mm} × {height_mm}"),
        ("count", "{count} ×"),
        ("from", "{role}"),
    )
    field_order = (
        "name",
        "role",
        "other",
        "width_mm",
        "height_mm",
        "count",
        "shape",
        *tucked,
        *apart,
    )

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
            self.add_sizes(self.folded, self.initial.get("form_inputs", {}))

    def _line_text(self, key: str, pattern: str, unit: str) -> str:
        """Say the finished size of what is folded, not its blank."""
        if key != "size" or self.folded is None:
            return super()._line_text(key, pattern, unit)
        typed = [str(one.value() or "") for one in self.finished_fields() if is_typed(one)]
        return with_unit(" × ".join(text for text in typed if text), unit)

    @property
    def changed_data(self) -> list[str]:
        """Name what was typed; a form that was chosen counts too."""
        return [*super().changed_data, *(["form"] if self.folded else [])]

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
        self.cleaned_data |= {"width_mm": None, "height_mm": None}
        self.read_sizes()
        if self.folded is None and "form" not in self.errors:
            self.add_error("form", "Choose the shape it is folded from.")

    @property
    def drawing_query(self) -> str:
        """Return the sizes as the page of the form takes them."""
        if self.folded is None or self.blank is None:
            return ""
        return size_query(self.folded.name, self.sizes, self.workshop)
