"""Registers the models of this app with Django; import from the features, never from here."""

from catalogue.closed_months.models import ClosedMonth
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.designs.models import Design, DesignPhoto
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material, Pack
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.receipt_files.models import ReceiptFile
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
    "ClosedMonth",
    "Colourway",
    "ColourwayMaterial",
    "CuttingPlan",
    "Design",
    "DesignPhoto",
    "DesignVersion",
    "Expense",
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
    "ReceiptFile",
    "RecipeChange",
    "Role",
    "Step",
    "StockEntry",
    "Supplier",
    "Wear",
]
