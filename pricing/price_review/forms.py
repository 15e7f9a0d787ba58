"""Deciding about prices that are off."""

from typing import Any

from django import forms

from maker.web.fields import MoneyField, OneLineField, WorkshopForm


class DecideForm(WorkshopForm):
    """Change to a price, leave until a day, or leave."""

    KINDS = (
        ("change", "Change the price"),
        ("until", "Remind me on"),
        ("leave", "Ignore unless costs change"),
    )

    kind = forms.ChoiceField(label="Decision", choices=KINDS)
    price = MoneyField(label="New price each", required=False, above_zero=True)
    until = forms.DateField(
        label="Date", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    below = forms.BooleanField(
        label="Save it below the lowest price", required=False, widget=forms.HiddenInput
    )
    note = OneLineField(label="Reason", max_length=200, required=False)

    def __init__(self, *args: Any, may_change_price: bool = True, **options: Any) -> None:
        super().__init__(*args, **options)
        if not may_change_price:
            self.fields["kind"].choices = self.KINDS[1:]  # type: ignore[attr-defined]
            del self.fields["price"], self.fields["below"]

    def ask_whether_meant(self) -> None:
        """Offer to keep a price below the lowest: a tick that is only there once it is needed."""
        self.fields["below"].widget = forms.CheckboxInput()

    def clean(self) -> dict[str, Any]:
        """Ask for the day or the price that the choice needs."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        if given.get("kind") == "until" and not given.get("until") and "until" not in self.errors:
            self.add_error("until", "Enter a date.")
        if given.get("kind") == "change" and not given.get("price") and "price" not in self.errors:
            self.add_error("price", "Enter a price.")
        return given
