"""Forms of what quotes and invoices say."""

from collections.abc import Callable
from typing import Any

from django import forms

from maker.calc.bank_numbers import BadBankNumber, read_bic, read_iban
from maker.calc.refusal import Refusal
from maker.web.fields import LongText, OneLineField, PercentField, WholeNumberField
from maker.workshop.forms import SettingsForm
from maker.workshop.inputs import read_steps
from maker.workshop.models import Workshop


class InvoicesForm(SettingsForm):
    """Where invoices are paid, and who issues them."""

    account_name = OneLineField(
        label="Account holder", max_length=70, required=False, help_text="As your bank knows it."
    )
    iban = OneLineField(
        label="IBAN",
        max_length=50,
        required=False,
        help_text="Spaces are fine. Printed on invoices.",
    )
    bic = OneLineField(
        label="BIC", max_length=20, required=False, help_text="Only if your bank asks for it."
    )
    country = OneLineField(
        label="Country", max_length=2, required=False, help_text="Two letters, like IE."
    )
    tax_number = OneLineField(
        label="Tax number",
        max_length=30,
        required=False,
        help_text="With its country, like IE1234567T. Printed on invoices.",
    )
    company_number = OneLineField(
        label="Company number",
        max_length=30,
        required=False,
        help_text="Of the trade register, if you are in one.",
    )

    class Meta:
        model = Workshop
        fields = ("account_name", "iban", "bic", "country", "tax_number", "company_number")

    def clean_iban(self) -> str:
        """Store it in capitals and without spaces; refuse one with a mistake."""
        return self._bank_number("iban", read_iban)

    def clean_bic(self) -> str:
        """Store it in capitals and without spaces."""
        return self._bank_number("bic", read_bic)

    def _bank_number(self, name: str, read: Callable[[str], str]) -> str:
        typed: str = self.cleaned_data[name]
        try:
            return read(typed) if typed else ""
        except BadBankNumber as refusal:
            raise forms.ValidationError(refusal.message) from refusal

    def clean_country(self) -> str:
        """Store the letters as capitals."""
        country: str = self.cleaned_data["country"].upper()
        return country

    def clean_tax_number(self) -> str:
        """Store it without spaces."""
        return "".join(self.cleaned_data["tax_number"].split()).upper()

    def clean(self) -> dict[str, Any]:
        """Ask for the holder of an account."""
        values = super().clean() or self.cleaned_data
        if values.get("iban") and not values.get("account_name"):
            self.add_error("account_name", "Enter the name the account is in.")
        return values


class QuotesForm(SettingsForm):
    """What quotes say, and her terms."""

    quantity_steps = OneLineField(
        label="Quantities shown",
        max_length=80,
        help_text="With each cost and quote line, like 1, 12, 60, 250.",
    )
    quote_valid_days = WholeNumberField(
        label="Quotes are valid for",
        unit="days",
        at_most=365,
        help_text="You can change it on each quote.",
    )
    quote_prefix = OneLineField(
        label="Quote number prefix",
        max_length=10,
        required=False,
        help_text="Before year and number, as in Q-2026-0007. Can be blank.",
    )

    cancel_share_before = PercentField(
        label="Owed if cancelled before you buy",
        help_text="Share of the price, printed on quotes.",
    )
    cancel_share_bought = PercentField(label="Owed after materials are bought")
    cancel_share_cut = PercentField(label="Owed once cutting has begun")
    names_kept_days = WholeNumberField(
        label="Names deleted after delivery",
        unit="days",
        at_most=3650,
        help_text="Names on items are personal data.",
    )

    class Meta:
        model = Workshop
        fields = (
            "quantity_steps",
            "quote_valid_days",
            "quote_prefix",
            "cancel_share_before",
            "cancel_share_bought",
            "cancel_share_cut",
            "names_kept_days",
            "terms",
        )
        labels = {"terms": "Terms"}
        help_texts = {"terms": ("Printed on quotes. Have a licensed adviser read them first.")}
        widgets = {"terms": LongText({"rows": 10})}

    def clean(self) -> dict[str, Any]:
        """Let what is owed grow with the stage."""
        typed = super().clean() or {}
        stages = [f"cancel_share_{name}" for name in ("before", "bought", "cut")]
        shares = [typed.get(name) for name in stages]
        for name, earlier, later in zip(stages[1:], shares, shares[1:], strict=False):
            if earlier is not None and later is not None and later < earlier:
                self.add_error(name, "Enter at least the share of the stage before.")
        return typed

    def clean_quantity_steps(self) -> str:
        """Read the quantities and store them in order."""
        try:
            steps = read_steps(self.cleaned_data["quantity_steps"])
        except Refusal as refusal:
            raise forms.ValidationError(refusal.message) from refusal
        return ", ".join(str(step) for step in steps)

    def clean_quote_prefix(self) -> str:
        """Keep to what can stand in a file name and be read out on the phone."""
        prefix: str = self.cleaned_data["quote_prefix"]
        if not all(letter.isalnum() or letter in "-_/ " for letter in prefix):
            raise forms.ValidationError("Use letters, digits, spaces and - _ / only.")
        return prefix
