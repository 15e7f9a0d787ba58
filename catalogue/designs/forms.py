"""The quick start of a design, its details, and the filter of the list."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, cast

from django import forms

from catalogue.calc.flat_pattern import BadSize
from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.form_blank import form_blank
from catalogue.designs.models import Design, DesignQuerySet
from catalogue.designs.services import FirstPiece
from catalogue.materials.models import Material
from catalogue.recipes.form_sizes import size_words, sizes_of_query
from maker.calc.units import format_length
from maker.web.editing import EditedForm
from maker.web.fields import (
    LengthField,
    LongText,
    MinutesField,
    OneLineField,
    WorkshopForm,
    WorkshopModelForm,
)
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, rows_by_key
from maker.workshop.models import Workshop

STATES = [("", "In use"), ("away", "Put away"), ("all", "All")]


@dataclass(frozen=True, slots=True)
class FoldedStart:
    """A form at a size that a design is started with, and the blank that follows."""

    form: str
    title: str
    words: str
    sizes: dict[str, str]
    width_mm: Decimal
    height_mm: Decimal


def folded_start(query: Any, workshop: Workshop) -> FoldedStart | None:
    """Read the form an address carries (`?form=tag&w=2&h=3 1/2`); None without a foldable one."""
    form = FORMS.get(query.get("form", ""))
    if form is None:
        return None
    sizes = sizes_of_query(form, query, workshop)
    try:
        blank = form_blank(form.name, sizes)
    except BadSize:
        return None
    return FoldedStart(
        form=form.name,
        title=form.title,
        words=size_words(form, sizes, workshop),
        sizes=sizes,
        width_mm=blank.width_mm,
        height_mm=blank.height_mm,
    )


class QuickStartForm(WorkshopForm):
    """The least that has a price: one piece of one material, and her minutes."""

    name = OneLineField(label="What do you make?", max_length=120)
    material = ChosenRowField(label="Made from", empty_label="Choose")
    width = LengthField(label="Width of the piece you cut")
    height = LengthField(label="Height of the piece you cut")
    minutes = MinutesField(label="To make one", at_most=100_000, decimals=4)
    set_up = MinutesField(
        label="To set up",
        at_most=100_000,
        decimals=4,
        required=False,
        help_text="Once, however many you make.",
    )

    def __init__(self, *args: Any, folded: FoldedStart | None = None, **options: Any) -> None:
        super().__init__(*args, **options)
        self.folded = folded
        if folded:
            # they follow from the form
            del self.fields["width"], self.fields["height"]
            self.fields["name"].initial = folded.title
        sheets = Material.objects.of(self.workshop).in_use().filter(kind=Material.Kind.SHEET)
        self.sheets = rows_by_key(sheets.by_name())
        material = cast(ChosenRowField, self.fields["material"])
        material.use_rows(self.sheets)
        if len(self.sheets) == 1:
            material.initial = next(iter(self.sheets))

    def clean(self) -> None:
        """Say it at once when the piece is larger than the sheet, however it is turned."""
        typed = self.cleaned_data
        if self.folded:
            typed |= {"width": self.folded.width_mm, "height": self.folded.height_mm}
        material = typed.get("material")
        sides = [side for side in (typed.get("width"), typed.get("height")) if side is not None]
        if material is None or len(sides) < 2:
            return
        usable = sorted(
            side - 2 * material.trim_mm for side in (material.width_mm, material.height_mm)
        )
        if any(side > room for side, room in zip(sorted(sides), usable, strict=True)):
            size = " × ".join(
                format_length(side, self.workshop.unit, self.workshop.locale)
                for side in (material.width_mm, material.height_mm)
            )
            entry = "material" if self.folded else "width"
            self.add_error(entry, f"It does not fit on a sheet of {material.name}, {size}.")

    def first_piece(self) -> FirstPiece:
        """Return what was typed, for the service."""
        typed = self.cleaned_data
        return FirstPiece(
            material=typed["material"],
            width_mm=typed["width"],
            height_mm=typed["height"],
            minutes_each=typed["minutes"],
            minutes_set_up=typed["set_up"] or Decimal(0),
            form=self.folded.form if self.folded else "",
            form_inputs=self.folded.sizes if self.folded else {},
        )


class DesignForm(EditedForm, WorkshopModelForm):
    """What is said about a design; what it is made of is in its recipe."""

    name = OneLineField(max_length=120)
    code = OneLineField(max_length=40, required=False, help_text="Short, for tags and lists.")
    care_line = OneLineField(
        max_length=120, required=False, help_text="For the tag, like “Keep dry”."
    )
    caution = OneLineField(
        max_length=200,
        required=False,
        help_text="What must be said with it. Toy, food and consumer law differ from place to "
        "place: ask a licensed adviser.",
    )

    class Meta:
        model = Design
        fields = ("name", "code", "description", "care_line", "caution")
        widgets = {"description": LongText(attrs={"rows": 4})}


class DesignFilter(FilterForm):
    """Narrows the list of designs."""

    state = forms.ChoiceField(label="Show", choices=STATES, required=False)

    def narrow_by(self, queryset: DesignQuerySet, values: dict[str, Any]) -> DesignQuerySet:
        """Return the designs that match."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        state = values.get("state")
        if state == "away":
            return queryset.put_away()
        return queryset if state == "all" else queryset.in_use()
