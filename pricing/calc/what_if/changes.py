"""A job with other minutes, wage, material prices or margin: what the sliders of a what-if say."""

from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc.recipes.recipe import Basis, MaterialValues, Recipe, RecipeStep
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.rates import ChannelRates, WorkshopRates

ZERO = Decimal(0)
ONE = Decimal(1)
_WAITING = (Basis.RACK, Basis.NIGHT)


class ImpossibleChange(Refusal):
    """Nothing takes less than no time and costs less than nothing."""


@dataclass(frozen=True, slots=True)
class JobChange:
    """What is different. Factors multiply (1 is as it is), `margin_more` is added to every margin.

    `role` names the one role whose material gets another price; None is every material.
    """

    wage_factor: Decimal = ONE
    minutes_factor: Decimal = ONE
    material_factor: Decimal = ONE
    margin_more: Decimal = ZERO
    role: str | None = None

    @property
    def is_nothing(self) -> bool:
        """Whether everything is as it is."""
        return self == JobChange(role=self.role)


@with_working_precision
def changed(
    recipe: Recipe, rates: WorkshopRates, channel: ChannelRates, change: JobChange
) -> tuple[Recipe, WorkshopRates, ChannelRates]:
    """Return everything with the change made; drying and waiting take as long as before.

    A material that plays several roles changes in all of them. A margin goes no lower than
    nothing. Errors: ImpossibleChange, for a factor below zero; a margin too high is refused when
    a price is asked for.
    """
    if min(change.wage_factor, change.minutes_factor, change.material_factor) < 0:
        raise ImpossibleChange("A factor can't be below zero.", where="change")
    wanted = recipe.materials.get(change.role or "")
    materials = {
        role: _dearer(material, change.material_factor)
        if wanted is None or material.identity == wanted.identity
        else material
        for role, material in recipe.materials.items()
    }
    steps = tuple(_longer(step, change.minutes_factor) for step in recipe.steps)
    tiers = tuple(
        replace(tier, margin=max(tier.margin + change.margin_more, ZERO)) for tier in channel.tiers
    )
    return (
        replace(recipe, materials=materials, steps=steps),
        replace(rates, wage_per_hour=rates.wage_per_hour * change.wage_factor),
        replace(channel, tiers=tiers),
    )


def _dearer(material: MaterialValues, factor: Decimal) -> MaterialValues:
    if material.cost is None or factor == 1:
        return material
    return replace(material, cost=replace(material.cost, value=material.cost.value * factor))


def _longer(step: RecipeStep, factor: Decimal) -> RecipeStep:
    if factor == 1 or step.basis in _WAITING:
        return step

    def times(minutes: Decimal | None) -> Decimal | None:
        return None if minutes is None else minutes * factor

    return replace(
        step,
        minutes=step.minutes * factor,
        minutes_low=times(step.minutes_low),
        minutes_high=times(step.minutes_high),
    )
