"""What an order needs to be made: its sheets as one job, what to buy, how far stock goes."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from catalogue.calc.reels.planning import Length
from catalogue.calc.supplies.shopping import Need, ShoppingList, shopping_list
from catalogue.materials.inputs import material_values
from catalogue.materials.models import Material
from catalogue.recipes.inputs import materials_of
from catalogue.recipes.models import DesignVersion
from catalogue.sheet_plans.services import PlanSheets
from maker.calc.refusal import Refusal
from pricing.calc.orders.order import OrderCost, OrderedLine
from pricing.calc.orders.running_out import Covered, covered
from pricing.costs.inputs import workshop_rates
from pricing.costs.kept_orders import order_cost
from pricing.orders.inputs import lines_now
from pricing.orders.materials import NeedLine, need_lines
from pricing.orders.models import Order
from pricing.quotes.dates import Counted, count_for, dates_of
from pricing.quotes.inputs import ordered_line
from pricing.quotes.models import QuoteLine

ZERO = Decimal(0)
ONE_DAY = datetime.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class MadeTogether:
    """Lines of one or several orders as one job; `cost` is None while `problem` says why."""

    lines: tuple[QuoteLine, ...]
    ordered: tuple[OrderedLine, ...]
    cost: OrderCost | None
    problem: str = ""
    versions: Mapping[int, DesignVersion] = field(default_factory=dict)


def made_together(orders: Sequence[Order], plan_sheets: PlanSheets) -> MadeTogether:
    """Return all lines of orders as one job (two queries for each order).

    Sheets may take seconds to plan. Nothing is refused: what is in the way is told.
    """
    rows = tuple(line for order in orders for line in lines_now(order))
    if not rows:
        return MadeTogether((), (), None, "This order has no items to make.")
    versions = DesignVersion.objects.with_recipe().in_bulk({row.version_id for row in rows})
    ordered: list[OrderedLine] = []
    try:
        ordered += [ordered_line(row, versions[row.version_id]) for row in rows]
        cost = order_cost(ordered, workshop_rates(orders[0].workshop), plan_sheets)
    except Refusal as refusal:
        return MadeTogether(rows, tuple(ordered), None, refusal.message, versions)
    return MadeTogether(rows, tuple(ordered), cost, "", versions)


@dataclass(frozen=True, slots=True)
class SupplierBuy:
    """What is bought from one supplier: packs, goods, postage, and by when to order it.

    `to_free` is what is missing to free postage; None when it is free already or never is.
    """

    supplier: str
    packs: tuple[tuple[str, str, int, Decimal | None], ...]  # material, pack, count, cost
    goods: Decimal
    postage: Decimal
    to_free: Decimal | None
    order_by: datetime.date | None

    @property
    def total(self) -> Decimal:
        """Goods and postage."""
        return self.goods + self.postage


@dataclass(frozen=True, slots=True)
class ToMake:
    """Everything a page says before an order is made; suppliers in order of date.

    `start_on` is the latest date to start; None without a due date, or when it cannot be met.
    """

    needs: tuple[NeedLine, ...]
    suppliers: tuple[SupplierBuy, ...]
    without_pack: tuple[tuple[str, str], ...]
    cash: Decimal
    covered: tuple[Covered, ...]
    start_on: datetime.date | None


def to_make(
    order: Order, together: MadeTogether, today: datetime.date, left: Mapping[int, int]
) -> ToMake:
    """Return what an order takes, against stock less what other orders reserved.

    `left` has how many are still to be made, by place of the line.

    A fixed number of queries, whatever the lines and materials.
    """
    shop = order.workshop
    needs = tuple(need_lines(order))
    counted = count_for(order.quote, today)
    rows = materials_of(together.versions.values())
    if others := {line.need.material_id for line in needs} - rows.keys():
        rows |= Material.objects.with_costs().in_bulk(others)
    lengths = _lengths(together)
    wanted = [
        Need(
            replace(material_values(rows[line.need.material_id], shop), on_hand=line.free),
            line.need.left,
            # what was taken already is not a whole list of lengths any more
            () if line.need.taken else lengths.get(line.need.material_id, ()),
        )
        for line in needs
        if line.need.left
    ]
    bought = shopping_list(wanted, deduct_stock=True, terms=counted.suppliers)
    start_on = _start_on(order, together, counted, today)
    free = {str(line.need.material_id): line.free for line in needs}
    return ToMake(
        needs=needs,
        suppliers=_by_supplier(bought, counted, start_on),
        without_pack=tuple(
            (line.material.name, line.problem) for line in bought.lines if line.bought is None
        ),
        cash=bought.total,
        covered=covered(together.cost, free, left) if together.cost else (),
        start_on=start_on,
    )


def _lengths(together: MadeTogether) -> dict[int, tuple[Length, ...]]:
    if together.cost is None:
        return {}
    return {
        need.material.identity: need.lengths
        for need in together.cost.needs
        if isinstance(need.material.identity, int)
    }


def _start_on(
    order: Order, together: MadeTogether, counted: Counted, today: datetime.date
) -> datetime.date | None:
    """Return the latest date to start: the first delivery that has not left counts."""
    due = [each.due_on for each in order.deliveries.all() if each.due_on and not each.delivered_on]
    due_on = min(due) if due else order.due_on
    if together.cost is None or due_on is None:
        return None
    dates = dates_of(together.cost, counted, today, due_on)
    return dates.latest.start_on if dates and dates.latest else None


def _by_supplier(
    bought: ShoppingList, counted: Counted, start_on: datetime.date | None
) -> tuple[SupplierBuy, ...]:
    packs: dict[str, list[tuple[str, str, int, Decimal | None]]] = {}
    lead: dict[str, int] = {}
    for line in bought.lines:
        for pack in line.bought.packs if line.bought else ():
            offer = pack.offer
            cost = None if offer.price is None else offer.price * pack.count
            packs.setdefault(offer.supplier, []).append(
                (line.material.name, offer.name, pack.count, cost)
            )
            days = counted.terms.lead_days if offer.lead_days is None else offer.lead_days
            lead[offer.supplier] = max(lead.get(offer.supplier, 0), days)
    orders = {each.supplier: each for each in bought.orders}
    found = []
    for name, rows in packs.items():
        known = orders.get(name)
        order_by = None
        if start_on is not None:
            working = counted.terms.supplier_days
            order_by = working.before(working.last_until(start_on - ONE_DAY), lead[name])
        found.append(
            SupplierBuy(
                name,
                tuple(rows),
                sum((cost or ZERO for *_, cost in rows), ZERO),
                known.carriage if known else ZERO,
                known.to_free if known else None,
                order_by,
            )
        )
    return tuple(
        sorted(found, key=lambda each: (each.order_by or datetime.date.max, each.supplier))
    )
