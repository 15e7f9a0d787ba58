"""What an order takes that does not count by the sheet: fixings, wear, packing, work."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.recipes.parts_list import amount_of_one
from catalogue.calc.recipes.recipe import Basis, MaterialValues, RecipeStep
from maker.calc import sums
from maker.calc.amounts import unit_cost_in
from maker.calc.explanation import Line
from maker.calc.money import share_out
from maker.calc.refusal import Refusal
from maker.calc.sums import How
from pricing.calc.costing.cost import MaterialWithoutCost
from pricing.calc.costing.learning import LearningFactor, learning_factor
from pricing.calc.costing.minutes import LEARNING_BASES
from pricing.calc.orders.charges import Charge
from pricing.calc.orders.groups import Group, Part, as_decimal, share
from pricing.calc.price.ingredients import IngredientKind

ZERO = Fraction(0)
_COUNTED_BY_ITEMS = (Basis.JOB, Basis.BATCH, Basis.MADE, Basis.GOOD, Basis.CARTON, Basis.NAME)


def unit_cost(material: MaterialValues) -> Decimal:
    """Return what one unit costs, net. Refuses a material without a cost."""
    if material.cost is None:
        raise MaterialWithoutCost(
            f"“{material.name}” has no price. Enter a receipt or give one of its packs a price.",
            where=material.name,
        )
    return material.cost.value


def fixing_charges(group: Group) -> list[Charge]:
    """Return what is used that is not cut from sheets, waste included."""
    charges = []
    for row, fixing in enumerate(group.recipe.fixings):
        alike: dict[tuple[str, Decimal, str, str], list[Part]] = {}
        for part in group.parts:
            if row not in part.fixings:
                continue
            mine = part.fixings[row]
            material = part.material(mine.role, mine.name)
            each, words = amount_of_one(
                mine, tuple(part.pieces.values()), material.unit, part.recipe.unit
            )
            alike.setdefault((str(material.identity), each, words, mine.name), []).append(part)
        for (_, each, words, _), parts in alike.items():
            fixing = parts[0].fixings[row]
            material = parts[0].material(fixing.role, fixing.name)
            count = group.count(fixing.basis, parts)
            if count is None:
                raise Refusal(
                    f"“{fixing.name}” cannot be counted by the {fixing.basis.value}.",
                    where=fixing.name,
                )
            waste = material.waste_share if fixing.waste_share is None else fixing.waste_share
            amount = Fraction(count) * Fraction(each) * (1 + Fraction(waste))
            if not amount:
                continue
            how = sums.say(
                "{}: {}",
                fixing.name,
                sums.number(count)
                * sums.quantity(each, material.unit, fixing.typed_in)
                * sums.factor(1 + waste),
            )
            if words:
                how = sums.say("{}; {}", how, words)
            weights, rule = group.weights(fixing.basis, parts)
            charges.append(
                Charge(
                    IngredientKind.OTHER, str(material.identity), material.name, material.unit,
                    unit_cost(material), share(amount, weights), how,
                    rule, fixing.basis, group.number, unit_cost_line(material, group.recipe.unit),
                    ("fixing", fixing.id) if fixing.id is not None else None,
                )
            )  # fmt: skip
    return charges


def unit_cost_line(material: MaterialValues, lengths: str) -> tuple[Line, ...]:
    """Return the line of what one unit costs; of a yard where `lengths` are in inches."""
    known = material.cost
    if known is None:
        return ()
    cost, unit = unit_cost_in(known.value, material.unit, lengths)
    return (Line(f"1 {unit} of {material.name}", cost, "money", known.how, source=known.source),)


def wear_charges(group: Group) -> list[Charge]:
    """Return wear of tools that does not count by the sheet."""
    charges = []
    for row, wear in enumerate(group.recipe.wears):
        parts = [part for part in group.parts if row in part.wears]
        if not parts:
            continue
        if wear.life <= 0:
            raise Refusal(f"“{wear.name}” must last for more than 0.", where=wear.name)
        if wear.basis is Basis.SHEET:
            continue
        if wear.basis is Basis.PASS:
            shares: dict[int, Fraction] = {}
            for step_row in range(len(group.recipe.steps)):
                cut = [part for part in parts if step_row in part.steps]
                for passes in _passes(group, step_row, cut):
                    for role, many in passes.by_role.items():
                        if wear.role in (None, role):
                            for place, uses in share(Fraction(many), passes.weights[role]).items():
                                shares[place] = shares.get(place, ZERO) + uses
            how, rule = "passes", "pieces die-cut"
        elif wear.basis in (Basis.MADE, Basis.JOB):
            count = group.count(wear.basis, parts) or 0
            weights, rule = group.weights(wear.basis, parts)
            shares, how = share(Fraction(count), weights), ""
        else:
            raise Refusal(f"“{wear.name}” cannot wear by the {wear.basis.value}.", where=wear.name)
        source = ("wear", wear.id) if wear.id is not None else None
        charges.append(
            Charge(
                IngredientKind.WEAR, wear.name, wear.name, "use", wear.price / wear.life, shares,
                how, rule, wear.basis, group.number, source=source,
            )
        )  # fmt: skip
    return charges


def packing_charges(group: Group) -> list[Charge]:
    """Return what the good items leave in."""
    charges = []
    for row, _, many, parts in group.packed(group.parts):
        packing = parts[0].packings[row]
        material = parts[0].material(packing.role, packing.name) if packing.role else None
        if packing.cost_each is not None:
            kind, identity, unit, name = IngredientKind.STATED, packing.name, "piece", packing.name
            each = packing.cost_each
            lines: tuple[Line, ...] = (Line("your own cost", each, "money"),)
        elif material is not None:
            kind, identity, unit = IngredientKind.PACKING, str(material.identity), material.unit
            name, each, lines = (
                material.name,
                unit_cost(material),
                unit_cost_line(material, group.recipe.unit),
            )
        else:
            raise Refusal(
                f"“{packing.name}” has no price. Enter a cost or choose a role.",
                where=packing.name,
            )
        weights, rule = group.weights(Basis.GOOD, parts)
        good = sum(part.quantity for part in parts)
        how: How | str = f"{good}, one each"
        if packing.holds > 1:
            how = (sums.number(good) / sums.number(packing.holds)).then("up")
        charges.append(
            Charge(
                kind, identity, name, unit, each, share(Fraction(many), weights), how, rule,
                Basis.GOOD, group.number, lines,
                ("packing", packing.id) if packing.id is not None else None, packing.name,
            )
        )  # fmt: skip
    return charges


def work_charges(group: Group) -> list[Charge]:
    """Return the hands-on minutes that do not count by the sheet."""
    charges = []
    for row, step in enumerate(group.recipe.steps):
        parts = [part for part in group.parts if row in part.steps]
        source = ("step", step.id) if step.id is not None else None
        if step.basis is Basis.PASS:
            for passes in _passes(group, row, parts):
                weights: dict[int, Fraction] = {}
                for by_line in passes.weights.values():
                    for place, shapes in by_line.items():
                        weights[place] = weights.get(place, ZERO) + shapes
                minutes = Fraction(passes.count) * Fraction(step.minutes)
                charges.append(
                    Charge(
                        None, step.name, step.name, "min", Decimal(0),
                        share(minutes, weights),
                        sums.say(
                            "{}; {}",
                            sums.number(passes.count) * sums.number(step.minutes),
                            passes.how,
                        ),
                        "pieces die-cut", step.basis, group.number, source=source,
                    )
                )  # fmt: skip
            continue
        if not parts or step.basis not in _COUNTED_BY_ITEMS:
            continue
        if step.basis is Basis.BATCH:
            count = -(-group.made_of(parts) // step.per)
        else:
            count = group.count(step.basis, parts) or 0
        factor, how = Fraction(count), sums.number(count) * sums.number(step.minutes)
        lines: tuple[Line, ...] = ()
        if step.learns and step.basis in LEARNING_BASES and count:
            learning = _learning(group, step, parts)
            factor *= Fraction(learning.factor)
            how *= sums.factor(learning.factor)
            lines = (learning.line,)
        weights, rule = group.weights(step.basis, parts)
        charges.append(
            Charge(
                None, step.name, step.name, "min", Decimal(0),
                share(factor * Fraction(step.minutes), weights), how, rule, step.basis,
                group.number, lines, source,
            )
        )  # fmt: skip
    return charges


def _learning(group: Group, step: RecipeStep, parts: Sequence[Part]) -> LearningFactor:
    """Return how much faster a step gets: hands practise on the items that have it."""
    if step.basis is Basis.NAME:
        parts = [part for part in parts if part.names]
    recipe = group.recipe
    return learning_factor(
        group.made_of(parts),
        model=recipe.learning,
        rate=recipe.learning_rate,
        floor=recipe.learning_floor,
        reference=recipe.learning_reference,
        made_before=recipe.learning_made,
    )


@dataclass(frozen=True, slots=True)
class _Passes:
    """Passes of one die through one material: by role, with the shapes of each line."""

    by_role: Mapping[str, int]
    weights: Mapping[str, Mapping[int, Fraction]]
    how: str

    @property
    def count(self) -> int:
        return sum(self.by_role.values())


def _passes(group: Group, row: int, parts: Sequence[Part]) -> list[_Passes]:
    """Count the passes of a step for some lines: one pass takes one sheet of one card."""
    if not parts:
        return []
    step = group.recipe.steps[row]
    if step.basis is not Basis.PASS:
        return []
    made = group.made_shares(parts)
    shapes: dict[int | str, dict[str, dict[int, Fraction]]] = {}
    for part in parts:
        for piece in part.pieces.values():
            if not piece.is_die_cut or step.role not in (None, piece.role):
                continue
            material = part.material(piece.role, piece.name).identity
            lines = shapes.setdefault(material, {}).setdefault(piece.role, {})
            many = made[part.place] * piece.count * piece.layers
            lines[part.place] = lines.get(part.place, ZERO) + many
    found = []
    for by_role in shapes.values():
        counts = {role: sum(lines.values(), ZERO) for role, lines in by_role.items()}
        total = int(sum(counts.values(), ZERO))
        passes = -(-total // step.per)
        split = share_out(Decimal(passes), [as_decimal(count) for count in counts.values()], 0)
        found.append(
            _Passes(
                {role: int(many) for role, many in zip(counts, split, strict=True)},
                by_role,
                f"{total} / {step.per} up ({', '.join(by_role)})",
            )
        )
    return found
