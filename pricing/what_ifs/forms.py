"""Sliders for what would be different, a price she has in mind, and a tool she might buy."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from maker.web.fields import MinutesField, MoneyField
from pricing.calc.what_if.changes import JobChange
from pricing.costs.forms import AskForm

HUNDRED = Decimal(100)


class Slider(forms.NumberInput):
    """A slider; its number is said beside it by static/js/slider.js."""

    input_type = "range"
    template_name = "django/forms/widgets/input.html"


class SliderField(forms.IntegerField):
    """A change in percent (or points) set with a slider."""

    def __init__(
        self, *, least: int, most: int, step: int = 5, said_in: str = "%", **options: Any
    ) -> None:
        self.least, self.most, self.said_in = least, most, said_in
        looks = {"step": step, "class": "slider", "data-unit": said_in}
        super().__init__(
            min_value=least,
            max_value=most,
            required=False,
            initial=0,
            widget=Slider(attrs=looks),
            error_messages={"invalid": "Enter a whole number."},
            **options,
        )
        self.validators = [self._within]

    def _within(self, value: int) -> None:
        """Say limits as every other field does."""
        if not self.least <= value <= self.most:
            raise ValidationError(
                f"From {self.least} to {self.most} {self.said_in}.", code="out_of_range"
            )


class WhatIfForm(AskForm):
    """The question of the cost page with what would be different."""

    wage = SliderField(label="Wage", least=-50, most=100)
    minutes = SliderField(label="Minutes of work", least=-50, most=100)
    material = SliderField(label="Price of materials", least=-50, most=100)
    role = forms.ChoiceField(label="Which material", required=False)
    margin = SliderField(label="Margin", least=-30, most=30, step=1, said_in="points")

    target = MoneyField(
        label="Target price each",
        required=False,
        above_zero=True,
        at_most=10_000_000,
    )

    tool_price = MoneyField(label="Tool cost", required=False, above_zero=True, at_most=1_000_000)
    tool_minutes = MinutesField(
        label="Minutes it saves per item", required=False, at_most=10_000, decimals=4
    )
    tool_cost = MoneyField(
        label="Material or wear it saves per item", required=False, at_most=100_000
    )

    SLIDERS = ("wage", "minutes", "material", "margin")

    def __init__(self, *args: Any, **options: Any) -> None:
        version = options["version"]
        super().__init__(*args, **options)
        self.fields["role"].choices = [  # type: ignore[attr-defined]
            ("", "all materials"),
            *((role.name, f"{role.name}: {role.material}") for role in version.roles.all()),
        ]
        self.fields["quantity"].widget.attrs["data-slide-to"] = "250"
        self.order_fields(["quantity", "bought_at_once", *self.SLIDERS, "role"])

    def changes_in_words(self) -> list[str]:
        """Return what the sliders say, for paper: “Minutes of work +20%”."""
        words = []
        for name in self.SLIDERS:
            field, value = self.fields[name], self.cleaned_data.get(name) or 0
            if value and isinstance(field, SliderField):
                unit = field.said_in if field.said_in == "%" else f" {field.said_in}"
                words.append(f"{field.label} {'+' if value > 0 else '−'}{abs(value)}{unit}")
        return words

    def change(self) -> JobChange:
        """Return what the sliders say."""
        given = {name: Decimal(self.cleaned_data.get(name) or 0) for name in self.SLIDERS}
        return JobChange(
            wage_factor=1 + given["wage"] / HUNDRED,
            minutes_factor=1 + given["minutes"] / HUNDRED,
            material_factor=1 + given["material"] / HUNDRED,
            margin_more=given["margin"] / HUNDRED,
            role=self.cleaned_data.get("role") or None,
        )
