"""Entry of a customer, chosen or new, and the filter of the list."""

from collections.abc import Iterable
from typing import Any

from django import forms

from maker.web.editing import EditedForm
from maker.web.fields import LongText, OneLineField, WorkshopModelForm
from maker.web.lists import ArchivableFilter
from maker.web.rows import ChosenRowField, rows_by_key
from pricing.customers.models import Customer


class CustomerForm(EditedForm, WorkshopModelForm):
    """A name is enough; an address is needed on paper."""

    name = OneLineField(max_length=120, help_text="A person or a shop, as printed on quotes.")
    contact = OneLineField(
        label="Contact person", max_length=120, required=False, help_text="For a shop or club."
    )
    phone = OneLineField(max_length=40, required=False)

    class Meta:
        model = Customer
        fields = ("name", "contact", "email", "phone", "address", "notes")
        widgets = {
            "address": LongText(attrs={"rows": 4}),
            "notes": LongText(attrs={"rows": 3}),
        }
        labels = {"email": "Email", "notes": "Private notes"}


class CustomerOrNewForm(forms.Form):
    """For whom something is: a customer who is there, or the name of a new one."""

    customer = ChosenRowField(label="Customer", empty_label="New customer", required=False)
    new_name = OneLineField(
        label="New customer's name",
        max_length=120,
        required=False,
        help_text="The address can be added later.",
    )

    def offer_customers(self, customers: Iterable[Customer]) -> None:
        """Offer these customers."""
        fields: Any = self.fields
        fields["customer"].use_rows(rows_by_key(customers))
        for name in ("customer", "new_name"):
            # one of them has to be filled in: neither is optional
            fields[name].is_one_of = True

    def clean(self) -> dict[str, Any]:
        """Ask for one customer, chosen or named."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if "customer" in values and "new_name" in values:
            if values["customer"] and values["new_name"]:
                self.add_error("new_name", "Choose a customer or enter a new one, not both.")
            elif not values["customer"] and not values["new_name"]:
                self.add_error("customer", "Choose a customer or enter a new one's name.")
        return values


class CustomerFilter(ArchivableFilter):
    """Narrows the list of customers."""
