"""Which month to close, and why one is reopened."""

import datetime
from collections.abc import Sequence
from typing import Any, cast

from django import forms

from maker.web.fields import OneLineField


class CloseForm(forms.Form):
    """The month to close; those before it are closed along."""

    use_required_attribute = False
    month = forms.ChoiceField(label="Close up to", help_text="Months before it are closed too.")

    def __init__(self, *args: Any, months: Sequence[datetime.date], **options: Any) -> None:
        super().__init__(*args, **options)
        choices = [(f"{month:%Y-%m}", f"{month:%B %Y}") for month in months]
        cast(forms.ChoiceField, self.fields["month"]).choices = choices

    def clean_month(self) -> datetime.date:
        """Return its first day."""
        return datetime.date.fromisoformat(f"{self.cleaned_data['month']}-01")


class ReopenForm(forms.Form):
    """Why a closed month is opened again."""

    use_required_attribute = False
    reason = OneLineField(
        max_length=200,
        help_text="Later months are reopened too. The record stays.",
        error_messages={"required": "Enter a reason, for your records."},
    )
