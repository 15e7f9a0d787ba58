"""What is asked for on the page that says how sure a price is."""

from decimal import Decimal
from typing import Any

from maker.web.fields import MoneyField, PercentField
from pricing.costs.forms import AskForm

USUAL_CHANCE = Decimal("0.9")


class RangeForm(AskForm):
    """The question of the cost page, a price to judge and a chance to reach."""

    asked_price = MoneyField(
        label="Price to test",
        required=False,
        above_zero=True,
        at_most=10_000_000,
        help_text="Leave blank for the suggested price.",
    )
    chance = PercentField(
        label="Target chance",
        required=False,
        initial=USUAL_CHANCE,
        at_most=99,
        help_text="Of covering your wage and the bills.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.order_fields(["quantity", "bought_at_once", "asked_price", "chance"])

    def wanted_chance(self) -> Decimal:
        """Return the chance asked for; the usual one when none was said."""
        return self.cleaned_data.get("chance") or USUAL_CHANCE
