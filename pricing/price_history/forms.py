"""What is asked for on the page that says why a price changed: its two sides."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.formats import date_format

from maker.calc.money import format_money
from pricing.costs.forms import AskForm
from pricing.prices.inputs import item_words
from pricing.prices.models import PriceListEntry

WORKED_OUT = "today"


def entry_words(entry: PriceListEntry) -> str:
    """Name a price of the list."""
    workshop = entry.design.workshop
    price = format_money(entry.price, workshop.currency, workshop.locale)
    from_words = f", from {entry.bought_at_once}" if entry.bought_at_once > 1 else ""
    replaced = "" if entry.replaced_at is None else ", since replaced"
    set_on = date_format(entry.set_at, "j M Y")
    item = item_words(entry)
    what = f", {item}" if item else ""
    return f"{price}{what}, {set_on}, {entry.channel.name}{from_words}{replaced}"


class SideForm(AskForm):
    """One side: a price that was kept, or one worked out as of today for what is asked."""

    kept = forms.ChoiceField(label="Price", required=False)
    version = forms.ChoiceField(label="Version", required=False)
    # what the fields are called in the address
    title, kept_name, before = "To", "to", ""

    def __init__(
        self,
        *args: Any,
        entries: Sequence[PriceListEntry],
        numbers: Sequence[int],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.entries = {str(entry.pk): entry for entry in entries}
        fields: Any = self.fields
        fields["kept"].choices = [
            (WORKED_OUT, "Today's calculation, for:"),
            *((pk, entry_words(entry)) for pk, entry in self.entries.items()),
        ]
        fields["version"].choices = [(str(number), f"Version {number}") for number in numbers]
        if len(numbers) < 2:
            fields["version"].widget = forms.HiddenInput()
        self.order_fields(["kept", "version", "quantity", "bought_at_once"])

    def add_prefix(self, field_name: str) -> str:
        """Return what a field is called in the address."""
        return self.kept_name if field_name == "kept" else self.before + field_name

    def chosen_entry(self) -> PriceListEntry | None:
        """Return the kept price of this side; None when it is worked out."""
        return self.entries.get(self.cleaned_data.get("kept") or "")

    def asked_fields(self) -> list[Any]:
        """Return the fields of a price that is worked out."""
        return [field for field in self.visible_fields() if field.name != "kept"]


class OldSideForm(SideForm):
    """The side the price history begins at."""

    title, kept_name, before = "From", "from", "was_"


class NewSideForm(SideForm):
    """The side it leads to."""
