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


def test_twice_as_many_are_tried_but_no_more():
    def told(start):
        tiers = TierRates(margin=D("0.80")), TierRates(start, margin=D("0.10"))
        lines = [OrderedLine(small_recipe.recipe(), Ask(10), "box")]
        channel = small_recipe.channel(*tiers)
        rates, plan = small_recipe.rates(), small_recipe.sheet_for_each_piece
        return [each.quantity for each in found(lines, channel, rates, plan)[0]]

    # at 80 % ten cost five times their cost, at 10 % twenty 2.2 times the cost of ten
    assert told(20) == [20]
    assert told(21) == []


def test_a_row_that_ends_is_tried_at_the_next_quantity_though_none_begins():
    # the slow step is for up to 19: of 20 nobody does it
    recipe = small_recipe.recipe(
        steps=(RecipeStep("by hand", Basis.MADE, D(9), when=When(to_quantity=19)),)
    )
    lines = [OrderedLine(recipe, Ask(17), "box")]
    (larger,), tried = found(
        lines, small_recipe.channel(), small_recipe.rates(), small_recipe.sheet_for_each_piece
    )
    assert (larger.asked, larger.quantity, tried) == (17, 20, 1)


def test_the_fees_of_the_whole_order_fall_with_more_of_one_of_its_designs():
    # fees go by what is ordered in all: 8 and 8 are 16, twelve of one design make 20
    tiers = TierRates(margin=D("0.25"), fee_share=D("0.30")), TierRates(20, margin=D("0.25"))
    other = small_recipe.recipe(name="large box")
    lines = [OrderedLine(small_recipe.recipe(), Ask(8), "a"), OrderedLine(other, Ask(8), "b")]
    larger, _ = found(
        lines,
        small_recipe.channel(*tiers),
        small_recipe.rates(),
        small_recipe.sheet_for_each_piece,
    )
    assert [(each.asked, each.quantity) for each in larger] == [(8, 12), (8, 12)]


def test_the_quantity_that_costs_least_is_told_not_the_last_that_costs_less():
    tiers = (
        TierRates(margin=D("0.80")),
        *(TierRates(start, margin=D("0.1")) for start in (15, 20)),
    )
    lines = [OrderedLine(small_recipe.recipe(), Ask(10), "box")]
    (larger,), tried = found(
        lines,
        small_recipe.channel(*tiers),
        small_recipe.rates(),
        small_recipe.sheet_for_each_piece,
    )
    assert (larger.quantity, tried) == (15, 2)  # twenty cost less than ten too


def test_a_design_with_a_price_that_was_set_does_not_end_the_search():
    tiers = TierRates(margin=D("0.80")), TierRates(15, margin=D("0.10"))
    other = small_recipe.recipe(name="large box")
    lines = [OrderedLine(other, Ask(10), "set"), OrderedLine(small_recipe.recipe(), Ask(10), "box")]
    (larger,), _ = found(
        lines,
        small_recipe.channel(*tiers),
        small_recipe.rates(),
        small_recipe.sheet_for_each_piece,
        [AskedPrice(D(9)), AskedPrice()],
    )
    assert (larger.design, larger.quantity) == ("small box", 15)


def test_a_price_of_the_list_is_tried_where_the_next_begins():
    recipe, rates, channel = small_recipe.recipe(), small_recipe.rates(), small_recipe.channel()

    def asked(lines):
        # 5.00 each, 3.00 from twenty on
        return [AskedPrice(None, D(5 if lines[0].ask.quantity < 20 else 3), (1, 20))]

    def price(lines):
        order = cost_of_order(lines, rates, small_recipe.sheet_for_each_piece)
        return price_quote(order, asked(lines), channel, rates)

    lines = [OrderedLine(recipe, Ask(17), "box")]
    (larger,) = larger_orders(lines, asked(lines), price(lines), channel, price)
    assert (larger.quantity, larger.asked_total, larger.total) == (20, D(85), D(60))
