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
    lead_days = WholeNumberField(label="Delivery time", unit="days", required=False, at_most=365)
    lead_spread_days = WholeNumberField(
        label="Give or take",
        unit="days",
        required=False,
        at_most=365,
        help_text="Leave blank if it never varies.",
    )
    carriage = MoneyField(label="Postage per order", required=False, at_most=1_000_000)
    carriage_free_from = MoneyField(
        label="Free postage from",
        required=False,
        at_most=1_000_000,
        help_text="Order value.",
    )

    class Meta:
        model = Supplier
        fields = (
            "name",
            "website",
            "email",
            "phone",
            "lead_days",
            "lead_spread_days",
            "carriage",
            "carriage_free_from",
            "notes",
        )
        widgets = {"notes": LongText(attrs={"rows": 3})}
        labels = {"email": "Email"}

    def clean_lead_days(self) -> int:
        """Take the workshop's usual days when none are typed."""
        days: int | None = self.cleaned_data["lead_days"]
        return self.workshop.purchase_lead_days if days is None else days

    def clean_lead_spread_days(self) -> int:
        """Count days left empty as none."""
        return self.cleaned_data["lead_spread_days"] or 0

    def clean_carriage(self) -> Decimal:
        """Count an amount left empty as none."""
        return self.cleaned_data["carriage"] or Decimal(0)


class SupplierFilter(ArchivableFilter):
    """Narrows the list of suppliers."""
