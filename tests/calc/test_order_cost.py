"""All lines of an order are one job: the laws of its cost, on random orders and worked by hand."""

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.job import PieceTooLarge
from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.recipes.recipe import (
    Basis,
    Choice,
    RecipeFixing,
    RecipeOption,
    RecipePacking,
    RecipePiece,
    RecipeStep,
    RecipeWear,
    When,
)
from catalogue.calc.reels.planning import Length
from catalogue.calc.sheets.shared_sheets import CutList, plans_for
from maker.calc.sums import told
from maker.web.words import sum_writer
from pricing.calc.costing.cost import MaterialWithoutCost, cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.orders.charges import Charge
from pricing.calc.orders.groups import NothingOrdered
from pricing.calc.orders.order import OrderedLine, cost_of_order, refusals_of
from pricing.calc.price.ingredients import IngredientKind
from pricing.calc.schedule.work_blocks import blocks_of, chains_of_order
from tests.calc import random_orders, small_recipe, worked_case
from tests.calc.random_orders import by_area, orders
from tests.calc.small_recipe import D

plan_once = lru_cache(maxsize=None)(plan_cuts)
RATES = small_recipe.rates()


def costed(lines, rates=RATES, plan=by_area):
    return cost_of_order(lines, rates, plan)


def total(order):
    """The cost of an order, exactly."""
    return sum((line.exact_cost for line in order.lines), Fraction(0))


def minutes(order):
    return sum((line.exact_minutes for line in order.lines), Fraction(0))


@pytest.mark.parametrize("quantity", [1, 12, 60, 250])
def test_an_order_of_one_line_costs_what_was_costed_by_hand(quantity):
    ask, recipe, rates = worked_case.ask(quantity), worked_case.recipe(), worked_case.rates()
    job = cost_of(recipe, ask, rates, plan_once)
    order = costed([OrderedLine(recipe, ask)], rates, plan_once)
    assert (order.cost, order.minutes, order.sheets) == (job.cost, job.minutes, job.sheets)
    assert order.explanation.find("o.cost").number == job.cost
    (chain,) = chains_of_order(order)
    assert chain.blocks == blocks_of(job)
    assert {need.material.name: (need.amount, need.lengths) for need in order.needs} == {
        need.material.name: (need.amount, need.lengths) for need in job.needs
    }


@pytest.mark.parametrize(
    ("lengths", "one", "taken"),
    [
        # by hand: 4 x 0.9144 m with a tenth of waste are 4.0234 m, 4.4 yd at 0.20 x 0.9144
        ("in", "1 yd of ribbon", "4.4 yd × €0.1829; tie: 4 × 1 yd × 1.1"),
        ("mm", "1 m of ribbon", "4.02 × €0.20; tie: 4 × 1 yd × 1.1"),
    ],
)
def test_ribbon_of_an_order_is_told_in_the_lengths_of_its_recipe(lengths, one, taken):
    tie = RecipeFixing("tie", "tie", D("0.9144"), typed_in="yd")
    recipe = small_recipe.recipe(fixings=(tie,), unit=lengths)
    order = costed([OrderedLine(recipe, Ask(4))])
    (line,) = [line for line in order.explanation.walk() if line.label == "ribbon"]
    assert told(line.how, sum_writer("EUR", "en_GB", lengths)) == taken
    assert [below.label for below in line.lines] == [one]


@settings(max_examples=40)
@given(orders(most=1))
def test_an_order_of_one_line_costs_what_the_job_costs(lines):
    (line,) = lines
    job = cost_of(line.recipe, line.ask, RATES, by_area)
    order = costed(lines)
    assert order.cost == pytest.approx(job.cost, abs=D("1e-24"))
    assert order.minutes == pytest.approx(job.minutes, abs=D("1e-24"))
    assert order.name_minutes == pytest.approx(job.name_minutes, abs=D("1e-24"))
    assert [line.made for line in order.lines] == [job.made]


@settings(max_examples=40)
@given(orders())
def test_shares_add_up_to_the_order_exactly(lines):
    order = costed(lines)
    hour = Fraction(RATES.wage_per_hour) + Fraction(RATES.overhead_per_hour)
    charged = sum((each.exact * each.price(hour) for each in order.charges), Fraction(0))
    assert total(order) == charged
    assert sum(line.made for line in order.lines) == sum(group.made for group in order.groups)
    assert order.explanation.number == pytest.approx(order.cost, abs=D("1e-24"))
    for line in order.lines:
        assert line.explanation.number == line.cost
        parts = [each.number for each in line.explanation.lines if each.unit == "money"]
        assert sum(parts) == pytest.approx(line.cost, abs=D("1e-24"))


@settings(max_examples=40)
@given(orders(), st.randoms(use_true_random=False))
def test_the_order_of_the_lines_does_not_matter(lines, random):
    places = list(range(len(lines)))
    random.shuffle(places)
    straight, shuffled = costed(lines), costed([lines[place] for place in places])
    for place, line in zip(places, shuffled.lines, strict=True):
        assert line.exact_cost == straight.lines[place].exact_cost
        assert line.exact_minutes == straight.lines[place].exact_minutes


@settings(max_examples=40)
@given(orders(), st.integers(2, 5), st.integers(0, 4))
def test_a_line_split_into_equal_ones_costs_the_same_and_each_as_much(lines, parts, place):
    place %= len(lines)
    line = lines[place]
    names = None if line.ask.names is None else line.ask.names * parts
    whole = replace(line, ask=replace(line.ask, quantity=line.ask.quantity * parts, names=names))
    rest = [each for number, each in enumerate(lines) if number != place]
    joined, split = costed([whole, *rest]), costed([*[line] * parts, *rest])
    assert total(split) == total(joined)
    assert minutes(split) == minutes(joined)
    assert len({each.exact_cost for each in split.lines[:parts]}) == 1
    assert split.lines[0].exact_cost * parts == joined.lines[0].exact_cost
    assert [each.exact_cost for each in split.lines[parts:]] == [
        each.exact_cost for each in joined.lines[1:]
    ]


@settings(max_examples=80)
@given(orders(most=6))
def test_another_line_never_lowers_cost_or_minutes(lines):
    for count in range(1, len(lines)):
        fewer, more = costed(lines[:count]), costed(lines[: count + 1])
        assert total(more) >= total(fewer)
        assert minutes(more) >= minutes(fewer)
        assert more.sheets >= fewer.sheets


@settings(max_examples=40)
@given(orders())
def test_as_one_order_lines_never_cost_more_than_apart(lines):
    apart = [costed([line]) for line in lines]
    spares_start = any(line.recipe.rejects_from > line.ask.quantity for line in lines)
    together = costed(lines)
    assert together.sheets <= sum(order.sheets for order in apart) or spares_start
    if not spares_start:
        assert total(together) <= sum(map(total, apart))
        assert minutes(together) <= sum(map(minutes, apart))


def bags(*quantities, **changes):
    recipe = worked_case.recipe()
    return [
        OrderedLine(recipe, replace(worked_case.ask(quantity), **changes))
        for quantity in quantities
    ]


def test_two_lines_of_the_bag_costed_by_hand_are_its_sixty():
    sixty = worked_case.CASE["cases"]["60"]
    order = costed(bags(20, 40), worked_case.rates(), plan_once)
    assert order.cost == D(str(sixty["C"]))
    assert order.lines[0].cost * 2 == order.lines[1].cost
    assert order.lines[0].made == 21


def test_set_up_batches_loads_and_practice_count_the_sum_of_a_design():
    recipe = small_recipe.recipe(
        steps=(
            RecipeStep("set up", Basis.JOB, D(10)),
            RecipeStep("mix", Basis.BATCH, D(5), per=20),
            RecipeStep("dry", Basis.RACK, D(60), per=15, window_minutes=60),
            RecipeStep("press", Basis.NIGHT, per=25),
        )
    )
    two = [OrderedLine(recipe, Ask(11), "box"), OrderedLine(recipe, Ask(19), "box")]
    order = costed(two)
    assert order.minutes == 10 + 2 * 5
    assert [line.minutes for line in order.lines] == [
        pytest.approx(D(20) * 11 / 30),
        pytest.approx(D(20) * 19 / 30),
    ]
    # 30 made in 20 minutes, set-up apart: one load of 15 and 25 under weights fill a date
    (chain,) = chains_of_order(order)
    (block,) = chain.blocks
    assert (block.setup_minutes, block.minutes, block.nights) == (10, 10, 1)
    assert [cap.share for cap in block.caps] == [Fraction(30, 15 * 10), Fraction(30, 25 * 10)]
    apart = [replace(two[0], group="a"), replace(two[1], group="b")]
    assert costed(apart).minutes == 2 * 10 + 2 * 5


def test_spares_go_up_for_each_colourway_and_names_do_not_matter():
    recipe = small_recipe.recipe(reject_share=D("0.04"), rejects_from=10)
    other = replace(recipe, materials={**recipe.materials, "body": random_orders.CARDS[2]})
    plain = OrderedLine(recipe, Ask(6), "box")
    # 12 of one colour: ceil(0.48) = 1; two colours of 6: 1 each, for the design has 12
    assert [group.made for group in costed([plain, plain]).groups] == [13]
    assert [group.made for group in costed([plain, replace(plain, recipe=other)]).groups] == [14]
    named = replace(plain, ask=Ask(6, names=6))
    assert [group.made for group in costed([plain, named]).groups] == [13]
    assert [group.made for group in costed([plain]).groups] == [6]


def test_spares_of_an_order_begin_with_the_quantity_they_are_said_for():
    recipe = small_recipe.recipe(reject_share=D("0.1"), rejects_from=10)
    made = [
        costed([OrderedLine(recipe, Ask(one)), OrderedLine(recipe, Ask(5))]).groups[0].made
        for one in (4, 5)
    ]
    assert made == [9, 11]


def test_rows_that_hold_for_some_quantities_read_the_sum():
    recipe = small_recipe.recipe(
        steps=(
            RecipeStep("by hand", Basis.MADE, D(3), when=When(to_quantity=19)),
            RecipeStep("with the jig", Basis.MADE, D(2), when=When(from_quantity=20)),
        )
    )
    line = OrderedLine(recipe, Ask(10))
    assert costed([line]).minutes == 30
    assert costed([line, line]).minutes == 40


def test_pieces_of_two_designs_lie_on_one_sheet_paid_by_area():
    # two pieces of 150 x 200 fill a sheet of 300 x 200; a third design takes a quarter
    half = small_recipe.recipe(pieces=(RecipePiece("half", "body", D(150), D(200)),), fixings=())
    quarter = small_recipe.recipe(pieces=(RecipePiece("q", "body", D(150), D(100)),), fixings=())
    no_work = {"steps": ()}
    lines = [
        OrderedLine(replace(half, **no_work), Ask(1), "half"),
        OrderedLine(replace(quarter, **no_work), Ask(1), "quarter"),
    ]
    order = costed(lines, plan=plan_once)
    assert order.sheets == 1
    assert [line.exact_cost for line in order.lines] == [Fraction(1, 3), Fraction(1, 6)]


def stubborn(job):
    """Plan a sheet for each piece, two more where sizes are mixed, and never prove it."""
    count = sum(piece.count for piece in job.pieces) + 2 * (len(job.pieces) > 1)
    return replace(by_area(job), sheet_count=count, cost=D(count), proven=False)


def test_a_hard_joint_plan_never_costs_more_than_plans_made_apart():
    half = small_recipe.recipe(pieces=(RecipePiece("half", "body", D(150), D(200)),), steps=())
    quarter = replace(half, pieces=(RecipePiece("quarter", "body", D(150), D(100)),))
    lines = [OrderedLine(half, Ask(3), "half"), OrderedLine(quarter, Ask(2), "quarter")]
    order = costed(lines, plan=stubborn)
    assert order.sheets == 5
    assert [job.sheets for job in order.jobs] == [3, 2]


def test_a_joint_plan_that_takes_less_is_kept_though_it_is_not_proven():
    half = small_recipe.recipe(pieces=(RecipePiece("half", "body", D(150), D(200)),), steps=())
    quarter = replace(half, pieces=(RecipePiece("quarter", "body", D(150), D(100)),))
    lines = [OrderedLine(half, Ask(1), "half"), OrderedLine(quarter, Ask(2), "quarter")]
    # a half and two quarters fill one sheet; apart they take a sheet each
    order = costed(lines, plan=lambda job: replace(by_area(job), proven=False))
    assert [job.sheets for job in order.jobs] == [1]
    # no less than apart: a sheet for each piece
    alike = costed(
        [lines[0], replace(lines[1], ask=Ask(1))],
        plan=lambda job: replace(small_recipe.sheet_for_each_piece(job), proven=False),
    )
    assert [job.sheets for job in alike.jobs] == [2]


def test_a_hard_plan_of_one_design_is_laid_beside_those_of_its_lists():
    cuts = [
        parts_for(small_recipe.recipe(pieces=(RecipePiece("p", "body", D(side), D(side)),)), 2).cuts
        for side in (100, 120)
    ]
    lists = [CutList("box", each) for each in cuts]
    plans = plans_for(lists, gap_mm=D(0), plan_sheets=stubborn)
    # two sheets for each size; together six
    assert [(plan.lists, plan.sheets) for plan in plans] == [((0,), 2), ((1,), 2)]


def test_a_shared_sheet_takes_the_minutes_of_the_slowest_on_it_by_area():
    slow = small_recipe.recipe(
        pieces=(RecipePiece("half", "body", D(150), D(200)),),
        fixings=(),
        steps=(RecipeStep("cut", Basis.SHEET, D(6)),),
    )
    quick = replace(
        slow,
        pieces=(RecipePiece("quarter", "body", D(150), D(100)),),
        steps=(RecipeStep("cut", Basis.SHEET, D(2)),),
    )
    # 3 halves and 2 quarters fill two sheets; alone they take 2 sheets and 1
    lines = [OrderedLine(slow, Ask(3), "slow"), OrderedLine(quick, Ask(2), "quick")]
    order = costed(lines)
    assert order.sheets == 2
    assert order.minutes == 2 * 6
    assert [line.exact_minutes for line in order.lines] == [9, 3]
    # 5 quarters more: 4 sheets, two of them at 6 and the other two at 2
    more = [lines[0], replace(lines[1], ask=Ask(9))]
    assert (costed(more).sheets, costed(more).minutes) == (4, 2 * 6 + 2 * 2)


def test_a_die_passes_once_for_pieces_of_all_lines_in_one_card():
    recipe = small_recipe.recipe(
        pieces=(RecipePiece("badge", "body", D(40), D(40), is_die_cut=True),),
        steps=(RecipeStep("die", Basis.PASS, D(1), per=4),),
    )
    line = OrderedLine(recipe, Ask(2))
    assert costed([line, line]).minutes == 1
    blue = replace(
        line, recipe=replace(recipe, materials={**recipe.materials, "body": random_orders.CARDS[1]})
    )
    assert costed([line, blue]).minutes == 2


def test_a_die_passes_for_every_layer_of_every_piece():
    piece = RecipePiece("badge", "body", D(40), D(40), count=3, layers=2, is_die_cut=True)
    recipe = small_recipe.recipe(
        pieces=(piece,), steps=(RecipeStep("die", Basis.PASS, D(1), per=4),)
    )
    assert costed([OrderedLine(recipe, Ask(2))]).minutes == 3  # 2 x 3 x 2 / 4


def test_work_on_good_items_is_shared_by_those_and_not_by_the_spares():
    recipe = small_recipe.recipe(
        reject_share=D("0.1"), steps=(RecipeStep("check", Basis.GOOD, D(1)),)
    )
    other = replace(recipe, materials={**recipe.materials, "body": random_orders.CARDS[2]})
    # 10 and 1 with a spare each: 11 minutes for 11 good ones, 11 and 2 are made
    order = costed([OrderedLine(recipe, Ask(10), "box"), OrderedLine(other, Ask(1), "box")])
    assert [line.exact_minutes for line in order.lines] == [10, 1]


def test_one_carton_holds_what_is_delivered_together():
    recipe = small_recipe.recipe(
        packings=(RecipePacking("carton", "carton", holds=30, cost_each=D(1)),),
        steps=(RecipeStep("pack", Basis.CARTON, D(4)),),
    )
    order = costed([OrderedLine(recipe, Ask(10)), OrderedLine(recipe, Ask(20))])
    assert order.minutes == 4
    assert order.explanation.find("o.pack").number == 1


def test_what_is_needed_of_reels_and_of_packing_at_a_stated_cost():
    ribbon = replace(small_recipe.RIBBON, waste_share=D("0.1"))
    loop = RecipeFixing("loop", "tie", D("0.75"), cut_mm=D(250), cut_count=3, waste_share=D(0))
    bow = replace(loop, amount=D("0.8"), cut_mm=D(400), cut_count=2, waste_share=D("0.5"))
    knot = replace(loop, amount=D("0.1"), cut_mm=D(100), cut_count=1, waste_share=None)
    recipe = small_recipe.recipe(
        materials={"body": small_recipe.CARD, "tie": ribbon, "bag": replace(ribbon, id=9)},
        fixings=(loop, bow, knot),
        packings=(RecipePacking("bag", "sleeve", 3, role="bag", cost_each=D("0.10")),),
        steps=(),
    )
    order = costed([OrderedLine(recipe, Ask(10))], plan=small_recipe.sheet_for_each_piece)
    needs = {need.material.identity: need for need in order.needs}
    # ten of each: 0.75; 0.8 x 1.5; 0.1 x the ribbon's own 1.1
    assert needs[ribbon.identity].amount == D("7.50") + 12 + D("1.1")
    assert needs[ribbon.identity].lengths == (
        Length("loop", D(250), 30),
        Length("loop (2)", D(400), 20),
        Length("loop (3)", D(100), 10),
    )
    assert needs[replace(ribbon, id=9).identity].amount == 4  # three in a bag, up


def test_what_a_line_uses_by_itself_stays_with_it():
    recipe = small_recipe.recipe(
        fixings=(
            RecipeFixing("tie", "tie", D(1)),
            RecipeFixing("ink", "tie", D(2), basis=Basis.NAME, when=random_orders.WITH_NAME),
        ),
        pieces=(),
        steps=(),
        options=(RecipeOption("name", "Name", (Choice("no", "no", True), Choice("yes", "yes"))),),
    )
    plain, named = (OrderedLine(recipe, Ask(10, (("name", choice),))) for choice in ("no", "yes"))
    order = costed([plain, named])
    # a metre costs 0.20, a tenth is lost
    assert [line.cost for line in order.lines] == [D("2.2"), D("6.6")]


def test_lines_that_cannot_be_costed_are_told_by_their_place_without_a_plan():
    fine = small_recipe.recipe()
    free = replace(
        fine, materials={**fine.materials, "tie": replace(small_recipe.RIBBON, cost=None)}
    )
    large = replace(fine, pieces=(RecipePiece("body", "body", D(900), D(100)),))
    lines = [OrderedLine(recipe, Ask(3), place) for place, recipe in enumerate([fine, free, large])]
    found = refusals_of(lines, RATES)
    assert {place: type(refusal) for place, refusal in found.items()} == {
        1: MaterialWithoutCost,
        2: PieceTooLarge,
    }


def test_offcuts_that_are_kept_are_credited_to_the_lines_by_area():
    rates = replace(RATES, offcut_least_mm=D(100))
    recipe = small_recipe.recipe()
    job = cost_of(recipe, Ask(5), rates, plan_once)
    assert job.offcuts
    assert costed([OrderedLine(recipe, Ask(5))], rates, plan_once).cost == job.cost
    order = costed([OrderedLine(recipe, Ask(2)), OrderedLine(recipe, Ask(3))], rates, plan_once)
    assert order.cost == pytest.approx(job.cost, abs=D("1e-24"))
    assert order.lines[0].exact_cost * 3 == order.lines[1].exact_cost * 2
    assert "kept" in " ".join(line.label for line in order.explanation.find("o.sheets").lines)


def test_an_order_of_nothing_is_refused():
    with pytest.raises(NothingOrdered, match="at least one line"):
        costed([])


def test_a_charge_is_minutes_for_work_and_money_for_a_thing():
    hour, thirds = Fraction(18), {0: Fraction(20), 2: Fraction(10)}
    work = Charge(None, "fold", "fold", "min", D(0), thirds, "", "items")
    assert [work.cost_of(place, hour) for place in (0, 1, 2)] == [6, 0, 3]  # 20 min at 18 an hour
    assert (work.line_of(0).number, work.line_of(0).unit) == (D(20), "min")
    card = Charge(IngredientKind.SHEET, "1", "card", "sheet", D("0.50"), thirds, "", "area")
    assert [card.cost_of(place, hour) for place in (0, 1, 2)] == [10, 0, 5]
    assert (card.line_of(2).number, card.line_of(2).unit) == (D(5), "money")


@pytest.mark.parametrize("number", [7, None])
def test_wear_and_fixings_of_an_order_open_to_their_rows(number):
    recipe = small_recipe.recipe(
        fixings=(RecipeFixing("tie", "tie", D(1), id=number),),
        wears=tuple(
            RecipeWear(basis.value, basis, D(1), id=number) for basis in (Basis.SHEET, Basis.MADE)
        ),
    )
    order = costed([OrderedLine(recipe, Ask(5)), OrderedLine(recipe, Ask(2))])
    found = [line.source for line in order.explanation.walk() if line.source]
    rows = [("wear", 7), ("fixing", 7), ("wear", 7)] if number else []
    assert sorted(found) == sorted(rows)


def test_the_wage_of_a_line_is_its_minutes_of_an_hour():
    lines = [
        OrderedLine(small_recipe.recipe(), Ask(10)),
        OrderedLine(small_recipe.recipe(), Ask(5)),
    ]
    order = costed(lines, plan=small_recipe.sheet_for_each_piece)
    # set-up of 10 min shared by items, 3 min each: 36 2/3 and 18 1/3 min at 12 an hour
    wages = [round(line.labour_cost, 4) for line in order.lines]
    assert wages == [D("7.3333"), D("3.6667")]
    # 55 min at 18 an hour, 15 sheets, 8.25 m of ribbon: 25.65 for fifteen
    assert [round(line.cost_each, 20) for line in order.lines] == [D("1.71")] * 2
    assert round(sum(line.labour_cost for line in order.lines), 20) == order.labour_cost == 11
