"""What a recipe's rows become for calculation: margins, glue, options, colourways, conditions."""

import copy
from decimal import Decimal
from typing import Any

import pytest

from catalogue.calc.recipes import recipe as values
from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.recipes.recipe import Basis, When
from catalogue.materials.models import Material
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.recipe_documents import FULL, MATERIALS


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_pack(factories.make_material(workshop, name=name, **fields))
    design = factories.make_design(workshop, name="Wren bag", caution="Not for under threes.")
    version = factories.make_version(design)
    write_recipe(version, copy.deepcopy(FULL))
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


@pytest.fixture
def recipe(version, workshop) -> values.Recipe:
    return recipe_values(version, workshop)


def _named(rows: Any, name: str) -> Any:
    return next(row for row in rows if row.name == name)


def test_every_row_arrives_in_order(recipe):
    for kind in ("pieces", "fixings", "steps", "wears", "packings"):
        assert [row.name for row in getattr(recipe, kind)] == [row["name"] for row in FULL[kind]]
        assert all(row.id for row in getattr(recipe, kind))
    assert recipe.name == "Wren bag"
    assert recipe.cautions == ("Not for under threes.",)


def test_a_die_cut_blank_is_larger_on_every_side_and_others_are_not(recipe):
    badge, bag = _named(recipe.pieces, "badge"), _named(recipe.pieces, "bag")
    assert (badge.width_mm, badge.height_mm) == (Decimal("44.1"), Decimal("44.1"))
    assert (bag.width_mm, bag.height_mm) == (Decimal("215.9"), Decimal("139.7"))
    assert badge.is_die_cut
    assert not bag.is_die_cut


def test_turning_and_layers_are_told(recipe):
    assert [piece.may_turn for piece in recipe.pieces] == [False, True, None, None]
    # two blanks make one large body
    assert [(piece.count, piece.layers) for piece in recipe.pieces] == [
        (1, 1),
        (2, 1),
        (1, 2),
        (2, 1),
    ]


def test_a_glue_line_and_a_spread_become_amounts_with_the_sum_in_words(recipe):
    # by hand: 0.5 m x 3.1 ml/m = 1.55 ml; 20,000 mm2 = 0.02 m2 x 100 ml/m2 = 2 ml
    seam, lining = _named(recipe.fixings, "side seam"), _named(recipe.fixings, "lining")
    assert seam.amount == Decimal("1.55")
    assert seam.how == "500 mm of glue line × 2.8346 ml per yard"
    assert lining.amount == Decimal(2)
    assert lining.how == "200 cm² × 83.6127 ml per square yard"
    assert seam.waste_share == Decimal("0.15")
    assert lining.waste_share is None


def test_conditions_arrive_as_keys(recipe):
    assert _named(recipe.pieces, "badge").when == When(2, 500, None, ("closure", "magnet"))
    assert _named(recipe.fixings, "brads").when == When(only_with=("closure", "dot"))
    assert _named(recipe.steps, "set up").when == values.ALWAYS
    names = [
        step.name
        for step in recipe.steps
        if step.when.holds(1, {"closure": "dot", "names": "none"})
    ]
    assert "write the name" not in names
    assert "pack carton" not in names
    assert "set up" in names


def test_options_come_with_defaults_and_cautions(recipe):
    closure = recipe.options[0]
    assert [(choice.key, choice.is_default) for choice in closure.choices] == [
        ("dot", True),
        ("magnet", False),
    ]
    assert closure.choices[1].caution == "Swallowed magnets injure."


def test_every_basis_of_work_arrives_with_what_it_counts(recipe):
    assert {step.basis for step in recipe.steps} == set(Basis)
    rack = _named(recipe.steps, "dry")
    assert (rack.minutes, rack.per, rack.times, rack.window_minutes) == (Decimal(45), 24, 2, 480)
    assert _named(recipe.steps, "press badges").per == 4
    assert _named(recipe.steps, "press badges").role == "mirror"
    fold = _named(recipe.steps, "fold and glue")
    assert (fold.minutes_low, fold.minutes_high, fold.learns) == (Decimal(4), Decimal("7.25"), True)
    assert fold.caution == "hot glue"
    assert _named(recipe.steps, "dry over night").per == 60


def test_packing_and_wear_arrive(recipe):
    sleeve, mailer, carton = recipe.packings
    assert (sleeve.kind, sleeve.cost_each, sleeve.when.to_quantity) == (
        "sleeve",
        Decimal("0.06"),
        1,
    )
    assert (mailer.kind, mailer.holds) == ("mailer", 11)
    assert (carton.kind, carton.holds, carton.role, carton.cost_each) == (
        "carton", 40, "carton", None,
    )  # fmt: skip
    blade, plates = recipe.wears
    assert (blade.price, blade.life, blade.role) == (Decimal("0.6"), Decimal(60), None)
    assert (plates.basis, plates.role) == (Basis.PASS, "mirror")


def test_spares_and_learning_arrive(recipe):
    assert (recipe.reject_share, recipe.rejects_from) == (Decimal("0.04"), 10)
    assert recipe.learning == values.Learning.CUMULATIVE
    assert (recipe.learning_rate, recipe.learning_floor) == (Decimal("0.95"), Decimal("0.7"))
    assert recipe.learning_reference == 1


def test_a_colourway_puts_its_materials_into_the_roles_and_leaves_the_others(version, workshop):
    moss, ember = version.colourways.all()
    as_usual = recipe_values(version, workshop)
    assert recipe_values(version, workshop, colourway=moss).materials == as_usual.materials
    in_ember = recipe_values(version, workshop, colourway=ember).materials
    assert in_ember["body"].name == "Ember card"
    assert as_usual.materials["body"].name == "Fern card"
    assert in_ember["mirror"] == as_usual.materials["mirror"]


def test_materials_come_with_what_they_cost(recipe):
    # by hand: a pack of 10 for 5.00
    assert recipe.materials["body"].cost.value == Decimal("0.5")


def test_values_of_a_loaded_version_ask_the_database_nothing(version, workshop, count_queries):
    with count_queries() as queries:
        for colourway in (None, *version.colourways.all()):
            recipe_values(version, workshop, colourway=colourway)
    assert len(queries) == 0


def test_a_longer_recipe_loads_with_as_many_queries(version, workshop, count_queries):
    write_recipe(version, copy.deepcopy(FULL))  # so that nothing is kept of it
    with count_queries() as short:
        list(DesignVersion.objects.filter(pk=version.pk).with_recipe())
    document = copy.deepcopy(FULL)
    for number in range(20):
        name = f"Card {number}"
        factories.make_pack(factories.make_material(workshop, name=name))
        document["roles"].append({"name": name, "material": name})
        document["pieces"].append({**FULL["pieces"][0], "name": name, "role": name})
        document["colourways"].append({"name": name, "materials": {"body": name}})
    write_recipe(version, document)
    with count_queries() as long:
        list(DesignVersion.objects.filter(pk=version.pk).with_recipe())
    assert len(long) == len(short)


def test_a_folded_piece_is_counted_in_blanks_with_the_glue_of_each(recipe):
    body = _named(recipe.pieces, "large body")
    assert (body.width_mm, body.height_mm, body.count) == (Decimal("304.8"), Decimal("304.8"), 2)
    # on each blank the tab of 8 in, and the front base pressed on the sides: 7 1/2 + 4 + 4 in
    assert body.glue_bead_mm == Decimal("596.9")
    assert Decimal(0) < body.area_mm2 < Decimal("304.8") ** 2
    assert _named(recipe.pieces, "bag").glue_bead_mm == 0
    assert _named(recipe.pieces, "bag").area_mm2 is None
    # a die leaves its own size of a larger blank: 38.1 x 38.1 mm
    assert _named(recipe.pieces, "badge").area_mm2 == Decimal("1451.61")


def test_glue_on_folded_pieces_waits_for_the_parts_list(recipe):
    seams, spread = _named(recipe.fixings, "folded seams"), _named(recipe.fixings, "folded spread")
    assert (seams.measure, seams.amount, seams.rate) == ("form_bead", 2, Decimal("3.1"))
    assert (spread.measure, spread.amount, spread.rate) == ("form_area", 1, 90)
    # by hand: two blanks of 596.9 mm, two lines of 3.1 ml a metre
    parts = parts_for(recipe, 1)
    (glue,) = (use for use in parts.uses if use.role == "glue")
    line = next(line for line in glue.line.lines if line.label == "folded seams")
    assert line.value == Decimal("1.1938") * 2 * Decimal("3.1")
    assert "2 large body x 23 1/2 in = 47 in; 2 x 2.8346 ml per yard" in str(line.how)
    # with a magnet the large body is not made, and its seams are not glued
    without = parts_for(recipe, 1, {"closure": "magnet"})
    (glue,) = (use for use in without.uses if use.role == "glue")
    line = next(line for line in glue.line.lines if line.label == "folded seams")
    assert line.value == 0


def test_a_cut_length_loses_something_at_every_cut(version, workshop):
    reel = Material.objects.get(name="Satin ribbon")
    tag = _named(recipe_values(version, workshop).fixings, "tag ribbon")
    # by hand: 2 x 304.8 mm = 0.6096 m
    assert (tag.amount, tag.how) == (Decimal("0.6096"), "2 × 12 in")
    assert (tag.cut_mm, tag.cut_count) == (Decimal("304.8"), 2)
    reel.cut_loss_mm = Decimal(5)
    reel.save()
    loaded = DesignVersion.objects.with_recipe().get(pk=version.pk)
    tag = _named(recipe_values(loaded, workshop).fixings, "tag ribbon")
    # by hand: 2 x (304.8 + 5) mm = 0.6196 m, for 9 of it 5.5764 m
    assert tag.amount == Decimal("0.6196")
    assert tag.how == "2 × (12 in + 5 mm lost at the cut)"
    (ribbon,) = (
        use for use in parts_for(recipe_values(loaded, workshop), 9).uses if use.role == "ribbon"
    )
    assert ribbon.amount == Decimal("5.5764")


def test_a_colourways_reel_loses_what_it_loses(version, workshop):
    wide = factories.make_material(
        workshop, name="Wide ribbon", kind="length", cut_loss_mm=Decimal(10)
    )
    document = copy.deepcopy(FULL)
    document["colourways"].append({"name": "wide", "materials": {"ribbon": wide.name}})
    write_recipe(version, document)
    loaded = DesignVersion.objects.with_recipe().get(pk=version.pk)
    way = loaded.colourways.all()[2]
    tag = _named(recipe_values(loaded, workshop, colourway=way).fixings, "tag ribbon")
    assert tag.amount == Decimal("0.6296")
