"""What items and bundles of a fair cost now: the prices that opening a day fixes."""

from decimal import Decimal

from maker.calc.money import cash_step, minor_digits
from pricing.calc.fairs.bundles import BadBundle, bundle_of
from pricing.calc.fairs.what_to_take import FairItem
from pricing.fair_sales.models import TablePrice
from pricing.fairs.inputs import fair_rates
from pricing.fairs.models import FairBundle, FairDay, FairDesign

ZERO = Decimal(0)


def prices_now(day: FairDay) -> list[TablePrice]:
    """Return today's prices as rows that are not stored; `day` has its fair and channel."""
    designs = FairDesign.objects.filter(fair=day.fair_id)
    return [
        *(TablePrice(day=day, item=each, price=each.price) for each in designs),
        *_bundles(day),
    ]


def _bundles(day: FairDay) -> list[TablePrice]:
    fair = day.fair
    rates = fair_rates(fair.workshop, fair.channel)
    found = []
    for bundle in FairBundle.objects.filter(fair=fair).prefetch_related("items__item"):
        pieces = [
            (
                FairItem(
                    name=str(each.item_id),
                    price=each.item.price,
                    cost=each.item.cost_each,
                    bag=each.item.bag_each,
                    card_share=ZERO,
                    payments_each=ZERO,
                    worth_after=ZERO,
                    handling=ZERO,
                ),
                each.count,
            )
            for each in bundle.items.all()
        ]
        if not pieces:
            continue
        try:
            worked = bundle_of(
                pieces,
                rates,
                keep=ZERO,
                step=cash_step(fair.workshop.currency),
                digits=minor_digits(fair.workshop.currency),
            )
        except BadBundle:
            # fee and tax leave nothing of any price: then it is not offered
            continue
        found.append(TablePrice(day=day, bundle=bundle, price=bundle.price, lowest=worked.lowest))
    return found
