"""What an order costs, kept by everything it was worked out from.

The dates of an order ask for it a dozen times, and its pages are opened one after the other. The
key is the content of its lines and rates, so nothing that changes in the database makes a kept
cost wrong. Only costs from proven plans are kept.
"""

from collections import OrderedDict
from collections.abc import Hashable, Sequence
from dataclasses import fields
from threading import Lock

from catalogue.calc.recipes.recipe import Recipe
from catalogue.calc.sheets.use import PlanSheets
from catalogue.sheet_plans.services import WatchedPlanner
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.orders.order import OrderCost, OrderedLine, cost_of_order

MOST_ORDERS = 64
_SAID = tuple(field.name for field in fields(Recipe) if field.name != "materials")


class KeptOrders:
    """Costs of orders by content; those unused longest are let go."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, OrderCost] = OrderedDict()
        self._lock = Lock()

    def cost_of(
        self, lines: Sequence[OrderedLine], rates: WorkshopRates, plan_sheets: PlanSheets
    ) -> OrderCost:
        """Return the cost of an order, kept or worked out. Refusals: as `cost_of_order`."""
        key = (tuple((content_of(line.recipe), line.ask, line.group) for line in lines), rates)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        planner = WatchedPlanner(plan_sheets)
        found = cost_of_order(lines, rates, planner)
        if planner.is_proven:
            with self._lock:
                self._kept[key] = found
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        return found


def content_of(recipe: Recipe) -> Hashable:
    """Return everything a recipe says, as a key."""
    return (tuple(recipe.materials.items()), *(getattr(recipe, name) for name in _SAID))


_KEPT = KeptOrders(MOST_ORDERS)
order_cost = _KEPT.cost_of
