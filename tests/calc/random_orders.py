"""Random recipes and orders for laws, and a quick planner that keeps them.

The planner fills sheets by area alone: more pieces never take fewer sheets, and one job for all
never takes more than several.
"""

from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from hypothesis import strategies as st

from catalogue.calc.cutting.job import SheetPlan
from catalogue.calc.recipes.recipe import (
    Basis,
    Choice,
    Learning,
    MaterialValues,
    Recipe,
    RecipeFixing,
    RecipeOption,
    RecipePacking,
    RecipePiece,
    RecipeStep,
    RecipeWear,
    UnitCost,
    When,
)
from pricing.calc.costing.rates import Ask
from pricing.calc.orders.order import OrderedLine

D = Decimal
WITH_NAME = When(only_with=("name", "yes"))
WITH_WINDOW = When(only_with=("window", "yes"))


def by_area(job):
    """Plan as many sheets as the area of the pieces takes."""
    sheet = job.sheets[0]
    area = sum(Fraction(piece.width) * Fraction(piece.height) * piece.count for piece in job.pieces)
    count = int(
        (D(area.numerator) / D(area.denominator) / (sheet.width * sheet.height)).to_integral_value(
            ROUND_CEILING
        )
    )
    return SheetPlan(count, D(count), D(count), True, "by area", 0.0, ())


def card(name, cost):
    """A sheet of card."""
    return MaterialValues(name, "sheet", "sheet", UnitCost(D(cost)), D(300), D(200), id=name)


CARDS = [card("white", "0.50"), card("blue", "0.71"), card("gold", "1.30")]
TIES = [
    MaterialValues("twine", "length", "m", UnitCost(D("0.07")), waste_share=D("0.04"), id="twine"),
    MaterialValues("silk", "length", "m", UnitCost(D("0.33")), waste_share=D("0.1"), id="silk"),
]
BOX = MaterialValues("carton", "count", "piece", UnitCost(D("0.85")), id="carton")

minutes = st.decimals(D(0), D(9), places=2)
sides = st.integers(4, 18).map(lambda side: D(side * 10))


@st.composite
def recipes(draw, name="box"):
    """A recipe with every kind of row; rows do not switch at a quantity."""
    steps = [
        RecipeStep("set up", Basis.JOB, draw(minutes)),
        RecipeStep("mix glue", Basis.BATCH, draw(minutes), per=draw(st.integers(1, 30))),
        RecipeStep("cut", Basis.SHEET, draw(minutes), role=draw(st.sampled_from([None, "body"]))),
        RecipeStep("die", Basis.PASS, draw(minutes), per=draw(st.integers(1, 6))),
        RecipeStep("fold", Basis.MADE, D(2) + draw(minutes), learns=draw(st.booleans())),
        RecipeStep(
            "window", Basis.MADE, draw(minutes), learns=draw(st.booleans()), when=WITH_WINDOW
        ),
        RecipeStep("trim window", Basis.SHEET, draw(minutes), when=WITH_WINDOW),
        RecipeStep("write", Basis.NAME, draw(minutes), learns=draw(st.booleans()), when=WITH_NAME),
        RecipeStep("check", Basis.GOOD, draw(minutes), learns=draw(st.booleans())),
        RecipeStep("pack", Basis.CARTON, draw(minutes)),
    ]
    pieces = [
        RecipePiece("body", "body", draw(sides), draw(sides)),
        RecipePiece(
            "tag", draw(st.sampled_from(["body", "tag"])), draw(sides), D(40), is_die_cut=True
        ),
        RecipePiece("pane", "body", D(30), draw(sides), when=WITH_WINDOW),
    ]
    learning = draw(st.sampled_from(list(Learning)))
    return Recipe(
        name=name,
        materials={"body": CARDS[0], "tag": CARDS[1], "tie": TIES[0], "carton": BOX},
        pieces=tuple(pieces),
        fixings=(
            RecipeFixing("tie", "tie", D("0.35")),
            RecipeFixing("ink", "tie", D("0.1"), basis=Basis.NAME, when=WITH_NAME),
            RecipeFixing("tape", "tie", D("0.2"), basis=Basis.CARTON),
            RecipeFixing("sample", "tie", D("1.5"), basis=Basis.JOB),
        ),
        wears=(
            RecipeWear("blade", Basis.SHEET, D("2.50"), D(80)),
            RecipeWear("plates", Basis.PASS, D(40), D(2000)),
            RecipeWear("needle", Basis.MADE, D("1.2"), D(300), when=WITH_WINDOW),
        ),
        packings=(
            RecipePacking("sleeve", "sleeve", cost_each=D("0.04")),
            RecipePacking("carton", "carton", holds=draw(st.integers(1, 40)), role="carton"),
        ),
        steps=tuple(steps),
        options=(
            RecipeOption("name", "Name", (Choice("no", "no", True), Choice("yes", "yes"))),
            RecipeOption("window", "Window", (Choice("no", "no", True), Choice("yes", "yes"))),
        ),
        reject_share=draw(st.sampled_from([D(0), D("0.04"), D("0.1")])),
        rejects_from=draw(st.sampled_from([1, 10])),
        learning=learning,
        learning_rate=draw(st.sampled_from([D("0.8"), D("0.95"), D(1)])),
        learning_floor=draw(st.sampled_from([D(0), D("0.7")])),
    )


def coloured(recipe, way):
    """The recipe in a colourway."""
    materials = {**recipe.materials, "body": CARDS[way], "tie": TIES[way % 2]}
    return Recipe(
        **{field: getattr(recipe, field) for field in recipe.__slots__ if field != "materials"},
        materials=materials,
    )


@st.composite
def lines(draw, recipes_by_group):
    """A line of one of some recipes."""
    group = draw(st.sampled_from(sorted(recipes_by_group)))
    quantity = draw(st.integers(1, 60))
    named = draw(st.sampled_from(["yes", "no"]))
    return OrderedLine(
        coloured(recipes_by_group[group], draw(st.integers(0, 2))),
        Ask(
            quantity,
            (("name", named), ("window", draw(st.sampled_from(["yes", "no"])))),
            names=draw(st.sampled_from([None, quantity, quantity // 2]))
            if named == "yes"
            else None,
        ),
        group,
    )


@st.composite
def orders(draw, most=5):
    """An order of one to three designs."""
    groups = {
        name: draw(recipes(name)) for name in ["box", "bag", "sleeve"][: draw(st.integers(1, 3))]
    }
    return draw(st.lists(lines(groups), min_size=1, max_size=most))
