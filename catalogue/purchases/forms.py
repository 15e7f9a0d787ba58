"""Entry of a receipt, and the filter of the list."""

import datetime
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.utils import timezone

from catalogue.purchases.line_forms import limit_money
from catalogue.purchases.models import Purchase, PurchaseQuerySet
from catalogue.purchases.services import (
    ReceiptExpenseInput,
    ReceiptInput,
    ReceiptLineInput,
)
from catalogue.suppliers.models import Supplier
from maker.calc.currencies import currencies_in_use
from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    LongText,
    MoneyField,
    NumberField,
    OneLineField,
    WorkshopForm,
)
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, rows_by_key

ZERO = Decimal(0)


class ReceiptForm(EditedForm, WorkshopForm):
    """The head and foot of a receipt."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    supplier = ChosenRowField(
        empty_label="choose",
        error_messages={"required": "Choose a supplier or enter a new one."},
    )
    new_supplier = OneLineField(
        label="New supplier", required=False, max_length=120, help_text="Its name is enough."
    )
    bought_on = DayField(label="Date", required_text="Enter the date on the receipt.")
    reference = OneLineField(label="Receipt no.", required=False, max_length=80)
    total = MoneyField(
        label="Total",
        required=False,
        at_most=10_000_000,
        help_text="If typed, the rest must come to it.",
    )
    another = forms.BooleanField(label="This is another receipt", required=False)
    postage = MoneyField(label="Postage", required=False, at_most=1_000_000)
    discount = MoneyField(label="Discount", required=False, at_most=1_000_000)
    tax = MoneyField(label="Tax", required=False, at_most=1_000_000)
    currency = OneLineField(
        required=False, max_length=3, help_text="Three letters, of all amounts here."
    )
    rate = NumberField(
        label="Exchange rate", required=False, at_most=1_000_000, above_zero=True, decimals=8
    )
    charged = MoneyField(
        label="Charged by the bank",
        required=False,
        at_most=10_000_000,
        help_text="As the card statement says, if you know it.",
    )
    notes = forms.CharField(required=False, max_length=4000, widget=LongText(attrs={"rows": 2}))

    def __init__(self, *args: Any, suppliers: Iterable[Supplier], **options: Any) -> None:
        super().__init__(*args, **options)
        supplier, new = cast(ChosenRowField, self.fields["supplier"]), self.fields["new_supplier"]
        supplier.use_rows(rows_by_key(suppliers))
        if not supplier.rows:
            # the first one is typed where the others are chosen
            new.label, new.required = "Supplier", True
            new.error_messages["required"] = "Enter the supplier’s name."
        if not supplier.rows or (self.is_bound and self["new_supplier"].data):
            supplier.required = False
        limit_money(self)
        own = self.workshop.currency
        self.fields["rate"].help_text = f"{own} for one unit of it."
        tax = self.fields["tax"]
        tax.label = self.workshop.tax_name or "Tax"
        tax.help_text = (
            "Only if shown separately. Reclaimed, so not a cost."
            if self.workshop.tax_registered
            else "Only if shown separately. Counted as part of the cost."
        )

    def clean_currency(self) -> str:
        """Refuse what is not a currency."""
        code: str = self.cleaned_data["currency"].upper()
        today = timezone.localdate()
        if code and code not in {known for known, _ in currencies_in_use(today)}:
            raise forms.ValidationError("Enter a currency’s three letters, like GBP.")
        return code

    def clean(self) -> dict[str, Any]:
        """Ask for one supplier, and count an amount left empty as none."""
        own = self.workshop.currency
        cleaned = super().clean() or self.cleaned_data
        for name in ("postage", "discount", "tax"):
            if name in cleaned:
                cleaned[name] = cleaned[name] or ZERO
        if cleaned.get("currency") == own:
            cleaned["currency"] = ""
        if cleaned.get("currency") and not cleaned.get("rate") and "rate" not in self.errors:
            self.add_error("rate", "Enter the exchange rate.")
        if "supplier" in self.errors or "new_supplier" in self.errors:
            return cleaned
        if cleaned.get("supplier") and cleaned.get("new_supplier"):
            self.add_error("new_supplier", "Choose a supplier or enter a new one, not both.")
        return cleaned

    def read(
        self,
        supplier: Supplier,
        lines: list[ReceiptLineInput],
        expenses: list[ReceiptExpenseInput],
    ) -> ReceiptInput:
        """Return the receipt as typed."""
        names = (
            "bought_on", "reference", "postage", "discount", "tax", "notes",
            "currency", "rate", "charged",
        )  # fmt: skip
        typed = {name: self.cleaned_data[name] for name in names}
        return ReceiptInput(supplier=supplier, lines=lines, expenses=expenses, **typed)


def head_as_typed(purchase: Purchase) -> dict[str, Any]:
    """Return what the form shows of a stored receipt."""
    names = (
        "bought_on", "reference", "notes", "edit_number", "currency", "rate", "charged",
    )  # fmt: skip
    amounts = ("postage", "discount", "tax")
    # as the receipt says them, in its own currency
    said = "foreign_" if purchase.currency else ""
    return {
        "supplier": purchase.supplier_id,
        **{name: getattr(purchase, name) for name in names},
        **{name: getattr(purchase, f"{said}{name}") or None for name in amounts},
    }


class PurchaseFilter(FilterForm):
    """Narrows the list of receipts."""

    first = forms.DateField(
        label="From", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    last = forms.DateField(
        label="To", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    state = forms.ChoiceField(
        label="Status",
        required=False,
        choices=[
            ("", "Drafts and in stock"),
            ("draft", "Drafts"),
            ("recorded", "In stock"),
            ("reversed", "Undone"),
            ("all", "All"),
        ],
    )

    def narrow_by(self, queryset: PurchaseQuerySet, values: dict[str, Any]) -> PurchaseQuerySet:
        """Return the receipts that match."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        first: datetime.date | None = values.get("first")
        last: datetime.date | None = values.get("last")
        queryset = queryset.between(first, last)
        state = values.get("state")
        if state == "all":
            return queryset
        return queryset.filter(state=state) if state else queryset.not_taken_back()
