"""Entry of a change of an order, and of the customer's answer to it."""

from collections.abc import Sequence
from typing import Any

from django import forms

from catalogue.recipes.models import Colourway
from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    LongText,
    MoneyField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
    tell_fields,
)
from maker.web.rows import ChosenRowField, rows_by_key
from pricing.orders.approvals import NamedLine
from pricing.orders.changes import ChangeInput
from pricing.orders.models import OrderChange
from pricing.quotes.models import QuoteLine

MOST = 1_000_000
MOST_TYPED = 400_000  # far beyond any list of names, so that its count can be told
HOW = [(how.value, how.label) for how in OrderChange.How if how != OrderChange.How.LINK]


class ChangeForm(EditedForm, WorkshopForm):
    """What a change says, how many of each ordered item there shall be, and its own lines."""

    note = forms.CharField(
        label="Note for the customer",
        max_length=500,
        required=False,
        widget=LongText(attrs={"rows": 3}),
    )
    due_on = DayField(
        label="New due date", required=False, help_text="Leave blank to keep the date."
    )

    fee = MoneyField(label="Extra fee", required=False, at_most=10_000_000, in_coins=True)
    fee_reason = OneLineField(
        label="Fee for",
        max_length=120,
        required=False,
        help_text="The customer reads it, like “Express printing”.",
    )

    def __init__(
        self,
        *args: Any,
        change: OrderChange,
        ordered: Sequence[QuoteLine],
        extras: Sequence[QuoteLine],
        fewer: dict[int, int],
        ways: dict[int, list[Colourway]],
        **options: Any,
    ) -> None:
        self.instance = change
        names = ("note", "due_on", "fee", "fee_reason")
        initial = {name: getattr(change, name) for name in names}
        super().__init__(*args, initial=initial, **options)
        self.ordered, self.extras = ordered, extras
        fields: dict[str, Any] = self.fields
        for line in ordered:
            fields[f"count_{line.pk}"] = WholeNumberField(
                label=f"Quantity of {line.design}",
                at_most=MOST,
                initial=line.quantity - fewer.get(line.pk, 0),
            )
            others = [way for way in ways.get(line.version_id, []) if way.pk != line.colourway_id]
            if others:
                way = ChosenRowField(
                    label=f"Colourway of {line.design}",
                    empty_label=line.colourway_name or "As in the recipe",
                    required=False,
                )
                way.use_rows(rows_by_key(others))
                fields[f"way_{line.pk}"] = way
        for line in extras:
            fields[f"extra_{line.pk}"] = WholeNumberField(
                label=f"Quantity of {line.design}",
                at_most=MOST,
                required=False,
                initial=line.quantity,
            )
            fields[f"price_{line.pk}"] = MoneyField(
                label=f"Price each of {line.design}",
                required=False,
                at_most=10_000_000,
                initial=line.price_asked,
            )
        tell_fields(self, self.workshop)

    def ordered_rows(self) -> list[tuple[QuoteLine, Any, Any]]:
        """Return each ordered line with its entries, for the template."""
        return [
            (
                line,
                self[f"count_{line.pk}"],
                self[f"way_{line.pk}"] if f"way_{line.pk}" in self.fields else None,
            )
            for line in self.ordered
        ]

    def extra_rows(self) -> list[tuple[QuoteLine, Any, Any]]:
        """Return each line of the change with its entries."""
        return [(line, self[f"extra_{line.pk}"], self[f"price_{line.pk}"]) for line in self.extras]

    def typed(self) -> ChangeInput:
        """Return what was typed."""
        values = self.cleaned_data
        ways = {line.pk: values.get(f"way_{line.pk}") for line in self.ordered}
        return ChangeInput(
            note=values["note"],
            due_on=values["due_on"],
            fee=values["fee"],
            fee_reason=values["fee_reason"],
            counts={line.pk: int(values[f"count_{line.pk}"]) for line in self.ordered},
            colourways={key: way for key, way in ways.items() if way is not None},
            extras={
                line.pk: (int(values[f"extra_{line.pk}"]), values[f"price_{line.pk}"])
                for line in self.extras
                # one that was added meanwhile, or left blank, stays
                if values[f"extra_{line.pk}"] is not None
            },
        )


class NamesFields(forms.Form):
    """Mixed into a form: the names of each line that bears them, one to a row."""

    def __init__(self, *args: Any, named: Sequence[NamedLine], **options: Any) -> None:
        super().__init__(*args, **options)
        self.named = named
        for each in named:
            way = f", {each.line.colourway_name}" if each.line.colourway_name else ""
            self.fields[f"line_{each.line.pk}"] = forms.CharField(
                label=f"{each.line.design}{way}",
                required=False,
                max_length=MOST_TYPED,
                widget=LongText(attrs={"rows": min(max(each.most, 3), 15), "autocomplete": "off"}),
                help_text=f"One name per line, {each.most} in all.",
                initial="\n".join(each.names),
                error_messages={"max_length": f"That is too much. Enter {each.most} names."},
            )

    def names(self) -> dict[int, str]:
        """Return the names by key of the line."""
        return {each.line.pk: self.cleaned_data[f"line_{each.line.pk}"] for each in self.named}


class NamesForm(NamesFields):
    """The names on items."""

    use_required_attribute = False


class ApprovalForm(forms.Form):
    """Who approved, how and when."""

    use_required_attribute = False
    who = OneLineField(
        label="Approved by", max_length=120, error_messages={"required": "Enter who approved it."}
    )
    how = forms.ChoiceField(label="Reply", choices=HOW)
    on = DayField(label="Date", required_text="Enter the date.")


class AnswerForm(forms.Form):
    """Who answered, how and when; a no may say why."""

    use_required_attribute = False
    who = OneLineField(
        label="Answered by", max_length=120, error_messages={"required": "Enter who answered."}
    )
    how = forms.ChoiceField(label="Reply", choices=HOW)
    on = DayField(label="Date", required_text="Enter the date of the answer.")
    note = OneLineField(label="Reason", max_length=300, required=False, help_text="Only for a no.")
