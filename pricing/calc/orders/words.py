"""How an order's cost is explained: the order as a whole first, then the share of each line."""

from collections.abc import Sequence
from fractions import Fraction

from catalogue.calc.recipes.parts_list import say_made
from catalogue.calc.recipes.recipe import Basis
from maker.calc.explanation import Line, sum_line
from pricing.calc.costing.cost import by_the_hour
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.orders.charges import Charge
from pricing.calc.orders.groups import Group, Part, as_decimal
from pricing.calc.price.ingredients import IngredientKind

_SECTIONS: tuple[tuple[str, str, frozenset[Basis]], ...] = (
    ("o.setup", "set-up, once per design", frozenset({Basis.JOB})),
    ("o.batch", "per batch", frozenset({Basis.BATCH})),
    ("o.cut", "cutting sheets", frozenset({Basis.SHEET})),
    ("o.die", "die-cutting", frozenset({Basis.PASS})),
    ("o.hand", "per item made", frozenset({Basis.MADE})),
    ("o.names", "per name", frozenset({Basis.NAME})),
    ("o.pack", "checking and packing", frozenset({Basis.GOOD, Basis.CARTON})),
)
_COSTS: tuple[tuple[str, str, tuple[IngredientKind, ...]], ...] = (
    ("o.sheets", "sheets", (IngredientKind.SHEET,)),
    ("o.other", "other materials", (IngredientKind.OTHER,)),
    ("o.wear", "wear of tools", (IngredientKind.WEAR,)),
    ("o.pack", "packing", (IngredientKind.PACKING, IngredientKind.STATED)),
)


def say_line(
    group: Group,
    part: Part,
    made: Fraction,
    mine: Sequence[Charge],
    cost: Fraction,
    minutes: Fraction,
    rates: WorkshopRates,
) -> Line:
    """Return a line's share of the order's cost, each part with the rule it is shared by."""
    lines = [
        sum_line(
            label,
            [charge.line_of(part.place) for charge in mine if charge.kind in kinds],
            unit="money",
        )
        for _, label, kinds in _COSTS
    ]
    worked = sum_line(
        "minutes of work",
        [charge.line_of(part.place) for charge in mine if charge.is_work],
        unit="min",
    )
    lines = [line for line in lines if line.lines]
    for label, rate in (("labour", rates.wage_per_hour), ("overhead", rates.overhead_per_hour)):
        value = as_decimal(minutes * Fraction(rate) / 60)
        lines.append(
            Line(
                label,
                value,
                "money",
                by_the_hour(as_decimal(minutes), rate),
                lines=(worked,) if label == "labour" else (),
            )
        )
    how = ""
    if len(group.parts) > 1:
        how = f"{part.quantity} of {group.quantity} of this design in the order"
    return Line(
        f"line {part.place + 1}: {part.recipe.name}, its share of the cost",
        as_decimal(cost),
        "money",
        how,
        f"o.line.{part.place + 1}",
        (*lines, Line("items made, spares shared", as_decimal(made), "piece")),
    )


def say_order(groups: Sequence[Group], charges: Sequence[Charge], rates: WorkshopRates) -> Line:
    """Return the cost of the order as a tree: what all lines take together."""
    many = len(groups) > 1

    def design(charge: Charge) -> str:
        return "" if charge.group is None or not many else groups[charge.group].recipe.name

    costs = [
        sum_line(
            name,
            [charge.line(design(charge)) for charge in charges if charge.kind in kinds],
            unit="money",
            key=key,
        )
        for key, name, kinds in _COSTS
    ]
    work = [charge for charge in charges if charge.is_work]
    sections = []
    for key, name, bases in _SECTIONS:
        lines = [charge.line(design(charge)) for charge in work if charge.basis in bases]
        if lines:
            sections.append(sum_line(name, lines, unit="min", key=f"{key}.min"))
    minutes = sum_line("hands-on minutes", sections, unit="min", key="o.minutes")
    for name, rate, how in (
        ("labour", rates.wage_per_hour, "your own rate"),
        ("overhead", rates.overhead_per_hour, rates.overhead_how),
    ):
        hour = Line(f"{'wage' if name == 'labour' else name} an hour", rate, "money", how)
        costs.append(
            Line(
                name,
                minutes.number * rate / 60,
                "money",
                by_the_hour(minutes.number, rate),
                f"o.{name}",
                (minutes, hour) if name == "labour" else (hour,),
            )
        )
    total = sum_line(
        "cost of the order",
        costs,
        unit="money",
        key="o.cost",
        how="sheets + other materials + wear + packing + labour + overhead",
    )
    return Line(
        total.label,
        total.value,
        "money",
        total.how,
        total.key,
        (*(_say_group(group) for group in groups), *total.lines),
    )


def _say_group(group: Group) -> Line:
    """Say how many of a design are made, spares up for each way it is cut."""
    lines = []
    for parts in group.alike():
        good, made = sum(part.quantity for part in parts), group.made_of(parts)
        lines.append(say_made(parts[0].recipe, good, made - good))
    if len(lines) == 1:
        return lines[0]
    how = "spares up for each colourway and way it is cut"
    return sum_line(f"{group.recipe.name}: to make", lines, unit="piece", how=how)
