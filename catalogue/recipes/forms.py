"""The rows of the recipe editor; they name roles and choices in words, as this post has them."""

from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any, ClassVar, cast

from django import forms
from django.forms.formsets import formset_factory

from catalogue.calc.recipes.document import MOST_ROWS
from catalogue.calc.recipes.glue_rates import told_rate
from catalogue.calc.recipes.recipe import BEAD_ML_PER_M
from catalogue.recipes.models import DesignVersion, Fixing, Packing, Step, Wear
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


@dataclass(frozen=True, slots=True)
class Names:
    """What rows may refer to: uses of materials, and choices of options."""

    roles: list[tuple[str, str]] = field(default_factory=list)
    choices: list[tuple[str, str]] = field(default_factory=list)


class NamedSelect(forms.Select):
    """A select that shows a name it does not know too, so that nothing sent is lost."""

    def optgroups(self, name: str, value: list[str], attrs: Any = None) -> Any:
        groups = super().optgroups(name, value, attrs)
        if value and value[0] and value[0] not in {key for key, _ in self.choices}:
            option = self.create_option(name, value[0], value[0], True, len(groups))
            groups.append((None, [option], len(groups)))
        return groups


class NameField(OneLineField):
    """A use of a material, or a choice, by name; whether it exists is seen in the whole recipe."""

    widget = NamedSelect

    def __init__(self, *, of: str, empty_label: str = "", **options: Any) -> None:
        super().__init__(max_length=200, **options)
        self.of, self.empty_label = of, empty_label

    def offer(self, names: Names) -> None:
        """Take the names of this page; they are shared by all its rows."""
        self.widget.choices = [("", self.empty_label), *getattr(names, self.of)]


class RecipeRowForm(WorkshopForm):
    """One row: what is always shown, and what is tucked away until it is wanted."""

    tucked: ClassVar[tuple[str, ...]] = ()
    # in a line of its own below the others
    apart: ClassVar[tuple[str, ...]] = ()

    def __init__(self, *args: Any, names: Names, is_checked: bool = True, **options: Any) -> None:
        super().__init__(*args, **options)
        self.is_checked = is_checked
        for one in self.fields.values():
            if isinstance(one, NameField):
                one.offer(names)

    @property
    def errors(self) -> Any:
        """Say what is wrong; nothing while the page only shows more entries of what is typed."""
        found = super().errors
        return found if self.is_checked else {}

    @cached_property
    def changed_data(self) -> list[str]:
        """Name what was typed: a place, or what a spare row begins with, is nothing."""
        return [
            bound.name
            for bound in self.visible_fields()
            if bound.name not in ("ORDER", "DELETE")
            and not isinstance(bound.field, forms.ChoiceField)
            and bound.data
            and bound.field.has_changed(bound.field.initial, bound.data)
        ]

    @classmethod
    def begin(cls, data: Any, prefix: str) -> None:
        """Write what an empty row begins with into posted data that lacks the row."""
        for name, one in cls.base_fields.items():
            if one.initial not in (None, "", False):
                data.setdefault(f"{prefix}-{name}", str(one.initial))

    def shown_fields(self) -> list[Any]:
        """Fields that every row shows."""
        shown = self.base_fields.keys() - {*self.tucked, *self.apart}
        return [bound for bound in self.visible_fields() if bound.name in shown]

    def tucked_fields(self) -> list[Any]:
        """Fields that few rows need."""
        return [self[name] for name in self.tucked]

    def is_untucked(self) -> bool:
        """Whether something tucked away has to be seen at once."""
        return any(self[name].errors for name in self.tucked)

    def tucked_words(self) -> str:
        """Say in short what is tucked away, so that it need not be opened to be known."""
        words = []
        for name in self.tucked:
            bound = self[name]
            value = bound.value()
            if name not in _SHORT or value in (None, "", False, "0", bound.field.initial):
                continue
            if isinstance(bound.field, forms.ChoiceField):
                value = dict(bound.field.choices).get(value, value)  # type: ignore[arg-type]
            # "glue line: length x ml per metre" is a glue line for short
            words.append(_SHORT[name].format(str(value).split(": ")[-1 if "with" in name else 0]))
        return ", ".join(words)


# what is tucked away, in the fewest words; what is not here needs none
_SHORT = {
    "layers": "{} layers",
    "turning": "{}",
    "measure": "{}",
    "waste_share": "{} % waste",
    "learns": "practice",
    "caution": "{}",
    "minutes_low": "{} min at best",
    "minutes_high": "{} min at worst",
    "times": "{} times",
    "from_quantity": "from {}",
    "to_quantity": "up to {}",
    "only_with": "with {}",
    "not_with": "not with {}",
}
# glue that is counted by what the folded pieces have to be glued
ON_FOLDED_PIECES = (Fixing.Measure.FORM_BEAD, Fixing.Measure.FORM_AREA)
CONDITIONS = ("from_quantity", "to_quantity", "only_with", "not_with")


class ConditionForm(RecipeRowForm):
    """A row that may hold for some quantities or choices only."""

    from_quantity = WholeNumberField(
        label="From a quantity of", at_least=1, at_most=MOST, required=False
    )
    to_quantity = WholeNumberField(
        label="Up to a quantity of", at_least=1, at_most=MOST, required=False
    )
    only_with = NameField(label="Only with", of="choices", required=False, empty_label="any choice")
    not_with = NameField(label="Not with", of="choices", required=False, empty_label="no choice")


def _name(label: str, **options: Any) -> OneLineField:
    return OneLineField(label=label, max_length=120, **options)


class MaterialRoleForm(RecipeRowForm):
    """A material and what it does in the design."""

    name = OneLineField(label="Used as", max_length=80)
    material = OneLineField(
        label="Material",
        max_length=120,
        widget=forms.TextInput(attrs={"list": "materials", "autocomplete": "off"}),
    )
    was = forms.CharField(required=False, widget=forms.HiddenInput, max_length=80)


# the spread: common practice, no source; by the yard the same times 0.9144 and its square
_RATE_HELP = {
    "mm": f"A glue line 2 mm wide and round takes {BEAD_ML_PER_M} ml per metre, one of 1 mm "
    "0.8 ml; a full spread about 100 g, or 90 ml, per square metre. Cut to length: how many.",
    "in": "A glue line 2 mm wide and round takes 2.8 ml per yard, one of 1 mm 0.7 ml; a full "
    "spread about 84 g, or 75 ml, per square yard. Cut to length: how many.",
}


class FixingForm(ConditionForm):
    """Use of anything that is not cut from sheets."""

    role = NameField(label="What", of="roles", empty_label="Choose")
    amount = OneLineField(
        label="How much",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "amount"}),
    )
    basis = forms.ChoiceField(label="For", choices=Fixing.Basis, initial=Fixing.Basis.MADE)
    name = _name("Called", required=False)
    measure = forms.ChoiceField(
        label="Measured as", choices=Fixing.Measure, initial=Fixing.Measure.AMOUNT
    )
    rate = NumberField(
        label="On a metre or square metre; how many lengths",
        required=False,
        decimals=READ_PLACES,
        help_text=_RATE_HELP["mm"],
        widget=DecimalText(attrs={"data-bead": str(BEAD_ML_PER_M)}),
    )
    waste_share = PercentField(
        label="Waste", required=False, help_text="Empty: what the material says."
    )
    tucked = ("measure", "rate", "waste_share", *CONDITIONS)
    field_order = ("role", "amount", "basis", "name", *tucked)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.workshop.unit == "in":
            measure = cast(forms.ChoiceField, self.fields["measure"])
            measure.choices = [
                (key, str(label).replace("metre", "yard")) for key, label in Fixing.Measure.choices
            ]
            rate = self.fields["rate"]
            rate.label = "On a yard or square yard; how many lengths"
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
    basis = forms.ChoiceField(label="For", choices=Step.Basis, initial=Step.Basis.MADE)
    per = WholeNumberField(label="Of how many", at_least=1, at_most=MOST, initial=1)
    role = NameField(label="Of which", of="roles", required=False, empty_label="every material")
    learns = forms.BooleanField(label="Faster with practice", required=False)
    minutes_low = MinutesField(
        label="Minutes on a good day", at_most=100_000, decimals=4, required=False
    )
    minutes_high = MinutesField(
        label="Minutes on a bad day", at_most=100_000, decimals=4, required=False
    )
    times = WholeNumberField(label="Dried how often", at_least=1, at_most=10_000, initial=1)
    window_minutes = WholeMinutesField(
        label="Drying minutes in a day", at_least=1, at_most=1440, required=False
    )
    caution = forms.ChoiceField(label="Take care", choices=Step.Caution, initial="", required=False)
    tucked = (
        "learns", "caution", "minutes_low", "minutes_high", "times", "window_minutes", *CONDITIONS,
    )  # fmt: skip
    field_order = ("name", "minutes", "basis", "per", "role", *tucked)

    def clean(self) -> None:
        """Ask for the minutes of everything but a night."""
        minutes, basis = self.cleaned_data.get("minutes"), self.cleaned_data.get("basis")
        if minutes is None and basis != Step.Basis.NIGHT and "minutes" not in self.errors:
            self.add_error("minutes", "Say how many minutes; 0 if it takes none.")


class WearForm(ConditionForm):
    """A tool that is used up."""

    name = _name("Tool")
    price = MoneyField(label="Price")
    life = NumberField(label="Lasts for", above_zero=True, initial=Decimal(1))
    basis = forms.ChoiceField(label="Counted by", choices=Wear.Basis, initial=Wear.Basis.SHEET)
    role = NameField(label="Of which", of="roles", required=False, empty_label="every material")
    tucked = CONDITIONS
    field_order = ("name", "price", "life", "basis", "role", *tucked)


class PackingForm(ConditionForm):
    """What good pieces leave in."""

    name = _name("Packing")
    kind = forms.ChoiceField(label="Kind", choices=Packing.Kind, initial=Packing.Kind.SLEEVE)
    holds = WholeNumberField(label="Holds", at_least=1, at_most=MOST, initial=1)
    cost_each = MoneyField(label="Cost of one", required=False)
    role = NameField(label="Or a material", of="roles", required=False, empty_label="none")
    tucked = ("only_with", "not_with")
    field_order = (
        "name", "kind", "holds", "cost_each", "role", "from_quantity", "to_quantity", *tucked,
    )  # fmt: skip


class ChoiceForm(RecipeRowForm):
    """One answer to an option; rows of the same option stand together."""

    option = OneLineField(label="Option", max_length=80, required=False)
    name = OneLineField(label="Choice", max_length=80)
    is_default = forms.BooleanField(label="Usual", required=False)
    caution = OneLineField(label="Caution to say with it", max_length=200, required=False)
    option_key = forms.SlugField(required=False, widget=forms.HiddenInput, max_length=40)
    key = forms.SlugField(required=False, widget=forms.HiddenInput, max_length=40)
    was = forms.CharField(required=False, widget=forms.HiddenInput, max_length=200)


class SwapForm(RecipeRowForm):
    """What a colourway puts in one place; rows of the same colourway stand together."""

    name = OneLineField(label="Colourway", max_length=80, required=False)
    role = NameField(label="Used as", of="roles", required=False, empty_label="as usual")
    material = OneLineField(
        label="Material instead",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"list": "materials", "autocomplete": "off"}),
    )


class HeadForm(WorkshopForm):
    """What holds for the whole recipe: its name, spares, learning."""

    name = OneLineField(
        label="Name of this version", max_length=120, required=False, help_text="Like “spring”."
    )
    finished_size = OneLineField(label="Finished size", max_length=80, required=False)
    reject_share = PercentField(
        label="Spares",
        at_most=99,
        required=False,
        help_text="How many of a hundred go wrong; so many more are made.",
    )
    rejects_from = WholeNumberField(
        label="Spares from a quantity of", at_least=1, at_most=MOST, initial=1
    )
    learning = forms.ChoiceField(
        label="Practice", choices=DesignVersion.Learning, initial=DesignVersion.Learning.NONE
    )
    learning_rate = PercentField(
        label="Time after each doubling",
        at_least=50,
        initial=Decimal(1),
        help_text="95 % for handwork that gets a little faster; 90 to 97 % is common practice.",
    )
    learning_floor = PercentField(
        label="Never below", required=False, help_text="Of the first piece’s time."
    )
    learning_reference = WholeNumberField(
        label="Minutes were timed in a batch of",
        at_least=1,
        at_most=MOST,
        initial=1,
        help_text="1 if they are those of the first piece.",
    )
    learning_made = WholeNumberField(
        label="Made before",
        at_most=MOST,
        required=False,
        help_text="Pieces of this design your hands know already.",
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
