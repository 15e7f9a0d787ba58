"""What each material would fetch at the year's end."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from catalogue.materials.models import Material, MaterialQuerySet
from maker.web.fields import MoneyField, WorkshopForm, tell_fields
from maker.web.lists import FilterForm


class StockFilter(FilterForm):
    """Narrows the materials whose stock is valued."""

    def narrow_by(self, queryset: MaterialQuerySet, values: dict[str, Any]) -> MaterialQuerySet:
        """Return the materials that match."""
        return queryset.matching(values["search"]) if values else queryset


class WouldFetchForm(WorkshopForm):
    """For each material what one unit would fetch, and whether it is sold on above cost."""

    def __init__(self, *args: Any, materials: Sequence[Material], **options: Any) -> None:
        super().__init__(*args, **options)
        self.materials = materials
        for material in materials:
            self.fields[self.name_of(material.pk)] = MoneyField(
                label=f"{material.name}: would fetch per {material.unit}",
                required=False,
                at_most=1_000_000,
                initial=material.fetches_each,
            )
            self.fields[f"above_{material.pk}"] = forms.BooleanField(
                label=f"{material.name}: sold above cost",
                required=False,
                initial=material.is_sold_above_cost,
            )
        tell_fields(self, self.workshop)

    @staticmethod
    def name_of(material_id: int) -> str:
        """Return the name of the entry of what it would fetch; sent though it is blank."""
        return f"fetches_{material_id}"

    def entries(self, material: Material) -> tuple[Any, Any]:
        """Return the two fields of a material."""
        return self[self.name_of(material.pk)], self[f"above_{material.pk}"]

    def changed(self) -> list[Material]:
        """Return the materials whose entries differ, with the new values set."""
        found = []
        for material in self.materials:
            fetches: Decimal | None = self.cleaned_data[self.name_of(material.pk)]
            above: bool = self.cleaned_data[f"above_{material.pk}"]
            if (fetches, above) != (material.fetches_each, material.is_sold_above_cost):
                material.fetches_each, material.is_sold_above_cost = fetches, above
                found.append(material)
        return found
