"""What the report shows, read from the address; and entry of budgets."""

import datetime
import re
from typing import Any, cast

from django import forms

from catalogue.materials.models import Material
from maker.calc.refusal import Refusal
from maker.web.fields import MoneyField, WorkshopForm
from maker.web.lists import FilterForm, whole_number
from maker.web.rows import ChosenRowField, rows_by_key
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import Period, months_later, periods
from pricing.spending.inputs import Narrowed

EARLIEST, LATEST = 1990, 2100
_MONTH = re.compile(r"(\d{4})-(\d{1,2})", re.ASCII)
MONTHS_SHOWN = 12
MONTHS_IN = {"quarter": 3, "year": 12}


def readable_month(year: int, month: int) -> datetime.date | None:
    """Return the month as its first day, None for one no report has."""
    if EARLIEST <= year <= LATEST and 1 <= month <= 12:
        return datetime.date(year, month, 1)
    return None


class MonthField(forms.Field):
    """A month as an address has it, `2026-03`; gives its first day."""

    widget = forms.TextInput(attrs={"type": "month", "placeholder": "2026-03"})

    def to_python(self, value: Any) -> datetime.date | None:
        """Return the first day of the month. Errors: ValidationError."""
        if value in self.empty_values or isinstance(value, datetime.date):
            return value or None
        found = _MONTH.fullmatch(str(value).strip())
        month = readable_month(int(found[1]), int(found[2])) if found else None
        if month is None:
            raise forms.ValidationError("Enter a month like 2026-03.", code="unreadable")
        return month

    def prepare_value(self, value: Any) -> Any:
        """Show a month as it is typed."""
        return f"{value:%Y-%m}" if isinstance(value, datetime.date) else value


class SpendFilter(FilterForm):
    """Which months, put together how, of what; what cannot be read has its default."""

    first = MonthField(label="From", required=False)
    last = MonthField(label="To", required=False)
    by = forms.ChoiceField(
        label="Colour by",
        required=False,
        choices=[("", "Category"), ("supplier", "Supplier"), ("material", "Material")],
    )
    each = forms.ChoiceField(
        label="Group by",
        required=False,
        choices=[("", "Month"), ("quarter", "Quarter"), ("year", "Year")],
    )
    category = forms.ChoiceField(required=False, choices=[("", "All"), *Material.Category.choices])
    supplier = ChosenRowField(required=False, empty_label="All")
    material = ChosenRowField(required=False, empty_label="All")

    def __init__(
        self, *args: Any, workshop: Workshop, this_month: datetime.date, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        del self.fields["search"]
        self.rows: dict[str, Any] = {
            "supplier": workshop.suppliers.only("name", "workshop").order_by("name", "pk"),
            "material": workshop.materials.only("name", "workshop").by_name(),
        }
        # of thousands only the one that is asked for is read; `offer_all` reads them to choose from
        for name, rows in self.rows.items():
            self._offer(name, rows.filter(pk=whole_number(self.data.get(name), 0)))
        self.this_month = this_month
        self.spans: tuple[Period, ...] = ()
        self.full_clean()

    def clean(self) -> dict[str, Any]:
        """Cut the months asked for into bars; months that make no span give the last twelve."""
        cleaned = super().clean() or self.cleaned_data
        default_last = self.this_month
        if cleaned.get("first") and cleaned["first"] > default_last:
            default_last = months_later(cleaned["first"], MONTHS_SHOWN - 1)
        last = cleaned.get("last") or default_last
        first = cleaned.get("first") or months_later(last, 1 - MONTHS_SHOWN)
        each = MONTHS_IN.get(cleaned.get("each") or "", 1)
        try:
            self.spans = periods(first, last, each=each)
        except Refusal as refusal:
            self.add_error(refusal.where, refusal.message)
            first = months_later(self.this_month, 1 - MONTHS_SHOWN)
            self.spans = periods(first, self.this_month, each=each)
        return cleaned

    def _offer(self, name: str, rows: Any) -> None:
        cast(ChosenRowField, self.fields[name]).use_rows(rows_by_key(rows))

    def offer_all(self) -> None:
        """Read every supplier and material, to be chosen from (two queries)."""
        for name, rows in self.rows.items():
            self._offer(name, rows)

    def kept(self, *left_out: str) -> dict[str, str]:
        """Return what the address says that could be read, without some of it."""
        return {
            name: self.data[name]
            for name in self.fields
            if name not in (*left_out, *self.errors) and self.data.get(name)
        }

    @property
    def asks_for_months(self) -> bool:
        """Whether the months are asked for."""
        return bool(self.cleaned_data.get("first") or self.cleaned_data.get("last"))

    @property
    def is_whole(self) -> bool:
        """Whether everything is looked at, not one category, supplier or material."""
        return not self.narrowed_to

    @property
    def narrowed_to(self) -> list[str]:
        """The names of what is looked at alone."""
        values = self.cleaned_data
        category = values.get("category")
        names = [str(Material.Category(category).label)] if category else []
        return [*names, *(str(values[name]) for name in self.rows if values.get(name))]

    @property
    def by_what(self) -> str:
        """What the groups are: category, supplier or material."""
        return self.cleaned_data.get("by") or "category"

    @property
    def narrowed(self) -> Narrowed:
        """What the report covers."""
        values = self.cleaned_data
        supplier, material = values.get("supplier"), values.get("material")
        return Narrowed(
            category=values.get("category") or "",
            supplier_id=supplier.pk if supplier else None,
            material_id=material.pk if material else None,
        )


class BudgetForm(WorkshopForm):
    """What each category may cost a month, and from which month on."""

    month = MonthField(
        label="Starting month",
        error_messages={"required": "Enter the starting month."},
        help_text="Earlier months keep their budgets.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for category in Material.Category:
            field = MoneyField(label=category.label, required=False, at_most=1_000_000)
            field.unit, field.locale = self.workshop.currency, self.locale
            self.fields[category.value] = field
        self.fields["carry"] = forms.MultipleChoiceField(
            label="Carry what is left to the next month",
            choices=Material.Category.choices,
            required=False,
            widget=forms.CheckboxSelectMultiple,
            help_text="At most one month’s budget; overspending in full.",
        )

    def amounts(self) -> dict[str, Any]:
        """Return category -> amount, None for no budget."""
        return {category.value: self.cleaned_data[category.value] for category in Material.Category}

    def carried(self) -> set[str]:
        """Return the categories whose budget is carried on."""
        return set(self.cleaned_data["carry"])
