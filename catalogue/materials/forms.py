"""Entry of a material with its packs as rows, and the filter of the list."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any, cast

from django import forms
from django.db.models import Q

from catalogue.materials.inputs import packs_of
from catalogue.materials.looks import Pattern
from catalogue.materials.models import Material, MaterialQuerySet
from catalogue.materials.services import TYPED, PackInput
from maker.calc.amounts import typed_amount
from maker.files.forms import PictureForm
from maker.web.amounts import AmountField, amount_in, typed_in
from maker.web.editing import EditedForm
from maker.web.fields import (
    PLAIN,
    LengthField,
    LongText,
    MoneyField,
    NumberField,
    OneLineField,
    PercentField,
    WorkshopForm,
    WorkshopModelForm,
    tell_fields,
)
from maker.web.lists import ArchivableFilter
from maker.web.rows import ChosenRowField, RowsFormSet, rows_by_key, rows_of

ZERO = Decimal(0)
# what only a sheet has, and what is stored for anything else
SHEET_ONLY: dict[str, Any] = {
    "width_mm": None,
    "height_mm": None,
    "trim_mm": ZERO,
    "is_directional": False,
    "is_double_sided": False,
    "grammage": None,
    "thickness_mm": None,
}
# what it looks like in pictures
LOOKS = ("colour", "pattern", "second_colour", "back_colour", "pattern_step_mm")
# what only a reel has
REEL_ONLY: dict[str, Any] = {"cut_loss_mm": ZERO, "reel_end_mm": ZERO}
NO_SIZE = "Enter the sheet size, like 12 or 305 mm."
# shown at once; everything else is folded away
FIRST = ("name", "kind", "width_mm", "height_mm", "is_directional")
MOST_PACKS = 30
CATEGORY_OF_KIND = {
    Material.Kind.SHEET: Material.Category.PAPER,
    Material.Kind.VOLUME: Material.Category.GLUE,
}


def suppliers_to_choose(workshop: Any, *already: Any) -> Mapping[str, Any]:
    """Return the suppliers in use, and those chosen already even if they were put away since."""
    keys = [row.supplier_id for row in already if row.supplier_id]
    wanted = Q(retired_on__isnull=True) | Q(pk__in=keys)
    return rows_by_key(workshop.suppliers.filter(wanted).by_name())


class ColourField(forms.CharField):
    """A colour as browsers give it: #rrggbb; left out, what was there stays."""

    widget = forms.TextInput(attrs={"type": "color"})

    def __init__(self, **options: Any) -> None:
        super().__init__(required=False, max_length=7, **options)

    def to_python(self, value: Any) -> str:
        """Return it in small letters, so that equal colours are equal."""
        return (super().to_python(value) or "").casefold()


class MaterialForm(EditedForm, WorkshopModelForm):
    """Name, kind and (for a sheet) size are enough; the rest can wait."""

    name = OneLineField(max_length=120)
    code = OneLineField(max_length=40, required=False, label="Your code")
    category = forms.ChoiceField(
        required=False, choices=[("", "as the kind suggests"), *Material.Category.choices]
    )
    supplier = ChosenRowField(required=False, label="Usual supplier", empty_label="none")
    width_mm = LengthField(label="Width", error_messages={"required": NO_SIZE})
    height_mm = LengthField(label="Height", error_messages={"required": NO_SIZE})
    trim_mm = LengthField(
        required=False,
        allow_zero=True,
        label="Trim",
        help_text="Lost on each edge before cutting.",
    )
    cut_loss_mm = LengthField(
        required=False,
        allow_zero=True,
        label="Loss per cut",
        help_text="For sealing or a slanted end: often 5 to 10 mm.",
    )
    reel_end_mm = LengthField(
        required=False,
        allow_zero=True,
        label="Unusable reel end",
        help_text="The last bit you can't use.",
    )
    colour = ColourField(label="Colour")
    pattern = forms.ChoiceField(required=False, choices=Pattern.choices, label="Pattern")
    second_colour = ColourField(label="Colour of the pattern")
    back_colour = ColourField(label="Back", help_text="The side that does not show.")
    pattern_step_mm = LengthField(
        required=False, label="Pattern repeats every", help_text="Measure it on the card."
    )
    grammage = NumberField(
        required=False, unit="g/m²", decimals=2, at_most=5000, label="Paper weight"
    )
    thickness_mm = NumberField(
        required=False, unit="mm", decimals=3, at_most=100, label="Thickness"
    )
    waste_share = PercentField(
        required=False, label="Waste", help_text="Added each time it is used."
    )
    reorder_level = AmountField(
        required=False,
        allow_zero=True,
        label="Reorder below",
        help_text="Marked “low” when you have less.",
    )

    class Meta:
        model = Material
        # how much to reorder below is an amount, read once the kind says in which unit
        fields = tuple(name for name in TYPED if name != "reorder_level")
        labels = {
            "kind": "Unit",
            "is_directional": "Directional pattern (don't rotate)",
            "is_double_sided": "Good on both sides",
            "licence_note": "Licence",
            "safety_note": "Safety notes",
        }
        help_texts = {
            "licence_note": "May the pattern be used on things you sell?",
            "safety_note": "Small parts, magnets, cords, food contact, fumes.",
        }
        widgets = {
            name: LongText(attrs={"rows": 2}) for name in ("licence_note", "safety_note", "notes")
        }

    def __init__(self, *args: Any, suppliers: Mapping[str, Any], **options: Any) -> None:
        super().__init__(*args, **options)
        cast(ChosenRowField, self.fields["supplier"]).use_rows(suppliers)
        cast(forms.ChoiceField, self.fields["kind"]).choices = Material.Kind.choices
        if self.instance.pk:
            self.initial["reorder_level"] = typed_amount(
                self.instance.reorder_level,
                self.instance.unit,
                self.locale or PLAIN,
                "mm" if self.locale is None else self.workshop.unit,
                self.instance.reorder_typed_in,
            )
        else:
            self.initial.update({"kind": Material.Kind.SHEET, "category": ""})
        if self.is_bound and self["kind"].data != Material.Kind.SHEET:
            for name in ("width_mm", "height_mm"):
                self.fields[name].required = False
        for name in ("trim_mm", *REEL_ONLY, "waste_share", "reorder_level"):
            # nothing is easier to type over than a zero
            if self.initial.get(name) in (ZERO, "0", "0 m", "0 yd", "0 ml", "0 g"):
                self.initial[name] = None

    def start_from(self, asked: Mapping[str, str]) -> None:
        """Show a name and a unit that another page knows already."""
        if name := asked.get("name"):
            self.initial["name"] = name
        if (kind := asked.get("kind")) in Material.Kind.values:
            self.initial["kind"] = kind

    @property
    def more_is_open(self) -> bool:
        """Whether something is wrong among the fields that are folded away."""
        return any(name in self.errors for name in self.fields if name not in (*FIRST, *LOOKS))

    @property
    def look_is_open(self) -> bool:
        """Whether something is wrong about how it looks."""
        return any(name in self.errors for name in LOOKS)

    def clean(self) -> dict[str, Any]:
        """Ask a sheet for its size, and count the reorder level as the kind is counted."""
        cleaned = super().clean() or self.cleaned_data
        for name in ("waste_share", "trim_mm", *REEL_ONLY):
            if name in cleaned:
                cleaned[name] = cleaned[name] or ZERO
        for name in LOOKS:
            # a file says nothing of it, a small form may not
            if name in cleaned and not cleaned[name]:
                cleaned[name] = getattr(self.instance, name)
        kind = cleaned.get("kind")
        if kind and not cleaned.get("category"):
            cleaned["category"] = CATEGORY_OF_KIND.get(kind, Material.Category.FIXINGS)
        if kind and kind != Material.Kind.SHEET:
            # typed before she chose another kind
            cleaned.update(SHEET_ONLY)
        if kind and kind != Material.Kind.LENGTH:
            cleaned.update(REEL_ONLY)
        return cleaned

    def _post_clean(self) -> None:
        # after the fields, so that a level in the wrong unit is told together with them
        if kind := self.cleaned_data.get("kind"):
            unit = Material.UNITS[kind]
            level = amount_in(self, "reorder_level", unit)
            # a file counts all lengths in one unit; what she typed them in stays while they do
            if self.locale is not None or level != self.instance.reorder_level:
                self.instance.reorder_typed_in = (
                    typed_in(self, "reorder_level", unit, level) if level else ""
                )
            self.instance.reorder_level = level or ZERO
        super()._post_clean()  # type: ignore[misc]  # not in stubs


class CardPictureForm(PictureForm):
    """A photo or scan of the card, and how much of the card it shows."""

    width_mm = LengthField(
        required=False,
        label="Width shown",
        help_text="How wide the card in it is. Leave blank for the sheet.",
    )

    def __init__(self, *args: Any, workshop: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.workshop = workshop
        tell_fields(self, workshop)


class PackForm(WorkshopForm):
    """One way in which the material is sold."""

    pk = forms.IntegerField(required=False, widget=forms.HiddenInput)
    quantity = AmountField(label="Pack size", help_text="24, 50 m, 25 yd, 250 ml")
    price = MoneyField(label="Price", required=False, at_most=1_000_000, help_text="per pack")
    name = OneLineField(label="Pack name", max_length=120, required=False, help_text="optional")
    supplier = ChosenRowField(label="Supplier", required=False, empty_label="usual")

    def __init__(self, *args: Any, suppliers: Mapping[str, Any], **options: Any) -> None:
        super().__init__(*args, **options)
        cast(ChosenRowField, self.fields["supplier"]).use_rows(suppliers)


class PackRows(RowsFormSet):
    """The packs of a material, checked after its form, which says what they are counted in."""

    def __init__(
        self,
        data: Any = None,
        *,
        material: Material,
        suppliers: Any,
        asked: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        self.material = material
        self.own_keys = {pack.pk for pack in packs_of(material)} if material.pk else set()
        self.packs: list[PackInput] = []
        super().__init__(
            data,
            prefix="packs",
            initial=[_pack_as_typed(material, pack) for pack in packs_of(material)]
            if material.pk
            else _first_pack(asked),
            form_kwargs={"workshop": material.workshop, "suppliers": suppliers},
        )

    def clean(self) -> None:
        """Refuse a key of another material's pack, and read the packs in its unit."""
        for form in self.forms:
            key = form.cleaned_data.get("pk")
            if key is not None and key not in self.own_keys:
                form.add_error(None, "This pack was removed. Enter it as a new one.")
        if self.material.kind:
            self.packs = [pack for form in self.kept() if (pack := self._pack_of(form))]

    def _pack_of(self, form: Any) -> PackInput | None:
        """Return a pack as typed; None when something about it is wrong, told at its row."""
        unit = self.material.unit
        quantity = amount_in(form, "quantity", unit)
        if quantity is None or form.errors:
            return None
        rest = {name: form.cleaned_data[name] for name in ("price", "name", "supplier", "pk")}
        kept = typed_in(form, "quantity", unit, quantity)
        return PackInput(quantity=quantity, typed_in=kept, **rest)

    def removed_keys(self) -> set[int]:
        """Return the keys of packs to be removed."""
        return {form.cleaned_data["pk"] for form in self.removed() if form.cleaned_data.get("pk")}


PackFormSet = rows_of(PackForm, base=PackRows, at_most=MOST_PACKS)


def _first_pack(asked: Mapping[str, str]) -> list[dict[str, str]] | None:
    pack = {"quantity": asked.get("pack", ""), "price": asked.get("price", "")}
    return [pack] if any(pack.values()) else None


def _pack_as_typed(material: Material, pack: Any) -> dict[str, Any]:
    return {
        "pk": pack.pk,
        "quantity": typed_amount(
            pack.quantity,
            material.unit,
            material.workshop.locale,
            material.workshop.unit,
            pack.typed_in,
        ),
        "price": pack.price,
        "name": pack.name,
        "supplier": pack.supplier_id,
    }


class MaterialFilter(ArchivableFilter):
    """Narrows the list of materials."""

    category = forms.ChoiceField(
        required=False, choices=[("", "Every category"), *Material.Category.choices]
    )
    kind = forms.ChoiceField(
        required=False,
        choices=[
            ("", "Every kind"),
            ("sheet", "Sheets"),
            ("length", "By length"),
            ("volume", "By volume"),
            ("mass", "By weight"),
            ("count", "By the piece"),
            ("pairs", "In pairs"),
        ],
    )
    state = forms.ChoiceField(
        required=False,
        choices=[
            ("", "In use"),
            ("low", "Low"),
            ("away", "Archived"),
            ("all", "All"),
        ],
    )

    def narrow_by(self, queryset: MaterialQuerySet, values: dict[str, Any]) -> MaterialQuerySet:
        """Return the materials that match."""
        found: MaterialQuerySet = super().narrow_by(queryset, values)
        for name in ("category", "kind"):
            if name in values:
                found = found.filter(**{name: values[name]})
        return found.below_level() if values.get("state") == "low" else found
