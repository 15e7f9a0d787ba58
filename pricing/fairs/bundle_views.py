"""Pages of a fair's bundles, and of the orders it won."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from maker.calc.money import cash_step, minor_digits
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.refusals import refusal_told, show_refusal
from pricing.calc.fairs.bundles import Bundle, bundle_of
from pricing.fairs.drawing import FairWords, item_name
from pricing.fairs.forms import BundleForm, OrdersWonForm
from pricing.fairs.inputs import Paid, fair_item, fair_rates, first_tier
from pricing.fairs.models import Fair, FairBundle, FairDesign, FairOrder
from pricing.fairs.services import remove_bundle, save_bundle, save_orders_won
from pricing.fairs.views import back_to, fair_or_404
from pricing.orders.models import Order

MOST_ORDERS = 60
# of what the tags are above the lowest price; common practice, no source
KEPT = Decimal("0.8")


@require_http_methods(["GET", "POST"])
@may_change
def fair_bundle_new(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Enter a bundle."""
    return _edit(request, FairBundle(fair=fair_or_404(request, pk)))


@require_http_methods(["GET", "POST"])
@may_change
def fair_bundle(request: WorkshopRequest, pk: int, bundle: int) -> HttpResponse:
    """Change a bundle."""
    rows = FairBundle.objects.filter(fair=fair_or_404(request, pk)).select_related("fair")
    return _edit(request, row_or_404(rows, bundle))


@require_POST
@may_change
def fair_bundle_remove(request: WorkshopRequest, pk: int, bundle: int) -> HttpResponse:
    """Offer a bundle no more; what was sold in it stays sold."""
    row = FairBundle.objects.filter(fair=fair_or_404(request, pk), pk=bundle).first()
    if row is not None:
        with refusal_told(request):
            remove_bundle(bundle=row)
            messages.success(request, f"Removed the bundle “{row.name}”.")
    return back_to(request, pk)


def _edit(request: WorkshopRequest, row: FairBundle) -> HttpResponse:
    items = list(row.fair.designs.with_items().in_order())
    there = {each.item_id: each.count for each in row.items.all()} if row.pk else {}
    initial: dict[str, Any] = {f"count_{key}": count for key, count in there.items()}
    if row.pk:
        initial |= {"name": row.name, "price": row.price}
    form = BundleForm(
        request.POST or None,
        workshop=request.workshop,
        items=[(item.pk, item_name(item)) for item in items],
        initial=initial,
    )
    is_sent = request.method == "POST"
    counts = there
    if is_sent and form.is_valid():
        counts = form.counts()
        worked = _worked(request, row.fair, items, counts)
        row.name, row.price = form.cleaned_data["name"], form.cleaned_data["price"]
        try:
            save_bundle(bundle=row, counts=counts, lowest=worked.lowest if worked else None)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Saved the bundle “{row}”.")
            return back_to(request, row.fair_id)
    worked = _worked(request, row.fair, items, counts)
    words = FairWords(request.workshop)
    context: dict[str, Any] = {"fair": row.fair, "bundle": row, "form": form, "items": items}
    if worked:
        context["prices"] = [
            ("Prices on the tags", words.money(worked.full)),
            ("Suggested price", words.money(worked.price)),
            ("Lowest price", words.money(worked.lowest)),
        ]
    return render(request, "pricing/fairs/bundle.html", context, status=422 if is_sent else 200)


def _worked(
    request: WorkshopRequest, fair: Fair, items: list[FairDesign], counts: dict[int, int]
) -> Bundle | None:
    """Return the bundle's prices, 80 % of what tags are above the lowest kept; None if empty."""
    pieces = [(fair_item(item, Paid([])), counts[item.pk]) for item in items if counts.get(item.pk)]
    if not pieces:
        return None
    tier = first_tier(fair.channel)
    currency = request.workshop.currency
    step = tier.price_step if tier and tier.price_step else cash_step(currency)
    rates = fair_rates(request.workshop, fair.channel)
    return bundle_of(pieces, rates, keep=KEPT, step=step, digits=minor_digits(currency))


@require_http_methods(["GET", "POST"])
@may_change
def fair_orders(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say which orders a fair won."""
    fair = fair_or_404(request, pk)
    elsewhere = FairOrder.objects.exclude(fair=fair).values("order")
    free = Order.objects.of(request.workshop).for_list().exclude(pk__in=elsewhere).order_by("-pk")
    won = list(fair.orders.values_list("order_id", flat=True))
    # those won stay on the list however many came after them: what is not on it is not ticked
    orders = [*free.filter(pk__in=won), *free.exclude(pk__in=won)[:MOST_ORDERS]]
    ticked = [str(key) for key in won]
    form = OrdersWonForm(request.POST or None, orders=orders, initial={"orders": ticked})
    if request.method == "POST":
        form = OrdersWonForm(request.POST, orders=orders)
        if form.is_valid():
            save_orders_won(fair=fair, orders=[int(key) for key in form.cleaned_data["orders"]])
            messages.success(request, "Saved the orders won.")
            return redirect("pricing:fair", request.workshop.slug, pk)
    context = {"fair": fair, "form": form, "orders": orders}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/fairs/orders.html", context, status=status)
