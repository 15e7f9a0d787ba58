"""Works out what a quantity of a design costs and what to ask for it. Stores nothing."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace

from catalogue.calc.recipes.recipe import Recipe
from catalogue.calc.sheets.same_sheets import most_from_same_sheets
from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.calc.supplies.shopping import shopping_list
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.costing.cost import JobCost, cost_of
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.price.deposit_rule import sunk_in
from pricing.calc.price.price import JobPrice, price_for
from pricing.calc.schedule.ready import Ready, job_to_lay, ready_from
from pricing.calc.schedule.work_blocks import chain_of
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.costs.inputs import (
    date_terms,
    materials_of_other_designs,
    workshop_rates,
)

# what the search for more from the same sheets may take; it is loaded after the page
MORE_SECONDS = 2.0


@dataclass(frozen=True, slots=True)
class Answer:
    """Cost and price of one ask; without a price, `no_price` says why none can be asked."""

    ask: Ask
    recipe: Recipe
    rates: WorkshopRates
    channel: ChannelRates
    cost: JobCost
    price: JobPrice | None
    no_price: Refusal | None = None


def cost_and_price(
    *,
    version: DesignVersion,
    workshop: Workshop,
    ask: Ask,
    channel: Channel | None = None,
    colourway: Colourway | None = None,
    rates: WorkshopRates | None = None,
    plan_sheets: PlanSheets | None = None,
    used_elsewhere: frozenset[int] | None = None,
) -> Answer:
    """Work out cost and price; `version` comes from `with_recipe()`, `channel` from `with_tiers()`.

    Sheets may take seconds to plan, so call it outside a transaction.

    Where the ask does not say how many one buyer takes, it is as many as the channel's usually do.
    A cost that cannot be worked out is refused; a price that cannot (a margin no price can
    reach) is an answer with its reason, because the cost is still worth seeing. `used_elsewhere`
    are materials of other designs, for a deposit that covers what cannot come back.
    """
    recipe = recipe_values(version, workshop, colourway=colourway)
    rates = rates or workshop_rates(workshop)
    values = channel_rates(channel)
    ask = ask.sold_through(values)
    cost = cost_of(recipe, ask, rates, plan_sheets or sheet_planner())
    if workshop.deposit_rule == Workshop.DepositRule.COVER:
        if used_elsewhere is None:
            used_elsewhere = materials_of_other_designs(workshop, [version.design_id])
        ask = replace(ask, sunk=sunk_in(cost, used_elsewhere, rates))
    try:
        price, refusal = price_for(cost, ask, values, rates), None
    except Refusal as no:
        price, refusal = None, no
    return Answer(ask, recipe, rates, values, cost, price, refusal)


def ready_dates(
    answers: Sequence[Answer],
    workshop: Workshop,
    yes_on: datetime.date,
    suppliers: Sequence[SupplierTerms],
) -> list[Ready]:
    """Return when each answer is ready if it is accepted on a date (three queries in all).

    Errors: NoTimeToWork.
    """
    terms = date_terms(workshop, yes_on)
    return [
        ready_from(
            job_to_lay(
                [chain_of(answer.cost, sends_proof=terms.proof_days > 0)],
                shopping_list(answer.cost.needs, deduct_stock=True, terms=suppliers),
                terms,
            ),
            terms,
            yes_on,
        )
        for answer in answers
    ]


def answers_for(
    *,
    quantities: Sequence[int],
    version: DesignVersion,
    workshop: Workshop,
    ask: Ask,
    channel: Channel | None,
    colourway: Colourway | None,
    is_order: bool = False,
) -> list[Answer]:
    """Answer the same ask for several quantities; those that cannot be costed are left out.

    Who orders buys all of it, wherever it is sold; else what one buyer takes stays as it is.
    """
    rates, plan_sheets = workshop_rates(workshop), sheet_planner()
    elsewhere = None
    if workshop.deposit_rule == Workshop.DepositRule.COVER:
        elsewhere = materials_of_other_designs(workshop, [version.design_id])
    answers = []
    for quantity in quantities:
        if not is_order and quantity < (ask.bought_at_once or 1):
            continue  # a buyer takes more than that
        try:
            answers.append(
                cost_and_price(
                    version=version,
                    workshop=workshop,
                    ask=_made(ask, quantity, is_order=is_order),
                    channel=channel,
                    colourway=colourway,
                    rates=rates,
                    plan_sheets=plan_sheets,
                    used_elsewhere=elsewhere,
                )
            )
        except Refusal:
            continue
    return answers


def _made(ask: Ask, quantity: int, *, is_order: bool) -> Ask:
    bought = quantity if is_order else ask.bought_at_once
    return replace(ask, quantity=quantity, bought_at_once=bought)


def most_without_more_sheets(answer: Answer) -> int:
    """Return up to which quantity the sheets of an answer are enough."""
    return most_from_same_sheets(
        answer.recipe,
        answer.ask.quantity,
        answer.cost.sheet_uses,
        sheet_planner(seconds=MORE_SECONDS),
        choices=answer.ask.choices,
        names=answer.ask.names,
    )
