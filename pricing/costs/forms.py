"""What is asked for on the cost page: quantity, channel, colourway, options, rush, delivery."""

from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField

from catalogue.recipes.models import Colourway, DesignVersion
from maker.web.fields import MoneyField, WholeNumberField, WorkshopForm
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.channels.models import Channel

OPTION_PREFIX = "option_"
# of a price that cannot be read so much is shown again
LONGEST_PRICE = 40
# asked now and then: folded on the page until one of them is used
RARE = ("bought_at_once", "names", "delivery", "rush")


class AskForm(WorkshopForm):
    """Sent by GET, so that the address keeps the question; everything has a default."""

    quantity = WholeNumberField(label="Made at once", at_least=1, at_most=1_000_000)
    bought_at_once = WholeNumberField(
        label="Bought at once",
        required=False,
        at_least=1,
        at_most=1_000_000,
        help_text="By one buyer. Leave blank for the channel's usual.",
    )
    channel = forms.ChoiceField(label="Sales channel", required=False)
    colourway = forms.ChoiceField(label="Colourway", required=False)
    names = WholeNumberField(
        label="Names", required=False, at_most=1_000_000, help_text="Leave blank for one per item."
    )
    rush = forms.BooleanField(label="Rush order", required=False)
    delivery = MoneyField(
        label="Delivery cost",
        required=False,
        at_most=1_000_000,
        help_text="Charged at cost.",
    )

    def __init__(
        self,
        *args: Any,
        workshop: Workshop,
        version: DesignVersion,
        channels: list[Channel],
        **options: Any,
    ) -> None:
        super().__init__(*args, workshop=workshop, **options)
        self.channels = {str(channel.pk): channel for channel in channels}
        self.colourways = {str(way.pk): way for way in version.colourways.all()}
        self.fields["channel"].choices = [(pk, row.name) for pk, row in self.channels.items()]  # type: ignore[attr-defined]
        self.fields["colourway"].choices = [  # type: ignore[attr-defined]
            ("", "As in the recipe"),
            *((pk, row.name) for pk, row in self.colourways.items()),
        ]
        if len(channels) < 2:
            self.fields["channel"].widget = forms.HiddenInput()
        if not self.colourways:
            del self.fields["colourway"]
        self.option_names = []
        for option in version.options.all():
            choices = list(option.choices.all())
            name = OPTION_PREFIX + option.key
            default = next((c.key for c in choices if c.is_default), choices[0].key)
            self.fields[name] = forms.ChoiceField(
                label=option.name,
                choices=[(choice.key, choice.name) for choice in choices],
                required=False,
                initial=default,
            )
            self.option_names.append(name)
        bases = [step.basis for step in version.steps.all()]
        bases += [fixing.basis for fixing in version.fixings.all()]
        if "name" not in bases:
            del self.fields["names"]
        self.order_fields(
            [
                "quantity",
                "bought_at_once",
                "channel",
                "colourway",
                *self.option_names,
                "names",
                "delivery",
                "rush",
            ]
        )

    @property
    def usual_fields(self) -> list[BoundField]:
        """What is asked each time."""
        return [field for field in self.visible_fields() if field.name not in RARE]

    @property
    def rare_fields(self) -> list[BoundField]:
        """What is asked now and then."""
        return [field for field in self.visible_fields() if field.name in RARE]

    @property
    def is_rare_asked(self) -> bool:
        """Whether one of those is filled in or wrong, so that it must be seen."""
        return any(field.value() or field.errors for field in self.rare_fields)

    def ask(self) -> Ask:
        """Return the question as a value."""
        given = self.cleaned_data
        bought = given.get("bought_at_once")
        return Ask(
            # what one buyer takes is made at once
            quantity=max(given["quantity"], bought or 1),
            choices=tuple(
                (name.removeprefix(OPTION_PREFIX), given[name])
                for name in self.option_names
                if given.get(name)
            ),
            names=given.get("names"),
            is_rush=bool(given.get("rush")),
            delivery=given.get("delivery") or Decimal(0),
            bought_at_once=bought,
        )

    def chosen_channel(self) -> Channel | None:
        """Return the channel asked for, the first one when none was said."""
        return self.channels.get(self.cleaned_data.get("channel") or "") or next(
            iter(self.channels.values()), None
        )

    def chosen_colourway(self) -> Colourway | None:
        """Return the colourway asked for."""
        return self.colourways.get(self.cleaned_data.get("colourway") or "")


class SetPriceForm(WorkshopForm):
    """The price to ask for what the cost page shows."""

    price = MoneyField(label="Price each", above_zero=True, at_most=10_000_000)
