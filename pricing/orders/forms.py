"""Entry of an order's date, deliveries, payments, invoices, and the filter of the list."""

import datetime
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from catalogue.calc.supplies.lots import FreeLot
from catalogue.stock.forms import LotChoice, lot_field
from maker.web.amounts import AmountField
from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    LongText,
    MoneyField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
    tell_fields,
)
from maker.web.lists import FilterForm
from maker.web.words import amount_text
from maker.workshop.models import Workshop, check_country
from pricing.orders.crediting import ChargeLeft
from pricing.orders.lots import NeedLots, need_lots
from pricing.orders.models import (
    Order,
    OrderDelivery,
    OrderNeed,
    OrderPayment,
    OrderQuerySet,
)
from pricing.orders.overdue import overdue_invoices
from pricing.orders.services import DeliveryInput
from pricing.quotes.models import QuoteLine

MOST_DELIVERIES = 30
STATES = [
    ("", "Open"),
    *((state.value, state.label.capitalize()) for state in Order.State),
    ("late", "Late"),
    ("overdue", "Invoice overdue"),
    ("all", "All"),
]


class OrderFilter(FilterForm):
    """Narrows the list of orders."""

    state = forms.ChoiceField(label="Status", choices=STATES, required=False)

    def __init__(self, *args: Any, workshop: Workshop, **rest: Any) -> None:
        super().__init__(*args, **rest)
        self.workshop = workshop

    def narrow_by(self, queryset: OrderQuerySet, values: dict[str, Any]) -> OrderQuerySet:
        """Return the orders that match."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        state = values.get("state", "")
        if state == "all":
            return queryset
        if state == "late":
            return queryset.late(timezone.localdate())
        if state == "overdue":
            overdue = overdue_invoices(self.workshop, timezone.localdate())
            return queryset.filter(pk__in={each.invoice.order_id for each in overdue})
        return queryset.filter(state=state) if state else queryset.open()


class OrderForm(EditedForm, WorkshopForm):
    """Date and notes of an order."""

    due_on = DayField(label="Due date", required=False)
    notes = forms.CharField(
        label="Notes for yourself",
        max_length=4000,
        required=False,
        widget=LongText(attrs={"rows": 4}),
    )


class DeliveryForm(forms.Form):
    """One delivery: when, where to, and how many of each line."""

    use_required_attribute = False
    row = forms.IntegerField(required=False, widget=forms.HiddenInput)
    due_on = DayField(label="Date", required=False)
    address = forms.CharField(
        label="Address", max_length=500, required=False, widget=LongText(attrs={"rows": 3})
    )
    note = OneLineField(
        label="Note",
        max_length=300,
        required=False,
        help_text="Printed on the delivery note: “ring the side bell”.",
    )

    def __init__(self, *args: Any, lines: Sequence[QuoteLine], **options: Any) -> None:
        super().__init__(*args, **options)
        self.lines = lines
        for line in lines:
            self.fields[f"line_{line.pk}"] = WholeNumberField(
                label=f"{_line_name(line)}, of {line.quantity}",
                at_most=line.quantity,
                required=False,
            )

    def count_fields(self) -> list[Any]:
        """Return the fields of the counts, for the template."""
        return [self[f"line_{line.pk}"] for line in self.lines]

    @property
    def is_empty(self) -> bool:
        """Whether nothing was typed: a spare block that is left out."""
        values = self.cleaned_data
        return not values.get("row") and not any(
            value for key, value in values.items() if key != "row"
        )

    def as_input(self, rows: Mapping[int, OrderDelivery]) -> DeliveryInput:
        """Return what was typed."""
        values = self.cleaned_data
        return DeliveryInput(
            row=rows.get(values["row"]) if values.get("row") else None,
            due_on=values["due_on"],
            address=values["address"],
            note=values["note"],
            counts={line.pk: int(values[f"line_{line.pk}"] or 0) for line in self.lines},
        )


def _line_name(line: QuoteLine) -> str:
    return f"{line.design}, {line.colourway_name}" if line.colourway_name else str(line.design)


def stored_delivery(row: OrderDelivery) -> dict[str, Any]:
    """Return a delivery as the form shows it."""
    return {
        "row": row.pk,
        "due_on": row.due_on,
        "address": row.address,
        "note": row.note,
        **{f"line_{each.line_id}": each.quantity for each in row.lines.all()},
    }


class DateForm(forms.Form):
    """On which date something happened."""

    use_required_attribute = False
    on = DayField(label="Date", required_text="Enter the date.")


class InvoiceForm(forms.Form):
    """When an invoice is issued and due."""

    use_required_attribute = False
    issued_on = DayField(label="Invoice date", required_text="Enter the date.")
    due_on = DayField(label="Due date", required=False)


class PaymentForm(WorkshopForm):
    """Money received."""

    amount = MoneyField(
        label="Amount",
        at_least=-1_000_000_000,
        in_coins=True,
        error_messages={"required": "Enter the amount."},
        help_text="With a minus if you paid it back.",
    )
    received_on = DayField(label="Date received", required_text="Enter the date.")
    way = forms.ChoiceField(label="Paid by", choices=OrderPayment.Way)
    note = OneLineField(label="Note", max_length=120, required=False)
    is_more_meant = forms.BooleanField(label="More than is owed, and that is right", required=False)
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)


class MaterialsForm(WorkshopForm):
    """What was really used of each material; a blank one is left in stock."""

    on = DayField(label="Date", required_text="Enter the date.")
    form_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        needs: Sequence[OrderNeed],
        lots: Mapping[int, NeedLots],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.lot_keys = {f"lot{key}": key for key in lots}
        self.keys = {f"m{need.material_id}": need.material_id for need in needs}
        for name, need in zip(self.keys, needs, strict=True):
            self.fields[name] = AmountField(
                label=need.material.name,
                required=False,
                allow_zero=True,
                measure=need.material.unit,
                initial=need.left,
            )
            found = lots.get(need.material_id)
            if found:
                # what is free of each stands below the table: there is little room in it
                named = [(lot.name, f"Lot {lot.name}") for lot in found.choices]
                choice = LotChoice(named, found.first(need.left))
                self.fields[f"lot{need.material_id}"] = lot_field(need.material.name, choice)
        tell_fields(self, self.workshop)

    def amounts(self) -> dict[int, Decimal]:
        """Return material -> what was used of it."""
        return {key: self.cleaned_data.get(name) or Decimal(0) for name, key in self.keys.items()}

    def lots(self) -> dict[int, str]:
        """Return material -> the lot it is taken from, where one was named."""
        return {
            key: self.cleaned_data[name]
            for name, key in self.lot_keys.items()
            if self.cleaned_data.get(name)
        }

    def entries_of(self, need: OrderNeed) -> list[forms.BoundField]:
        """Return the entries of a need, for its row: how much, and of which lot."""
        names = (f"m{need.material_id}", f"lot{need.material_id}")
        return [self[name] for name in names if name in self.fields]


def lot_choices(order: Order, amounts: Mapping[int, Decimal]) -> dict[int, LotChoice]:
    """Return material -> the lots an amount for an order may be taken from (three queries)."""
    needs = list(order.needs.filter(material__in=amounts).select_related("material"))

    def words(found: NeedLots, lot: FreeLot) -> str:
        free = amount_text(lot.free, found.need.material.unit, order.workshop)
        return f"Lot {lot.name}: {free} free"

    return {
        key: LotChoice(
            [(lot.name, words(found, lot)) for lot in found.choices], found.first(amounts[key])
        )
        for key, found in need_lots(order, needs).items()
    }


class CancelForm(WorkshopForm):
    """Why an order is cancelled, and what is owed for it."""

    on = DayField(label="Date", required_text="Enter the date.")
    reason = OneLineField(label="Reason", max_length=300, required=False)
    stage = forms.ChoiceField(label="Stage reached", widget=forms.RadioSelect)
    owed = MoneyField(
        label="Other amount owed",
        required=False,
        in_coins=True,
        help_text="In all, with what was paid. Leave blank for your terms.",
    )

    def __init__(self, *args: Any, stages: Sequence[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["stage"].choices = stages  # type: ignore[attr-defined]


class CreditForm(WorkshopForm):
    """How many of each line of an invoice are credited, how much of its charges, and why."""

    reason = OneLineField(
        label="Reason", max_length=300, error_messages={"required": "Give a reason."}
    )
    issued_on = DayField(label="Date", required_text="Enter the date.")
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        document: Mapping[str, Any],
        left: Mapping[int, int],
        charges: Sequence[ChargeLeft],
        money: Callable[[Decimal], str],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.line_keys = [line["line"] for line in document["lines"]]
        self.charges = [charge for charge in charges if charge.left > 0]
        for line in document["lines"]:
            most = left[line["line"]]
            name = f"{line['design']}, {line['colourway']}" if line["colourway"] else line["design"]
            self.fields[f"line_{line['line']}"] = WholeNumberField(
                label=name,
                at_most=most,
                required=False,
                help_text=f"At most {most}, at {money(Decimal(line['price_each']))} each.",
            )
        for charge in self.charges:
            self.fields[charge.key] = MoneyField(
                label=charge.reason[:1].upper() + charge.reason[1:],
                required=False,
                in_coins=True,
                help_text=f"At most {money(charge.left)}, as on the invoice.",
            )
        tell_fields(self, self.workshop)

    def line_fields(self) -> list[forms.BoundField]:
        """Return the entry of each line."""
        return [self[f"line_{key}"] for key in self.line_keys]

    def charge_fields(self) -> list[forms.BoundField]:
        """Return the entry of each charge of which something is left."""
        return [self[charge.key] for charge in self.charges]

    def counts(self) -> dict[int, int]:
        """Return how many of each line."""
        return {key: int(self.cleaned_data[f"line_{key}"] or 0) for key in self.line_keys}

    def amounts(self) -> dict[str, Decimal]:
        """Return how much of each charge."""
        return {each.key: self.cleaned_data[each.key] or Decimal(0) for each in self.charges}


def usual_due_on(issued_on: datetime.date, days: int = 14) -> datetime.date:
    """Return when an invoice is usually due: two weeks later (common practice, no source)."""
    return issued_on + datetime.timedelta(days=days)


class EInvoiceForm(forms.Form):
    """What an e-invoice says beside what the paper says."""

    use_required_attribute = False
    country = OneLineField(
        label="Customer’s country",
        max_length=2,
        help_text="Two letters, like IE.",
        error_messages={"required": "Enter the country’s two letters."},
    )
    buyer_reference = OneLineField(
        label="Customer’s reference",
        max_length=60,
        required=False,
        help_text="If your customer gave you one for invoices.",
    )

    def clean_country(self) -> str:
        """Return the code in capitals."""
        country: str = self.cleaned_data["country"].upper()
        check_country(country)
        return country
