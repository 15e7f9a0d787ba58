"""Which offcuts of a plan go into the box: the rows that are offered, and what is ticked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.safestring import SafeString

from catalogue.cutting_plans.drawing import plan_pages
from catalogue.cutting_plans.forms import MOST_KEPT, KeepRowForm
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import Keeping
from catalogue.cutting_plans.small_drawings import layouts_leaving, small_layout
from catalogue.cutting_plans.stored import JobGroup, Plan, read_groups, read_plans
from catalogue.cutting_plans.usage import SLIVER_MM, Left, left_over
from catalogue.materials.models import Material
from catalogue.offcuts.services import check_size
from maker.calc.refusal import Refusal
from maker.web.fields import DayField, tell_fields
from maker.web.rows import RowsFormSet, rows_of
from maker.workshop.models import Workshop

# a size left by many layouts is shown on the first of them
MOST_DRAWN = 2


class KeepForm(forms.Form):
    """The day the offcuts were put away."""

    use_required_attribute = False
    kept_on = DayField(label="Date")


class _Rows(RowsFormSet):
    """Rows in the unit of one workshop."""

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        self.workshop = workshop
        super().__init__(*args, **options)

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        """Read lengths in her unit."""
        super().add_fields(form, index)
        tell_fields(form, self.workshop)


KeepRows = rows_of(KeepRowForm, base=_Rows, spare=0, at_most=MOST_KEPT)


def keep_rows(workshop: Workshop, groups: Sequence[JobGroup], plans: Sequence[Plan]) -> list[Left]:
    """Return the offcuts that are offered, large enough to keep first; slivers are waste."""
    left = [one for one in left_over(groups, plans) if one.shorter_mm >= SLIVER_MM]
    left.sort(key=lambda one: one.shorter_mm < workshop.offcut_least_mm)
    return left[:MOST_KEPT]


@dataclass(frozen=True, slots=True)
class NamedRow:
    """A row of the form, what it is of, and the layouts it comes from, the first few drawn."""

    form: Any
    material: Material | None
    layouts: list[tuple[int, SafeString]]
    more: int


class KeepEntry:
    """The rows of a plan's offcuts, those worth keeping ticked."""

    def __init__(self, workshop: Workshop, plan: CuttingPlan, data: Any = None) -> None:
        groups = read_groups(plan.jobs)
        plans = read_plans(plan.plans, groups)
        self.pages = plan_pages(groups, plans, workshop)
        self.left = left = keep_rows(workshop, groups, plans)
        self.materials = {
            str(material.pk): material
            for material in Material.objects.of(workshop).filter(
                pk__in={one.source.material for one in left}
            )
        }
        self.form = KeepForm(data, initial={"kept_on": timezone.localdate()})
        self.rows = KeepRows(
            data,
            prefix="offcuts",
            workshop=workshop,
            initial=[
                {
                    "keep": one.shorter_mm >= workshop.offcut_least_mm,
                    "material": str(one.source.material),
                    "width": one.width_mm,
                    "height": one.height_mm,
                    "count": one.count,
                }
                for one in left
            ],
        )

    def named_rows(self) -> list[NamedRow]:
        """Return each row with its material and the layouts that leave it."""
        leaving = layouts_leaving(self.pages)
        found = []
        for form, one in zip_longest(self.rows.forms, self.left[: len(self.rows.forms)]):
            size = (one.source.material, one.width_mm, one.height_mm) if one else None
            numbers = leaving.get(size, []) if size else []
            found.append(
                NamedRow(
                    form,
                    self.materials.get(str(form["material"].value() or "")),
                    [
                        (number, small_layout(self.pages, number, size))
                        for number in numbers[:MOST_DRAWN]
                    ],
                    max(len(numbers) - MOST_DRAWN, 0),
                )
            )
        return found

    def is_valid(self) -> bool:
        """Say whether all can be read; a ticked size must fit the sheet it came from."""
        if not (self.form.is_valid() & self.rows.is_valid()):
            return False
        for form in self.rows.forms:
            given = form.cleaned_data
            if not given.get("keep"):
                continue
            material = self.materials.get(given["material"])
            if material is None:
                form.add_error(None, "This offcut is not of this plan.")
                continue
            try:
                check_size(material, given["width"], given["height"])
            except Refusal as refusal:
                form.add_error(refusal.where or None, refusal.message)
        return not any(form.errors for form in self.rows.forms)

    def kept(self) -> list[Keeping]:
        """Return what is ticked."""
        return [
            Keeping(
                material=self.materials[given["material"]],
                width_mm=given["width"],
                height_mm=given["height"],
                count=given["count"],
            )
            for given in (form.cleaned_data for form in self.rows.forms)
            if given.get("keep")
        ]
