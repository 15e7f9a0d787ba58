"""Turns the inputs of the order costed by hand (tests/data/worked_case.json) into values."""

import json
from decimal import Decimal
from pathlib import Path

from catalogue.calc.recipes.recipe import (
    Basis,
    Learning,
    MaterialValues,
    PackOffer,
    Recipe,
    RecipeFixing,
    RecipePacking,
    RecipePiece,
    RecipeStep,
    RecipeWear,
    UnitCost,
    When,
)
from catalogue.calc.supplies.unit_cost import ReceiptLine, land_receipt
from pricing.calc.costing.rates import Ask, ChannelRates, TierRates, WorkshopRates

CASE = json.loads(
    (Path(__file__).parents[1] / "data" / "worked_case.json").read_text(encoding="utf-8")
)
INPUTS = CASE["inputs"]
MINUTES = INPUTS["minutes"]
UNITS = {"glue": ("volume", "ml"), "twine": ("length", "m"), "dot": ("pairs", "pair")}


def mm(inches):
    return Decimal(inches) * Decimal("25.4")


def landed():
    lines = [
        ReceiptLine(name, Decimal(quantity), Decimal(amount), id=number)
        for number, (name, _, _, quantity, amount) in enumerate(INPUTS["receipt"], 1)
    ]
    return land_receipt(
        lines,
        postage=Decimal(INPUTS["receipt_postage"]),
        tax=Decimal(0),
        tax_is_recoverable=True,
    )


def materials():
    """Each material in a role of its own name, at its landed cost."""
    costs = {line.name: line for line in landed().lines}
    found = {}
    for number, (name, pack, packs, quantity, amount) in enumerate(INPUTS["receipt"], 1):
        sheet = INPUTS["sheets"].get(name)
        kind, unit = ("sheet", "sheet") if sheet else UNITS.get(name, ("count", "piece"))
        width, height = sheet["size"] if sheet else (0, 0)
        found[name] = MaterialValues(
            name=name,
            kind=kind,
            unit=unit,
            cost=UnitCost(
                costs[name].unit_cost,
                costs[name].unit_explanation.how,
                ("purchase_line", number),
            ),
            width_mm=mm(width),
            height_mm=mm(height),
            is_directional=bool(sheet) and not sheet["rotate"],
            waste_share=Decimal(INPUTS["consumable_waste"].get(name, 0)),
            packs=(
                PackOffer(pack, Decimal(quantity) / packs, Decimal(amount) / packs, lead_days=None),
            ),
            id=number,
        )
    return found


def _piece(name, role, width, height, **options):
    return RecipePiece(name, role, mm(width), mm(height), **options)


def _step(name, basis, minutes, **options):
    return RecipeStep(name, basis, Decimal(MINUTES[minutes]), **options)


def recipe():
    size = {name: Decimal(value) for name, value in INPUTS["finished"].items()}
    per_bag, capacity = INPUTS["per_bag"], INPUTS["capacity"]
    from_twelve = When(from_quantity=12)
    shapes = MINUTES["shapes_per_pass"]
    body = (2 * (size["W"] + size["D"]) + size["tab"], size["H"] + size["D"])
    lid = (size["W"], size["lid_lap"] + size["D"] + size["lid_drop"])
    pocket_width = 2 * (size["pocket_W"] + size["pocket_d"]) + size["pocket_tab"]
    pocket_height = size["pocket_tuck"] + size["pocket_H"] + size["pocket_d"] + size["pocket_tuck"]
    return Recipe(
        name=INPUTS["design"].partition(" (")[0],
        materials=materials(),
        pieces=(
            _piece("body", "P", *body),
            _piece("lid", "P", *lid),
            _piece("panel", "P", "1.75", "1.75"),
            _piece("pocket", "Q", pocket_width, pocket_height),
            _piece("flap", "Q", "2", "1"),
            _piece("handle", "R", "11", "0.75", layers=2),
            _piece("tag", "R", "1.5", "2.5"),
            _piece("badge", "S", "1.75", "1.75", layers=2, is_die_cut=True),
            _piece("core", "T", "1.75", "1.75", is_die_cut=True),
        ),
        fixings=tuple(
            RecipeFixing(name, name.partition("_")[0], Decimal(amount))
            for name, amount in per_bag.items()
        ),
        wears=(
            RecipeWear("blade", Basis.SHEET, Decimal(INPUTS["wear"]["blade_per_sheet"])),
            RecipeWear("cutting plates", Basis.PASS, Decimal(INPUTS["wear"]["plates_per_pass"])),
        ),
        packings=(
            RecipePacking(
                "sleeve",
                "sleeve",
                cost_each=Decimal(INPUTS["packing"]["single_sleeve"]),
                when=When(to_quantity=1),
            ),
            RecipePacking(
                "carton",
                "carton",
                holds=MINUTES["bags_per_carton"],
                cost_each=Decimal(INPUTS["packing"]["carton"]),
                when=from_twelve,
            ),
        ),
        steps=(
            _step("set-up", Basis.JOB, "job_setup"),
            *(_step(f"cut {role}", Basis.SHEET, f"cut_{role}", role=role) for role in "PQRST"),
            _step("scoring set-up", Basis.JOB, "score_setup"),
            _step("score", Basis.MADE, "score", learns=True, id=11),
            _step("die set-up", Basis.JOB, "die_setup"),
            _step("die-cut", Basis.PASS, "die_pass", per=shapes),
            _step("body", Basis.MADE, "body", learns=True),
            _step("pocket", Basis.MADE, "pocket", learns=True),
            _step("finish set-up", Basis.JOB, "finish_setup"),
            _step("finish", Basis.MADE, "finish", learns=True),
            _step("check", Basis.GOOD, "check"),
            _step("pack cartons", Basis.CARTON, "carton"),
            RecipeStep(
                "dry",
                Basis.RACK,
                Decimal(capacity["dry_minutes"]),
                per=capacity["rack_bags"],
                times=capacity["dryings"],
                window_minutes=capacity["drying_window_min_per_day"],
            ),
        ),
        reject_share=Decimal(INPUTS["reject_rate"]),
        rejects_from=10,
        learning=Learning.CUMULATIVE,
        learning_rate=Decimal(INPUTS["learning"]["rate"]),
        learning_floor=Decimal(INPUTS["learning"]["floor"]),
    )


def rates():
    return WorkshopRates(
        wage_per_hour=Decimal(INPUTS["wage_per_hour"]),
        overhead_per_hour=Decimal(INPUTS["overhead_per_hour"]),
        tax_rate=Decimal("0.20"),
        prices_include_tax=True,
        day_minutes=int(Decimal(INPUTS["capacity"]["hands_on_hours_per_day"]) * 60),
    )


def channel():
    fee = INPUTS["fee"]
    return ChannelRates(
        "to order",
        tuple(
            TierRates(
                bought_at_once=int(quantity),
                margin=Decimal(margin),
                fee_share=Decimal(fee["rate"]),
                fixed_fee=Decimal(fee["fixed"]),
                payments_per_sale=fee["payments"][quantity],
                price_step=Decimal(INPUTS["price_step"][quantity]),
                deposit_share=Decimal(0 if quantity == "1" else INPUTS["deposit"]["rate"]),
                deposit_step=Decimal(1),
            )
            for quantity, margin in INPUTS["margin"].items()
        ),
    )


def ask(quantity, **options):
    return Ask(quantity, **options)
