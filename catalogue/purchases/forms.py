"""Entry of a receipt with its lines as rows, and the filter of the list."""

import datetime
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.db.models import Q

from catalogue.materials.inputs import packs_of
from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import Purchase, PurchaseLine, PurchaseQuerySet
from catalogue.purchases.services import LineInput, ReceiptInput
from catalogue.suppliers.models import Supplier
from maker.calc.amounts import Amount, unit_word
from maker.calc.money import minor_digits
from maker.calc.units import format_number
from maker.web.amounts import AmountField, amount_in
from maker.web.editing import EditedForm
from maker.web.fields import MoneyField, OneLineField, WorkshopForm
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, RowsFormSet, rows_by_key, rows_of

ZERO, ONE = Decimal(0), Decimal(1)
MOST_LINES = 100
MOST_QUANTITY = Decimal(1_000_000_000)
# what a browser sends, and what is clear when typed by hand: 3/4 could be March or April
DATE_FORMATS = ("%Y-%m-%d", "%d.%m.%Y", "%d %b %Y", "%d %B %Y")


class DayField(forms.DateField):
    """A day, with the browser's calendar where there is one."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            input_formats=DATE_FORMATS,
            widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
            error_messages={
                "invalid": "This is no day. Type it like 2026-03-31 or 31 March 2026.",
                "required": "Type the day on the receipt.",
            },
            **options,
        )


class Offers:
    """Everything that can stand on a line: each material by pack, and loose, under one name.

    Loaded once for all lines of a page. A name is typed or chosen from the list; a bare
    material's name does when there is only one way to buy it.
    """

    def __init__(self, workshop: Any, lines: Iterable[PurchaseLine] = ()) -> None:
        lines = list(lines)
        wanted = Q(retired_on__isnull=True) | Q(pk__in=[line.material_id for line in lines])
        materials = Material.objects.of(workshop).filter(wanted).with_costs().by_name()
        self.by_name: dict[str, tuple[Material, Pack | None]] = {}
        self.ways: dict[str, list[str]] = {}
        self.names: dict[tuple[int, int | None], str] = {}
        for material in materials:
            packs = packs_of(material)
            # a draft may name a pack that was put away since
            packs += [line.pack for line in lines if line.material_id == material.pk and line.pack]
            for pack in dict.fromkeys(packs):
                self._add(material, pack, f"{material.name} · {pack.name}")
            loose = f"{material.name} · by the {material.unit}" if packs else material.name
            self._add(material, None, loose)

    def _add(self, material: Material, pack: Pack | None, name: str) -> None:
        number, unique = 2, name
        while _plain(unique) in self.by_name:
            unique, number = f"{name} ({number})", number + 1
        self.by_name[_plain(unique)] = (material, pack)
        self.names[(material.pk, pack.pk if pack else None)] = unique
        self.ways.setdefault(_plain(material.name), []).append(unique)

    def options(self) -> Iterable[dict[str, Any]]:
        """Yield what the list under the entry shows: the name, and the price of a pack."""
        for plain, (_, pack) in self.by_name.items():
            price = format_number(pack.price) if pack and pack.price is not None else ""
            yield {"name": self.names[self._key(plain)], "price": price}

    def _key(self, plain: str) -> tuple[int, int | None]:
        material, pack = self.by_name[plain]
        return material.pk, pack.pk if pack else None

    def find(self, text: str) -> tuple[Material, Pack | None]:
        """Return what is meant. Errors: ValidationError, with the names that would do."""
        plain = _plain(text)
        if plain in self.by_name:
            return self.by_name[plain]
        ways = self.ways.get(plain, [])
        if len(ways) == 1:
            return self.by_name[_plain(ways[0])]
        if ways:
            raise forms.ValidationError(f"Bought how? Choose one: {'; '.join(ways[:5])}.")
        raise forms.ValidationError(
            f"“{text[:60]}” is none of your materials. Choose one from the list, "
            "or add it under Materials first."
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
        label="or a new one", required=False, max_length=120, help_text="Its name is enough."
    )
    bought_on = DayField(label="Day")
    reference = OneLineField(
        label="Number on it", required=False, max_length=80, help_text="Receipt or order number."
    )
    postage = MoneyField(label="Postage", required=False, at_most=1_000_000)
    discount = MoneyField(label="Discount", required=False, at_most=1_000_000)
    tax = MoneyField(label="Tax", required=False, at_most=1_000_000)
    notes = forms.CharField(
        required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, suppliers: Iterable[Supplier], **options: Any) -> None:
        super().__init__(*args, **options)
        cast(ChosenRowField, self.fields["supplier"]).use_rows(rows_by_key(suppliers))
        if self.is_bound and self["new_supplier"].data:
            self.fields["supplier"].required = False
        _limit_money(self)
        tax = self.fields["tax"]
        tax.label = self.workshop.tax_name or "Tax"
        tax.help_text = (
            "If it stands apart on the receipt. You get it back, so it is no cost."
            if self.workshop.tax_registered
            else "Only if it stands apart on the receipt: it is part of the cost."
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

    def read(self, supplier: Supplier, lines: list[LineInput]) -> ReceiptInput:
        """Return the receipt as typed."""
        names = ("bought_on", "reference", "postage", "discount", "tax", "notes")
        typed = {name: self.cleaned_data[name] for name in names}
        return ReceiptInput(supplier=supplier, lines=lines, **typed)


class LineForm(WorkshopForm):
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
        _limit_money(self)

    def clean_what(self) -> tuple[Material, Pack | None]:
        """Find the material and pack by its name."""
        return self.offers.find(self.cleaned_data["what"])

    def clean(self) -> dict[str, Any]:
        """Turn packs into the amount in all, exactly."""
        cleaned = super().clean() or self.cleaned_data
        if "what" not in cleaned or not isinstance(cleaned.get("bought"), Amount):
            return cleaned
        material, pack = cleaned["what"]
        in_packs = pack is not None and not cleaned["bought"].unit
        typed = amount_in(self, "bought", "piece" if in_packs else material.unit)
        if typed is None:
            return cleaned
        cleaned["packs_bought"] = typed if in_packs else ONE
        cleaned["quantity"] = typed * pack.quantity if in_packs and pack else typed
        if pack and not in_packs:
            cleaned["packs_bought"] = max(
                (typed / pack.quantity).quantize(Decimal("0.000001")), Decimal("0.000001")
            )
        quantity = cleaned["quantity"]
        if quantity > MOST_QUANTITY or not quantity.quantize(Decimal("0.000001")):
            self.add_error("bought", "No shelf holds that much. Is the number right?")
        return cleaned

    def read(self) -> LineInput:
        """Return the line as typed."""
        typed = self.cleaned_data
        material, pack = typed["what"]
        return LineInput(
            material=material,
            pack=pack,
            packs_bought=typed["packs_bought"],
            quantity=typed["quantity"],
            amount=typed["amount"],
            lot=typed["lot"],
        )


LineFormSet = rows_of(LineForm, base=RowsFormSet, spare=2, at_most=MOST_LINES)


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


def lines_as_typed(lines: Iterable[PurchaseLine], offers: Offers) -> list[dict[str, Any]]:
    """Return what the rows show of stored lines."""
    rows = []
    for line in lines:
        unit = line.material.unit
        whole = line.pack is not None and line.packs_bought * line.pack.quantity == line.quantity
        bought = (
            format_number(line.packs_bought)
            if whole
            else f"{format_number(line.quantity)} {unit_word(unit, line.quantity)}"
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
