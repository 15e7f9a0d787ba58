"""Turns the explanation of a figure into what a page shows: words, links, a cost bar."""

import datetime
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import QueryDict
from django.urls import reverse
from django.utils.safestring import SafeString

from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.calc.supplies.shopping import ShoppingLine, ShoppingList, shopping_list
from catalogue.materials.models import Pack
from catalogue.purchases.models import PurchaseLine
from maker.calc.amounts import unit_word
from maker.calc.dates import say_date
from maker.calc.explanation import Line
from maker.calc.money import format_money, minor_digits, to_minor
from maker.calc.units import format_number, format_percent
from maker.web.cost_bar import BarPart, CostBar, cost_bar
from maker.web.words import amount_text, lowest_price, said
from maker.workshop.models import Workshop
from pricing.calc.price.cash import cash_total
from pricing.calc.price.price import JobPrice
from pricing.calc.schedule.ready import Ready
from pricing.calc.what_if.attack import attack_list
from pricing.calc.what_if.what_ifs import what_ifs_for
from pricing.costs.services import Answer

Links = Callable[[tuple[str, int] | None], str]


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A line of an explanation as the page's component wants it."""

    label: str
    how: str
    value_text: str
    unit: str
    href: str
    lines: tuple["ShownLine", ...]


@dataclass(frozen=True, slots=True)
class CostFigure:
    """One figure of the headline; `main` is the one that counts most."""

    label: str
    value_text: str
    unit: str = ""
    note: str = ""
    main: bool = False


def links_for(workshop: Workshop, recipe_url: str, lines: Iterable[Line]) -> Links:
    """Return a function from a line's source to the page behind it, in two queries at most.

    A receipt line opens its receipt, a pack its material, a recipe row the recipe.
    """
    wanted: dict[str, set[int]] = {}
    for top in lines:
        for line in top.walk():
            if line.source:
                wanted.setdefault(line.source[0], set()).add(line.source[1])
    receipts = {}
    if "purchase_line" in wanted:
        rows = PurchaseLine.objects.of(workshop).filter(pk__in=wanted["purchase_line"])
        receipts = dict(rows.values_list("pk", "purchase_id"))
    packs = {}
    if "pack" in wanted:
        packs = dict(
            Pack.objects.of(workshop).filter(pk__in=wanted["pack"]).values_list("pk", "material_id")
        )

    def link(source: tuple[str, int] | None) -> str:
        if source is None:
            return ""
        kind, pk = source
        if kind == "purchase_line" and pk in receipts:
            return reverse("catalogue:purchase", args=[workshop.slug, receipts[pk]])
        if kind == "pack" and pk in packs:
            return reverse("catalogue:material", args=[workshop.slug, packs[pk]])
        if kind == "material":
            return reverse("catalogue:material", args=[workshop.slug, pk])
        if kind == "workshop":
            return reverse("maker:workshop_settings", args=[workshop.slug])
        if kind == "channel":
            return reverse("pricing:channel", args=[workshop.slug, pk])
        if kind in ("step", "piece", "fixing", "wear", "packing"):
            return f"{recipe_url}#{kind}s"
        return ""

    return link


def value_text(line: Line, workshop: Workshop) -> tuple[str, str]:
    """Return the value and its unit as they are written in this workshop."""
    value = line.value
    if isinstance(value, str):
        if line.unit == "date":
            return say_date(datetime.date.fromisoformat(value)), ""
        return value, line.unit
    number = Decimal(value)
    if line.unit == "money":
        # people read coins; only what is less than one unit of money (a sheet, a minute) has more
        fine = 0 < abs(number) < 1
        return format_money(
            round(number, 4) if fine else number,
            workshop.currency,
            workshop.locale,
            4 if fine else 0,
        ), ""
    if line.unit == "share":
        return format_percent(number, workshop.locale, 2), ""
    if line.unit == "factor":
        return format_number(number, workshop.locale, 4), ""
    if line.unit == "m" and workshop.unit == "in":
        text, unit = amount_text(number, "m", workshop).rsplit(" ", 1)
        return text, unit
    places = 4 if _decimals(number) <= 4 else 2
    return format_number(number, workshop.locale, places), unit_word(line.unit, number)


def _decimals(number: Decimal) -> int:
    exponent = number.normalize().as_tuple().exponent
    return max(-exponent, 0) if isinstance(exponent, int) else 0


def shown(line: Line, workshop: Workshop, link: Links) -> ShownLine:
    """Return the line and all below it as the page shows them."""
    text, unit = value_text(line, workshop)
    return ShownLine(
        label=line.label,
        how=said(line.how, workshop),
        value_text=text,
        unit=unit,
        href=link(line.source),
        lines=tuple(shown(child, workshop, link) for child in line.lines),
    )


def _money(workshop: Workshop, amount: Decimal, extra_digits: int = 0) -> str:
    """Write an amount; with more digits it is one of a column of unit costs."""
    return format_money(amount, workshop.currency, workshop.locale, extra_digits, in_column=True)


def headline(answer: Answer, workshop: Workshop) -> list[CostFigure]:
    """Return the figures that stand first: the price when one can be asked, the cost always."""
    cost, price, rates = answer.cost, answer.price, answer.rates
    tax_note = ""
    if rates.tax_rate:
        tax_note = "tax included" if rates.prices_include_tax else "tax not included"
    figures = []
    if price is not None:
        buyer = f"{answer.ask.bought} bought at once" if price.terms.sales > 1 else ""
        figures.append(
            CostFigure(
                "Suggested price",
                _money(workshop, price.price_each),
                note=", ".join(filter(None, ("each", tax_note, buyer))),
                main=True,
            )
        )
        figures.append(
            CostFigure(
                "Lowest price",
                lowest_price(price.floor_each, workshop),
                note="wage and bills paid, no profit",
            )
        )
    figures.append(CostFigure("Cost", _money(workshop, cost.cost_each), note="each"))
    if price is not None:
        if price.per_hour is not None:
            figures.append(
                CostFigure(
                    "You earn per hour", _money(workshop, price.per_hour), note="wage and profit"
                )
            )
        if price.margin is not None:
            figures.append(
                CostFigure(
                    "Margin",
                    _percent(workshop, price.margin),
                    note="of the price before tax" if rates.tax_rate else "of the price",
                )
            )
        if answer.ask.quantity > 1:
            figures.append(
                CostFigure("Total", _money(workshop, price.total), note=_say_sold(price))
            )
        # coins and a deposit are paid by one buyer
        sale, of_each = price.sales[0], "per buyer" if price.terms.sales > 1 else ""
        coins = cash_total(sale.totals.gross, workshop.cash_step)
        if coins.rounding:
            step = _money(workshop, workshop.cash_step)
            note = ", ".join(filter(None, (f"to the nearest {step}", of_each)))
            figures.append(CostFigure("Paid in cash", _money(workshop, coins.payable), note=note))
        if sale.deposit:
            figures.append(CostFigure("Deposit", _money(workshop, sale.deposit), note=of_each))
    minutes = cost.minutes / cost.quantity
    figures.append(
        CostFigure(
            "Time",
            format_number(minutes, workshop.locale, 1),
            "min",
            note="each, including set-up",
        )
    )
    return figures


def _say_sold(price: JobPrice) -> str:
    if price.terms.sales == 1:
        return f"for {price.quantity}"
    return f"for {price.quantity}, {price.terms.sales} buyers"


def _percent(workshop: Workshop, share: Decimal) -> str:
    return format_percent(share, workshop.locale)


def cost_parts(answer: Answer, workshop: Workshop) -> CostBar:
    """Return what the price of the job is made of, as a bar: cost by part, fees, tax, profit.

    Without a price, or at a loss, only the cost is drawn: a part below nothing has no length.
    """
    cost, price = answer.cost, answer.price
    parts = [
        ("Labour", cost.labour_cost),
        ("Overhead", cost.overhead_cost),
        ("Sheets", cost.sheets_cost),
        ("Other materials", cost.other_cost),
        ("Wear and packing", cost.wear_cost + cost.packing_cost),
    ]
    total = cost.cost
    if price is not None and price.profit >= 0:
        parts += [
            ("Fees and delivery" if price.delivery else "Fees", price.fees + price.delivery),
            ("Tax", price.tax),
            ("Profit", price.profit),
        ]
        total = sum((amount for _, amount in parts), Decimal(0))
    return cost_bar(
        [BarPart(label, amount, _money(workshop, amount)) for label, amount in parts],
        total_text=_money(workshop, total),
    )


@dataclass(frozen=True, slots=True)
class SheetRow:
    """Sheets of one material: how many, how sure that is, how much of them no piece lies on."""

    material: str
    sheets: int
    proof: str
    unused: str
    has_no_slack: bool
    swatch: SafeString | str = ""


def sheet_rows(
    answer: Answer, workshop: Workshop, swatches: Mapping[str, SafeString]
) -> list[SheetRow]:
    """Return each material's sheets with the bound its plan was proved by, or how far it is off."""
    rows = []
    for plan in {id(use.plan): use.plan for use in answer.cost.sheet_uses}.values():
        found = plan.plan
        proof = f"Fewest possible: {found.reason}"
        if not found.proven:
            off = found.sheet_count - int(found.lower_bound)
            proof = (
                f"Best found, at most {off} above the fewest; a longer search may find less. "
                f"{found.reason}"
            )
        rows.append(
            SheetRow(
                plan.material.name,
                found.sheet_count,
                proof,
                _percent(workshop, plan.unused_share),
                any(layout.slack == 0 for layout in found.layouts),
                swatches.get(plan.material.name, ""),
            )
        )
    return rows


def order_rows(shopping: ShoppingList, workshop: Workshop) -> list[dict[str, Any]]:
    """Return the carriage of each order, with what is missing until it is free."""
    rows = []
    for order in shopping.orders:
        hint = ""
        if order.to_free is not None:
            hint = f"{_money(workshop, order.to_free)} more for free postage"
            if order.to_free < order.carriage:
                hint += ". Add something you'll need anyway"
        elif not order.carriage:
            hint = said(order.line.how, workshop)
        rows.append({"supplier": order.supplier, "carriage": order.carriage, "hint": hint})
    return rows


def answer_page(
    answer: Answer,
    ready: Ready | None,
    workshop: Workshop,
    suppliers: Sequence[SupplierTerms],
    recipe_url: str,
    swatches: Mapping[str, SafeString],
) -> dict[str, Any]:
    """Return everything the page shows of an answer, in a constant number of queries."""
    cost, price = answer.cost, answer.price
    shopping = shopping_list(cost.needs, deduct_stock=True, terms=suppliers)
    cost_tree, price_tree = cost.explanation, price.explanation if price else None
    trees = [cost_tree, *([price_tree] if price_tree else []), shopping.explanation]
    link = links_for(workshop, recipe_url, trees)
    return {
        "answer": answer,
        "price": price,
        "figures": headline(answer, workshop),
        "bar": cost_parts(answer, workshop),
        "sheets": sheet_rows(answer, workshop, swatches),
        "all_proven": all(use.plan.plan.proven for use in cost.sheet_uses),
        "cost_tree": shown(cost_tree, workshop, link),
        "ready": ready,
        "ready_on": say_date(ready.on) if ready and ready.on else "",
        "ready_tree": shown(ready.line, workshop, link) if ready else None,
        "price_tree": shown(price_tree, workshop, link) if price_tree else None,
        "no_price": answer.no_price,
        "shopping": [
            {
                "material": line.material.name,
                "swatch": swatches.get(line.material.name, ""),
                "need": amount_text(round(need, 2), line.material.unit, workshop)
                if line.material.unit != "m"
                else amount_text(need, "m", workshop),
                "on_hand": amount_text(line.material.on_hand, line.material.unit, workshop),
                "buy": _packs_in_words(line),
                "cost": line.bought.cost if line.bought else None,
            }
            for line in shopping.lines
            for need in (line.bought.need if line.bought else Decimal(0),)
        ],
        "orders": order_rows(shopping, workshop),
        "shopping_cash": shopping.cash,
        "shopping_total": shopping.total,
        "what_ifs": what_if_rows(answer, workshop),
        "to_change": change_first(answer, workshop),
    }


# material prices have moved by about this much in a year; common practice, no source
DEARER_BY = Decimal("0.15")
MOST_TO_CHANGE = 4


def what_if_rows(answer: Answer, workshop: Workshop) -> list[dict[str, Any]]:
    """Return what small changes do to the price of one, the strongest first."""
    if answer.price is None:
        return []
    changes = what_ifs_for(answer.cost, answer.price, answer.rates, dearer_by=DEARER_BY)
    return [
        {
            "label": change.line.label,
            "change": _money(workshop, change.price_change),
            "needed": _money(workshop, change.price_needed),
            "margin": "–" if change.margin_left is None else _percent(workshop, change.margin_left),
        }
        for change in sorted(changes, key=lambda change: -change.price_change)
    ]


def change_first(answer: Answer, workshop: Workshop) -> list[dict[str, str]]:
    """Return the few costs that could bring the price down most, the largest first."""
    if answer.price is None:
        return []
    found = attack_list(answer.cost, answer.price, answer.rates)[:MOST_TO_CHANGE]
    return [
        {
            "label": one.label,
            "share": _percent(workshop, one.share),
            "saving": _money(workshop, one.saving_each),
        }
        for one in found
        if to_minor(one.saving_each, minor_digits(workshop.currency))
    ]


def _packs_in_words(line: ShoppingLine) -> str:
    if line.bought is None:
        return line.problem
    if not line.bought.packs:
        return "enough in stock"
    return ", ".join(f"{pack.count} x {pack.offer.name}" for pack in line.bought.packs)


def rows_of_quantities(
    answers: Sequence[Answer],
    ready: Sequence[Ready | None],
    workshop: Workshop,
    asked: int,
    address: str,
) -> list[dict[str, Any]]:
    """Return the same design at several quantities, for a small table."""
    path, _, query = address.partition("?")
    question = QueryDict(query, mutable=True)
    rows = []
    for answer, when in zip(answers, ready, strict=True):
        question["quantity"] = str(answer.ask.quantity)
        rows.append(
            {
                "quantity": answer.ask.quantity,
                "is_asked": answer.ask.quantity == asked,
                "href": f"{path}?{question.urlencode()}",
                "cost_each": answer.cost.cost_each,
                "price_each": answer.price.price_each if answer.price else None,
                "floor_each": answer.price.floor_each if answer.price else None,
                "total": answer.price.total if answer.price else None,
                "ready_on": say_date(when.on) if when and when.on else "–",
                "minutes": format_number(
                    answer.cost.minutes / answer.cost.quantity, workshop.locale, 1
                ),
            }
        )
    return rows


def more_row(answer: Answer, most: int, address: str) -> dict[str, Any] | None:
    """Return up to which larger quantity no more sheets are taken; None when there is none."""
    asked = answer.ask.quantity
    if most <= asked:
        return None
    path, _, query = address.partition("?")
    question = QueryDict(query, mutable=True)
    question["quantity"] = str(most)
    return {
        "most": most,
        "more": most - asked,
        "sheets": answer.cost.sheets,
        "href": f"{path}?{question.urlencode()}",
    }
