"""Entry of an expense, and the filter of the list."""

import datetime
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any, cast

from django import forms

from catalogue.expenses.belonging import purpose_of
from catalogue.expenses.models import MOST_YEARS, Expense, ExpenseQuerySet
from catalogue.expenses.services import ExpenseInput
from catalogue.suppliers.models import Supplier
from maker.calc.money import minor_digits
from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    LongText,
    MoneyField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
)
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, rows_by_key

MOST = 1_000_000
# what is changed on the receipt an expense is on
SAID_BY_RECEIPT = ("what", "paid_on", "net", "tax_paid", "supplier", "reference")


class ExpenseForm(EditedForm, WorkshopForm):
    """What was paid for, when, how much, and what it is for."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    what = OneLineField(
        label="Expense",
        max_length=120,
        error_messages={"required": "Enter what you paid for."},
    )
    paid_on = DayField(label="Date", required_text="Enter the date you paid.")
    net = MoneyField(
        label="Amount",
        at_least=-MOST,
        at_most=MOST,
        help_text="Use a minus if money came back.",
        error_messages={"required": "Enter the amount."},
    )
    tax_paid = MoneyField(label="Tax", required=False, at_least=-MOST, at_most=MOST)
    category = forms.ChoiceField(choices=Expense.Category.choices, initial=Expense.Category.OTHER)
    purpose = forms.ChoiceField(
        label="Belongs to",
        choices=Expense.Purpose.choices,
        initial=Expense.Purpose.OVERHEAD,
        help_text="Overhead is what every price helps to pay.",
    )
    whose = forms.ChoiceField(
        label="Order or fair",
        required=False,
        help_text="If it belongs to one: it counts in what that cost.",
    )
    supplier = ChosenRowField(label="Paid to", empty_label="not in the list", required=False)
    reference = OneLineField(label="Receipt no.", required=False, max_length=80)
    lasts_years = WholeNumberField(
        label="Lasts",
        unit="years",
        required=False,
        at_least=1,
        at_most=MOST_YEARS,
        help_text="For tools: the cost is shared over these years.",
    )
    repeats = forms.ChoiceField(
        required=False,
        choices=[("", "No"), *Expense.Repeats.choices],
        help_text="The next ones are added for you.",
    )
    repeats_until = DayField(label="Until", required=False)
    notes = forms.CharField(required=False, max_length=4000, widget=LongText(attrs={"rows": 2}))

    def __init__(
        self,
        *args: Any,
        suppliers: Iterable[Supplier],
        whose: Sequence[Any] = (),
        repeated: bool = False,
        on_receipt: bool = False,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        cast(ChosenRowField, self.fields["supplier"]).use_rows(rows_by_key(suppliers))
        cast(forms.ChoiceField, self.fields["whose"]).choices = whose
        for name in ("net", "tax_paid"):
            cast(MoneyField, self.fields[name]).decimals = minor_digits(self.workshop.currency)
        tax = self.fields["tax_paid"]
        tax.label = self.workshop.tax_name or "Tax"
        tax.help_text = (
            "If shown separately. Reclaimed, so not a cost."
            if self.workshop.tax_registered
            else "If shown separately. Added to the amount."
        )
        gone = ["repeats", "repeats_until"] if repeated or on_receipt else []
        for name in [*gone, *(SAID_BY_RECEIPT if on_receipt else ())]:
            del self.fields[name]

    def clean(self) -> dict[str, Any]:
        """Let what belongs to one order or fair be for that, whatever else was chosen."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        purpose = purpose_of(cleaned.get("whose") or "")
        return cleaned | {"purpose": purpose} if purpose else cleaned

    def read(self, row: Expense) -> ExpenseInput:
        """Return the expense as typed; what its receipt says is as the row has it."""
        typed = {name: getattr(row, name) for name in SAID_BY_RECEIPT} | self.cleaned_data
        names = (
            "paid_on", "what", "net", "category", "purpose", "supplier",
            "lasts_years", "reference", "notes",
        )  # fmt: skip
        return ExpenseInput(
            tax_paid=typed["tax_paid"] or Decimal(0),
            repeats=typed.get("repeats") or "",
            repeats_until=typed.get("repeats_until"),
            **{name: typed[name] for name in names},
        )


def expense_as_typed(row: Expense) -> dict[str, Any]:
    """Return what the form shows of a stored expense."""
    names = (
        "what", "paid_on", "net", "category", "purpose", "reference", "lasts_years",
        "repeats", "repeats_until", "notes", "edit_number",
    )  # fmt: skip
    return {
        "supplier": row.supplier_id,
        "tax_paid": row.tax_paid or None,
        **{name: getattr(row, name) for name in names},
    }


class ExpenseFilter(FilterForm):
    """Narrows the list of expenses."""

    first = forms.DateField(
        label="From", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    last = forms.DateField(
        label="To", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    category = forms.ChoiceField(required=False, choices=[("", "All"), *Expense.Category.choices])
    purpose = forms.ChoiceField(
        label="Belongs to", required=False, choices=[("", "All"), *Expense.Purpose.choices]
    )
    state = forms.ChoiceField(
        label="Status",
        required=False,
        choices=[
            ("", "All that count"),
            ("repeats", "Repeating"),
            ("self", "Added automatically"),
            ("tools", "Tools that last"),
            ("deleted", "Deleted"),
        ],
    )

    def narrow_by(self, queryset: ExpenseQuerySet, values: dict[str, Any]) -> ExpenseQuerySet:
        """Return the expenses that match."""
        state = values.get("state")
        if state == "deleted":
            queryset = queryset.filter(deleted_at__isnull=False)
        else:
            queryset = queryset.counted()
        if state == "repeats":
            queryset = queryset.exclude(repeats="")
        if state == "self":
            queryset = queryset.filter(repeat_of__isnull=False)
        if state == "tools":
            queryset = queryset.filter(lasts_years__isnull=False)
        if "search" in values:
            queryset = queryset.matching(values["search"])
        for name in ("category", "purpose"):
            if name in values:
                queryset = queryset.filter(**{name: values[name]})
        first: datetime.date | None = values.get("first")
        last: datetime.date | None = values.get("last")
        return queryset.between(first, last)
