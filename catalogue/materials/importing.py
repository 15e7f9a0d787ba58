"""Materials out of a file: each row checked by the forms she would type it into."""

import re
import uuid
from collections.abc import Callable, Sequence
from typing import Any

from django.core.exceptions import ValidationError

from catalogue.materials.forms import MOST_PACKS, MaterialForm, PackForm, suppliers_to_choose
from catalogue.materials.inputs import packs_of
from catalogue.materials.models import Material, Pack
from catalogue.materials.services import ImportedMaterial, PackInput, import_materials, usual_name
from catalogue.materials.sheet import COUNTED_IN, MATERIAL_FIELDS, PACK_FIELDS
from maker.calc.amounts import read_amount
from maker.calc.refusal import Refusal
from maker.imports.kinds import Each, Importing, Store
from maker.web.amounts import amount_in, typed_in
from maker.web.file_rows import FileRow, RowGroup, first_filled, group_rows, plain, yes_or_no
from maker.web.lists import count_text

# a material's and a pack's form both have a name and a supplier
FILE_FIELDS = MATERIAL_FIELDS | {name: f"pack_{field}" for name, field in PACK_FIELDS.items()}
_MOST_NAME = 120


class _Suppliers:
    """The suppliers of a workshop by name; a name not seen before is a new one."""

    def __init__(self, workshop: Any) -> None:
        self.workshop = workshop
        self.rows = dict(suppliers_to_choose(workshop))
        self.keys = {row.name.casefold(): key for key, row in self.rows.items()}
        self.away = {
            name.casefold() for name in workshop.suppliers.archived().values_list("name", flat=True)
        }

    def key_of(self, text: str) -> str:
        """Return the key of a supplier. Errors: ValidationError."""
        name = " ".join(text.split())
        if not name:
            return ""
        wanted = plain(name)
        if wanted in self.away:
            raise ValidationError(f"“{name}” is archived. Restore it first.")
        if len(name) > _MOST_NAME:
            raise ValidationError(f"A name has at most {_MOST_NAME} characters.")
        if wanted not in self.keys:
            self.keys[wanted] = f"new-{len(self.rows)}"
            self.rows[self.keys[wanted]] = self.workshop.suppliers.model(
                workshop=self.workshop, name=name, lead_days=self.workshop.purchase_lead_days
            )
        return self.keys[wanted]


def read_materials(
    workshop: Any, rows: Sequence[FileRow], day_formats: tuple[str, ...], each: Each = iter
) -> list[RowGroup]:
    """Return a group for each material the rows name; three queries, however many."""
    suppliers = _Suppliers(workshop)
    stored = {
        material.name.casefold(): material
        for material in Material.objects.of(workshop).with_costs().by_name()
    }
    for material in stored.values():
        material.workshop = workshop
        rows_with_one: list[Material | Pack] = [material, *packs_of(material)]
        for row in rows_with_one:
            if row.supplier_id:
                suppliers.rows.setdefault(str(row.supplier_id), row.supplier)

    grouped = group_rows(rows, lambda row: plain(row.cells["name"]))
    # rows without a name belong to nobody, each by itself
    nameless = grouped.pop("", [])
    groups = [
        _read_one(workshop, stored.get(name), own_rows, suppliers)
        for name, own_rows in each(list(grouped.items()))
    ]
    groups += [_read_one(workshop, None, [row], suppliers) for row in nameless]
    return groups


def _read_one(
    workshop: Any, stored: Material | None, rows: Sequence[FileRow], suppliers: _Suppliers
) -> RowGroup:
    group = RowGroup(rows)
    if stored is not None and stored.retired_on:
        group.add_error(rows[0], "name", f"“{stored.name}” is archived. Restore it first.")
        return group
    material = stored or Material(workshop=workshop)
    as_stored = _as_stored(material, suppliers) if stored else {}
    data = dict(as_stored)
    for field in MATERIAL_FIELDS.values():
        row = first_filled(rows, field)
        text = row.cells.get(field, "").strip()
        if not text:
            continue
        try:
            data[field] = _FORM_VALUE.get(field, _same)(text, suppliers)
        except ValidationError as error:
            group.add_error(row, field, *error.messages)
        _refuse_two_answers(group, field, text)
    if "reorder_level" in data:
        counted_in = first_filled(rows, "kind").cells.get("kind", "")
        data["reorder_level"] = in_counted_unit(str(data["reorder_level"]), counted_in)
    if stored:
        _keep_what_is_the_same(stored, data, as_stored)
    if "kind" not in data and not group.errors:
        data["kind"] = _kind_meant(data)
    _take_in(group, material, data, suppliers)
    return group


def _keep_what_is_the_same(
    stored: Material, data: dict[str, Any], as_stored: dict[str, Any]
) -> None:
    """Leave the spelling of what is stored where the file means the same."""
    data["name"] = stored.name
    for field in ("licence_note", "safety_note", "notes"):
        kept = getattr(stored, field)
        if kept.replace("\r\n", "\n") == data[field]:
            data[field] = kept
    try:
        level = read_amount(str(data.get("reorder_level", ""))).in_unit(stored.unit)
    except Refusal:
        return
    if level == stored.reorder_level:
        data["reorder_level"] = as_stored["reorder_level"]


def _refuse_two_answers(group: RowGroup, field: str, text: str) -> None:
    """Refuse rows of one material that say different things of it."""
    if field == "name":
        return
    for row in group.rows:
        other = row.cells.get(field, "").strip()
        if other and other != text:
            group.add_error(row, field, f"Another row of this material has “{text[:60]}”.")


def _kind_meant(data: dict[str, Any]) -> str:
    """Take what has a size for a sheet; anything else must say what it is counted in."""
    return Material.Kind.SHEET.value if data.get("width_mm") or data.get("height_mm") else ""


def _take_in(
    group: RowGroup, material: Material, data: dict[str, Any], suppliers: _Suppliers
) -> None:
    # the form's own checks say the same, and Django would ask the database for each of them
    material.validate_constraints = _ask_nothing  # type: ignore[method-assign]  # of this one row
    form = MaterialForm(
        data,
        instance=material,
        workshop=material.workshop,
        suppliers=suppliers.rows,
        as_file=True,
    )
    changed = material.pk is not None and _changed(form)
    for field, errors in form.errors.items():
        row = first_filled(group.rows, field)
        # a cell that could not be read at all says so already
        if (row.number, field) not in group.errors:
            known = field in MATERIAL_FIELDS.values()
            group.add_error(row, field if known else "name", *map(str, errors))
    kind = form.cleaned_data.get("kind") or ""
    packs, news = _read_packs(group, material, Material.UNITS.get(kind, ""), suppliers)
    if group.errors:
        return
    was_changed = [*(changed or ()), *news]
    if material.pk is None:
        group.note = "new"
    elif was_changed:
        group.note = f"changed: {', '.join(dict.fromkeys(was_changed))}"
    else:
        group.note = "no change"
        return
    group.value = ImportedMaterial(material=form.instance, packs=packs)


def _ask_nothing(exclude: Any = None) -> None:
    """Stand in the place of a check."""


def _changed(form: MaterialForm) -> list[str]:
    labels = {field: heading for heading, field in MATERIAL_FIELDS.items()}
    return [labels[name] for name in form.changed_data if name in labels]


def _as_stored(material: Material, suppliers: _Suppliers) -> dict[str, Any]:
    """Return what the form shows of a stored material, as it would be sent."""
    shown = MaterialForm(
        instance=material, workshop=material.workshop, suppliers=suppliers.rows, as_file=True
    )
    return {
        field.name: ("on" if value else "") if isinstance(value, bool) else value
        for field in shown
        if (value := field.value()) is not None
    }


def _read_packs(
    group: RowGroup, material: Material, unit: str, suppliers: _Suppliers
) -> tuple[list[PackInput], list[str]]:
    """Return all packs after the import, and what is new about them."""
    kept = {pack.pk: _as_input(pack) for pack in packs_of(material)} if material.pk else {}
    free = list(packs_of(material)) if material.pk else []
    added: list[PackInput] = []
    news: list[str] = []
    for row in group.rows:
        typed = {
            field: row.cells.get(f"pack_{field}", "").strip() for field in PACK_FIELDS.values()
        }
        if not any(typed.values()):
            continue
        read = _read_pack(group, row, material, typed, unit, suppliers)
        if read is None:
            continue
        same = _same_pack(free, read, unit, material.workshop.unit)
        if same is None:
            added.append(read)
            news.append("new pack")
            continue
        free.remove(same)
        supplier = read.supplier or same.supplier
        price = same.price if read.price is None else read.price
        # a file counts all lengths in one unit; what she typed them in stays while they do
        kept_in = same.typed_in if read.quantity == same.quantity else read.typed_in
        now = PackInput(read.quantity, price, same.name, supplier, same.pk, kept_in)
        if now != kept[same.pk]:
            kept[same.pk] = now
            news.append("Pack price" if now.quantity == same.quantity else "Pack holds")
    packs = [*kept.values(), *added]
    if len(packs) > MOST_PACKS:
        group.add_error(group.rows[0], "name", f"A material has at most {MOST_PACKS} packs.")
    return packs, news


def _read_pack(
    group: RowGroup,
    row: FileRow,
    material: Material,
    typed: dict[str, str],
    unit: str,
    suppliers: _Suppliers,
) -> PackInput | None:
    # a row of one more pack may leave out what the material is counted in
    named = row if row.cells.get("kind", "").strip() else first_filled(group.rows, "kind")
    bare = typed["quantity"]
    typed["quantity"] = in_counted_unit(bare, named.cells.get("kind", ""))
    try:
        typed["supplier"] = suppliers.key_of(typed["supplier"])
    except ValidationError as error:
        group.add_error(row, "pack_supplier", *error.messages)
        typed["supplier"] = ""
    form = PackForm(typed, workshop=material.workshop, suppliers=suppliers.rows, as_file=True)
    form.is_valid()
    quantity = amount_in(form, "quantity", unit) if unit else None
    for field, errors in form.errors.items():
        group.add_error(row, f"pack_{field}", *map(str, errors))
    if form.errors or quantity is None:
        return None
    cleaned = form.cleaned_data
    return PackInput(
        quantity,
        cleaned["price"],
        cleaned["name"],
        cleaned["supplier"],
        typed_in="" if has_many_decimals(bare) else typed_in(form, "quantity", unit, quantity),
    )


def has_many_decimals(text: str) -> bool:
    """Say whether a bare number was worked out: 54.680665 yd of a file are a reel of 50 m."""
    return bool(re.search(r"[.,]\d{4,}$", text.strip()))


def in_counted_unit(text: str, counted_in: str) -> str:
    """Return an amount in the unit its row says it is counted in, where it has none itself.

    Metres, pieces and the like are what is kept anyway, and stay bare.
    """
    if not text or any(sign.isalpha() or sign in "\"'″′”" for sign in text):
        return text
    for unit in Material.UNITS.values():
        try:
            if read_amount(f"1 {counted_in[:40]}").in_unit(unit) != 1:
                return f"{text} {counted_in.strip()}"
        except Refusal:
            continue
    return text


def _as_input(pack: Pack) -> PackInput:
    return PackInput(pack.quantity, pack.price, pack.name, pack.supplier, pack.pk, pack.typed_in)


def _same_pack(free: Sequence[Pack], read: PackInput, unit: str, lengths: str) -> Pack | None:
    """Return the stored pack a row speaks of: of that name, of that supplier before another's."""
    name = (read.name or usual_name(read.quantity, unit, lengths, read.typed_in)).casefold()
    named = [pack for pack in free if pack.name.casefold() == name]
    return next((pack for pack in named if pack.supplier == read.supplier), None) or next(
        iter(named), None
    )


def _kind(text: str, suppliers: _Suppliers) -> str:
    for kind, unit in Material.UNITS.items():
        try:
            # metre, metres, ft and m are lengths, pc and piece are counted
            read_amount(f"1 {text[:40]}").in_unit(unit)
        except Refusal:
            continue
        return kind
    raise ValidationError(f"“{text[:40]}” isn't one of {', '.join(COUNTED_IN)}.")


def _category(text: str, suppliers: _Suppliers) -> str:
    wanted = plain(text)
    for key, label in Material.Category.choices:
        if wanted in (str(key), str(label).casefold()):
            return str(key)
    raise ValidationError(
        f"“{text[:40]}” isn't one of {', '.join(str(label) for label in Material.Category.labels)}."
    )


def _tick(text: str, suppliers: _Suppliers) -> str:
    return yes_or_no(text)


def _supplier(text: str, suppliers: _Suppliers) -> str:
    return suppliers.key_of(text)


def _same(text: str, suppliers: _Suppliers) -> str:
    return text


# how a cell becomes what the form would be sent; everything else is sent as it stands
_FORM_VALUE: dict[str, Callable[[str, _Suppliers], str]] = {
    "kind": _kind,
    "category": _category,
    "supplier": _supplier,
    "is_directional": _tick,
    "is_double_sided": _tick,
}


def _prepare(
    workshop: Any, by: Any, values: Sequence[ImportedMaterial], key: uuid.UUID, each: Each
) -> Store:
    def store() -> list[tuple[str, str]]:
        # found again by its name, a material that came in with the first click is the same already
        import_materials(workshop=workshop, materials=values)
        return [("success", f"Imported {count_text(len(values), 'material')}.")]

    return store


IMPORTING = Importing(
    place="catalogue.materials.importing.IMPORTING",
    title="Materials",
    one="material",
    list_url="catalogue:material_list",
    fields=FILE_FIELDS,
    needed=("Name",),
    read=read_materials,
    prepare=_prepare,
    also_called={
        "Name": ("material", "item", "article", "product", "description", "title"),
        "Code": ("sku", "article no", "item no", "part no", "product code"),
        "Counted in": ("unit", "unit of measure", "uom"),
        "Category": ("group", "type", "kind"),
        "Supplier": ("shop", "seller", "vendor", "store", "bought at"),
        "Weight, g/m²": ("gsm", "g/m2", "g/m²", "grammage", "weight"),
        "Thickness, mm": ("thickness", "caliper"),
        "Reorder below": ("reorder level", "minimum", "reorder at"),
        "Pack holds": ("qty", "quantity", "pack size", "per pack", "contents"),
        "Pack price": ("price", "cost", "pack cost", "paid"),
        "Notes": ("note", "remarks", "comment"),
    },
    formerly={
        "Has an up side": "Directional pattern",
        "Lost at every cut": "Loss per cut",
        "Left on the reel": "Unusable reel end",
        "Safety": "Safety notes",
    },
    advice=(
        "One row per pack; repeat the name for more packs. Existing names are updated, new ones "
        "added. Blank cells change nothing. New suppliers are added. Stock comes in with "
        "receipts."
    ),
)
