"""What a batch should take by its recipe: materials, minutes and what they cost."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from catalogue.calc.recipes.recipe import Recipe
from catalogue.materials.models import Material
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import DesignVersion
from catalogue.sheet_plans.services import WatchedPlanner, sheet_planner
from maker.calc.money import whole_up, with_working_precision
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.calc.finished_stock.worth import PLACES, Worth
from pricing.calc.orders.order import OrderCost, OrderedLine
from pricing.costs.inputs import workshop_rates
from pricing.costs.kept_orders import order_cost

ZERO = Decimal(0)
# kinds of material that leave stock in whole ones
COUNTED = ("sheet", "count", "pairs")
NO_CHOICES: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class BatchEstimate:
    """What the recipe says for a batch: amounts by key of the material, whole where they are."""

    amounts: Mapping[int, Decimal]
    minutes: Decimal
    worth: Worth


class Estimator:
    """Says what batches take; rates are read and each recipe is worked out once for all of them.

    One query. Refusals: as `workshop_rates`.
    """

    def __init__(self, workshop: Workshop) -> None:
        self._workshop = workshop
        self._rates = workshop_rates(workshop)
        self._planner = WatchedPlanner(sheet_planner())
        self._recipes: dict[tuple[int, str], Recipe] = {}

    def batch(
        self,
        version: DesignVersion,
        quantity: int,
        colourway_name: str = "",
        choices: Mapping[str, str] = NO_CHOICES,
    ) -> BatchEstimate:
        """Return what a batch of so many good items takes; `version` comes from `with_recipe()`.

        Call it outside a transaction: sheets may take seconds to plan. Refusals: as `order_cost`.
        """
        ask = Ask(quantity, tuple(sorted(choices.items())))
        line = OrderedLine(self._recipe(version, colourway_name), ask, group=version.pk)
        return estimate_of(order_cost([line], self._rates, self._planner))

    @property
    def is_proven(self) -> bool:
        """Whether all sheets so far are planned as well as can be."""
        return self._planner.is_proven

    def _recipe(self, version: DesignVersion, colourway_name: str) -> Recipe:
        key = (version.pk, colourway_name)
        if key not in self._recipes:
            ways = {way.name: way for way in version.colourways.all()}
            colourway = ways.get(colourway_name)
            self._recipes[key] = recipe_values(version, self._workshop, colourway=colourway)
        return self._recipes[key]


@with_working_precision
def estimate_of(order: OrderCost) -> BatchEstimate:
    """Return what everything in a costed order takes."""
    amounts: dict[int, Decimal] = {}
    whole: set[int] = set()
    for need in order.needs:
        identity = need.material.identity
        if isinstance(identity, int) and need.amount > 0:
            amounts[identity] = amounts.get(identity, ZERO) + need.amount
            if need.material.kind in COUNTED:
                whole.add(identity)
    wage = order.labour_cost
    overhead = order.minutes * order.rates.overhead_per_hour / 60
    return BatchEstimate(
        {
            key: whole_up(amount) if key in whole else amount.quantize(PLACES)
            for key, amount in amounts.items()
        },
        order.minutes,
        Worth(*(part.quantize(PLACES) for part in (order.cost - wage - overhead, wage, overhead))),
    )


def materials_of(workshop: Workshop, estimate: BatchEstimate) -> list[Material]:
    """Return the materials of an estimate, by name (one query)."""
    rows = Material.objects.of(workshop).filter(pk__in=estimate.amounts)
    return list(rows.order_by("name", "pk"))
