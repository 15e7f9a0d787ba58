"""The recipe editor: a document as forms, and what was sent back as a document.

Rows refer to uses of materials and to choices by the words in this very post, so that what
is typed in one section can be used in another before anything is saved.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.utils.safestring import SafeString

from catalogue.calc.recipes.areas import format_area
from catalogue.calc.recipes.columns import HEAD, ROWS
from catalogue.calc.recipes.document import MOST_ROWS, Document, DocumentProblem
from catalogue.calc.recipes.glue_rates import told_rate
from catalogue.materials.models import Material
from catalogue.materials.swatches import swatches_by_name
from catalogue.recipes import forms
from catalogue.recipes.adding import Offered, offered_parts, with_other_materials
from catalogue.recipes.folded_fields import SIZE
from catalogue.recipes.piece_form import PieceForm, fill_sizes
from catalogue.recipes.row_form import Names, RecipeRowForm
from catalogue.recipes.sent import SentRecipe, length_text, unit_in
from catalogue.recipes.whole_sizes import WholeSize, whole_sizes
from maker.calc.amounts import READ_PLACES, typed_amount
from maker.calc.units import format_number
from maker.web.fields import LengthField, MoneyField, NumberField
from maker.workshop.models import Workshop

_PATH = re.compile(r"(\w+)\[(\d+)\](?:\.(choices|materials)(?:\[(\d+)\])?)?(?:\.when)?(?:\.(.*))?")


@dataclass(frozen=True, slots=True)
class _Section:
    key: str
    title: str
    lead: str
    form: type[RecipeRowForm]
    spare: int
    add_label: str


SECTIONS = (
    _Section(
        "roles",
        "Materials",
        "List each material once with its role: body, lid, ribbon, glue.",
        forms.MaterialRoleForm,
        3,
        "Add a material",
    ),
    _Section(
        "pieces",
        "Pieces",
        "What you cut from sheets for one item.",
        PieceForm,
        3,
        "Add a piece",
    ),
    _Section(
        "fixings",
        "Fixings and glue",
        "Other parts and glue: 2 brads, 35 cm of twine, 1.8 ml of glue.",
        forms.FixingForm,
        3,
        "Add a fixing",
    ),
    _Section(
        "steps",
        "Steps",
        "Your minutes: setting up once, then for per item made, each sheet or batch. Drying too.",
        forms.StepForm,
        3,
        "Add a step",
    ),
    _Section(
        "wears",
        "Tool wear",
        "Tools that wear out: a blade that lasts 60 sheets, cutting plates.",
        forms.WearForm,
        1,
        "Add a tool",
    ),
    _Section(
        "packings",
        "Packaging",
        "What it is sold or sent in: a sleeve for one, cartons of 40 from 12.",
        forms.PackingForm,
        1,
        "Add packaging",
    ),
    _Section(
        "choices",
        "Options",
        "Choices you offer. Under “More” on any row, pick its choice. Leave the option blank to "
        "add a choice to the one above.",
        forms.ChoiceForm,
        2,
        "Add a choice",
    ),
    _Section(
        "swaps",
        "Colourways",
        "A colourway swaps materials. Leave it blank to add to the one above.",
        forms.SwapForm,
        2,
        "Add to a colourway",
    ),
)


def materials_of(workshop: Workshop) -> dict[str, Material]:
    """Load name, kind and whether it is in use of every material, once for a page."""
    rows = Material.objects.of(workshop).by_name().only("name", "code", "kind", "retired_on")
    return {material.name: material for material in rows}


class RecipeEditor:
    """All shapes of one recipe; `document` once `is_valid` said yes."""

    def __init__(
        self,
        *,
        workshop: Workshop,
        materials: dict[str, Material],
        document: Document | None = None,
        data: Any = None,
        is_checked: bool = True,
        opened: str = "",
        opens_last: bool = False,
    ) -> None:
        """`opened` is the section to begin with; `opens_last`: with its last row open."""
        self.opened, self.opens_last = opened, opens_last
        self.workshop, self.materials = workshop, materials
        self.is_bound = data is not None
        if data is not None:
            data = with_other_materials(_with_missing_rows(data, workshop), materials)
        self.document: Document = {}
        self.places: dict[str, Any] = {}
        initial = {} if document is None else _Shown(self, document).initial()
        options: dict[str, Any] = {"workshop": workshop}
        self.head = forms.HeadForm(data, prefix="recipe", initial=initial.get("recipe"), **options)
        self.names = names = Names()
        self.formsets = {}
        # options and materials first: the other rows refer to them
        for section in sorted(SECTIONS, key=lambda one: one.key not in ("roles", "choices")):
            self.formsets[section.key] = forms.rows_class(section.form, section.spare)(
                data,
                prefix=section.key,
                initial=initial.get(section.key, []) if data is None else None,
                form_kwargs={**options, "names": names, "is_checked": is_checked},
            )
            if section.key in ("roles", "choices"):
                self._gather_names(names, section.key)

    def _gather_names(self, names: Names, key: str) -> None:
        """Let later rows choose among what these rows say now, as typed."""
        option = ""
        for form in self.formsets[key].forms:
            name = str(form["name"].value() or "").strip()[:200]
            if not name or str(form["DELETE"].value() or "") in ("on", "true", "True"):
                continue
            if key == "roles":
                material = str(form["material"].value() or "").strip()
                label = f"{name} ({material})" if material and material != name else name
                names.roles.append((name, label[:120]))
                names.materials[name] = material
            else:
                option = str(form["option"].value() or "").strip()[:200] or option
                names.choices.append((f"{option}: {name}",) * 2)

    @cached_property
    def sections(self) -> list[dict[str, Any]]:
        """What the page shows, in its order; the one that is worked on is open."""
        shown = []
        self.names.swatches.update(self.swatches)
        for section in SECTIONS:
            formset = self.formsets[section.key]
            used = [form for form in formset.forms if form["name"].value() or _is_used(form)]
            first = formset.forms[0].prefix if formset.forms else ""
            last = used[-1].prefix if used and self.opens_last else ""
            shown.append(
                {
                    "key": section.key,
                    "title": section.title,
                    "lead": section.lead,
                    "formset": formset,
                    "add_label": section.add_label,
                    "count": len(used),
                    "problems": formset.total_error_count() if self.has_errors else 0,
                    "open_row": last if used else first,
                }
            )
        filled = {one["key"] for one in shown if one["count"]}
        opened = self.opened or ("pieces" if "pieces" in filled else "roles")
        for one in shown:
            one["is_open"] = bool(one["problems"]) if self.has_errors else one["key"] == opened
        return shown

    @cached_property
    def swatches(self) -> dict[str, SafeString]:
        """The swatches of the materials these rows name."""
        rows = [form for key in ("roles", "swaps") for form in self.formsets[key].forms]
        named = {str(form["material"].value() or "").strip() for form in rows} & {*self.materials}
        found = Material.objects.of(self.workshop).filter(name__in=named).select_related("picture")
        drawn = swatches_by_name(found.by_name(), self.workshop)
        return {name: swatch for name, swatch in drawn.items() if swatch}

    @cached_property
    def whole_sizes(self) -> list[WholeSize]:
        """Each finished size of what is folded once, with the pieces it holds for."""
        return whole_sizes(self.formsets["pieces"].forms, self.workshop.unit)

    @cached_property
    def parts_to_add(self) -> list[Offered]:
        """Parts that go with the folded pieces and are not among them yet."""
        pieces = self.formsets["pieces"].forms
        there = [form for form in pieces if form.folded and form.prefix]
        return [
            one
            for one in offered_parts(there, self.workshop.unit)
            if not any(
                form.folded.name == one.part.companion.part
                and all(
                    form.sizes.get(name) == value
                    for name, value in one.part.sizes.items()
                    if name in one.part.companion.sizes
                )
                for form in there
            )
        ]

    @property
    def material_names(self) -> list[Material]:
        """Materials in use, offered while a name is typed."""
        return [one for one in self.materials.values() if one.retired_on is None]

    @property
    def has_errors(self) -> bool:
        """Whether something has to be mended."""
        return self.is_bound and bool(
            self.head.errors or any(one.total_error_count() for one in self.formsets.values())
        )

    def is_valid(self) -> bool:
        """Check every entry and, if each can be read, put the document together."""
        entries = [self.head.is_valid(), *(one.is_valid() for one in self.formsets.values())]
        if not all(entries):
            return False
        SentRecipe(self).read()
        return not self.has_errors

    def show_problems(self, problems: tuple[DocumentProblem, ...]) -> None:
        """Put what is wrong with the document beside the entry it is about."""
        for problem in problems:
            form, name = self._place_of(problem.path)
            form.add_error(name if name in form.fields else None, problem.message)

    def _place_of(self, path: str) -> tuple[Any, str]:
        found = _PATH.fullmatch(path)
        if not found:
            return self.head, path
        kind, number, inside, inner, name = found.groups()
        rows = self.places.get(kind, [])
        if int(number) >= len(rows):
            return self.head, ""
        row = rows[int(number)]
        if kind == "options":
            if inside and inner and int(inner) < len(row):
                return row[int(inner)], name or "name"
            return row[0], "option"
        if kind == "colourways":
            if inside and name in row:
                return row[name], "material"
            return next(iter(row.values())), "name"
        if kind == "pieces" and name and name.startswith("form_inputs"):
            size = SIZE + name.removeprefix("form_inputs").removeprefix(".")
            name = size if size in row.fields else "form"
        return row, name or ""


def _with_missing_rows(data: Any, workshop: Workshop) -> Any:
    """Begin the rows that are counted but were not sent: the page drops spare ones.

    A form that was just chosen gets its usual sizes.
    """
    data = data.copy()
    for section in SECTIONS:
        total = str(data.get(f"{section.key}-TOTAL_FORMS", ""))
        count = int(total) if total.isascii() and total.isdigit() and len(total) < 10 else 0
        for number in range(min(count, MOST_ROWS)):
            prefix = f"{section.key}-{number}"
            if f"{prefix}-name" not in data:
                section.form.begin(data, prefix)
            elif section.form is PieceForm:
                fill_sizes(data, prefix, workshop)
    return data


def _is_used(form: Any) -> bool:
    return bool("role" in form.fields and form["role"].value())


class _Shown:
    """A document as first values of the forms."""

    def __init__(self, editor: RecipeEditor, document: Document) -> None:
        self.editor, self.document = editor, document
        self.labels = {
            f"{option['key']}={choice['key']}": f"{option['name']}: {choice['name']}"
            for option in document["options"]
            for choice in option["choices"]
        }

    def initial(self) -> dict[str, Any]:
        """Return the first values of the head and of every section."""
        shown: dict[str, Any] = {
            "recipe": _values(forms.HeadForm, {key: self.document[key] for key in HEAD})
        }
        forms_of = {section.key: section.form for section in SECTIONS}
        for kind in ROWS:
            shown[kind] = [
                _values(forms_of[kind], {**row, **self.when(row)}) for row in self.document[kind]
            ]
        for row, document in zip(shown["pieces"], self.document["pieces"], strict=True):
            row["form_inputs"] = document["form_inputs"]
        for row, document in zip(shown["fixings"], self.document["fixings"], strict=True):
            row["amount"] = self.amount(document)
            if row["rate"] is not None:
                row["rate"] = self.rate(row["rate"], document["measure"])
        for row in shown["roles"]:
            row["was"] = row["name"]
        shown["choices"] = [
            {
                **choice,
                "option": option["name"],
                "option_key": option["key"],
                "was": f"{option['name']}: {choice['name']}",
            }
            for option in self.document["options"]
            for choice in option["choices"]
        ]
        shown["swaps"] = [
            {"name": colourway["name"], "role": role, "material": name}
            for colourway in self.document["colourways"]
            for role, name in colourway["materials"].items() or [("", "")]
        ]
        return shown

    def when(self, row: Document) -> dict[str, Any]:
        when = dict(row.get("when", {}))
        for key in ("only_with", "not_with"):
            if key in when:
                when[key] = self.labels[when[key]]
        return when

    def rate(self, kept: Decimal, measure: str) -> str:
        """Write what glue takes by the metre or the yard, exactly as it can be typed again."""
        workshop = self.editor.workshop
        told = told_rate(kept, measure, workshop.unit)
        return format_number(told, workshop.locale, READ_PLACES)

    def amount(self, row: Document) -> str:
        """Write how much as it can be typed: `0.35 m`, `2`, `19 11/16 in` of a line, `31 sq in`."""
        workshop, amount = self.editor.workshop, Decimal(row["amount"])
        if row["measure"] == "area":
            return format_area(amount, workshop.unit, workshop.locale)
        if row["measure"] in forms.ON_FOLDED_PIECES:
            return format_number(amount, workshop.locale)
        if row["measure"] in ("bead", "cut"):
            return length_text(amount, workshop, row["typed_in"])
        unit = unit_in(self.editor.materials, self.document["roles"], row["role"])
        return typed_amount(amount, unit, workshop.locale, workshop.unit, row["typed_in"])


def _values(form: Any, row: Document) -> dict[str, Any]:
    """Turn a document's entries into what the fields take."""
    numbers = (NumberField, MoneyField, LengthField)
    fields = form.base_fields
    return {
        key: Decimal(value)
        if isinstance(value, str) and isinstance(fields.get(key), numbers)
        else value
        for key, value in row.items()
        if key in fields
    }
