"""What is asked for on the list page: how far up, what the market bears, which rows to print."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from maker.web.fields import MoneyField, PercentField, WholeNumberField
from maker.workshop.inputs import WrongSteps, read_steps
from maker.workshop.models import Workshop
from pricing.calc.quantities.minimum_order import SETUP_LIMIT
from pricing.costs.forms import AskForm

MOST = 1_000
# where offcuts are credited no count follows from another; so many are planned in a few seconds
FIRST_WITH_OFFCUTS = 40
MOST_ROWS = 40


class QuantitiesForm(AskForm):
    """The question of the cost page, for every quantity up to a last one."""

    up_to = WholeNumberField(label="Calculate up to", at_least=2, at_most=MOST, initial=250)
    bears_each = MoneyField(
        label="Most people would pay (each)",
        required=False,
        above_zero=True,
        at_most=10_000_000,
        help_text="Used for the minimum order.",
    )
    setup_limit = PercentField(
        label="Maximum set-up share",
        required=False,
        initial=SETUP_LIMIT,
        help_text="Share of the cost. Used for the minimum order.",
    )
    steps = forms.CharField(
        label="Quantities on the list",
        required=False,
        max_length=300,
        help_text="With commas. Leave blank for your usual ones.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.workshop.offcut_value == Workshop.OffcutValue.AREA:
            self.fields["up_to"].initial = FIRST_WITH_OFFCUTS
            self.fields["up_to"].help_text = (
                "What is left of a sheet counts, so each quantity is planned by itself: a long "
                "list takes a while the first time."
            )
        self.order_fields(
            ["quantity", "bought_at_once", "up_to", "channel", "colourway", *self.option_names,
             "bears_each", "setup_limit", "steps", "names", "delivery", "rush"]
        )  # fmt: skip

    def clean_steps(self) -> tuple[int, ...]:
        """Read the quantities of the list."""
        text = (self.cleaned_data.get("steps") or "").strip()
        try:
            steps = read_steps(text or self.workshop.quantity_steps, most=MOST_ROWS)
        except WrongSteps as wrong:
            raise ValidationError(str(wrong)) from wrong
        return steps

    def clean(self) -> dict[str, Any]:
        """Keep the quantities within what is worked out."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        quantity, last = given.get("quantity"), given.get("up_to")
        if quantity and quantity > MOST:
            self.add_error("quantity", f"The list goes up to {MOST}. For more, use the Price page.")
        elif quantity and last and quantity > last:
            given["up_to"] = quantity
        return given

    def limit(self) -> Decimal:
        """Return the share of set-up a good order stays under."""
        given = self.cleaned_data.get("setup_limit")
        return SETUP_LIMIT if given is None else given
