"""How forms look: our templates for fields, forms and rows, and units beside a field.

A form field that has an attribute `unit` ("mm", "min", "%", "EUR") shows it beside the entry
and has it read out with the entry. Everything else is plain Django: `{{ form }}`,
`{{ field.as_field_group }}` and `{{ formset }}` render through templates/components/.
"""

from typing import Any

from django.forms import BaseForm, BoundField, CheckboxInput, Field, RadioSelect, Select
from django.forms.renderers import TemplatesSetting

from maker.web.widgets import write_widget


class FieldWithUnit(BoundField):
    """A field on a page; knows its unit and joins it to the entry for those who listen."""

    def __init__(self, form: BaseForm, field: Field, name: str) -> None:
        super().__init__(form, field, name)
        # Made before the form is checked, so this is the place to say it in our words everywhere.
        if field.error_messages.get("required") == Field.default_error_messages["required"]:
            is_choice = isinstance(field.widget, Select | RadioSelect)
            field.error_messages["required"] = "Choose one." if is_choice else "Fill this in."

    @property
    def unit(self) -> str:
        """What is shown beside the entry, empty if nothing is."""
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

    def render(self, template_name: str, context: Any, request: Any = None) -> Any:
        """Write the plainest widgets directly, everything else from its template."""
        written = write_widget(template_name, context)
        return super().render(template_name, context, request) if written is None else written
