"""Which orders are cut together with this one."""

from typing import Any

from django import forms

from maker.web.fields import WholeNumberField
from pricing.orders.models import Order

MOST_ORDERS = 12


class TogetherForm(forms.Form):
    """Other orders still to be made; sent by GET, so that the address keeps them."""

    use_required_attribute = False
    also = forms.MultipleChoiceField(
        label="Cut together with", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, others: list[Order], **options: Any) -> None:
        super().__init__(*args, **options)
        self.others = {str(order.pk): order for order in others}
        field: Any = self.fields["also"]
        field.choices = [
            (key, f"{order}, {order.quote.customer.name}") for key, order in self.others.items()
        ]

    def chosen(self) -> list[Order]:
        """Return the orders that were ticked."""
        return [self.others[key] for key in self.cleaned_data.get("also", [])]


class QuantityForm(forms.Form):
    """How many are made in a batch; sent by GET, the answer is what the recipe needs."""

    use_required_attribute = False
    quantity = WholeNumberField(
        label="Batch size",
        at_least=1,
        at_most=1_000_000,
        help_text="Materials and minutes below are for so many.",
    )


def others_to_make(order: Order) -> list[Order]:
    """Return other orders whose items are still to be made, by date (one query)."""
    rows = Order.objects.of(order.workshop).to_make().exclude(pk=order.pk)
    return list(rows.in_short().most_urgent_first()[:MOST_ORDERS])
