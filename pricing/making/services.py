"""One cutting plan over an order, or over orders that are cut together."""

import uuid
from collections.abc import Sequence

from catalogue.cutting_plans.asks import DesignAsk, PlanAsk
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import ask_plan
from maker.accounts.models import User
from pricing.making.inputs import MadeTogether
from pricing.orders.lots import one_lot_each
from pricing.orders.models import Order
from pricing.quotes.inputs import colourway_of

MOST_NAME = 120
SECONDS = 30


def ask_order_plan(
    *, orders: Sequence[Order], together: MadeTogether, by: User | None, form_key: uuid.UUID
) -> CuttingPlan:
    """Ask for one cutting plan over all lines of orders, spares among them.

    Equal lines are cut as one, so spares are counted once for them. Refusals: as `ask_plan`.
    """
    asks: dict[tuple[int, str, tuple[tuple[str, str], ...]], DesignAsk] = {}
    for row in together.lines:
        version = together.versions[row.version_id]
        choices = tuple(sorted(row.choices.items()))
        key = (row.version_id, row.colourway_name, choices)
        before = asks.get(key)
        asks[key] = DesignAsk(
            version,
            row.quantity + (before.quantity if before else 0),
            colourway_of(row, version),
            choices,
        )
    numbers = ", ".join(order.number for order in orders)
    name = f"Order{'s' if len(orders) > 1 else ''} {numbers}"
    gaps = [line.recipe.gap_mm for line in together.ordered]
    return ask_plan(
        workshop=orders[0].workshop,
        ask=PlanAsk(designs=tuple(asks.values()), gap_mm=max(gaps), lots=one_lot_each(orders)),
        name=name[:MOST_NAME],
        seconds=SECONDS,
        by=by,
        form_key=form_key,
    )


def plans_of(order: Order) -> list[CuttingPlan]:
    """Return the cutting plans that name an order, the newest first (one query)."""
    plans = CuttingPlan.objects.of(order.workshop).filter(name__contains=order.number)
    return list(plans.in_short().newest_first()[:10])
