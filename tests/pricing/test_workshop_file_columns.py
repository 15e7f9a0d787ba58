"""Nothing is forgotten in a workshop file: each column of each row is in it or named left out."""

import pytest
from django.apps import apps

from catalogue.calc.recipes.columns import CHOICE, HEAD, OPTION, ROWS
from pricing.workshop_file import schema

TABLES = {
    table.model.__name__: table
    for table in vars(schema).values()
    if isinstance(table, schema.FileTable)
}
# written as the name or key of the row they point to, or by standing inside it
REFERENCES = {
    "workshop", "supplier", "material", "pack", "purchase", "purchase_line", "takes_back",
    "design", "version", "channel", "colourway", "customer", "replaces", "quote",
    "offcut", "plan", "entry", "order", "delivery", "line", "credits", "repeat_of",
    "item", "place", "to_place", "batch", "enquiry", "change", "stock_place", "fair_line",
    "settled",
    "fair", "last_year", "day", "bundle", "sale", "shop", "settlement", "expense",
}  # fmt: skip
# written by `catalogue.recipes`, in the form a recipe is copied and undone in
RECIPE = {
    "Role": "roles", "Piece": "pieces", "Fixing": "fixings", "Step": "steps",
    "Wear": "wears", "Packing": "packings",
}  # fmt: skip
RECIPE_PLACES = {
    "id", "version", "position", "role", "material",
    "from_quantity", "to_quantity", "only_with", "not_with",
}  # fmt: skip
# what belongs to the installation, is over with its pages, or is added up anew: people, undo, work
# in progress, kept sums; uploaded pictures and PDFs, which lie beside the file; and
# links, which open one installation
LEFT_OUT = {
    "User", "Membership", "Session", "Try", "Event",
    "CodeApp", "RecoveryCode", "Passkey", "MailServer",
    "CalendarFeed", "RecipeChange", "Worker", "Work", "WorkPart",
    "Installation", "KeptSpending",
    "StoredPicture", "StoredPdf", "DesignPhoto", "ReceiptFile", "QuoteLink", "FinishedLayer",
}  # fmt: skip


def models():
    return [
        model for name in ("maker", "catalogue", "pricing")
        for model in apps.get_app_config(name).get_models()
    ]  # fmt: skip


@pytest.mark.parametrize("model", models(), ids=lambda model: model.__name__)
def test_every_model_has_its_place(model):
    name = model.__name__
    in_recipe = {*RECIPE, "Option", "OptionChoice", "Colourway", "ColourwayMaterial"}
    assert (name in TABLES) + (name in in_recipe) + (name in LEFT_OUT) == 1


@pytest.mark.parametrize("name", sorted(TABLES))
def test_every_column_is_in_the_file_or_left_out_with_a_reason(name):
    table = TABLES[name]
    written = {column.name for column in table.columns}
    for column in table.model._meta.concrete_fields:
        places = (
            (column.name in written)
            + (column.name in table.left_out)
            + (column.is_relation and column.name in REFERENCES)
        )
        assert places == 1, column.name
    assert set(table.left_out) <= {column.name for column in table.model._meta.concrete_fields}


@pytest.mark.parametrize("name", sorted(RECIPE))
def test_every_column_of_a_recipe_row_is_in_its_document(name):
    model = apps.get_model("catalogue", name)
    columns = {column.name for column in model._meta.concrete_fields}
    assert columns - RECIPE_PLACES <= set(ROWS[RECIPE[name]])


def test_options_and_the_head_of_a_recipe_are_whole():
    option = {column.name for column in apps.get_model("catalogue", "Option")._meta.concrete_fields}
    choice = {
        column.name for column in apps.get_model("catalogue", "OptionChoice")._meta.concrete_fields
    }
    assert option - {"id", "version", "position"} == set(OPTION)
    assert choice - {"id", "option", "position"} == set(CHOICE)
    assert set(HEAD) <= set(schema.DESIGN_VERSION.left_out)
