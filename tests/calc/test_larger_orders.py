"""Where more of a design cost less in all: 56 of the bags costed by hand 641.20, 60 633.00."""

from functools import lru_cache

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import Basis, RecipeStep, When
from pricing.calc.costing.rates import Ask, TierRates
from pricing.calc.orders.larger_orders import MOST_TRIED, larger_orders
from pricing.calc.orders.order import OrderedLine, cost_of_order
from pricing.calc.orders.quote import AskedPrice, price_quote
from tests.calc import small_recipe, worked_case
from tests.calc.small_recipe import D

plan_once = lru_cache(maxsize=None)(plan_cuts)


def found(lines, channel, rates, plan, asked=None):
    asked = asked or [AskedPrice()] * len(lines)
    tried = []

    def price(those):
        tried.append(those)
        return price_quote(cost_of_order(those, rates, plan), asked, channel, rates)

    quote = price(lines)
    larger = larger_orders(lines, asked, quote, channel, price)
    return larger, len(tried) - 1


def bags(*quantities, **more):
    lines = [
        OrderedLine(worked_case.recipe(), worked_case.ask(quantity), "bag")
        for quantity in quantities
    ]
    return found(lines, worked_case.channel(), worked_case.rates(), plan_once, **more)


def test_fifty_six_in_one_line_or_three_are_told_that_sixty_cost_less():
    for quantities in [(56,), (28, 28), (40, 10, 6)]:
        (larger,), _ = bags(*quantities)
        assert (larger.asked, larger.quantity) == (56, 60)
        assert (larger.asked_total, larger.total) == (D("641.20"), D("633.00"))


def test_nothing_is_told_where_a_tier_is_too_far_to_help():
    assert bags(40)[0] == ()
    assert bags(60) == ((), 0)  # the next tier is at 250


def test_a_price_that_was_set_does_not_follow_the_quantity():
    assert bags(56, asked=[AskedPrice(D(12))]) == ((), 0)


def test_a_row_that_ends_above_may_lower_the_total_too():
    recipe = small_recipe.recipe(
        steps=(
            RecipeStep("by hand", Basis.MADE, D(9), when=When(to_quantity=19)),
            RecipeStep("with the jig", Basis.MADE, D(4), when=When(from_quantity=20)),
        )
    )
    lines = [OrderedLine(recipe, Ask(17), "box"), OrderedLine(recipe, Ask(3), "other")]
    (larger,), _ = found(
        lines, small_recipe.channel(), small_recipe.rates(), small_recipe.sheet_for_each_piece
    )
    assert (larger.asked, larger.quantity) == (17, 20)
    assert larger.total < larger.asked_total


def test_no_more_than_a_few_orders_are_tried():
    tiers = [TierRates(start, margin=D("0.5") - D(start) / 300) for start in range(1, 60)]
    lines = [OrderedLine(small_recipe.recipe(), Ask(30 + n), n) for n in range(5)]
    _, tried = found(
        lines,
        small_recipe.channel(*tiers),
        small_recipe.rates(),
        small_recipe.sheet_for_each_piece,
    )
    assert tried <= MOST_TRIED
