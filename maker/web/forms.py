"""How forms look: our templates for fields, forms and rows, and units beside a field.

A form field that has an attribute `unit` ("mm", "min", "%", "EUR") shows it beside the entry
and has it read out with the entry. Everything else is plain Django: `{{ form }}`,
`{{ field.as_field_group }}` and `{{ formset }}` render through templates/components/.
"""

from typing import Any

from django.forms import BoundField, CheckboxInput
from django.forms.renderers import TemplatesSetting


class FieldWithUnit(BoundField):
    """A field on a page; knows its unit and joins it to the entry for those who listen."""

    @property
    def unit(self) -> str:
        """What stands beside the entry, empty if nothing does."""
        return str(getattr(self.field, "unit", ""))

    @property
    def aria_describedby(self) -> str | None:
        """Name the hint, the error and the unit, in that order."""
        described_by = super().aria_describedby
        if described_by is None or not self.unit or not self.auto_id or self.is_hidden:
            return described_by
        return f"{described_by} {self.auto_id}_unit".strip()

    @property
    def is_tick(self) -> bool:
        """Whether the entry is one checkbox, whose label stands behind it."""
        return isinstance(self.field.widget, CheckboxInput)


class FormRenderer(TemplatesSetting):
    """Renders forms with the components of this project."""

    form_template_name = "components/form.html"
    field_template_name = "components/field.html"
    formset_template_name = "components/rows.html"
    bound_field_class: Any = FieldWithUnit
