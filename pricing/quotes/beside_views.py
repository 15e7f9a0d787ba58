"""What a quote has beside its lines: discounts and charges, and where it is taken."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from maker.calc.money import format_money, minor_digits
from maker.web.access import WorkshopRequest, may_change
from maker.web.row_pages import Entry, entry_page
from pricing.costs.inputs import workshop_rates
from pricing.quotes.beside_forms import (
    DeliveryForm,
    DropFormSet,
    ExtraFormSet,
    ExtrasForm,
)
from pricing.quotes.delivering import DropInput, cost_of_drop, distance_unit
from pricing.quotes.models import Quote
from pricing.quotes.services import save_delivery, save_extras
from pricing.quotes.views import quote_or_404, say_not_a_draft


@require_http_methods(["GET", "POST"])
@may_change
def quote_extras(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Discounts and charges of a draft, each with its reason."""
    row = quote_or_404(request, pk)
    if not row.is_draft:
        return say_not_a_draft(request, row)

    def entry_of(row: Quote, data: Any) -> Entry:
        kept = [
            {
                "kind": extra.kind,
                "reason": extra.reason,
                "amount": extra.amount,
                "share": extra.share,
            }
            for extra in row.extras.order_by("position", "pk")
        ]
        rows = ExtraFormSet(
            data, prefix="extras", initial=kept, form_kwargs={"workshop": request.workshop}
        )
        return Entry(ExtrasForm(data, initial={"edit_number": row.edit_number}), rows)

    def save(entry: Entry) -> HttpResponse:
        save_extras(quote=row, extras=entry.rows.extras(), edit_number=entry.edit_number)
        messages.success(request, "Saved discounts and charges.")
        return redirect("pricing:quote", request.workshop.slug, pk)

    return entry_page(request, "pricing/quotes/extras.html", row, entry_of, save, quote=row)


@require_http_methods(["GET", "POST"])
@may_change
def quote_delivery(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Where a draft is taken, and what that costs: a carrier, or her own time and way."""
    row = quote_or_404(request, pk)
    if not row.is_draft:
        return say_not_a_draft(request, row)
    shop = request.workshop

    def entry_of(row: Quote, data: Any) -> Entry:
        names = ("address", "quantity", "carrier", "minutes", "distance")
        kept = list(row.drops.order_by("position", "pk").values(*names))
        rows = DropFormSet(data, prefix="drops", initial=kept, form_kwargs={"workshop": shop})
        first = {
            "edit_number": row.edit_number,
            "distance_cost": row.distance_cost or _usual_cost(row),
            "delivery_margin": row.delivery_margin,
        }
        return Entry(DeliveryForm(data, workshop=shop, initial=first), rows)

    def save(entry: Entry) -> HttpResponse:
        typed = entry.form.cleaned_data
        saved = save_delivery(
            quote=row,
            drops=entry.rows.drops(),
            distance_cost=typed["distance_cost"],
            margin=typed["delivery_margin"],
            edit_number=entry.edit_number,
        )
        amount = format_money(saved.delivery, shop.currency, shop.locale)
        messages.success(request, f"Saved. Delivery costs {amount} before tax.")
        return redirect("pricing:quote", shop.slug, pk)

    rates = workshop_rates(shop)
    hour = rates.wage_per_hour + rates.overhead_per_hour
    context: dict[str, Any] = {
        "quote": row,
        "hour": format_money(hour, shop.currency, shop.locale),
        "unit": distance_unit(shop),
        "drops": _drops_said(row, hour),
    }
    return entry_page(request, "pricing/quotes/delivery.html", row, entry_of, save, **context)


def _usual_cost(row: Quote) -> Decimal | None:
    """Return what a kilometre or mile cost on the last quote that said so."""
    rows = Quote.objects.of(row.workshop).filter(distance_cost__isnull=False).newest_first()
    return rows.values_list("distance_cost", flat=True).first()


def _drops_said(row: Quote, hour: Decimal) -> list[tuple[str, str]]:
    """Return what each stored place costs."""
    shop = row.workshop
    digits = minor_digits(shop.currency)
    drops = list(row.drops.order_by("position", "pk"))
    if not drops and row.delivery:
        return [("Entered on the quote", format_money(row.delivery, shop.currency, shop.locale))]
    said = []
    for place, drop in enumerate(drops, 1):
        typed = DropInput(drop.address, drop.quantity, drop.carrier, drop.minutes, drop.distance)
        cost = cost_of_drop(typed, hour, row.distance_cost, digits)
        label = drop.address.split("\n")[0] or f"Place {place}"
        said.append((label, format_money(cost, shop.currency, shop.locale)))
    return said
