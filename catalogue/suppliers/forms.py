"""Entry of a supplier, and the filter of the list."""

from decimal import Decimal

from django import forms

from catalogue.suppliers.models import Supplier
from maker.web.editing import EditedForm
from maker.web.fields import LongText, MoneyField, OneLineField, WholeNumberField, WorkshopModelForm
from maker.web.lists import ArchivableFilter


class SupplierForm(EditedForm, WorkshopModelForm):
    """A name is enough; the rest helps to promise dates and to plan orders."""

    name = OneLineField(max_length=120)
    website = forms.URLField(required=False, max_length=300, assume_scheme="https")
    phone = OneLineField(max_length=40, required=False)
    lead_days = WholeNumberField(
        label="Days until it arrives", unit="days", required=False, at_most=365
    )
    carriage = MoneyField(label="Postage of an order", required=False, at_most=1_000_000)
    carriage_free_from = MoneyField(
        label="Postage free from",
        required=False,
        at_most=1_000_000,
        help_text="Value of the order.",
    )

    class Meta:
        model = Supplier
        fields = (
            "name",
            "website",
            "email",
            "phone",
            "lead_days",
            "carriage",
            "carriage_free_from",
            "notes",
        )
        widgets = {"notes": LongText(attrs={"rows": 3})}
        labels = {"email": "E-mail"}

    def clean_lead_days(self) -> int:
        """Take the workshop's usual days when none are typed."""
        days: int | None = self.cleaned_data["lead_days"]
        return self.workshop.purchase_lead_days if days is None else days

    def clean_carriage(self) -> Decimal:
        """Count an amount left empty as none."""
        return self.cleaned_data["carriage"] or Decimal(0)


class SupplierFilter(ArchivableFilter):
    """Narrows the list of suppliers."""
