"""Entry of one sale, of a tally sheet, of counts, and of a sale that could not be booked."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms

from maker.web.fields import (
    DecimalText,
    MoneyField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
    tell_fields,
)
from maker.web.words import money
from pricing.fair_sales.counting import CountRow, Settled
from pricing.fair_sales.names import name_of
from pricing.fair_sales.on_table import OnTable, minor_of
from pricing.fair_sales.paper import PaperOrder, Strokes, Tally
from pricing.fairs.models import FairSale

Kind, Way = FairSale.Kind, FairSale.Way
PAID = [(Way.CASH.value, "Cash"), (Way.CARD.value, "Card")]
MOST = 9_999
PAPER_ORDERS = 3
# columns of a tally sheet: name, heading, what happened, how it was paid
COLUMNS = (
    ("cash", "Cash", Kind.SALE, Way.CASH),
    ("card", "Card", Kind.SALE, Way.CARD),
    ("refund", "Refunded, cash", Kind.REFUND, Way.CASH),
    ("given", "Given away", Kind.GIVEN, Way.NONE),
    ("broken", "Broken", Kind.BROKEN, Way.NONE),
)
OUT = ("out", "Sold out at")
SETTLE = [
    ("", "Leave as missing"),
    ("sale cash", "Sold for cash"),
    ("sale card", "Sold by card"),
    ("given none", "Given away"),
    ("broken none", "Broken"),
]


class _WithKey(WorkshopForm):
    """A form that a second click sends without effect."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("form_key", uuid.uuid4())


class OneSaleForm(_WithKey):
    """One sale of one item or bundle: what the page does where scripts do not run."""

    what = forms.ChoiceField(label="Item")
    quantity = WholeNumberField(label="Quantity", at_least=1, at_most=MOST, initial=1)
    way = forms.ChoiceField(label="Payment", choices=PAID, widget=forms.RadioSelect, initial="cash")

    def __init__(self, *args: Any, table: OnTable, **options: Any) -> None:
        super().__init__(*args, **options)
        shop = self.workshop
        self.fields["what"].choices = [  # type: ignore[attr-defined]
            *(
                (f"item {key}", f"{name_of(item)}, {money(table.money(table.prices[key]), shop)}")
                for key, item in table.items.items()
            ),
            *(
                (
                    f"bundle {each.key}",
                    f"{table.bundle_names[each.key]}, {money(table.money(each.asked), shop)}",
                )
                for each in table.bundles
            ),
        ]


@dataclass(frozen=True, slots=True)
class Row:
    """A row of entries: what it is about, and its fields."""

    name: str
    note: str
    fields: list[tuple[str, Any]]


class _TimeField(forms.TimeField):
    def __init__(self, **options: Any) -> None:
        super().__init__(
            input_formats=["%H:%M", "%H.%M", "%H:%M:%S"],
            widget=forms.TimeInput(
                format="%H:%M", attrs={"type": "time", "aria-label": options["label"]}
            ),
            error_messages={"invalid": "Enter a time, like 13:20."},
            **options,
        )


def _count_field(label: str) -> WholeNumberField:
    return WholeNumberField(
        label=label,
        at_most=MOST,
        required=False,
        widget=DecimalText({"inputmode": "numeric", "class": "few", "aria-label": label}),
    )


class PaperForm(_WithKey):
    """The tally sheet of a day as it is written: a row for each item and bundle."""

    discount_cash = MoneyField(label="Discounts in all, cash", required=False, in_coins=True)
    discount_card = MoneyField(label="Discounts in all, card", required=False, in_coins=True)
    discount_reason = OneLineField(label="Reason for discounts", max_length=120, required=False)

    def __init__(self, *args: Any, table: OnTable, **options: Any) -> None:
        self.table = table
        super().__init__(*args, **options)
        self.names: dict[str, tuple[str, str]] = {}
        for key, item in table.items.items():
            self._row(f"i{key}", name_of(item), table.prices[key], COLUMNS)
            self.fields[f"i{key}_out"] = _TimeField(
                label=f"{name_of(item)}: Sold out at", required=False
            )
        for each in table.bundles:
            self._row(f"b{each.key}", table.bundle_names[each.key], each.asked, COLUMNS[:2])
        for place in range(PAPER_ORDERS):
            self.fields[f"order{place}_note"] = OneLineField(
                label="Customer and order", max_length=300, required=False
            )
            self.fields[f"order{place}_deposit"] = MoneyField(
                label="Deposit", required=False, in_coins=True
            )
            self.fields[f"order{place}_way"] = forms.ChoiceField(
                label="Payment", choices=PAID, required=False
            )
        tell_fields(self, self.workshop)

    def _row(self, key: str, name: str, price: int, columns: Any) -> None:
        self.names[key] = (name, money(self.table.money(price), self.workshop))
        for column, heading, _, _ in columns:
            self.fields[f"{key}_{column}"] = _count_field(f"{name}: {heading}")

    def rows(self) -> Iterator[Row]:
        """Yield the rows of items and bundles."""
        for key, (name, price) in self.names.items():
            columns = [*((column, heading) for column, heading, *_ in COLUMNS), OUT]
            fields = [
                (heading, self[f"{key}_{column}"] if f"{key}_{column}" in self.fields else None)
                for column, heading in columns
            ]
            yield Row(name, price, fields)

    def orders(self) -> list[Row]:
        """Return the rows of orders."""
        return [
            Row("", "", [("", self[f"order{place}_{part}"]) for part in ("note", "deposit", "way")])
            for place in range(PAPER_ORDERS)
        ]

    def clean(self) -> dict[str, Any]:
        """Refuse a sheet with nothing on it, a discount without reason, a deposit of nobody."""
        typed = super().clean() or {}
        if (typed.get("discount_cash") or typed.get("discount_card")) and not typed.get(
            "discount_reason"
        ):
            self.add_error("discount_reason", "Enter a reason.")
        for place in range(PAPER_ORDERS):
            if typed.get(f"order{place}_deposit") and not typed.get(f"order{place}_note"):
                self.add_error(f"order{place}_note", "Enter who ordered what.")
        if not self.errors and not self._is_anything(typed):
            self.add_error(None, "Enter at least one number from the sheet.")
        return typed

    def _is_anything(self, typed: dict[str, Any]) -> bool:
        rows = any(
            value
            for name, value in typed.items()
            if name[0] in "ib" and name.split("_")[0] in self.names
        )
        return rows or any(typed.get(f"order{place}_note") for place in range(PAPER_ORDERS))

    def tally(self) -> Tally:
        """Return what was typed; after `is_valid`."""
        typed, strokes, out = self.cleaned_data, [], []
        for key in self.names:
            number, is_bundle = int(key[1:]), key[0] == "b"
            for column, _, kind, way in COLUMNS:
                count = typed.get(f"{key}_{column}")
                if count:
                    strokes.append(Strokes(number, count, kind, way, is_bundle))
            at = typed.get(f"{key}_out")
            if at is not None:
                out.append((number, at))
        digits = self.table.digits
        return Tally(
            strokes=strokes,
            sold_out=out,
            discounts=[
                (way, minor_of(typed[f"discount_{way}"], digits))
                for way in ("cash", "card")
                if typed.get(f"discount_{way}")
            ],
            discount_reason=typed["discount_reason"],
            orders=[
                PaperOrder(
                    typed[f"order{place}_note"],
                    minor_of(deposit, digits) if deposit else 0,
                    (typed.get(f"order{place}_way") or "cash") if deposit else "none",
                )
                for place in range(PAPER_ORDERS)
                if typed.get(f"order{place}_note")
                for deposit in [typed.get(f"order{place}_deposit")]
            ],
        )


class CountForm(_WithKey):
    """How many of each item were taken and are left."""

    def __init__(self, *args: Any, rows: list[CountRow], **options: Any) -> None:
        super().__init__(*args, **options)
        self.counted = rows
        for row in rows:
            name = name_of(row.item)
            for part, label, value in (
                ("taken", "Taken", row.item.taken),
                ("left", "Left", row.item.brought_home),
            ):
                field = _count_field(f"{name}: {label}")
                field.initial = value
                self.fields[f"{part}_{row.item.pk}"] = field
        tell_fields(self, self.workshop)

    def rows(self) -> list[tuple[CountRow, str, Any, Any]]:
        """Return the counts with their fields."""
        return [
            (
                row,
                name_of(row.item),
                self[f"taken_{row.item.pk}"],
                self[f"left_{row.item.pk}"],
            )
            for row in self.counted
        ]

    def counts(self) -> dict[int, tuple[int | None, int | None]]:
        """Return taken and left by key of the item; after `is_valid`."""
        typed = self.cleaned_data
        return {
            row.item.pk: (typed[f"taken_{row.item.pk}"], typed[f"left_{row.item.pk}"])
            for row in self.counted
        }


class DifferenceForm(_WithKey):
    """What became of the items that are missing; leaving them missing is an answer as well."""

    def __init__(self, *args: Any, rows: list[CountRow], **options: Any) -> None:
        super().__init__(*args, **options)
        self.missing = [row for row in rows if (row.missing or 0) > 0]
        for row in self.missing:
            self.fields[f"what_{row.item.pk}"] = forms.ChoiceField(
                label=f"{name_of(row.item)}: {row.missing} missing", choices=SETTLE, required=False
            )

    def settled(self) -> list[Settled]:
        """Return what she says; after `is_valid`."""
        found = []
        for row in self.missing:
            answer = self.cleaned_data[f"what_{row.item.pk}"]
            if answer and row.missing:
                kind, way = answer.split()
                found.append(Settled(row.item.pk, row.missing, kind, way))
        return found


class SettleForm(WorkshopForm):
    """Which items a sale was that could not be booked."""

    def __init__(self, *args: Any, table: OnTable, **options: Any) -> None:
        super().__init__(*args, **options)
        self.table = table
        for key, item in table.items.items():
            field = WholeNumberField(label=name_of(item), at_most=MOST, required=False)
            self.fields[f"item_{key}"] = field
        tell_fields(self, self.workshop)

    def counts(self) -> list[tuple[int, int]]:
        """Return the items and how many; after `is_valid`."""
        typed = self.cleaned_data
        return [(int(key), typed[f"item_{key}"] or 0) for key in self.table.items]
