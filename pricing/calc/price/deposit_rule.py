"""How large a deposit must be: a share of the total, but never less than what cannot come back.

An order that falls through leaves her with packs bought for it alone and with names already
written. The deposit covers that, tax on it included where tax is due on deposits (common practice,
no source; when a deposit may be kept is for local law).
"""

from collections.abc import Container
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Protocol

from catalogue.calc.supplies.shopping import Need, shopping_list
from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import minor_unit, to_minor, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.price.fees import deposit_of
from pricing.calc.price.terms import Terms

ZERO = Decimal(0)


class BadDeposit(Refusal):
    """A deposit for less than nothing."""


@dataclass(frozen=True, slots=True)
class DepositAdvice:
    """The deposit to ask for, the one her usual share gives, and what it must cover, unrounded."""

    deposit: Decimal
    by_share: Decimal
    to_cover: Decimal
    line: Line


@with_working_precision
def advise_deposit(
    total: Decimal,
    *,
    share: Decimal,
    step: Decimal,
    sunk: Decimal,
    tax_rate: Decimal = ZERO,
    digits: int = 2,
) -> DepositAdvice:
    """Return the larger of a share of the total and what is sunk, at most the total.

    `total` has tax in it; `sunk` is net: cash for packs of no other use, and personalisation.
    Errors: BadDeposit for a total, share or sunk cost below zero.
    """
    if min(total, share, sunk, tax_rate) < 0:
        raise BadDeposit("A deposit can't be below zero.", where="deposit")
    by_share = deposit_of(total, share, step, digits)
    to_cover = sunk * (1 + tax_rate)
    covering = min(up_to_step(to_cover, max(step, minor_unit(digits))), total)
    deposit = to_minor(max(by_share, covering), digits)
    lines = (
        Line(
            "by share",
            by_share,
            "money",
            sums.say("{} of {}, up to {}", sums.share(share), sums.money(total), sums.money(step)),
        ),
        Line(
            "can't be recovered",
            to_minor(to_cover, digits),
            "money",
            sums.money(sunk) * sums.factor(1 + tax_rate),
            "deposit.sunk",
        ),
    )
    how = "the larger one, at most the total"
    line = Line("deposit", deposit, "money", how, "deposit", lines)
    return DepositAdvice(deposit, by_share, to_cover, line)


class Needing(Protocol):
    """What the deposit looks at: a `JobCost`, or the cost of an order."""

    @property
    def needs(self) -> tuple[Need, ...]:
        """The materials to have."""

    @property
    def name_minutes(self) -> Decimal:
        """Minutes of work on names."""


@with_working_precision
def sunk_in(job: Needing, used_elsewhere: Container[int | str], rates: WorkshopRates) -> Decimal:
    """Return the net cash that cannot come back: packs of no other use, and work on names.

    What is on the shelf need not be bought. `used_elsewhere` are materials by identity that other
    designs use: a pack of those left over is used up another time.
    """
    needs = [need for need in job.needs if need.material.identity not in used_elsewhere]
    hour = rates.wage_per_hour + rates.overhead_per_hour
    return shopping_list(needs, deduct_stock=True).cash + job.name_minutes * hour / 60


def _advised(total: Decimal, terms: Terms, digits: int) -> DepositAdvice | None:
    """Return the deposit that covers what is sunk; None where the share alone decides.

    None where no deposit is asked, because who buys at a stall orders nothing.
    """
    if not terms.sunk or terms.tier.deposit_share <= 0:
        return None
    return advise_deposit(
        total,
        share=terms.tier.deposit_share,
        step=terms.tier.deposit_step,
        sunk=terms.sunk,
        tax_rate=terms.tax_rate,
        digits=digits,
    )


def deposit_for(total: Decimal, terms: Terms, digits: int) -> Decimal:
    """Return the deposit of a total, by the share alone unless the terms name what is sunk."""
    if advice := _advised(total, terms, digits):
        return advice.deposit
    return deposit_of(total, terms.tier.deposit_share, terms.tier.deposit_step, digits)


def deposit_line(total: Decimal, terms: Terms, digits: int, key: str) -> Line:
    """Return the deposit of a total and how it came about, under a key."""
    tier = terms.tier
    if advice := _advised(total, terms, digits):
        return replace(advice.line, key=key)
    deposit = deposit_of(total, tier.deposit_share, tier.deposit_step, digits)
    how: sums.How | str = "none"
    if deposit:
        by, step = sums.share(tier.deposit_share), sums.money(tier.deposit_step)
        how = sums.say("{} of the total, up to {}", by, step)
    return Line("deposit", deposit, "money", how, key)
