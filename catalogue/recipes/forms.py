"""The rows of the recipe editor; they name roles and choices in words, as this post has them."""

from decimal import Decimal
from typing import Any, cast

from django import forms
from django.forms.formsets import formset_factory

from catalogue.calc.recipes.document import MOST_ROWS
from catalogue.calc.recipes.glue_rates import told_rate
from catalogue.calc.recipes.recipe import BEAD_ML_PER_M
from catalogue.recipes.models import DesignVersion, Fixing, Packing, Step, Wear
from catalogue.recipes.row_form import NameField, OtherMaterialField, RecipeRowForm
from maker.calc.amounts import READ_PLACES
from maker.web.fields import (
    DecimalText,
    MinutesField,
    MoneyField,
    NumberField,
    OneLineField,
    PercentField,
    WholeMinutesField,
    WholeNumberField,
    WorkshopForm,
)
from maker.web.rows import RowsFormSet

MOST = 1_000_000


# glue that is counted by what the folded pieces have to be glued
ON_FOLDED_PIECES = (Fixing.Measure.FORM_BEAD, Fixing.Measure.FORM_AREA)
CONDITIONS = ("from_quantity", "to_quantity", "only_with", "not_with")


class ConditionForm(RecipeRowForm):
    """A row that may hold for some quantities or choices only."""

    from_quantity = WholeNumberField(
        label="From quantity", at_least=1, at_most=MOST, required=False
    )
    to_quantity = WholeNumberField(label="Up to quantity", at_least=1, at_most=MOST, required=False)
    only_with = NameField(label="Only when", of="choices", required=False, empty_label="always")
    not_with = NameField(label="Not when", of="choices", required=False, empty_label="never mind")


def _name(label: str, **options: Any) -> OneLineField:
    return OneLineField(label=label, max_length=120, **options)


class MaterialRoleForm(RecipeRowForm):
    """A material and what it does in the design."""

    name = OneLineField(label="Role", max_length=80)
    material = OneLineField(
        label="Material",
        max_length=120,
        widget=forms.TextInput(attrs={"list": "materials", "autocomplete": "off"}),
    )
    was = forms.CharField(required=False, widget=forms.HiddenInput, max_length=80)
    line = (("name", "{name}"), ("material", "{material}"))


# the spread: common practice, no source; by the yard the same times 0.9144 and its square
_RATE_HELP = {
    "mm": f"2 mm line: {BEAD_ML_PER_M} ml per metre. Spread: 90 ml per m².",
    "in": "2 mm line: 2.8 ml per yard. Spread: 75 ml per sq yd.",
}


class FixingForm(ConditionForm):
    """Use of anything that is not cut from sheets."""

    role = NameField(label="Material", of="roles", empty_label="Choose")
    other = OtherMaterialField(label="Or another material")
    amount = OneLineField(
        label="Amount",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "amount"}),
    )
    basis = forms.ChoiceField(label="Per", choices=Fixing.Basis, initial=Fixing.Basis.MADE)
    name = _name("Name", required=False)
    measure = forms.ChoiceField(
        label="Measured as", choices=Fixing.Measure, initial=Fixing.Measure.AMOUNT
    )
    rate = NumberField(
        label="Per metre or square metre, or lengths",
        required=False,
        decimals=READ_PLACES,
        help_text=_RATE_HELP["mm"],
        widget=DecimalText(attrs={"data-bead": str(BEAD_ML_PER_M)}),
    )
    waste_share = PercentField(
        label="Waste", required=False, help_text="Leave blank for the material's own."
    )
    tucked = ("measure", "rate", "waste_share", *CONDITIONS)
    line = (("name", "{role}"), ("amount", "{amount}"), ("for", "{basis}"))
    field_order = ("role", "other", "amount", "basis", "name", *tucked)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.workshop.unit == "in":
            measure = cast(forms.ChoiceField, self.fields["measure"])
            measure.choices = [
                (key, str(label).replace("metre", "yard")) for key, label in Fixing.Measure.choices
            ]
            rate = self.fields["rate"]
            rate.label = "Per yard or square yard, or lengths"
            rate.help_text = _RATE_HELP["in"]
            rate.widget.attrs["data-bead"] = str(told_rate(BEAD_ML_PER_M, "bead", "in"))

    def clean(self) -> None:
        """Take one line or one coat on the folded pieces when nothing is said."""
        if not self.cleaned_data.get("amount") and "amount" not in self.errors:
            if self.cleaned_data.get("measure") in ON_FOLDED_PIECES:
                self.cleaned_data["amount"] = "1"
            else:
                self.add_error("amount", "Fill this in.")


class StepForm(ConditionForm):
    """Work, or waiting."""

    name = _name("Step")
    minutes = MinutesField(label="Minutes", at_most=100_000, decimals=4, required=False)
    basis = forms.ChoiceField(label="Per", choices=Step.Basis, initial=Step.Basis.MADE)
    per = WholeNumberField(label="Set of", at_least=1, at_most=MOST, initial=1)
    role = NameField(
        label="Which material", of="roles", required=False, empty_label="all materials"
    )
    learns = forms.BooleanField(label="Gets faster with practice", required=False)
    minutes_low = MinutesField(
        label="Best-case minutes", at_most=100_000, decimals=4, required=False
    )
    minutes_high = MinutesField(
        label="Worst-case minutes", at_most=100_000, decimals=4, required=False
    )
    times = WholeNumberField(label="Drying batches per day", at_least=1, at_most=10_000, initial=1)
    window_minutes = WholeMinutesField(
        label="Drying minutes per day", at_least=1, at_most=1440, required=False
    )
    caution = forms.ChoiceField(label="Caution", choices=Step.Caution, initial="", required=False)
    tucked = (
        "learns", "caution", "minutes_low", "minutes_high", "times", "window_minutes", *CONDITIONS,
    )  # fmt: skip
    line = (("name", "{name}"), ("minutes", "{minutes}"), ("for", "{basis} {per?basis=batch}"))
    field_order = ("name", "minutes", "basis", "per", "role", *tucked)

    def clean(self) -> None:
        """Ask for the minutes of everything but a night."""
        minutes, basis = self.cleaned_data.get("minutes"), self.cleaned_data.get("basis")
        if minutes is None and basis != Step.Basis.NIGHT and "minutes" not in self.errors:
            self.add_error("minutes", "Enter the minutes; 0 if it takes none.")


class WearForm(ConditionForm):
    """A tool that is used up."""

    name = _name("Tool")
    price = MoneyField(label="Price")
    life = NumberField(label="Lasts for (uses)", above_zero=True, initial=Decimal(1))
    basis = forms.ChoiceField(label="Counted by", choices=Wear.Basis, initial=Wear.Basis.SHEET)
    role = NameField(
        label="Which material", of="roles", required=False, empty_label="all materials"
    )
    tucked = CONDITIONS
    line = (("name", "{name}"), ("price", "{price}"), ("life", "lasts {life}"), ("for", "{basis}"))
    field_order = ("name", "price", "life", "basis", "role", *tucked)


class PackingForm(ConditionForm):
    """What good pieces leave in."""

    name = _name("Packaging")
    kind = forms.ChoiceField(label="Kind", choices=Packing.Kind, initial=Packing.Kind.SLEEVE)
    holds = WholeNumberField(label="Holds", at_least=1, at_most=MOST, initial=1)
    cost_each = MoneyField(label="Unit cost", required=False)
    role = NameField(label="Or material", of="roles", required=False, empty_label="none")
    tucked = ("only_with", "not_with")
    line = (
        ("name", "{name}"),
        ("for", "{kind}"),
        ("holds", "holds {holds}"),
        ("price", "{cost_each}"),
    )
    field_order = (
        "name", "kind", "holds", "cost_each", "role", "from_quantity", "to_quantity", *tucked,
    )  # fmt: skip


class ChoiceForm(RecipeRowForm):
    """One answer to an option; rows of the same option stand together."""

    option = OneLineField(label="Option", max_length=80, required=False)
    name = OneLineField(label="Choice", max_length=80)
    is_default = forms.BooleanField(label="Default", required=False)
    caution = OneLineField(label="Caution printed with it", max_length=200, required=False)
    option_key = forms.SlugField(required=False, widget=forms.HiddenInput, max_length=40)
    key = forms.SlugField(required=False, widget=forms.HiddenInput, max_length=40)
    was = forms.CharField(required=False, widget=forms.HiddenInput, max_length=200)
    line = (("name", "{name}"), ("option", "{option}"), ("usual", "{is_default}"))


class SwapForm(RecipeRowForm):
    """What a colourway puts in one place; rows of the same colourway stand together."""

    name = OneLineField(label="Colourway", max_length=80, required=False)
    role = NameField(label="Role", of="roles", required=False, empty_label="no change")
    material = OneLineField(
        label="Use instead",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"list": "materials", "autocomplete": "off"}),
    )
    line = (("name", "{name}"), ("role", "{role}"), ("material", "{material}"))


class HeadForm(WorkshopForm):
    """What holds for the whole recipe: its name, spares, learning."""

    name = OneLineField(
        label="Version name", max_length=120, required=False, help_text="Like “spring”."
    )
    finished_size = OneLineField(label="Finished size", max_length=80, required=False)
    reject_share = PercentField(
        label="Spares",
        at_most=99,
        required=False,
        help_text="Percent spoiled. We add this many spares.",
    )
    rejects_from = WholeNumberField(label="Add spares from", at_least=1, at_most=MOST, initial=1)
    learning = forms.ChoiceField(
        label="Speed-up", choices=DesignVersion.Learning, initial=DesignVersion.Learning.NONE
    )
    learning_rate = PercentField(
        label="Time at double the quantity",
        at_least=50,
        initial=Decimal(1),
        help_text="90 to 97% is common practice; 100% means no speed-up.",
    )
    learning_floor = PercentField(
        label="Fastest possible", required=False, help_text="Percent of the first item's time."
    )
    learning_reference = WholeNumberField(
        label="Timed in batches of",
        at_least=1,
        at_most=MOST,
        initial=1,
        help_text="1 if they are those of the first item.",
    )
    learning_made = WholeNumberField(
        label="Already made",
        at_most=MOST,
        required=False,
        help_text="Items of this design you have made before.",
    )

    def clean_learning_made(self) -> int:
        """Count an entry left empty as none."""
        return self.cleaned_data["learning_made"] or 0


class RecipeRows(RowsFormSet):
    """Rows in an order she can change."""

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        """Call the order what it is."""
        super().add_fields(form, index)
        order = form.fields["ORDER"]
        order.label = "Place"
        order.widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})

    def in_order(self) -> list[Any]:
        """Return the rows that hold something, by their place and then as they came."""
        return sorted(
            self.kept(),
            key=lambda form: (
                form.cleaned_data.get("ORDER") is None,
                form.cleaned_data.get("ORDER") or 0,
            ),
        )


def rows_class(form: type[RecipeRowForm], spare: int) -> type[RecipeRows]:
    """Return the class of a section's rows."""
    rows: Any = formset_factory(
        form,
        formset=RecipeRows,
        extra=spare,
        can_delete=True,
        can_order=True,
        max_num=MOST_ROWS,
        absolute_max=MOST_ROWS + 20,
        validate_max=True,
    )
    return cast(type[RecipeRows], rows)
