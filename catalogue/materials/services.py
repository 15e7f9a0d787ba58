"""Keeping materials and their packs: saved together, by two people without loss, never deleted
where money depends on them."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from catalogue.materials.models import Material, Pack
from maker.calc.amounts import format_amount, unit_word
from maker.calc.refusal import Refusal
from maker.files.services import keep_picture
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from maker.workshop.services import NameTaken, claim_name

if TYPE_CHECKING:
    from catalogue.suppliers.models import Supplier

# what she types about a material; the rest is kept from the ledger and must not be written over
TYPED = (
    "name",
    "code",
    "kind",
    "category",
    "supplier",
    "width_mm",
    "height_mm",
    "trim_mm",
    "is_directional",
    "is_double_sided",
    "grammage",
    "thickness_mm",
    "colour",
    "pattern",
    "second_colour",
    "back_colour",
    "pattern_step_mm",
    "cut_loss_mm",
    "reel_end_mm",
    "waste_share",
    "reorder_level",
    "licence_note",
    "safety_note",
    "notes",
)


class KindIsFixed(Refusal):
    """What was bought, moved or used in one unit cannot be counted in another from now on."""


@dataclass(frozen=True, slots=True)
class PackInput:
    """How the material is sold, as typed; without `pk` it is new, without name a usual one."""

    quantity: Decimal
    price: Decimal | None = None
    name: str = ""
    supplier: "Supplier | None" = None
    pk: int | None = None
    typed_in: str = ""


@transaction.atomic
def save_material(
    *,
    material: Material,
    packs: Sequence[PackInput] = (),
    removed: Collection[int] = (),
    edit_number: int | None = None,
) -> Material:
    """Store a new or changed material with its packs, whole or not at all.

    A removed pack that a receipt names is put away, any other is deleted; packs not named stay.
    Refuses a name that is taken, a kind that changes after the first use, and a lost turn.
    """
    return _save(material, packs, removed, edit_number)


def _save(
    material: Material,
    packs: Sequence[PackInput],
    removed: Collection[int],
    edit_number: int | None,
) -> Material:
    claim_name(material, f"You already have a material “{material.name}”.")
    is_new = material.pk is None
    if is_new:
        material.save()
    else:
        take_turn(material, edit_number)
        _refuse_other_kind(material)
        material.save(update_fields=[*TYPED, "reorder_typed_in"])
    _save_packs(material, packs, removed, is_new=is_new)
    return material


@transaction.atomic
def set_picture(*, material: Material, data: bytes, width_mm: Decimal | None) -> None:
    """Keep a photo of a material, which takes the place of its colour. Refused: NotAPicture."""
    picture = keep_picture(workshop=material.workshop, data=data)
    Material.objects.filter(pk=material.pk).update(picture=picture, picture_width_mm=width_mm)


def remove_picture(*, material: Material) -> None:
    """Let go of the photo of a material; its colour and pattern are seen again."""
    Material.objects.filter(pk=material.pk).update(picture=None, picture_width_mm=None)


@dataclass(frozen=True, slots=True)
class ImportedMaterial:
    """A material out of a file, new or changed, with all the packs it then has."""

    material: Material
    packs: Sequence[PackInput]


@transaction.atomic
def import_materials(*, workshop: Workshop, materials: Sequence[ImportedMaterial]) -> None:
    """Store materials out of a file, and the suppliers they name for the first time: all or none.

    Refuses what `save_material` refuses, with the name of the material before it.
    """
    # before the first supplier is looked for: those who write into one workshop take turns
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    for one in materials:
        for supplier in (one.material.supplier, *(pack.supplier for pack in one.packs)):
            if supplier is not None and supplier.pk is None:
                _save_new_supplier(workshop, supplier)
    known = [one for one in materials if one.material.pk is not None]
    _add_all(workshop, [one for one in materials if one.material.pk is None])
    for one in known:
        try:
            _save(one.material, one.packs, (), one.material.edit_number)
        except Refusal as refusal:
            raise Refusal(f"{one.material.name}: {refusal.message}") from refusal


def _add_all(workshop: Workshop, materials: Sequence[ImportedMaterial]) -> None:
    """Add new materials with the same few queries, however many: others wait until it is over."""
    taken = {name.lower() for name in workshop.materials.values_list("name", flat=True)}
    for one in materials:
        name = one.material.name
        if name.lower() in taken:
            raise NameTaken(f"{name}: You already have a material “{name}”.")
        taken.add(name.lower())
    Material.objects.bulk_create([one.material for one in materials], batch_size=200)
    packs = [
        _as_typed(Pack(material=one.material), one.material, typed, position)
        for one in materials
        for position, typed in enumerate(one.packs)
    ]
    Pack.objects.bulk_create(packs, batch_size=200)


def _save_new_supplier(workshop: Workshop, supplier: "Supplier") -> None:
    if workshop.suppliers.filter(name__iexact=supplier.name).exists():
        raise NameTaken(f"Somebody added “{supplier.name}” meanwhile. Check again, then import.")
    supplier.save()


def usual_name(quantity: Decimal, unit: str, lengths: str = "mm", typed_in: str = "") -> str:
    """Return what a pack is called when she gives it no name: `pack of 24`, `50 m`, `single`."""
    if unit in ("m", "ml", "g"):
        return format_amount(quantity, unit, lengths=lengths, typed_in=typed_in)
    if quantity == 1:
        return f"single {unit_word(unit, quantity)}"
    return f"pack of {format_amount(quantity, unit)}"


def _refuse_other_kind(material: Material) -> None:
    was = Material.objects.values_list("kind", flat=True).get(pk=material.pk)
    if was == material.kind:
        return
    related = (material.stock_entries, material.purchase_lines, material.roles)
    if any(rows.exists() for rows in related):
        counted = unit_word(Material.UNITS[was])
        raise KindIsFixed(
            f"Receipts, stock or recipes already count it in {counted}. Add a new material for "
            "the other unit.",
            where="kind",
        )


def _save_packs(
    material: Material, packs: Sequence[PackInput], removed: Collection[int], *, is_new: bool
) -> None:
    stored = {} if is_new else {pack.pk: pack for pack in Pack.objects.filter(material=material)}
    for position, typed in enumerate(packs):
        pack = (
            stored.get(typed.pk, Pack(material=material)) if typed.pk else Pack(material=material)
        )
        _as_typed(pack, material, typed, position).save()
    for key in removed:
        if key in stored:
            _remove_pack(material, stored[key])


def _as_typed(pack: Pack, material: Material, typed: PackInput, position: int) -> Pack:
    """Return a pack with what was typed about it."""
    pack.position = position
    pack.name = typed.name or usual_name(
        typed.quantity, material.unit, material.workshop.unit, typed.typed_in
    )
    pack.typed_in = typed.typed_in
    pack.quantity, pack.price, pack.supplier = typed.quantity, typed.price, typed.supplier
    return pack


def _remove_pack(material: Material, pack: Pack) -> None:
    if material.purchase_lines.filter(pack=pack).exists():
        pack.retired_on = timezone.localdate()
        pack.save(update_fields=["retired_on"])
    else:
        pack.delete()
