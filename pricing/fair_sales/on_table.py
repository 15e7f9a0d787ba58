"""What is offered on a day: items and bundles at the prices fixed when the day was opened."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from maker.calc.money import minor_digits, to_minor
from maker.workshop.models import Workshop
from pricing.calc.fairs.basket import BadBasket, TableBundle, amount_with
from pricing.fair_sales.models import TablePrice
from pricing.fair_sales.prices_now import prices_now
from pricing.fair_sales.reading import BadSale, SentSale
from pricing.fairs.models import Fair, FairBundle, FairDay, FairDesign


@dataclass(frozen=True, slots=True)
class OnTable:
    """The items and bundles of a day by key, with prices in minor units of the currency."""

    fair: Fair
    digits: int
    items: Mapping[str, FairDesign]
    prices: Mapping[str, int]
    bundles: tuple[TableBundle, ...]
    bundle_names: Mapping[str, str] = field(default_factory=dict)

    def money(self, minor: int) -> Decimal:
        """Return an amount in the currency."""
        return Decimal(minor).scaleb(-self.digits)


def minor_of(amount: Decimal, digits: int) -> int:
    """Return an amount in minor units."""
    return int(to_minor(amount, digits).scaleb(digits))


def on_table(day: FairDay, workshop: Workshop) -> OnTable:
    """Return what the day offers: at its own prices if it was opened, else at those of the fair."""
    digits = minor_digits(workshop.currency)
    designs = {
        each.pk: each
        for each in FairDesign.objects.filter(fair=day.fair_id).with_items().in_order()
    }
    bundles = FairBundle.objects.filter(fair=day.fair_id).prefetch_related("items").order_by("pk")
    fixed = list(TablePrice.objects.filter(day=day)) or prices_now(day)
    of_item = {each.item_id: each.price for each in fixed if each.item_id}
    of_bundle = {each.bundle_id: each for each in fixed if each.bundle_id}
    shown = {pk: each for pk, each in designs.items() if pk in of_item}
    table_bundles, names = [], {}
    for bundle in bundles:
        kept = of_bundle.get(bundle.pk)
        if kept is None:
            continue
        key = str(bundle.pk)
        names[key] = bundle.name
        table_bundles.append(
            TableBundle(
                key=key,
                items={str(each.item_id): each.count for each in bundle.items.all()},
                price=minor_of(kept.price, digits),
                # a lowest price is never rounded down
                lowest=_up(kept.lowest, digits),
            )
        )
    return OnTable(
        fair=day.fair,
        digits=digits,
        items={str(pk): each for pk, each in shown.items()},
        prices={str(pk): minor_of(of_item[pk], digits) for pk in shown},
        bundles=tuple(table_bundles),
        bundle_names=names,
    )


def check_amount(sale: SentSale, table: OnTable) -> int:
    """Return what bundles took off, in minor units. Errors: BadSale where the amount is not right.

    Also for bundles a phone applied that others would have chosen differently: what counts is that
    they fit what was sold, at prices of the day.
    """
    items = {str(key): count for key, count in sale.items.items()}
    back = {str(key): count for key, count in sale.back.items()}
    counts = {str(key): count for key, count in sale.bundles.items()}
    if any(key not in table.prices for key in (*items, *back)):
        raise BadSale("An item of it is not sold on this day.", where="items")
    try:
        asked = amount_with(items, table.prices, table.bundles, counts)
        returned = amount_with(back, table.prices, (), {})
    except BadBasket as refusal:
        raise BadSale(refusal.message, where=refusal.where) from refusal
    full = sum(count * table.prices[key] for key, count in items.items())
    if sale.kind in ("given", "broken", "sold_out", "order", "undo"):
        return 0
    if sale.discount > asked:
        raise BadSale("The discount is more than the items cost.", where="discount")
    if sale.kind == "refund":
        if not -returned <= sale.amount <= 0:
            raise BadSale("More was paid back than the items cost.", where="amount")
        return 0
    if sale.amount != asked - sale.discount - returned:
        raise BadSale("Its amount is not what the items cost on this day.", where="amount")
    return full - asked


def _up(amount: Decimal, digits: int) -> int:
    scaled = amount.scaleb(digits)
    whole = int(scaled)
    return whole + (scaled > whole)
