"""What the workshop and the channel put into a price, as plain values."""

from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc.refusal import Refusal

ZERO = Decimal(0)
ONE = Decimal(1)
USUAL_DAY_MINUTES = 210


class NobodyBuys(Refusal):
    """A buyer who takes nothing."""


@dataclass(frozen=True, slots=True)
class WorkshopRates:
    """What an hour costs, how tax is treated and how long a day is. Shares are 0 to 1.

    `day_minutes` are those of a usual working day.
    """

    wage_per_hour: Decimal
    overhead_per_hour: Decimal
    overhead_how: str = ""
    currency_digits: int = 2
    tax_rate: Decimal = ZERO  # zero when not registered
    prices_include_tax: bool = True
    tax_per_line: bool = False
    day_minutes: int = USUAL_DAY_MINUTES
    # both sides of an offcut that is kept and credited; None: offcuts are worth nothing
    offcut_least_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class TierRates:
    """Fees, margin, step and deposit of a sale of so many and more."""

    bought_at_once: int = 1
    margin: Decimal = ZERO
    fee_share: Decimal = ZERO  # of the tax-inclusive payment
    fixed_fee: Decimal = ZERO  # for each payment
    payments_per_sale: int = 1  # of one buyer: a deposit and the rest are two
    price_step: Decimal = ZERO
    deposit_share: Decimal = ZERO
    deposit_step: Decimal = ONE


@dataclass(frozen=True, slots=True)
class ChannelRates:
    """A channel: its tiers by quantity, its rush surcharge and what a listing costs.

    `bought_at_once` is how many one buyer usually takes, None what is ordered.
    `commission_share` of the net price is kept by whoever sells for her (consignment);
    `resale_share` is what a shop that buys from her keeps of the net price on its own shelf.
    """

    name: str
    tiers: tuple[TierRates, ...]
    rush_share: Decimal = ZERO
    listing_fee: Decimal = ZERO
    commission_share: Decimal = ZERO
    resale_share: Decimal = ZERO
    id: int | None = None
    bought_at_once: int | None = None


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked for: how many good ones made at once and sold, with what, how fast.

    One buyer takes `bought_at_once` of them (None: all, as of an order), pays for them apart and
    has them sent.
    """

    quantity: int
    choices: tuple[tuple[str, str], ...] = ()  # option key, choice key; the rest by default
    names: int | None = None  # None: as many as pieces
    is_rush: bool = False
    delivery: Decimal = ZERO  # what carriage of a sale costs, net; passed on without margin
    sunk: Decimal = ZERO  # net cash a deposit must cover, if it must; see deposit_rule
    bought_at_once: int | None = None
    alike: int | None = None  # items of the same recipe in the order; None: these are all
    ordered: int | None = None  # items in the whole order; None: these are all

    @property
    def bought(self) -> int:
        """How many one buyer takes: never more than there are."""
        return min(self.bought_at_once or self.quantity, self.quantity)

    def sold_through(self, channel: ChannelRates) -> "Ask":
        """Return the same as sold in a channel.

        Where it is not said how many one buyer takes, as many as there usually. Who buys more
        than are made at once has them made at once.
        """
        if self.bought_at_once is None:
            usual = channel.bought_at_once or self.quantity
            return replace(self, bought_at_once=min(usual, self.quantity))
        if self.bought_at_once < 1:
            raise NobodyBuys("A buyer takes at least 1.", where="bought_at_once")
        return replace(self, quantity=max(self.quantity, self.bought_at_once))
