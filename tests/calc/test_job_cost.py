"""Counting and costing a job: spares, options, shared materials, passes, names, packing."""

from dataclasses import replace
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.parts_list import (
    ImpossibleQuantity,
    NoMaterialInRole,
    UnknownOption,
    parts_for,
)
from catalogue.calc.recipes.recipe import (
    Basis,
    Choice,
    Learning,
    RecipeFixing,
    RecipeOption,
    RecipePacking,
    RecipePiece,
    RecipeStep,
    RecipeWear,
    UnitCost,
    When,
)
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import MaterialWithoutCost, cost_of
from pricing.calc.costing.drivers import drivers_of
from pricing.calc.costing.rates import Ask
from tests.calc.small_recipe import CARD, RIBBON, rates, recipe, sheet_for_each_piece

D = Decimal
HANDLE = RecipeOption(
    "handle",
    "Handle",
    (Choice("none", "none", is_default=True), Choice("ribbon", "ribbon", is_default=False)),
)


def cost(made_from=None, quantity=1, **asked):
    return cost_of(
        made_from or recipe(),
        Ask(quantity, **asked),
        asked.pop("rates", rates()),
        sheet_for_each_piece,
    )


def test_a_box_by_hand():
    job = cost(quantity=2)
    # 2 sheets x 0.50, 2 x 0.5 m x 1.1 x 0.20, 10 + 2 x 3 min at 12 and 6 an hour
    assert job.sheets_cost == D("1.00")
    assert job.other_cost == D("0.22")
    assert (job.minutes, job.labour_cost, job.overhead_cost) == (16, D("3.2"), D("1.6"))
    assert job.cost == D("6.02")
    assert job.cost_each == D("3.01")


@pytest.mark.parametrize("quantity", [0, -1, 1_000_001])
def test_quantities_nobody_makes_are_refused(quantity):
    with pytest.raises(ImpossibleQuantity) as refused:
        cost(quantity=quantity)
    assert refused.value.where == "quantity"


def test_a_million_can_be_costed():
    assert cost(quantity=1_000_000).made == 1_000_000


@pytest.mark.parametrize(("quantity", "made"), [(9, 9), (10, 11), (25, 26), (26, 28), (50, 52)])
def test_spares_start_at_the_smallest_quantity_and_round_up(quantity, made):
    small = recipe(reject_share=D("0.04"), rejects_from=10)
    assert parts_for(small, quantity).made == made


def test_spares_are_made_but_only_good_pieces_are_packed_and_checked():
    small = recipe(
        reject_share=D("0.5"),
        packings=(RecipePacking("sleeve", "sleeve", cost_each=D("0.10")),),
        steps=(RecipeStep("check", Basis.GOOD, D(1)), RecipeStep("fold", Basis.MADE, D(1))),
    )
    job = cost(small, 4)
    assert job.made == 6
    assert job.packing_cost == D("0.40")
    assert job.minutes == 4 + 6
    assert job.sheets == 6


def test_options_add_and_replace_rows_and_say_what_there_is():
    small = recipe(
        options=(HANDLE,),
        fixings=(RecipeFixing("handle", "tie", D(1), when=When(only_with=("handle", "ribbon"))),),
        pieces=(
            RecipePiece("plain", "body", D(10), D(10), when=When(not_with=("handle", "ribbon"))),
        ),
    )
    assert [use.role for use in parts_for(small, 1).uses] == []
    with_ribbon = parts_for(small, 1, {"handle": "ribbon"})
    assert [use.role for use in with_ribbon.uses] == ["tie"]
    assert with_ribbon.cuts == ()
    assert with_ribbon.choices == {"handle": "ribbon"}
    with pytest.raises(UnknownOption, match="Its options: handle"):
        parts_for(small, 1, {"lid": "round"})
    with pytest.raises(UnknownOption, match="Choose one of: none, ribbon"):
        parts_for(small, 1, {"handle": "cord"})
    with pytest.raises(UnknownOption, match="twice") as refused:
        parts_for(small, 1, [("handle", "none"), ("handle", "ribbon")])
    assert refused.value.where == "handle"


def test_an_option_without_a_default_takes_its_first_answer():
    lid = RecipeOption("lid", "Lid", (Choice("flat", "flat"), Choice("domed", "domed")))
    assert parts_for(recipe(options=(lid,)), 1).choices == {"lid": "flat"}


def test_names_are_as_many_as_pieces_when_any_row_counts_them():
    named = recipe(
        steps=(RecipeStep("layout", Basis.JOB, D(8)), RecipeStep("write", Basis.NAME, D(2))),
        fixings=(RecipeFixing("ink", "tie", D(1), Basis.NAME, waste_share=D(0)),),
    )
    assert parts_for(recipe(), 5).names == 0
    assert parts_for(named, 5).names == 5
    assert cost(named, 5, names=3).minutes == 8 + 3 * 2
    assert cost(named, 5, names=3).other_cost == D("0.60")
    assert cost(named, 5, names=0).minutes == 8
    with pytest.raises(ImpossibleQuantity):
        cost(named, 5, names=-1)


def test_a_quantity_no_packing_row_holds_for_is_packed_in_nothing():
    gap = recipe(
        packings=(
            RecipePacking("sleeve", "sleeve", cost_each=D(1), when=When(to_quantity=1)),
            RecipePacking("carton", "carton", 40, cost_each=D(1), when=When(from_quantity=12)),
        )
    )
    assert [cost(gap, n).packing_cost for n in (1, 2, 11, 12, 40, 41)] == [1, 0, 0, 1, 1, 2]
    assert "no packaging" in cost(gap, 2).explanation.find("c.pack").how


def test_packing_may_take_a_material_which_must_then_be_bought_too():
    packed = recipe(packings=(RecipePacking("wrap", "sleeve", 2, role="tie"),), fixings=())
    job = cost(packed, 3)
    assert job.packing_cost == 2 * D("0.20")
    assert {need.material.name: need.amount for need in job.needs} == {"card": 3, "ribbon": 2}
    unpriced = recipe(packings=(RecipePacking("wrap", "sleeve"),))
    with pytest.raises(Refusal, match="Enter a cost"):
        cost(unpriced)


def test_doubled_pieces_count_twice_in_sheets_and_once_in_glue():
    doubled = recipe(pieces=(RecipePiece("handle", "body", D(100), D(10), count=1, layers=2),))
    job = cost(doubled, 3)
    assert job.sheets == 6
    assert job.parts.uses[0].amount == 3 * D("0.5") * D("1.1")


def test_two_roles_with_one_material_share_their_sheets():
    shared = recipe(
        materials={"body": CARD, "lid": CARD, "tie": RIBBON},
        pieces=(
            RecipePiece("part", "body", D(150), D(100), count=3),
            RecipePiece("part", "lid", D(150), D(50), count=2),
        ),
        steps=(
            RecipeStep("cut body", Basis.SHEET, D(2), role="body"),
            RecipeStep("cut lid", Basis.SHEET, D(5), role="lid"),
        ),
        wears=(RecipeWear("blade", Basis.SHEET, D("0.6"), life=D(60)),),
    )
    jobs = []

    def plan(job):
        jobs.append(job)
        return sheet_for_each_piece(job)

    job = cost_of(shared, Ask(2), rates(), plan)
    (cutting,) = jobs
    assert [(piece.name, piece.count, piece.may_turn) for piece in cutting.pieces] == [
        ("part", 6, False),
        ("part (2)", 4, False),
    ]
    # ten sheets by area 6 x 15,000 : 4 x 7,500 = 3 : 1, a tie of halves goes to the earlier role
    assert (job.sheets_of("body"), job.sheets_of("lid"), job.sheets) == (8, 2, 10)
    assert job.minutes == 8 * 2 + 2 * 5
    assert job.wear_cost == D("0.1")
    assert [need.amount for need in job.needs if need.material is CARD] == [10]


def test_die_passes_are_counted_for_each_material():
    shiny = replace(CARD, name="mirror", id=3)
    die_cut = recipe(
        materials={"front": CARD, "back": CARD, "shine": shiny},
        fixings=(),
        pieces=tuple(
            RecipePiece(role, role, D(20), D(20), count=3, is_die_cut=True)
            for role in ("front", "back", "shine")
        ),
        steps=(RecipeStep("die", Basis.PASS, D(1), per=4),),
        wears=(
            RecipeWear("plates", Basis.PASS, D("0.02")),
            RecipeWear("shim", Basis.PASS, D("0.10"), role="shine"),
        ),
    )
    job = cost(die_cut)
    # front and back are one card: 6 / 4 up = 2; mirror: 3 / 4 up = 1
    assert job.work.die_passes == 3
    assert job.minutes == 3
    assert job.wear_cost == 3 * D("0.02") + 1 * D("0.10")
    one_role = replace(die_cut, steps=(RecipeStep("die", Basis.PASS, D(1), role="shine", per=2),))
    assert cost(one_role).work.die_passes == 2
    assert cost(replace(die_cut, pieces=(), wears=())).work.die_passes == 0


def test_an_odd_pass_goes_whole_to_one_of_the_roles_that_share_it():
    die_cut = recipe(
        materials={"front": CARD, "back": CARD},
        fixings=(),
        pieces=tuple(
            RecipePiece(role, role, D(20), D(20), count=5, is_die_cut=True)
            for role in ("front", "back")
        ),
        steps=(RecipeStep("die", Basis.PASS, D(1), per=4, id=3),),
    )
    (passes,) = cost(die_cut).work.passes
    # 10 / 4 up = 3: one and a half each
    assert (passes.count, passes.by_role) == (3, {"front": 2, "back": 1})
    assert passes.line.source == ("step", 3)


def test_packing_at_a_stated_cost_takes_no_amount_and_needs_no_other_cost():
    bag = replace(RIBBON, name="bag", id=9)
    unknown = replace(bag, cost=None)
    packed = RecipePacking("bag", "sleeve", 2, role="bag")

    def made(material, **more):
        materials = {"body": CARD, "tie": RIBBON, "bag": material}
        return cost(recipe(materials=materials, packings=(replace(packed, **more),)), 5)

    assert made(bag).amount_of(bag.identity) == 3  # two in a bag, up
    assert made(bag, cost_each=D("0.10")).amount_of(bag.identity) == 0
    assert made(unknown, cost_each=D("0.10")).packing_cost == D("0.30")
    with pytest.raises(MaterialWithoutCost):
        made(unknown)


def test_batches_and_cartons_are_whole():
    small = recipe(
        packings=(RecipePacking("carton", "carton", 4, cost_each=D(0)),),
        steps=(
            RecipeStep("load", Basis.BATCH, D(5), per=6),
            RecipeStep("tape", Basis.CARTON, D(1)),
        ),
    )
    assert [cost(small, n).minutes for n in (1, 6, 7)] == [5 + 1, 5 + 2, 10 + 2]


def test_set_up_never_learns_even_if_it_is_ticked():
    taught = recipe(
        learning=Learning.CUMULATIVE,
        learning_rate=D("0.5"),
        steps=(
            RecipeStep("set up", Basis.JOB, D(10), learns=True),
            RecipeStep("fold", Basis.MADE, D(4), learns=True),
            RecipeStep("glue", Basis.MADE, D(1)),
        ),
    )
    # average of two at 50 %: half the first
    assert cost(taught, 2).minutes == 10 + 2 * 4 * D("0.5") + 2 * 1


def test_a_material_without_a_cost_is_named_with_what_to_do():
    poor = recipe(materials={"body": replace(CARD, cost=None), "tie": RIBBON})
    with pytest.raises(MaterialWithoutCost, match="Enter a receipt or give one") as no:
        cost(poor)
    assert no.value.where == "card"
    unused = recipe(materials={"body": CARD, "tie": replace(RIBBON, cost=None)}, fixings=())
    assert cost(unused).other_cost == 0


def test_rows_that_cannot_be_counted_are_refused():
    with pytest.raises(NoMaterialInRole, match="Roles: body, tie"):
        cost(recipe(fixings=(RecipeFixing("bow", "bow", D(1)),)))
    with pytest.raises(NoMaterialInRole, match="isn't a sheet with a size"):
        cost(recipe(pieces=(RecipePiece("strip", "tie", D(10), D(10)),)))
    with pytest.raises(Refusal, match="cannot be counted by the night"):
        cost(recipe(fixings=(RecipeFixing("tie", "tie", D(1), Basis.NIGHT),)))
    with pytest.raises(Refusal, match="cannot wear by the night"):
        cost(recipe(wears=(RecipeWear("mat", Basis.NIGHT, D(1)),)))


def test_waste_of_a_fixing_goes_before_that_of_its_material():
    assert cost(recipe()).parts.uses[0].amount == D("0.55")
    own = recipe(fixings=(RecipeFixing("tie", "tie", D("0.5"), waste_share=D(0)),))
    assert cost(own).parts.uses[0].amount == D("0.5")
    two = recipe(
        fixings=(RecipeFixing("tie", "tie", D(1)), RecipeFixing("bow", "tie", D(2), Basis.JOB))
    )
    assert cost(two, 3).parts.uses[0].amount == (3 + 2) * D("1.1")


@pytest.mark.parametrize("side", ["width_mm", "height_mm"])
def test_a_sheet_without_a_size_is_cut_into_nothing(side):
    with pytest.raises(NoMaterialInRole, match="a sheet with a size") as refused:
        cost(recipe(materials={"body": replace(CARD, **{side: D(0)}), "tie": RIBBON}))
    assert refused.value.where == "body"


def test_every_figure_opens_to_the_row_behind_it():
    traced = recipe(
        materials={
            "body": replace(CARD, cost=UnitCost(D("0.5"), "25.10 / 48", ("purchase_line", 7))),
            "tie": RIBBON,
        },
        pieces=(RecipePiece("body", "body", D(1), D(1), id=1),),
        fixings=(RecipeFixing("tie", "tie", D(1), id=2),),
        steps=(RecipeStep("fold", Basis.MADE, D(1), id=3),),
        wears=(RecipeWear("blade", Basis.SHEET, D(1), id=4),),
        packings=(RecipePacking("sleeve", "sleeve", cost_each=D(1), id=5),),
    )
    found = {line.source for line in cost(traced).explanation.walk()} - {None}
    rows = [("piece", 1), ("fixing", 2), ("step", 3), ("wear", 4), ("packing", 5)]
    assert found == {*rows, ("purchase_line", 7)}


COUNTS = st.integers(1, 300)
SHARES = st.decimals(0, "0.9", places=3)
AMOUNTS = st.decimals(0, 50, places=3)


@given(COUNTS, SHARES, AMOUNTS, AMOUNTS, st.sampled_from(Learning), st.decimals("0.5", 1, places=3))
def test_every_sum_is_the_sum_of_its_lines(quantity, rejects, amount, minutes, model, rate):
    made_from = recipe(
        reject_share=rejects,
        fixings=(
            RecipeFixing("tie", "tie", amount),
            RecipeFixing("bow", "tie", amount, Basis.GOOD),
        ),
        steps=(
            RecipeStep("set up", Basis.JOB, minutes),
            RecipeStep("fold", Basis.MADE, minutes, learns=True),
            RecipeStep("dry", Basis.RACK, minutes, per=7, times=2, window_minutes=480),
            RecipeStep("pack", Basis.CARTON, minutes),
        ),
        packings=(RecipePacking("carton", "carton", 12, cost_each=D("0.85")),),
        wears=(RecipeWear("blade", Basis.SHEET, D(2), life=D(3)),),
        learning=model,
        learning_rate=rate,
    )
    job = cost(made_from, quantity)
    sums = [line for line in job.explanation.walk() if line.is_sum]
    assert {"C", "M", "t", "c.sheets", "c.other", "c.wear", "c.pack"} <= {line.key for line in sums}
    for line in sums:
        # a third of a third may differ in the last of 34 digits
        with localcontext(prec=34):
            added = sum((each.number for each in line.lines), D(0))
        assert abs(added - line.number) <= D("1e-24")
    assert job.explanation.find("C").number == job.cost
    materials = job.sheets_cost + job.other_cost + job.packing_cost
    kinds = (materials, job.wear_cost, job.labour_cost, job.overhead_cost)
    assert abs(sum(kinds) - job.cost) <= D("1e-22")
    assert job.made >= quantity
    # what a figure is told by holds the figure, also where others count with fewer digits
    with localcontext(prec=6):
        told = job.explanation
    for key, figure in (
        ("C", job.cost),
        ("c.sheets", job.sheets_cost),
        ("c.other", job.other_cost),
        ("c.wear", job.wear_cost),
        ("c.pack", job.packing_cost),
        ("c.labour", job.labour_cost),
        ("c.overhead", job.overhead_cost),
        ("t", job.minutes),
        ("lf", job.work.learning.factor),
        ("M", job.made),
    ):
        assert told.find(key).number == figure
    assert told == job.explanation


def test_what_drives_the_cost_is_told_in_four_decimals_halves_up():
    # two: labour 16 x 12 / 60 = 3.20, overhead 1.60, card 1.00, ribbon 0.22 of 6.02
    shares = {each.key: each.share for each in drivers_of(cost(quantity=2))}
    assert shares == {
        "labour": D("0.5316"),
        "overhead": D("0.2658"),
        "sheets": D("0.1661"),
        "other": D("0.0365"),
        "wear": D(0),
        "packing": D(0),
    }
    nothing = drivers_of(cost(recipe(pieces=(), fixings=(), steps=())))
    assert [each.share for each in nothing] == [D(0)] * 6


def test_a_share_of_a_half_goes_up():
    # 1 of 32 is 0.03125: labour 31 min at 60 an hour, wear 1
    steps = (RecipeStep("fold", Basis.JOB, D(31)),)
    made = recipe(pieces=(), fixings=(), steps=steps, wears=(RecipeWear("blade", Basis.JOB, D(1)),))
    job = cost_of(
        made, Ask(1), rates(wage_per_hour=D(60), overhead_per_hour=D(0)), sheet_for_each_piece
    )
    shares = {each.key: each.share for each in drivers_of(job)}
    assert (shares["labour"], shares["wear"]) == (D("0.9688"), D("0.0313"))
