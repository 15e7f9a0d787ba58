"""What is asked for on the page for the customer: the job, a price, and what is to be told."""

from typing import Any

from django import forms

from maker.web.fields import MoneyField
from pricing.costs.forms import AskForm

PARTS = (
    ("materials", "materials"),
    ("handwork", "minutes of handwork"),
    ("care", "spares, drying and care"),
    ("packing", "packing"),
    ("choices", "options chosen"),
    ("quantities", "other quantities"),
    ("tax", "tax"),
)


class DefenceForm(AskForm):
    """The question of the cost page, a price that is to be explained, and what is shown."""

    asked_price = MoneyField(
        label="Price each",
        required=False,
        above_zero=True,
        at_most=10_000_000,
        help_text="Leave blank for your list price or the suggested price.",
    )
    show = forms.MultipleChoiceField(
        label="Include", choices=PARTS, required=False, widget=forms.CheckboxSelectMultiple
    )
    # a form without a tick sends nothing, which must not mean everything
    ticked = forms.CharField(required=False, widget=forms.HiddenInput, initial="1", max_length=1)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if "ticked" not in self.data:
            # everything, until she has ticked; the page's own copy of the address
            self.data.setlist("show", [key for key, _ in PARTS])  # type: ignore[attr-defined]  # a QueryDict
        self.order_fields(["quantity", "bought_at_once", "asked_price", "show", "channel"])

    def shown(self) -> set[str]:
        """Return what is to be told."""
        return set(self.cleaned_data.get("show") or ())
