"""What is asked for when channels are laid side by side."""

from typing import Any

from maker.web.fields import MoneyField
from pricing.costs.forms import AskForm


class ComparisonForm(AskForm):
    """The question of the cost page, and one price for the last customer in every channel."""

    customer_each = MoneyField(
        label="Price each, in every channel",
        required=False,
        above_zero=True,
        at_most=10_000_000,
        help_text="What the final customer pays. Leave blank for the channel's price.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.order_fields(["quantity", "channel", "customer_each"])
        # carriage is passed on at cost, so it is the same everywhere; what one buyer takes is what
        # they usually take in each channel
        del self.fields["delivery"], self.fields["bought_at_once"]
