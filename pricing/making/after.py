"""What an order really took beside what was planned when it was accepted, and what to learn."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.db import models, transaction

from catalogue.calc.recipes.recipe import Basis
from catalogue.designs.models import Design
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import save_as_new_version, save_recipe
from catalogue.stock.models import StockEntry
from maker.accounts.models import User
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.actuals.order_actuals import MaterialUse, OrderActuals, WorkDone, actuals_of
from pricing.calc.changes.history import History, price_history
from pricing.calc.orders.groups import as_decimal
from pricing.calc.price.ingredients import (
    OF_STOCK,
    Ingredients,
    UnreadableIngredients,
    from_plain,
)
from pricing.finished_stock.models import FinishedBatch
from pricing.making.inputs import MadeTogether
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order, OrderChange
from pricing.quotes.inputs import load_for, work_out
from pricing.quotes.models import QuoteLine
from pricing.quotes.sending import ingredients_of_lines
from pricing.times.inputs import WAITING

ZERO = Decimal(0)
HOUR = Decimal(60)
HUNDREDTH = Decimal("0.01")
# what is done once for a job or a batch, however many are made
SET_UP = (Basis.JOB, Basis.BATCH)
# beyond this it is a slip, no pace
LEAST_FACTOR, MOST_FACTOR = Decimal("0.1"), Decimal(10)


class NothingToCompare(Refusal):
    """The plan was not kept, or nothing was made yet; the words say which."""


@dataclass(frozen=True, slots=True)
class MaterialRow:
    """A material as planned for what was made, and as really used."""

    name: str
    unit: str
    identity: str


@dataclass(frozen=True, slots=True)
class DesignPace:
    """Minutes of one design: planned for what was made of it, and worked.

    `versions` are those it was ordered in.
    """

    design: Design
    planned: Decimal
    actual: Decimal
    versions: tuple[DesignVersion, ...]

    @property
    def factor(self) -> Decimal:
        """Return by what the recipe's minutes are to be multiplied; 1 where nothing is known."""
        return self.actual / self.planned if self.planned and self.actual else Decimal(1)


@dataclass(frozen=True, slots=True)
class Afterwards:
    """Everything the page of estimate and actual says; money net and unrounded.

    `other` are planned costs that are not measured: wear, packing at a stated cost, fees.
    `expenses` are those entered for the order, which nobody planned.
    """

    planned: Decimal
    made: Decimal
    uses: tuple[MaterialUse, ...]
    rows: tuple[MaterialRow, ...]
    work: WorkDone
    actuals: OrderActuals
    paces: tuple[DesignPace, ...]
    net: Decimal
    other: Decimal
    expenses: Decimal
    overhead_per_hour: Decimal
    planned_per_hour: Decimal | None
    is_whole: bool

    @property
    def actual_cost(self) -> Decimal:
        """Return what materials, hours and expenses came to."""
        return self.actuals.actual_cost + self.expenses

    @property
    @with_working_precision
    def earned_per_hour(self) -> Decimal | None:
        """Return what an hour really earned: all that is left after everything but the wage.

        None while there is more to make: the price is for all of it.
        """
        hours = self.work.actual_hours
        if not hours or not self.is_whole:
            return None
        materials = sum((use.actual_amount * use.actual_price for use in self.uses), ZERO)
        left = self.net - self.other - self.expenses - materials
        return left / hours - self.overhead_per_hour


@with_working_precision
def afterwards(order: Order, together: MadeTogether, expenses: Iterable[Expense]) -> Afterwards:
    """Return what an order took beside its plan (five queries).

    Planned are the figures that were accepted; `together` says what of the minutes is set-up, and
    how many are made with spares; `expenses` are those entered for it. Refusals: NothingToCompare.
    """
    kept = _kept(order)
    agreed = _agreed(order, kept, together)
    batches = list(order.batches.made().prefetch_related("spoiled").select_related("item__design"))
    if not batches:
        raise NothingToCompare("Record what you made first. Then both are shown side by side.")
    planned, setup = _planned(together, agreed)
    made = Decimal(sum(_made(batch) for batch in batches))
    rates = kept[0].rates
    hours = sum((batch.minutes for batch in batches), ZERO) / HOUR
    work = WorkDone(
        setup_minutes=setup,
        minutes_each=max(agreed.minutes - setup, ZERO) / planned,
        planned_wage=rates.wage_per_hour,
        actual_hours=hours,
        actual_wage=order.workshop.wage_per_hour,
    )
    uses, rows = _materials(order, agreed, planned)
    own = order.quote.frozen["own"]
    fees, changed = Decimal(own["fees"]), _changed(order)
    unmeasured = sum((i.cost for each in kept for i in each.items if i.kind not in OF_STOCK), ZERO)
    return Afterwards(
        planned=planned,
        made=made,
        uses=uses,
        rows=rows,
        work=work,
        actuals=actuals_of(planned, made, uses, work),
        paces=_paces(order, together, kept, batches, planned / agreed.count, setup),
        net=(Decimal(own["cost"]) + fees + Decimal(own["profit"])) * changed,
        other=fees * changed + unmeasured * agreed.factor,
        expenses=sum((one.cost for one in expenses), ZERO),
        overhead_per_hour=rates.overhead_per_hour,
        planned_per_hour=Decimal(own["per_hour"]) if own.get("per_hour") else None,
        is_whole=sum(batch.quantity or 0 for batch in batches)
        >= sum(line.quantity for line in together.lines),
    )


def _kept(order: Order) -> list[Ingredients]:
    """Return what was accepted. Refusals: NothingToCompare."""
    lines = order.quote.frozen.get("basis", {}).get("lines", [])
    try:
        kept = [from_plain(line) for line in lines]
    except UnreadableIngredients:
        kept = []
    if not kept:
        raise NothingToCompare("What this order was worked out from was not kept.")
    return kept


def _changed(order: Order) -> Decimal:
    """Return what accepted changes made of the total, as a factor."""
    return order.total / order.quote.total if order.quote.total else Decimal(1)


def _made(batch: FinishedBatch) -> int:
    return (batch.quantity or 0) + sum(bad.count for bad in batch.spoiled.all())


@dataclass(frozen=True, slots=True)
class Agreed:
    """What was agreed in the end: the quote with what its accepted changes add and take off.

    `factor` is how many were agreed, of how many the quote had; `costs` are those of the quote's
    own amounts, `quoted`.
    """

    count: Decimal
    factor: Decimal
    minutes: Decimal
    amounts: dict[str, Decimal]
    quoted: dict[str, Decimal]
    costs: dict[str, Decimal]
    rows: dict[str, MaterialRow]


def _agreed(order: Order, kept: Sequence[Ingredients], together: MadeTogether) -> Agreed:
    """Return what was agreed (two queries).

    A change that could not be worked out when it was offered counts by how many it made of the
    quote's quantity.
    """
    quoted: dict[str, Decimal] = {}
    costs: dict[str, Decimal] = {}
    rows: dict[str, MaterialRow] = {}
    for item in (item for each in kept for item in each.items if item.kind in OF_STOCK):
        quoted[item.identity] = quoted.get(item.identity, ZERO) + item.amount
        costs[item.identity] = costs.get(item.identity, ZERO) + item.cost
        rows.setdefault(item.identity, MaterialRow(item.name, item.unit, item.identity))
    minutes = sum((each.minutes for each in kept), ZERO)
    asked = Decimal(sum(each.quantity for each in kept))
    count = Decimal(sum(line.quantity for line in together.lines)) or asked
    factor = count / asked
    accepted = order.changes.filter(state=OrderChange.State.ACCEPTED)
    own = list(accepted.order_by("number").values_list("document__own", flat=True))
    if any(each["minutes"] is None for each in own):
        amounts = {key: amount * factor for key, amount in quoted.items()}
        return Agreed(count, factor, minutes * factor, amounts, quoted, costs, rows)
    amounts = dict(quoted)
    names = {name for each in own for name in each["needs"]}
    materials = {
        row.name: row for row in Material.objects.of(order.workshop).filter(name__in=names)
    }
    for each in own:
        minutes += Decimal(each["minutes"])
        for name, amount in each["needs"].items():
            row = materials.get(name)
            if row is not None:
                key = str(row.pk)
                amounts[key] = max(amounts.get(key, ZERO) + Decimal(amount), ZERO)
                rows.setdefault(key, MaterialRow(row.name, row.unit, key))
    return Agreed(count, factor, max(minutes, ZERO), amounts, quoted, costs, rows)


def _planned(together: MadeTogether, agreed: Agreed) -> tuple[Decimal, Decimal]:
    """Return how many were to be made, spares among them, and the minutes of set-up."""
    cost = together.cost
    if cost is None:
        return agreed.count, ZERO
    made = sum((line.made for line in cost.lines), Fraction(0))
    setup = sum(
        (each.exact for each in cost.charges if each.is_work and each.basis in SET_UP),
        Fraction(0),
    )
    return as_decimal(made), as_decimal(setup)


def _materials(
    order: Order, agreed: Agreed, planned: Decimal
) -> tuple[tuple[MaterialUse, ...], tuple[MaterialRow, ...]]:
    """Return each material planned or used; what was not planned has its own price as standard."""
    rows = dict(agreed.rows)
    used: dict[str, Decimal] = {}
    paid: dict[str, Decimal] = {}
    for entry in _entries(order):
        key = str(entry.material_id)
        used[key] = used.get(key, ZERO) - entry.change
        paid[key] = paid.get(key, ZERO) - entry.change * (entry.unit_cost or ZERO)
        rows.setdefault(key, MaterialRow(entry.material.name, entry.material.unit, key))
    uses = []
    for key, row in rows.items():
        amount, actual = agreed.amounts.get(key, ZERO), used.get(key, ZERO)
        quoted = agreed.quoted.get(key)
        price = agreed.costs[key] / quoted if quoted else None
        real = paid[key] / actual if actual else price or ZERO
        uses.append(
            MaterialUse(row.name, amount / planned, real if price is None else price, actual, real)
        )
    return tuple(uses), tuple(rows.values())


def expenses_of(order: Order) -> list[Expense]:
    """Return the expenses entered for an order (one query)."""
    rows = Expense.objects.of(order.workshop).counted().filter(of_order__order=order)
    return list(rows.order_by("paid_on", "pk"))


def _entries(order: Order) -> list[StockEntry]:
    """Return what left stock for an order: with its batches, and by itself."""
    entries = StockEntry.objects.of(order.workshop).standing().filter(kind=StockEntry.Kind.USED)
    with_batches = models.Q(of_batch__batch__order=order, of_batch__batch__undone_at=None)
    alone = models.Q(reason=f"order {order}")
    return list(entries.filter(with_batches | alone).select_related("material").order_by("pk"))


def _paces(
    order: Order,
    together: MadeTogether,
    kept: Sequence[Ingredients],
    batches: Sequence[FinishedBatch],
    share: Decimal,
    setup: Decimal,
) -> tuple[DesignPace, ...]:
    """Return the minutes of each design of the quote, set-up shared by minutes (one query).

    They are those of the quote for as many as were made, so a changed quantity changes nothing.
    `share` is how many are made of one ordered: spares come on top.
    """
    lines = list(order.quote.lines.kept())
    if len(lines) != len(kept):
        return ()
    ordered: dict[int, int] = {}
    minutes: dict[int, Decimal] = {}
    for line, each in zip(lines, kept, strict=True):
        ordered[line.design_id] = ordered.get(line.design_id, 0) + each.quantity
        minutes[line.design_id] = minutes.get(line.design_id, ZERO) + each.minutes
    all_minutes = sum(minutes.values(), ZERO)
    once = min(setup / all_minutes, Decimal(1)) if all_minutes else ZERO
    found = []
    made: dict[int, int] = {}
    worked: dict[int, Decimal] = {}
    designs: dict[int, Design] = {}
    for batch in batches:
        key = batch.item.design_id
        designs[key] = batch.item.design
        made[key] = made.get(key, 0) + _made(batch)
        worked[key] = worked.get(key, ZERO) + batch.minutes
    for key, design in designs.items():
        if key in ordered:
            so_far = made[key] / (ordered[key] * share)
            due = minutes[key] * (once + (1 - once) * so_far)
            keys = {line.version_id for line in together.lines if line.design_id == key}
            versions = tuple(together.versions[each] for each in sorted(keys))
            found.append(DesignPace(design, due, worked[key], versions))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class NextTime:
    """What one of a line was paid, and why it would be another price today."""

    line: QuoteLine
    history: History
    quantities: tuple[int, int]


def next_time(order: Order, known: Mapping[int, DesignVersion]) -> tuple[NextTime, ...]:
    """Return what each line would cost today beside what was paid; empty where that is not known.

    `known` are versions that are loaded already, by key. Sheets may take seconds to plan.
    """
    try:
        kept = _kept(order)
        lines = list(order.quote.lines.kept())
        worked = work_out(order.quote, lines, loaded=load_for(order.quote, lines, known))
        if worked.price is None or len(worked.lines) != len(kept):
            return ()
        today = ingredients_of_lines(worked)
        return tuple(
            NextTime(line, price_history(then, now), (then.quantity, now.quantity))
            for line, then, now in zip(worked.lines, kept, today, strict=True)
        )
    except Refusal:
        return ()


def newest_recipes(
    found: Afterwards, known: Mapping[int, DesignVersion]
) -> dict[int, DesignVersion]:
    """Return design -> its newest recipe, of the designs that were made; `known` are loaded."""
    rows = DesignVersion.objects.filter(design__in=[pace.design.pk for pace in found.paces])
    newest = dict(rows.order_by("number").values_list("design_id", "pk"))
    loaded = DesignVersion.objects.with_recipe().more_of(known, newest.values())
    return {design: loaded[key] for design, key in newest.items()}


def has_minutes_of(newest: DesignVersion, ordered: Iterable[DesignVersion]) -> bool:
    """Whether a recipe has the steps of one that was ordered: only those does a factor fit."""
    steps = recipe_document(newest)["steps"]
    return any(recipe_document(each)["steps"] == steps for each in ordered)


@transaction.atomic
def use_actual_minutes(
    *, order: Order, design: Design, factor: Decimal, number: int, by: User | None
) -> DesignVersion:
    """Multiply the minutes of every step of the newest recipe; a locked one gets a next version.

    `number` is the version the page showed. Refusals: NothingToCompare when there is a newer one,
    its minutes are no longer those that were ordered, or nothing would change, and those of
    saving a recipe.
    """
    Design.objects.select_for_update(no_key=True).get(pk=design.pk)
    versions = DesignVersion.objects.of(order.workshop).filter(design=design).with_recipe()
    version = versions.newest_first().first()
    if version is None or version.number != number:
        raise NothingToCompare("There is a newer version of the recipe. Check its minutes first.")
    ordered = [line.version_id for line in lines_now(order)]
    if not has_minutes_of(version, versions.filter(pk__in=ordered)):
        raise NothingToCompare("The recipe has other minutes now. Change it by hand.")
    if not LEAST_FACTOR <= factor <= MOST_FACTOR:
        raise NothingToCompare("The minutes are too far apart. Change the recipe by hand.")
    document = recipe_document(version)
    for row in document["steps"]:
        if row["basis"] in WAITING:
            continue
        for name in ("minutes", "minutes_low", "minutes_high"):
            if row.get(name) is not None:
                scaled = (Decimal(row[name]) * factor).quantize(HUNDREDTH)
                row[name] = f"{scaled.normalize():f}"
    if version.frozen_at:
        return save_as_new_version(version=version, document=document, by=by)
    return save_recipe(version=version, document=document, edit_number=version.edit_number, by=by)
