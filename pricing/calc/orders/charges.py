"""What an order is charged, and whose it is: each charge is shared over its lines exactly.

Shares are fractions and add up to the charge by construction, so the lines add up to the order.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

from catalogue.calc.recipes.recipe import Basis
from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.sums import How
from pricing.calc.orders.groups import as_decimal
from pricing.calc.price.ingredients import IngredientKind


# without slots, so that the sum of many shares is made once
@dataclass(frozen=True)
class Charge:
    """So much of one thing for the whole order, and how much of it each line (by place) has.

    The amount is in `unit`; work has no `kind`, its amount is minutes. `unit_cost` is net. `label`
    is said in place of the name of the thing; `rule` says by what it is shared.
    """

    kind: IngredientKind | None
    identity: str
    name: str
    unit: str
    unit_cost: Decimal
    shares: Mapping[int, Fraction]
    how: How | str
    rule: str
    basis: Basis | None = None
    group: int | None = None
    lines: tuple[Line, ...] = ()
    source: tuple[str, int] | None = None
    label: str = ""

    @property
    def is_work(self) -> bool:
        """Whether it is minutes of work."""
        return self.kind is None

    @cached_property
    def exact(self) -> Fraction:
        """The amount in all."""
        return sum(self.shares.values(), Fraction(0))

    def cost_of(self, place: int, hour: Fraction) -> Fraction:
        """Return what the share of a line costs; `hour` is what an hour of work costs."""
        return self.shares.get(place, Fraction(0)) * self.price(hour)

    def price(self, hour: Fraction) -> Fraction:
        """Return what one unit costs."""
        return hour / 60 if self.is_work else Fraction(self.unit_cost)

    def line(self, design: str = "") -> Line:
        """Return the charge as a line of the order's tree: minutes for work, else money.

        `design` is said where an order has several.
        """
        amount, how = as_decimal(self.exact), self.how
        unit, value = "min", amount
        if not self.is_work:
            unit, value = "money", as_decimal(self.exact * Fraction(self.unit_cost))
            charged = sums.stock(amount, self.unit) * sums.unit_cost(self.unit_cost, self.unit)
            how = sums.say("{}; {}", charged, how) if how else charged
        label = f"{design}: {self.said}" if design else self.said
        return Line(label, value, unit, how, lines=self.lines, source=self.source)

    @property
    def said(self) -> str:
        """What it is called in a tree."""
        return self.label or self.name

    def line_of(self, place: int) -> Line:
        """Return a line's share, in minutes or money, with its rule."""
        part = self.shares[place]
        value = part if self.is_work else part * Fraction(self.unit_cost)
        unit = "min" if self.is_work else "money"
        return Line(self.said, as_decimal(value), unit, self._say_share(place))

    def _say_share(self, place: int) -> How | str:
        if len(self.shares) == 1:
            return "all of it"
        mine, whole = as_decimal(self.shares[place]), as_decimal(self.exact)
        return sums.say(f"{{}} of {{}}, by {self.rule}", sums.number(mine), sums.number(whole))
