"""What is typed about a link, and what a customer types by it."""

from typing import Any

from django import forms

from maker.web.fields import DayField, LongText, OneLineField
from pricing.orders.change_forms import NamesFields
from pricing.quotes.models import Quote

NAME_WANTED = "Enter your name."


class LinkForm(forms.Form):
    """Until when a link opens."""

    use_required_attribute = False
    form_key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    ends_on = DayField(
        label="Last day",
        required_text="Enter the last day the link opens.",
        help_text="After it the link opens nothing.",
    )


class CustomerForm(forms.Form):
    """Who answers; several of these stand on one page."""

    use_required_attribute = False
    name = OneLineField(label="Your name", max_length=120, error_messages={"required": NAME_WANTED})

    def __init__(self, data: Any = None, *, about: str, **options: Any) -> None:
        super().__init__(data, auto_id=f"{about}-%s", **options)
        self.fields["name"].widget.attrs["autocomplete"] = "name"


class AcceptForm(CustomerForm):
    """A yes."""


class AskForm(CustomerForm):
    """A question."""

    text = forms.CharField(
        label="Your question",
        max_length=2000,
        widget=LongText(attrs={"rows": 4}),
        error_messages={"required": "Enter your question."},
    )


class ChangeAnswerForm(CustomerForm):
    """A yes or no to a change of an order."""

    note = OneLineField(label="Anything to add", max_length=300, required=False)


class ApproveForm(CustomerForm):
    """A yes to the proof or the names."""


class NamesForm(NamesFields, CustomerForm):
    """The names on items, and who entered them."""


class DeclineForm(CustomerForm):
    """A no, and why."""

    reason = forms.ChoiceField(
        label="Reason", choices=Quote.Reason, required=False, widget=forms.RadioSelect
    )
    note = OneLineField(label="Anything to add", max_length=300, required=False)
