"""A thousand prices beside today: a fixed number of queries, and one go to change them."""

import pytest
from django.utils import timezone

from maker.accounts.models import Membership
from pricing.calc.changes.repricing import Trigger
from pricing.calc.price.ingredients import as_plain, from_plain
from pricing.price_review.inputs import explain, today_of
from pricing.price_review.review import review_prices
from pricing.price_review.services import change_prices
from pricing.prices.models import PriceListEntry
from tests.benchmarks.price_sides import recost_figures, recosted
from tests.benchmarks.priced_designs import buy_dearer, priced_workshop
from tests.benchmarks.recost_workbook import Listed, Standing
from tests.factories import make_member

MANY = 1_000
pytestmark = [pytest.mark.django_db, pytest.mark.slow]


@pytest.fixture
def moved():
    """Make a workshop of so many priced designs whose card became dearer since."""

    def make(designs):
        workshop = priced_workshop(designs)
        buy_dearer(workshop, timezone.localdate())
        return workshop

    return make


def standing(workshop):
    today = today_of(workshop, timezone.localdate())
    (channel,) = (values for key, values in today.channels.items() if key is not None)
    return Standing(
        today.unit_costs,
        today.rates,
        channel,
        workshop.reprice_share,
        workshop.reprice_after_months,
        today.on,
    )


def current(workshop):
    return PriceListEntry.objects.of(workshop).current().in_order()


def test_a_thousand_designs_are_recost_with_the_queries_of_ten(moved, count_queries):
    few, many = moved(10), moved(MANY)
    with count_queries() as for_few:
        review_prices(workshop=few, on=timezone.localdate())
    with count_queries() as for_many:
        review = review_prices(workshop=many, on=timezone.localdate())
        why = [explain(off.checked, review.today) for off in review.prices]
    assert len(for_many) == len(for_few)
    assert (review.checked, review.not_kept) == (MANY, 0)
    assert 0 < len(why) < MANY
    assert {off.checked.triggers for off in review.prices} == {(Trigger.COST,)}
    # what the list leaves out is within the threshold, each worked out by itself
    listed = [Listed(from_plain(entry.basis), review.today.on) for entry in current(many)]
    alone = recosted(listed, standing(many))
    assert len(why) == sum(each.is_off for each in alone)
    assert max(abs(each.cost_drift) for each in alone if not each.is_off) <= many.reprice_share
    by_figures = {tuple(recost_figures(each).values()) for each in alone if each.is_off}
    assert {tuple(recost_figures(each).values()) for each in why} == by_figures


def test_a_thousand_prices_change_in_one_go(moved, count_queries):
    workshop = moved(MANY)
    by = make_member(workshop, Membership.Role.OWNER)
    day = timezone.localdate()
    off = review_prices(workshop=workshop, on=day).prices
    one, others = off[0].entry_id, [each.entry_id for each in off[1:]]
    with count_queries() as for_one:
        change_prices(workshop=workshop, wanted={one: None}, by=by, on=day)
    with count_queries() as for_others:
        made = change_prices(workshop=workshop, wanted=dict.fromkeys(others), by=by, on=day)
    # the rows are written in batches as large as the database takes
    assert len(for_others) - len(for_one) <= len(others) / 10
    assert len(made) == len(others)
    assert current(workshop).count() == MANY
    assert not review_prices(workshop=workshop, on=day).prices


def test_what_did_not_move_costs_what_it_did():
    workshop = priced_workshop(8)
    today = standing(workshop)
    listed = [Listed(from_plain(entry.basis), today.on) for entry in current(workshop)]
    assert len(listed) == 8
    assert all(each.cost_now == each.cost_then for each in recosted(listed, today))
    assert [as_plain(each.kept) for each in listed] == [entry.basis for entry in current(workshop)]
