"""Entry of a customer, and the filter of the list."""

from maker.web.editing import EditedForm
from maker.web.fields import LongText, OneLineField, WorkshopModelForm
from maker.web.lists import ArchivableFilter
from pricing.customers.models import Customer


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


class CustomerFilter(ArchivableFilter):
    """Narrows the list of customers."""
