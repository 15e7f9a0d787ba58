"""What finished items would fetch, by hand: IAS 2 paragraph 6, price less the costs to sell."""

from decimal import Decimal as D

import pytest

from pricing.calc.costing.rates import ChannelRates, TierRates
from pricing.calc.finished_stock.would_fetch import MadeValue, fetches_each

STALL = ChannelRates(name="Stall", tiers=(TierRates(margin=D("0.3")),))
WEB = ChannelRates(
    name="Web",
    tiers=(
        TierRates(margin=D("0.3"), fee_share=D("0.05"), fixed_fee=D("0.30")),
        TierRates(bought_at_once=10, margin=D("0.2"), fee_share=D("0.02")),
    ),
    listing_fee=D("0.20"),
    commission_share=D("0.10"),
)


@pytest.mark.parametrize(
    ("price", "channel", "tax_rate", "includes_tax", "each"),
    [
        ("6.00", STALL, "0", True, "6.00"),
        # 6.00 / 1.2 = 5.00
        ("6.00", STALL, "0.2", True, "5.00"),
        ("6.00", STALL, "0.2", False, "6.00"),
        # 6.00 - (0.30 + 0.30) - 0.20 - 0.60
        ("6.00", WEB, "0", True, "4.60"),
        # net 5.00: fee of the 6.00 paid 0.60, commission of 5.00 0.50, listing 0.20
        ("6.00", WEB, "0.2", True, "3.70"),
        ("0.40", WEB, "0", True, "0"),
    ],
)
def test_the_price_without_tax_less_what_selling_costs(
    price: str, channel: ChannelRates, tax_rate: str, includes_tax: bool, each: str
) -> None:
    found = fetches_each(D(price), channel, tax_rate=D(tax_rate), includes_tax=includes_tax)
    assert found == D(each)


@pytest.mark.parametrize(
    ("materials", "would_fetch", "value", "down"),
    [("12", "40", "12", "0"), ("12", "9.5", "9.5", "2.5"), ("12", None, "12", "0")],
)
def test_it_counts_at_the_lower_of_cost_and_that(
    materials: str, would_fetch: str | None, value: str, down: str
) -> None:
    made = MadeValue(D(materials), None if would_fetch is None else D(would_fetch))
    assert (made.value, made.written_down) == (D(value), D(down))
