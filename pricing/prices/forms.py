"""Narrowing the price list."""

from typing import Any

from django import forms

from maker.web.lists import FilterForm
from pricing.channels.models import Channel


class PriceFilterForm(FilterForm):
    """By design and channel."""

    channel = forms.ChoiceField(required=False)

    def __init__(self, *args: Any, channels: list[Channel], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["channel"].choices = [("", "All"), *((str(c.pk), c.name) for c in channels)]  # type: ignore[attr-defined]

    def narrow_by(self, queryset: Any, values: dict[str, Any]) -> Any:
        """Keep the prices that match."""
        if "search" in values:
            queryset = queryset.filter(design__name__icontains=values["search"])
        if "channel" in values:
            queryset = queryset.filter(channel_id=values["channel"])
        return queryset
