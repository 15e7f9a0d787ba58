"""Registers the models of this app with Django; import from the features, never from here."""

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import (
    Colourway,
    ColourwayMaterial,
    DesignVersion,
    Fixing,
    Option,
    OptionChoice,
    Packing,
    Piece,
    RecipeChange,
    Role,
    Step,
    Wear,
)
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import FileColumns, Supplier

__all__ = [
    "Colourway",
    "ColourwayMaterial",
    "CuttingPlan",
    "Design",
    "DesignVersion",
    "FileColumns",
    "Fixing",
    "Material",
    "Offcut",
    "OffcutEntry",
    "Option",
    "OptionChoice",
    "Pack",
    "Packing",
    "Piece",
    "Purchase",
    "PurchaseLine",
    "RecipeChange",
    "Role",
    "Step",
    "StockEntry",
    "Supplier",
    "Wear",
]
