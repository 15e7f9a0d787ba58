"""Entry of a return or of damage, for one line of a receipt."""

from typing import Any, cast

from django import forms

from maker.calc.money import minor_digits
from maker.web.fields import DayField, MoneyField, NumberField, OneLineField, WorkshopForm

SENT_BACK, CREDITED, KEPT = "back", "credited", "kept"


class ReturnForm(WorkshopForm):
    """What happened, how much of the line, when, and what the supplier pays back."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    what = forms.ChoiceField(
        label="What happened",
        choices=[
            (SENT_BACK, "Sent back to the supplier"),
            (CREDITED, "Damaged, the supplier credits it"),
            (KEPT, "Damaged, nobody credits it"),
        ],
    )
    quantity = NumberField(
        label="Amount", above_zero=True, error_messages={"required": "Enter how much."}
    )
    moved_on = DayField(label="Date")
    refund = MoneyField(
        required=False,
        at_most=1_000_000,
        help_text="Leave blank for all you paid, without postage.",
    )
    reason = OneLineField(
        label="Note", required=False, max_length=200, help_text="Like the credit note’s number."
    )

    def __init__(self, *args: Any, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        cast(NumberField, self.fields["quantity"]).unit = unit
        cast(MoneyField, self.fields["refund"]).decimals = minor_digits(self.workshop.currency)

    def clean(self) -> dict[str, Any]:
        """Refuse a refund of what nobody credits."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("what") == KEPT and cleaned.get("refund"):
            self.add_error("refund", "Nobody credits it: leave the refund empty.")
        return cleaned
