"""Entry of the lines of a receipt, as rows."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms

from catalogue.expenses.models import Expense
from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import PurchaseLine
from catalogue.purchases.offers import Offers, plain_name
from catalogue.purchases.services import ReceiptExpenseInput, ReceiptLineInput
from maker.calc.amounts import Amount, typed_amount, unit_to_keep, unit_word
from maker.calc.money import minor_digits
from maker.calc.refusal import Refusal
from maker.calc.units import format_number
from maker.web.amounts import AmountField, amount_in, typed_in
from maker.web.fields import MoneyField, NumberField, OneLineField, WorkshopForm
from maker.web.rows import RowsFormSet, rows_of

ZERO, ONE = Decimal(0), Decimal(1)
MOST_LINES = 100
DAMAGED = ("damaged_credited", "damaged_kept")
MOST_LETTERS = 120  # of the name of an expense
LEAST, MOST_QUANTITY = Decimal("0.000001"), Decimal(1_000_000_000)


def _fits(amount: Amount, unit: str) -> bool:
    try:
        amount.in_unit(unit)
    except Refusal:
        return False
    return True


def limit_money(form: forms.Form) -> None:
    """Take money with the decimals of the currency: shares are whole cents, what is shared too."""
    for field in form.fields.values():
        if isinstance(field, MoneyField):
            field.decimals = minor_digits(form.workshop.currency)  # type: ignore[attr-defined]


class StoredKeyField(forms.IntegerField):
    """The key of the row a line was made from; alone it fills no line, unreadable it is none."""

    widget = forms.HiddenInput

    def clean(self, value: Any) -> int | None:
        """Return the key."""
        try:
            return super().clean(value)
        except forms.ValidationError:
            return None

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return that it never did."""
        return False


class ReceiptLineForm(WorkshopForm):
    """One line: what, how many packs (or how much), and what the line cost."""

    what = OneLineField(
        label="Item",
        max_length=400,
        widget=forms.TextInput(
            attrs={"list": "offers", "autocomplete": "off", "class": "wide-entry"}
        ),
        error_messages={"required": "Enter what you bought, or remove the row."},
    )
    bought = AmountField(label="How many", required=False, help_text="packs, or like 12 m")
    amount = MoneyField(
        label="Paid",
        at_least=-1_000_000,
        at_most=1_000_000,
        help_text="for the line",
        error_messages={"required": "Enter what it cost; 0 if it was free."},
    )
    lot = OneLineField(label="Lot", required=False, max_length=60, help_text="dye lot, if any")
    expense = forms.ChoiceField(
        label="Kind",
        required=False,
        choices=[("", "Material"), *Expense.Category.choices],
        help_text="if not a material",
    )
    stands_for = StoredKeyField(required=False)
    damaged_credited = NumberField(
        label="Damaged, credited", required=False, help_text="you don't pay for it"
    )
    damaged_kept = NumberField(
        label="Damaged, charged", required=False, help_text="you pay and throw it away"
    )

    def __init__(self, *args: Any, offers: Offers, **options: Any) -> None:
        super().__init__(*args, **options)
        self.offers = offers
        # only the material is named, not how it is packed
        self.is_bare = False
        # what a new material may start from, where the line names one that is not there yet
        self.new_material: dict[str, str] = {}
        for name in DAMAGED:
            self.fields[name].is_rare = True  # type: ignore[attr-defined]  # for the template
        limit_money(self)

    @property
    def has_damaged(self) -> bool:
        """Whether the line says something of damage, or says it wrongly."""
        return any(self[name].value() or self.has_error(name) for name in DAMAGED)

    def clean(self) -> dict[str, Any]:
        """Find the material and pack by name; what was typed as amount helps to tell them apart."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("expense"):
            self._check_expense(cleaned)
            return cleaned
        if (cleaned.get("amount") or ZERO) < 0:
            self.add_error("amount", "Enter 0 or more. To return goods, open their receipt.")
        if cleaned.get("bought") is None and "bought" not in self.errors:
            self.add_error("bought", "Enter how many.")
        if what := cleaned.get("what"):
            typed = cleaned.get("bought")
            says_unit = isinstance(typed, Amount) and bool(typed.unit)
            try:
                cleaned["what"] = self.offers.find(what, says_unit=says_unit)
            except forms.ValidationError as error:
                self.add_error("what", error)
                if error.code == "unknown":
                    self.new_material = self._as_a_material(what)
            else:
                self.is_bare = plain_name(what) not in self.offers.by_name
        return cleaned

    def _as_a_material(self, name: str) -> dict[str, str]:
        """Return what the line says of a material that is not there yet, as it was typed."""
        typed = self.cleaned_data.get("bought")
        found = {"name": name[:120]}
        if isinstance(typed, Amount) and typed.unit:
            kind = next((kind for kind, unit in Material.UNITS.items() if _fits(typed, unit)), "")
            found |= {"kind": kind, "pack": str(self["bought"].data).strip()[:40]}
            found["price"] = str(self["amount"].data or "").strip()[:40]
        return found

    def _check_expense(self, cleaned: dict[str, Any]) -> None:
        """Check what is not stock: it has a name and what it cost, no amount and no lot."""
        if len(cleaned.get("what", "")) > MOST_LETTERS:
            self.add_error("what", f"Enter at most {MOST_LETTERS} letters.")
        for name in ("lot", *DAMAGED):
            if cleaned.get(name):
                self.add_error(name, "Only for materials. Leave it empty.")

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
                    f"{format_number(number)} packs or {format_number(number)} {unit}? Enter "
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
            self.add_error("bought", "That looks too large. Check the amount.")
        damaged = {name: self.cleaned_data.get(name) or ZERO for name in DAMAGED}
        if damaged["damaged_credited"] >= quantity:
            self.add_error("damaged_credited", "All of it? Leave the line out.")
        elif sum(damaged.values()) > quantity:
            self.add_error("damaged_kept", "That is more damaged than came.")
        self.cleaned_data |= damaged | {
            "material": material,
            "pack": pack,
            "quantity": quantity,
            "packs_bought": packs,
            "typed_in": kept,
        }

    def read(self) -> ReceiptLineInput:
        """Return the line as typed."""
        names = (
            "material", "pack", "packs_bought", "quantity", "amount", "lot", "typed_in", *DAMAGED,
        )  # fmt: skip
        return ReceiptLineInput(**{name: self.cleaned_data[name] for name in names})

    def read_expense(self) -> ReceiptExpenseInput:
        """Return a line that is not stock as typed."""
        typed = self.cleaned_data
        return ReceiptExpenseInput(
            typed["what"], typed["amount"], typed["expense"], typed["stands_for"]
        )


class LineRows(RowsFormSet):
    """The lines of a receipt."""

    def clean(self) -> None:
        """Load what the lines name, all at once, and work out how much came in."""
        kept = [form for form in self._materials() if "what" in form.cleaned_data]
        keys = [form.cleaned_data["what"] for form in kept]
        materials = Material.objects.in_bulk([material for material, _ in keys])
        packs = Pack.objects.in_bulk([pack for _, pack in keys if pack is not None])
        for form, (material, pack) in zip(kept, keys, strict=True):
            form.work_out(materials[material], packs.get(pack))

    @property
    def has_damaged(self) -> bool:
        """Whether any line says something of damage."""
        return any(form.has_damaged for form in self.forms)

    def new_materials(self) -> list[tuple[str, str]]:
        """Return the names the lines use that are no material yet, and a query to add each by."""
        if not self.is_bound:
            return []
        found = [form.new_material for form in self.forms if form.new_material]
        return [(each["name"], urlencode(each | {"from": "receipt"})) for each in found]

    def read(self) -> list[ReceiptLineInput]:
        """Return the lines as typed."""
        return [form.read() for form in self._materials()]

    def read_expenses(self) -> list[ReceiptExpenseInput]:
        """Return the lines that are no stock as typed."""
        return [form.read_expense() for form in self.kept() if form.cleaned_data.get("expense")]

    def _materials(self) -> list[Any]:
        return [form for form in self.kept() if not form.cleaned_data.get("expense")]


LineFormSet = rows_of(ReceiptLineForm, base=LineRows, spare=2, at_most=MOST_LINES)


def _quantity_as_typed(line: PurchaseLine, workshop: Any) -> str:
    came = line.came
    typed = typed_amount(came, line.material.unit, workshop.locale, workshop.unit, line.typed_in)
    is_bare = typed[-1:].isdigit()
    return f"{typed} {unit_word(line.material.unit, came)}" if is_bare else typed


def lines_as_typed(
    lines: Iterable[PurchaseLine],
    offers: Offers,
    workshop: Any,
    expenses: Iterable[Expense] = (),
) -> list[dict[str, Any]]:
    """Return what the rows show of stored lines, and of expenses after them."""
    rows: list[dict[str, Any]] = []
    for line in lines:
        bought = (
            format_number(line.packs_bought, workshop.locale)
            if line.comes_in_whole_packs
            else _quantity_as_typed(line, workshop)
        )
        rows.append(
            {
                "what": offers.names.get((line.material_id, line.pack_id), line.material.name),
                "bought": bought,
                "amount": (
                    line.amount + line.amount_credited
                    if line.foreign_amount is None
                    else line.foreign_amount
                ),
                "lot": line.lot,
                "damaged_credited": line.damaged_credited or None,
                "damaged_kept": line.damaged_kept or None,
            }
        )
    return rows + [
        {
            "what": one.what,
            "amount": one.amount if one.foreign_amount is None else one.foreign_amount,
            "expense": one.category,
            "stands_for": one.pk,
        }
        for one in expenses
    ]
