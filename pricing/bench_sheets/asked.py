"""What a bench sheet is made for: a batch of a design, a cutting plan's designs, an order."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.stored import read_asked
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import Colourway, DesignVersion
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.calc.orders.order import OrderedLine
from pricing.orders.inputs import lines_now
from pricing.orders.lots import lots_to_take
from pricing.orders.models import Order, OrderDeliveryLine
from pricing.quotes.inputs import colourway_of, names_of, ordered_line
from pricing.quotes.models import QuoteLine


class NothingToMake(Refusal):
    """There is no design a bench sheet could be about."""


@dataclass(frozen=True, slots=True)
class AskedLine:
    """One line: its recipe with what is asked, what it is drawn from, and the names to write."""

    ordered: OrderedLine
    version: DesignVersion
    colourway: Colourway | None
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AskedDelivery:
    """What leaves together, and when."""

    due_on: datetime.date | None
    is_gone: bool
    note: str
    items: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class AskedSheet:
    """Everything a bench sheet is asked for."""

    title: str
    file_name: str
    lines: tuple[AskedLine, ...]
    about: tuple[str, ...] = ()
    due_on: datetime.date | None = None
    deliveries: tuple[AskedDelivery, ...] = ()
    notes: str = ""
    # the kept lot of a material in words, by its name
    lots: Mapping[str, str] = field(default_factory=dict)


def sheet_of_batch(
    version: DesignVersion, workshop: Workshop, ask: Ask, colourway: Colourway | None
) -> AskedSheet:
    """Return the sheet of a batch; `version` comes from `with_recipe()`."""
    recipe = recipe_values(version, workshop, colourway=colourway)
    line = AskedLine(OrderedLine(recipe, ask, group=version.pk), version, colourway)
    return AskedSheet(
        title=version.design.name, file_name=f"bench-sheet-{version.design_id}.pdf", lines=(line,)
    )


def sheet_of_order(order: Order) -> AskedSheet:
    """Return the sheet of an order, all its lines (a fixed number of queries).

    `order` comes from `with_people()`. Refusals: NothingToMake, ColourwayGone.
    """
    rows = lines_now(order)
    if not rows:
        raise NothingToMake(f"{order} has no items to make.")
    versions = DesignVersion.objects.with_recipe().in_bulk({row.version_id for row in rows})
    lines = tuple(
        AskedLine(
            ordered_line(row, versions[row.version_id]),
            versions[row.version_id],
            colourway_of(row, versions[row.version_id]),
            tuple(names_of(row.names)),
        )
        for row in rows
    )
    deliveries = order.deliveries.prefetch_related("lines__line__design").order_by("position", "pk")
    about = [order.quote.customer.name]
    if order.quote.title:
        about.append(order.quote.title)
    return AskedSheet(
        title=f"Order {order}",
        file_name=f"bench-sheet-order-{order.pk}.pdf",
        lines=lines,
        about=tuple(about),
        due_on=order.due_on,
        deliveries=tuple(
            AskedDelivery(
                each.due_on,
                each.delivered_on is not None,
                each.note,
                _items(each.lines.all()),
            )
            for each in deliveries
        ),
        notes=order.notes,
        lots=lots_to_take([order]),
    )


def _items(rows: Iterable[OrderDeliveryLine]) -> tuple[tuple[int, str], ...]:
    """Return how many of each item, those alike together."""
    counts: dict[str, int] = {}
    for row in rows:
        counts[_item(row.line)] = counts.get(_item(row.line), 0) + row.quantity
    return tuple((count, name) for name, count in counts.items())


def _item(line: QuoteLine) -> str:
    return f"{line.design}, {line.colourway_name}" if line.colourway_name else str(line.design)


def sheet_of_plan(plan: CuttingPlan, workshop: Workshop) -> AskedSheet:
    """Return the sheet of what a cutting plan was asked for (a fixed number of queries).

    Designs are found by name and version, as the plan keeps them. Refusals: NothingToMake.
    """
    asked = read_asked(plan.asked).designs
    found = _versions([one.design for one in asked], workshop)
    lines = []
    for one in asked:
        version = found.get((one.design, one.version))
        if version is None:
            raise NothingToMake(
                f"“{one.design}”, version {one.version}, isn't there any more. Plan it anew."
            )
        ways = {way.name: way for way in version.colourways.all()}
        if one.colourway and one.colourway not in ways:
            raise NothingToMake(
                f"“{one.design}” has no colourway “{one.colourway}” any more. Plan it anew."
            )
        colourway = ways.get(one.colourway or "")
        recipe = recipe_values(version, workshop, colourway=colourway)
        ask = Ask(quantity=one.quantity, choices=tuple(sorted(dict(one.choices).items())))
        lines.append(AskedLine(OrderedLine(recipe, ask, group=version.pk), version, colourway))
    if not lines:
        raise NothingToMake("This plan has loose pieces only. A bench sheet needs a design.")
    return AskedSheet(
        title=plan.name, file_name=f"bench-sheet-plan-{plan.pk}.pdf", lines=tuple(lines)
    )


def _versions(names: Sequence[str], workshop: Workshop) -> Mapping[tuple[str, int], DesignVersion]:
    rows = DesignVersion.objects.of(workshop).filter(design__name__in=names).with_recipe()
    return {(row.design.name, row.number): row for row in rows}
