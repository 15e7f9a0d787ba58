"""The quick start of a design: a plain piece and how many, or a shape of the library."""

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from typing import Any, cast

from django import forms
from django.utils.safestring import SafeString

from catalogue.calc.flat_patterns import FORMS, form_named
from catalogue.calc.flat_patterns.pattern import Form
from catalogue.calc.flat_patterns.together import Companion, companions_of
from catalogue.calc.recipes.changes import ChangeWords
from catalogue.calc.recipes.form_blank import form_blank, sizes_in
from catalogue.calc.sheets.joining import strips_along
from catalogue.designs.services import FirstPiece, FirstRecipe
from catalogue.materials.models import Material
from catalogue.recipes.folded_fields import SIZE, FoldedFields
from catalogue.recipes.following import parts_beside
from catalogue.recipes.form_sizes import sizes_of_query, usual_sizes
from catalogue.shapes.groups import grouped
from catalogue.shapes.small_picture import small_picture
from maker.calc.refusal import Refusal
from maker.calc.units import format_length
from maker.web.fields import LengthField, MinutesField, OneLineField, WholeNumberField
from maker.web.rows import ChosenRowField, rows_by_key
from maker.workshop.models import Workshop

# what is asked of a material here: there may be thousands
_OF_MATERIAL = ("name", "kind", "width_mm", "height_mm", "trim_mm")
_SIMPLE = ("name", "material", "form", "width", "height", "count", "glue", "minutes", "set_up")


def _shapes() -> list[tuple[str, Any]]:
    groups = grouped(FORMS)
    return [
        ("", "A flat piece, cut to size"),
        *((group.title, [(one.name, one.title) for one in group.forms]) for group in groups),
    ]


def parts_of(form: Form) -> list[Companion]:
    """Return the parts that can be made from the sizes of a form alone."""
    found = []
    for one in companions_of(form.name):
        known = {*one.sizes, *one.proposals}
        is_whole = all(asked.is_optional or asked.name in known for asked in FORMS[one.part].inputs)
        if is_whole and (one.is_needed or not one.is_back):
            found.append(one)
    return found


class QuickStartForm(FoldedFields):
    """The least that has a price: what is cut for one item, of one material, and her minutes.

    A plain piece asks how many of it one item takes; a shape brings its blanks with their count,
    glue and scores, and the parts that are ticked.
    """

    name = OneLineField(label="Name", max_length=120)
    material = ChosenRowField(label="Made from", empty_label="Choose")
    form = forms.ChoiceField(label="Shape", choices=_shapes, required=False)
    width = LengthField(label="Cut width")
    height = LengthField(label="Cut height")
    count = WholeNumberField(
        label="Pieces per item",
        at_least=1,
        at_most=10_000,
        initial=1,
        help_text="2 if an item has two such halves.",
    )
    parts = forms.MultipleChoiceField(
        label="Parts that go with it", required=False, widget=forms.CheckboxSelectMultiple
    )
    glue = ChosenRowField(
        label="Glue", empty_label="Not counted", required=False, help_text="Counted by the line."
    )
    minutes = MinutesField(label="Time to make one", at_most=100_000, decimals=4)
    set_up = MinutesField(
        label="Set-up time",
        at_most=100_000,
        decimals=4,
        required=False,
        help_text="Once per batch.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        usable = Material.objects.of(self.workshop).in_use().by_name()
        wanted = (Material.Kind.SHEET, Material.Kind.VOLUME)
        materials = list(usable.filter(kind__in=wanted).only(*_OF_MATERIAL))
        self.sheets = rows_by_key(one for one in materials if one.kind == Material.Kind.SHEET)
        material = cast(ChosenRowField, self.fields["material"])
        material.use_rows(self.sheets)
        if len(self.sheets) == 1:
            material.initial = next(iter(self.sheets))
        glues = rows_by_key(one for one in materials if one.kind == Material.Kind.VOLUME)
        self.folded = FORMS.get(str(self["form"].value() or ""))
        self.part_choices: list[Companion] = []
        if self.folded is None:
            self._leave_out("parts", "glue")
            return
        self._leave_out("width", "height", "count")
        self.add_sizes(self.folded, self.initial.get("form_inputs", {}))
        self.part_choices = parts_of(self.folded)
        choices = [(one.name, f"{one.name[:1].upper()}{one.name[1:]}") for one in self.part_choices]
        cast(forms.MultipleChoiceField, self.fields["parts"]).choices = choices
        self.fields["parts"].initial = [one.name for one in self.part_choices if one.is_needed]
        if not choices:
            self._leave_out("parts")
        cast(ChosenRowField, self.fields["glue"]).use_rows(glues)
        if len(glues) == 1:
            self.fields["glue"].initial = next(iter(glues))
        if not glues:
            self._leave_out("glue")

    @property
    def picture(self) -> SafeString | str:
        """The shape chosen, folded at its sample size."""
        return small_picture(self.folded.name) if self.folded else ""

    def _leave_out(self, *names: str) -> None:
        for name in names:
            del self.fields[name]

    def clean(self) -> None:
        """Say it at once when a piece is larger than the sheet, however it is turned."""
        if self.folded:
            self.read_sizes()
        if any(
            name.startswith(SIZE) or name in ("width", "height", "form") for name in self.errors
        ):
            return
        self._refuse_parts_that_cannot_be()
        material = self.cleaned_data.get("material")
        too_large = [one for one in self.pieces if material and not _fits(one, material)]
        if too_large and material:
            size = " × ".join(
                format_length(side, self.workshop.unit, self.workshop.locale)
                for side in (material.width_mm, material.height_mm)
            )
            what = ", ".join(one.name for one in too_large) if self.folded else "It"
            verb = "do" if len(too_large) > 1 else "does"
            what = f"{what[:1].upper()}{what[1:]} {verb} not fit"
            self.add_error(
                "material" if self.folded else "width",
                f"{what} on a sheet of {material.name}, {size}.",
            )

    def _refuse_parts_that_cannot_be(self) -> None:
        there = {one.name for one in self.pieces}
        missing = [name for name in self.cleaned_data.get("parts", []) if name not in there]
        if missing:
            self.add_error("parts", f"At this size there is no {', '.join(missing)}. Untick it.")

    @cached_property
    def pieces(self) -> list[FirstPiece]:
        """What is cut for one item as it is typed now; nothing while a size is missing."""
        typed = self.cleaned_data
        if self.folded is None:
            if typed.get("width") is None or typed.get("height") is None:
                return []
            return [FirstPiece("body", typed["width"], typed["height"], typed.get("count") or 1)]
        if self.blank is None:
            return []
        ticked = typed.get("parts") or []
        found = [_folded_piece("body", self.folded.name, self.sizes)]
        for part in parts_beside(self.folded.name, self.sizes, self.workshop.unit):
            one = part.companion
            if one.name in ticked and one in self.part_choices:
                form = form_named(one.part)
                sizes = {**usual_sizes(form, self.workshop), **part.sizes}
                if form.name == "handle_strip" and typed.get("material"):
                    sizes["strips"] = str(_strips(sizes, typed["material"]))
                found.append(_folded_piece(one.name, form.name, sizes))
        return found

    def cut_words(self) -> list[str]:
        """Say what is cut for one item: `2 of 12 × 12 in (body)`."""
        writing = ChangeWords(self.workshop.unit, self.workshop.currency, self.workshop.locale)
        return [
            f"{one.blanks} of {writing.size(one.width_mm, one.height_mm)} ({one.name})"
            for one in self.pieces
        ]

    def first_recipe(self) -> FirstRecipe:
        """Return what was typed, for the service."""
        typed = self.cleaned_data
        return FirstRecipe(
            material=typed["material"],
            pieces=tuple(self.pieces),
            minutes_each=typed["minutes"],
            minutes_set_up=typed["set_up"] or Decimal(0),
            glue=typed.get("glue"),
        )


def _folded_piece(name: str, form: str, sizes: Mapping[str, str]) -> FirstPiece:
    blank = form_blank(form, sizes)
    return FirstPiece(
        name,
        blank.width_mm,
        blank.height_mm,
        form=form,
        form_inputs=dict(sizes),
        blanks_each=blank.count,
    )


def _fits(piece: FirstPiece, material: Material) -> bool:
    usable = sorted(side - 2 * material.trim_mm for side in _sides(material))
    sides = sorted((piece.width_mm, piece.height_mm))
    return all(side <= room for side, room in zip(sides, usable, strict=True))


def _sides(material: Material) -> tuple[Decimal, Decimal]:
    return material.width_mm or Decimal(0), material.height_mm or Decimal(0)


def _strips(sizes: Mapping[str, str], material: Material) -> int:
    """Return of how many strips a handle is joined that is longer than the sheet."""
    exact, _ = sizes_in("handle_strip", sizes, "mm")
    longest = sizes_in("handle_strip", {"length": str(max(_sides(material)))}, "mm")[0]["length"]
    try:
        return min(strips_along(exact["length"], longest, exact["lap"]), 100)
    except Refusal:  # the sheet is shorter than a lap: it fits nowhere, and that is told
        return 1


def typed_so_far(sent: Any, workshop: Workshop) -> dict[str, Any]:
    """Return what was typed as first values: the page is shown again with another shape.

    Sizes of the shape before that have the same letter go along.
    """
    found: dict[str, Any] = {name: sent[name] for name in _SIMPLE if name in sent}
    form = FORMS.get(sent.get("form", ""))
    if form:
        prefixed = {one.name: sent.get(SIZE + one.name, "") for one in form.inputs}
        found["form_inputs"] = sizes_of_query(form, prefixed, workshop)
    return found


def first_values(query: Any, workshop: Workshop) -> dict[str, Any]:
    """Return the first values an address carries: `?form=tag&w=2&h=3 1/2&sheet=7`.

    A material's page leads here with the material chosen, a form's with its sheet and sizes.
    """
    found: dict[str, Any] = {}
    if material := query.get("material") or query.get("sheet"):
        found["material"] = material
    form = FORMS.get(query.get("form", ""))
    if form:
        found |= {
            "form": form.name,
            "name": form.title,
            "form_inputs": sizes_of_query(form, query, workshop),
        }
    return found
