"""A small recipe for tests, and a planner that needs no search: one piece takes one sheet."""

from decimal import Decimal

from catalogue.calc.cutting.job import SheetPlan
from catalogue.calc.recipes.recipe import (
    Basis,
    MaterialValues,
    Recipe,
    RecipeFixing,
    RecipePiece,
    RecipeStep,
    UnitCost,
)
from pricing.calc.costing.rates import ChannelRates, TierRates, WorkshopRates

D = Decimal
CARD = MaterialValues(
    "card", "sheet", "sheet", UnitCost(D("0.50")), D(300), D(200), is_directional=True, id=1
)
RIBBON = MaterialValues("ribbon", "length", "m", UnitCost(D("0.20")), waste_share=D("0.1"), id=2)


def sheet_for_each_piece(job):
    """Plan one sheet for each piece: enough for sums about sheets, and easy to follow."""
    count = sum(piece.count for piece in job.pieces)
    return SheetPlan(count, count * job.sheets[0].price, D(count), True, "one each", 0.0, ())


def recipe(**changes):
    values = {
        "name": "small box",
        "materials": {"body": CARD, "tie": RIBBON},
        "pieces": (RecipePiece("body", "body", D(150), D(100)),),
        "fixings": (RecipeFixing("tie", "tie", D("0.5")),),
        "steps": (
            RecipeStep("set up", Basis.JOB, D(10)),
            RecipeStep("fold", Basis.MADE, D(3), learns=True),
        ),
    }
    return Recipe(**(values | changes))


def rates(**changes):
    return WorkshopRates(**({"wage_per_hour": D(12), "overhead_per_hour": D(6)} | changes))


def channel(*tiers, **changes):
    return ChannelRates("stall", tiers or (TierRates(margin=D("0.25")),), **changes)
