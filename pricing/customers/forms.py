"""Entry of a customer, and the filter of the list."""

from typing import Any

from django import forms

from maker.web.editing import EditedForm
from maker.web.fields import LongText, OneLineField, WorkshopModelForm
from maker.web.lists import FilterForm
from pricing.customers.models import Customer, CustomerQuerySet

STATES = [("", "In use"), ("away", "Put away"), ("all", "All")]


class CustomerForm(EditedForm, WorkshopModelForm):
    """A name is enough; an address is needed on paper."""

    name = OneLineField(
        max_length=120, help_text="A person or a shop, as it should stand on a quote."
    )
    contact = OneLineField(
        label="Who decides", max_length=120, required=False, help_text="If it is a shop or a club."
    )
    phone = OneLineField(max_length=40, required=False)

    class Meta:
        model = Customer
        fields = ("name", "contact", "email", "phone", "address", "notes")
        widgets = {
            "address": LongText(attrs={"rows": 4}),
            "notes": LongText(attrs={"rows": 3}),
        }
        labels = {"email": "E-mail", "notes": "Notes for yourself"}


class CustomerFilter(FilterForm):
    """Narrows the list of customers."""

    state = forms.ChoiceField(label="Which", choices=STATES, required=False)

    def narrow_by(self, queryset: CustomerQuerySet, values: dict[str, Any]) -> CustomerQuerySet:
        """Return the customers that match."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        state = values.get("state")
        if state == "away":
            return queryset.put_away()
        return queryset if state == "all" else queryset.in_use()
