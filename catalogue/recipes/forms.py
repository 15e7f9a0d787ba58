"""The rows of the recipe editor; they name roles and choices in words, as this post has them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any, ClassVar, cast

from django import forms
from django.forms.formsets import formset_factory
from django.utils.safestring import SafeString

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
    """What rows may refer to: uses of materials, and choices of options.

    `materials` is the material of each role; `swatches`, by material, are there once a page shows
    its rows.
    """

    roles: list[tuple[str, str]] = field(default_factory=list)
    choices: list[tuple[str, str]] = field(default_factory=list)
    materials: dict[str, str] = field(default_factory=dict)
    swatches: dict[str, SafeString] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LinePart:
    """A part of a closed row: what it says, and the pattern and unit a page renews it by.

    What names a material bears its swatch; `of` is then the entry it is named in.
    """

    key: str
    pattern: str
    unit: str
    text: str
    of: str = ""
    swatch: SafeString | str = ""


# an entry of a line, and perhaps what another entry has to be for it to count
_FIELD = re.compile(r"\{(\w+)(?:\?(\w+)=(\w+))?\}")


# parts of a line that name a material, directly or by its role
SWATCHED = ("{material}", "{role}")


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
    # what the closed row says: a name and the entries it is made of. A part with an empty entry is
    # left out; `{per?basis=batch}` counts only where the basis is a batch.
    line: ClassVar[tuple[tuple[str, str], ...]] = (("name", "{name}"),)

    def __init__(self, *args: Any, names: Names, is_checked: bool = True, **options: Any) -> None:
        super().__init__(*args, **options)
        self.is_checked, self.names = is_checked, names
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

    def line_parts(self) -> list[LinePart]:
        """Say the row in one line: its name, then what counts most; nothing of a spare row."""
        is_spare = not (self.has_changed() if self.is_bound else self.initial)
        parts = []
        for key, pattern in self.line:
            names = [name for name, *_ in _FIELD.findall(pattern)]
            unit = next((one for name in names if (one := self._unit_of(name))), "")
            text = "" if is_spare else self._line_text(key, pattern, unit)
            of = pattern.strip("{}") if pattern in SWATCHED else ""
            swatch = self._swatch(of) if of and text else ""
            parts.append(LinePart(key, pattern, unit, text, of, swatch))
        return parts

    def _swatch(self, of: str) -> SafeString | str:
        named = str(self[of].value() or "").strip()
        material = self.names.materials.get(named, "") if of == "role" else named
        return self.names.swatches.get(material, "")

    def _line_text(self, key: str, pattern: str, unit: str) -> str:
        texts = {}
        for name, decides, wanted in _FIELD.findall(pattern):
            if decides and str(self[decides].value() or "") != wanted:
                texts[name] = ""
            elif not (text := self._told(name)):
                return ""
            else:
                texts[name] = text
        return with_unit(_FIELD.sub(lambda one: texts[one[1]], pattern).strip(), unit)

    def _unit_of(self, name: str) -> str:
        return str(getattr(self.fields[name], "unit", "") or "")

    def _told(self, name: str) -> str:
        """Return an entry as the page shows it; a choice by its words."""
        bound = self[name]
        value = bound.value()
        if isinstance(bound.field, forms.BooleanField):
            return str(bound.label) if value else ""
        text = "" if value is None else str(value).strip()
        choices = getattr(bound.field.widget, "choices", None)
        return str(dict(choices).get(text, text)) if choices and text else text

    def is_untucked(self) -> bool:
        """Whether something tucked away has to be seen at once."""
        return any(self[name].errors for name in self.tucked)

    def tucked_words(self) -> str:
        """Say in short what is tucked away, so that it need not be opened to be known."""
        return self._short_words(self.tucked)

    def line_words(self) -> str:
        """Say of what is tucked away what a closed row has to tell: cautions, when it holds."""
        return self._short_words([name for name in self.tucked if name not in ONLY_INSIDE])

    def _short_words(self, names: Iterable[str]) -> str:
        words = []
        for name in names:
            bound = self[name]
            value = bound.value()
            if name not in _SHORT or value in (None, "", False, "0", bound.field.initial):
                continue
            if isinstance(bound.field, forms.ChoiceField):
                value = dict(bound.field.choices).get(value, value)  # type: ignore[arg-type]
            # "glue line: length × ml per metre" is a glue line for short
            words.append(_SHORT[name].format(str(value).split(": ")[-1 if "with" in name else 0]))
        return ", ".join(words)


def with_unit(text: str, unit: str) -> str:
    """Put the unit behind a text that does not say one."""
    return f"{text} {unit}" if unit and text and not text[-1].isalpha() else text


# what is tucked away, in the fewest words; what is not here needs none
_SHORT = {
    "layers": "{} layers",
    "turning": "{}",
    "measure": "{}",
    "waste_share": "{}% waste",
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
# what is of no use until the row is open
ONLY_INSIDE = ("learns", "minutes_low", "minutes_high", "waste_share", "times")
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
    amount = OneLineField(
        label="Amount",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "amount"}),
    )
    basis = forms.ChoiceField(label="Per", choices=Fixing.Basis, initial=Fixing.Basis.MADE)
    name = _name("Pack name", required=False)
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
    field_order = ("role", "amount", "basis", "name", *tucked)

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
