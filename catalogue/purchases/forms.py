"""Entry of a receipt with its lines as rows, and the filter of the list."""

import datetime
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.db.models import Q

from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import Purchase, PurchaseLine, PurchaseQuerySet
from catalogue.purchases.services import ReceiptInput, ReceiptLineInput
from catalogue.suppliers.models import Supplier
from maker.calc.amounts import Amount, typed_amount, unit_to_keep, unit_word
from maker.calc.money import minor_digits
from maker.calc.units import format_number
from maker.web.amounts import AmountField, amount_in, typed_in
from maker.web.editing import EditedForm
from maker.web.fields import DayField, LongText, MoneyField, OneLineField, WorkshopForm
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, RowsFormSet, rows_by_key, rows_of

ZERO, ONE = Decimal(0), Decimal(1)
MOST_LINES = 100
LEAST, MOST_QUANTITY = Decimal("0.000001"), Decimal(1_000_000_000)
# a material and the pack it comes in, None for loose
Key = tuple[int, int | None]


class Offers:
    """Everything that can stand on a line: each material by pack, and loose, under one name.

    Loaded once for all lines of a page, as bare values: a workshop may have thousands. A name is
    typed or chosen from the list; a bare material's name does when it has one pack, or none, or
    when the amount says its unit. What a draft says already stays on offer, even if it was put
    away since.
    """

    def __init__(self, workshop: Any, lines: Iterable[PurchaseLine] = ()) -> None:
        self.workshop = workshop
        lines = list(lines)
        in_use = Q(retired_on__isnull=True)
        materials = Material.objects.of(workshop).filter(
            in_use | Q(pk__in=[line.material_id for line in lines])
        )
        packs: dict[int, list[tuple[int, str, Decimal | None]]] = {}
        for pack, material, name, price in (
            Pack.objects.of(workshop)
            .filter(in_use | Q(pk__in=[line.pack_id for line in lines if line.pack_id]))
            .in_entry_order()
            .values_list("pk", "material_id", "name", "price")
        ):
            packs.setdefault(material, []).append((pack, name, price))
        self.by_name: dict[str, Key] = {}
        self.names: dict[Key, str] = {}
        self.prices: dict[Key, str] = {}
        # the material's name, for a pack that is its only one
        self.alone: dict[Key, str] = {}
        self.ways: dict[str, list[Key]] = {}
        for key, name, kind in materials.by_name().values_list("pk", "name", "kind"):
            ways = packs.get(key, [])
            for pack, pack_name, price in ways:
                self._add((key, pack), name, f"{name} · {pack_name}")
                if price is not None:
                    self.prices[key, pack] = f"{price.normalize():f}"
            unit = Material.UNITS[kind]
            self._add((key, None), name, f"{name} · by the {unit}" if ways else name)
            if len(ways) == 1:
                self.alone[key, ways[0][0]] = name

    def _add(self, key: Key, material: str, name: str) -> None:
        number, unique = 2, name
        while _plain(unique) in self.by_name:
            unique, number = f"{name} ({number})", number + 1
        self.by_name[_plain(unique)] = key
        self.names[key] = unique
        self.ways.setdefault(_plain(material), []).append(key)

    def options(self) -> Iterable[tuple[str, str, str]]:
        """Yield what the list under the entry shows: a name, the price of a pack or nothing, and
        the material's name where that alone means this pack.
        """
        for key, name in self.names.items():
            yield name, self.prices.get(key, ""), self.alone.get(key, "")

    def find(self, text: str, *, says_unit: bool) -> Key:
        """Return what is meant. Errors: ValidationError, with the names that would do."""
        plain = _plain(text)
        if plain in self.by_name:
            return self.by_name[plain]
        ways = self.ways.get(plain, [])
        packs = [key for key in ways if key[1] is not None]
        loose = [key for key in ways if key[1] is None]
        if len(loose) == 1 and len(packs) == 1:
            return packs[0]
        if len(loose) == 1 and (says_unit or not packs):
            return loose[0]
        if ways:
            names = "; ".join(self.names[key] for key in ways[:5])
            raise forms.ValidationError(f"Bought how? Choose one: {names}.")
        near = next((name for name in self.names.values() if plain in _plain(name)), "")
        raise forms.ValidationError(
            f"“{text[:60]}” is none of your materials. "
            + (f"Is it “{near}”? " if near else "")
            + "Choose one from the list, or add it under Materials first."
        )


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


class ReceiptForm(EditedForm, WorkshopForm):
    """The head and foot of a receipt."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    supplier = ChosenRowField(
        empty_label="choose",
        error_messages={"required": "Choose where it was bought, or type a new supplier."},
    )
    new_supplier = OneLineField(
        label="Or a new one", required=False, max_length=120, help_text="Its name is enough."
    )
    bought_on = DayField(label="Day", required_text="Type the day on the receipt.")
    reference = OneLineField(
        label="Number on it", required=False, max_length=80, help_text="Receipt or order number."
    )
    postage = MoneyField(label="Postage", required=False, at_most=1_000_000)
    discount = MoneyField(label="Discount", required=False, at_most=1_000_000)
    tax = MoneyField(label="Tax", required=False, at_most=1_000_000)
    notes = forms.CharField(required=False, max_length=4000, widget=LongText(attrs={"rows": 2}))

    def __init__(self, *args: Any, suppliers: Iterable[Supplier], **options: Any) -> None:
        super().__init__(*args, **options)
        cast(ChosenRowField, self.fields["supplier"]).use_rows(rows_by_key(suppliers))
        if self.is_bound and self["new_supplier"].data:
            self.fields["supplier"].required = False
        _limit_money(self)
        tax = self.fields["tax"]
        tax.label = self.workshop.tax_name or "Tax"
        tax.help_text = (
            "If the receipt shows it by itself. You get it back: not a cost."
            if self.workshop.tax_registered
            else "Only if the receipt shows it by itself. It is a cost."
        )

    def clean(self) -> dict[str, Any]:
        """Ask for one supplier, and count an amount left empty as none."""
        cleaned = super().clean() or self.cleaned_data
        for name in ("postage", "discount", "tax"):
            if name in cleaned:
                cleaned[name] = cleaned[name] or ZERO
        if "supplier" in self.errors or "new_supplier" in self.errors:
            return cleaned
        if cleaned.get("supplier") and cleaned.get("new_supplier"):
            self.add_error("new_supplier", "Choose a supplier or type a new one, not both.")
        return cleaned

    def read(self, supplier: Supplier, lines: list[ReceiptLineInput]) -> ReceiptInput:
        """Return the receipt as typed."""
        names = ("bought_on", "reference", "postage", "discount", "tax", "notes")
        typed = {name: self.cleaned_data[name] for name in names}
        return ReceiptInput(supplier=supplier, lines=lines, **typed)


class ReceiptLineForm(WorkshopForm):
    """One line: what, how many packs (or how much), and what the line cost."""

    what = OneLineField(
        label="What",
        max_length=400,
        widget=forms.TextInput(
            attrs={"list": "offers", "autocomplete": "off", "class": "wide-entry"}
        ),
        error_messages={"required": "Say what was bought, or remove the row."},
    )
    bought = AmountField(
        label="How many",
        help_text="packs, or an amount like 12 m",
        error_messages={"required": "Type how many."},
    )
    amount = MoneyField(
        label="Paid",
        at_most=1_000_000,
        help_text="for the line",
        error_messages={"required": "Type what it cost; 0 if it was free."},
    )
    lot = OneLineField(label="Lot", required=False, max_length=60, help_text="dye lot, if any")

    def __init__(self, *args: Any, offers: Offers, **options: Any) -> None:
        super().__init__(*args, **options)
        self.offers = offers
        # only the material is named, not how it is packed
        self.is_bare = False
        _limit_money(self)

    def clean(self) -> dict[str, Any]:
        """Find the material and pack by name; what was typed as amount helps to tell them apart."""
        cleaned = super().clean() or self.cleaned_data
        if what := cleaned.get("what"):
            typed = cleaned.get("bought")
            says_unit = isinstance(typed, Amount) and bool(typed.unit)
            try:
                cleaned["what"] = self.offers.find(what, says_unit=says_unit)
            except forms.ValidationError as error:
                self.add_error("what", error)
            else:
                self.is_bare = _plain(what) not in self.offers.by_name
        return cleaned

    def work_out(self, material: Material, pack: Pack | None) -> None:
        """Turn packs into the amount in all, exactly; what does not fit is told at the row."""
        typed = self.cleaned_data.get("bought")
        if not isinstance(typed, Amount):
            return
        in_packs = pack is not None and not typed.unit
        number = amount_in(self, "bought", "piece" if in_packs else material.unit)
        if number is None:
            return
        quantity, packs = number, ONE
        if pack and in_packs:
            if self.is_bare and number == pack.quantity != 1:
                unit = unit_word(material.unit, number)
                self.add_error(
                    "bought",
                    f"{format_number(number)} packs or {format_number(number)} {unit}? Type "
                    f"“{format_number(number)} {unit}”, or choose the pack from the list.",
                )
                return
            quantity, packs = number * pack.quantity, number
        elif pack:
            packs = max((number / pack.quantity).quantize(LEAST), LEAST)
        kept = (
            unit_to_keep(quantity, material.unit, pack.typed_in, self.workshop.unit)
            if pack and in_packs
            else typed_in(self, "bought", material.unit, quantity)
        )
        if quantity > MOST_QUANTITY or quantity < LEAST:
            self.add_error("bought", "No shelf holds that much. Is the number right?")
        self.cleaned_data |= {
            "material": material,
            "pack": pack,
            "quantity": quantity,
            "packs_bought": packs,
            "typed_in": kept,
        }

    def read(self) -> ReceiptLineInput:
        """Return the line as typed."""
        names = ("material", "pack", "packs_bought", "quantity", "amount", "lot", "typed_in")
        return ReceiptLineInput(**{name: self.cleaned_data[name] for name in names})


class LineRows(RowsFormSet):
    """The lines of a receipt."""

    def clean(self) -> None:
        """Load what the lines name, all at once, and work out how much came in."""
        kept = [form for form in self.kept() if "what" in form.cleaned_data]
        keys = [form.cleaned_data["what"] for form in kept]
        materials = Material.objects.in_bulk([material for material, _ in keys])
        packs = Pack.objects.in_bulk([pack for _, pack in keys if pack is not None])
        for form, (material, pack) in zip(kept, keys, strict=True):
            form.work_out(materials[material], packs.get(pack))

    def read(self) -> list[ReceiptLineInput]:
        """Return the lines as typed."""
        return [form.read() for form in self.kept()]


LineFormSet = rows_of(ReceiptLineForm, base=LineRows, spare=2, at_most=MOST_LINES)


def _limit_money(form: forms.Form) -> None:
    # shares are whole cents, so what is shared must be too
    for field in form.fields.values():
        if isinstance(field, MoneyField):
            field.decimals = minor_digits(form.workshop.currency)  # type: ignore[attr-defined]


def head_as_typed(purchase: Purchase) -> dict[str, Any]:
    """Return what the form shows of a stored receipt."""
    names = ("bought_on", "reference", "notes", "edit_number")
    amounts = ("postage", "discount", "tax")
    return {
        "supplier": purchase.supplier_id,
        **{name: getattr(purchase, name) for name in names},
        **{name: getattr(purchase, name) or None for name in amounts},
    }


def _quantity_as_typed(line: PurchaseLine, workshop: Any) -> str:
    typed = typed_amount(
        line.quantity, line.material.unit, workshop.locale, workshop.unit, line.typed_in
    )
    is_bare = typed[-1:].isdigit()
    return f"{typed} {unit_word(line.material.unit, line.quantity)}" if is_bare else typed


def lines_as_typed(lines: Iterable[PurchaseLine], offers: Offers) -> list[dict[str, Any]]:
    """Return what the rows show of stored lines."""
    rows = []
    for line in lines:
        locale = offers.workshop.locale
        whole = line.pack is not None and line.packs_bought * line.pack.quantity == line.quantity
        bought = (
            format_number(line.packs_bought, locale)
            if whole
            else _quantity_as_typed(line, offers.workshop)
        )
        rows.append(
            {
                "what": offers.names.get((line.material_id, line.pack_id), line.material.name),
                "bought": bought,
                "amount": line.amount,
                "lot": line.lot,
            }
        )
    return rows


class PurchaseFilter(FilterForm):
    """Narrows the list of receipts."""

    first = forms.DateField(
        label="From", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    last = forms.DateField(
        label="To", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    state = forms.ChoiceField(
        label="Which",
        required=False,
        choices=[
            ("", "In stock and not finished"),
            ("draft", "Not finished"),
            ("recorded", "In stock"),
            ("reversed", "Taken back"),
            ("all", "All"),
        ],
    )

    def narrow_by(self, queryset: PurchaseQuerySet, values: dict[str, Any]) -> PurchaseQuerySet:
        """Return the receipts that match."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        first: datetime.date | None = values.get("first")
        last: datetime.date | None = values.get("last")
        queryset = queryset.between(first, last)
        state = values.get("state")
        if state == "all":
            return queryset
        return queryset.filter(state=state) if state else queryset.not_taken_back()
