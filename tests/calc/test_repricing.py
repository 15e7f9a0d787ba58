"""Is a price still true: dearer card, wage and fees of the worked case, and the way back."""

import datetime
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.calc.changes.repricing import DifferentQuantities, Trigger, is_due, reprice
from tests.calc import worked_case
from tests.calc.kept_prices import dearer, kept, with_tiers

D = Decimal
CASE_60 = worked_case.CASE["cases"]["60"]


def four(value):
    return round(value, 4)


def test_patterned_card_15_percent_dearer_is_the_worked_case():
    dear_card = kept(60, recipe=dearer(worked_case.recipe(), "P", "0.15"))
    found = reprice(kept(60), dear_card)
    assert four(found.margin_now) == D(CASE_60["w.P15.margin"])
    assert four(found.margin_then) == D(CASE_60["p.margin"])
    assert found.price_needed == D("10.65")
    assert found.cost_now - found.cost_then == pytest.approx(
        D(CASE_60["w.P15.cost"]) / 60, abs=D("1e-7")
    )
    # 2.51 on 383.78 is 0.65 %: not worth a new tag
    assert four(found.cost_drift) == D("0.0065")
    assert not found.is_off
    assert [cause.key for cause in found.causes] == ["price.1"]


def test_it_is_off_when_it_moved_more_than_her_threshold():
    dear_card = kept(60, recipe=dearer(worked_case.recipe(), "P", "0.15"))
    drift = reprice(kept(60), dear_card).cost_drift
    assert reprice(kept(60), dear_card, threshold=drift).triggers == ()
    assert reprice(kept(60), dear_card, threshold=drift - D("1e-9")).triggers == (Trigger.COST,)


def test_the_line_says_how_far_the_tag_is_from_the_price_it_should_have():
    dear_card = kept(60, recipe=dearer(worked_case.recipe(), "P", "0.15"))
    found = reprice(kept(60), dear_card)
    assert found.price_needed - found.price_each == D("0.10")  # 10.65 instead of 10.55
    assert D("0.10") in [line.number for line in found.line.walk()]


def test_what_became_cheaper_is_off_too():
    cheap_hour = replace(worked_case.rates(), wage_per_hour=D(12))
    found = reprice(kept(60), kept(60, rates=cheap_hour))
    assert found.cost_drift < D("-0.05")
    assert found.triggers == (Trigger.COST,)
    assert found.price_needed < found.price_each
    assert found.margin_now > found.margin_then


def test_causes_come_largest_first_and_add_up():
    recipe = dearer(dearer(worked_case.recipe(), "P", "0.15"), "glue", "2")
    now = kept(60, recipe=recipe, rates=replace(worked_case.rates(), wage_per_hour=D(17)))
    found = reprice(kept(60), now)
    # wage 2.00 x 1039 min / 60 = 34.6; glue 2 x 3.16 = 6.3; card 2.51
    assert [cause.key for cause in found.causes] == ["wage", "price.9", "price.1"]
    moved = sum(cause.exact for cause in found.causes)
    assert moved == pytest.approx(found.cost_now - found.cost_then, abs=D("1e-20"))
    assert abs(found.line.find("history.change").number - moved) < D("1e-20")


def test_dearer_fees_leave_the_cost_alone_and_still_ask_for_another_price():
    channel = with_tiers(worked_case.channel(), fee_share=D("0.09"))
    found = reprice(kept(60), kept(60, channel=channel))
    assert found.cost_drift == 0
    assert found.triggers == (Trigger.TERMS,)
    assert found.causes == ()
    # 0.75 - 0.0175 x 1.2 = 0.729; 0.75 - 0.09 x 1.2 = 0.642
    assert found.price_drift == pytest.approx(D("0.729") / D("0.642") - 1, abs=D("1e-20"))


def test_a_price_she_named_is_put_right_to_the_margin_she_says():
    tag = kept(60, price_each="8.00")
    now = kept(60, rates=replace(worked_case.rates(), wage_per_hour=D(16)))
    found = reprice(tag, now, margin=D("0.02"))
    assert found.price_each == D("8.00")
    restored = now.left_at(found.price_needed)
    assert D("0.02") - D("0.0001") < restored.margin < D("0.03")
    assert found.is_below_floor
    assert not reprice(tag, tag, margin=D("0.02")).is_below_floor


def test_timing_and_age_are_reasons_of_their_own():
    same = kept(60)
    assert reprice(same, same, timing_drift=D("0.1")).triggers == ()
    assert reprice(same, same, timing_drift=D("-0.11")).triggers == (Trigger.TIMING,)
    assert reprice(same, same, is_old=True).triggers == (Trigger.AGE,)


def test_only_as_many_pieces_can_be_compared():
    with pytest.raises(DifferentQuantities):
        reprice(kept(12), kept(60))


@given(st.decimals(0, 60, places=2), st.decimals("0.01", 5, places=2))
def test_the_price_needed_restores_the_wanted_margin(wage, factor):
    then = kept(60)
    recipe = dearer(worked_case.recipe(), "S", factor - 1)
    now = kept(60, recipe=recipe, rates=replace(worked_case.rates(), wage_per_hour=wage))
    found = reprice(then, now)
    left = now.left_at(found.price_needed)
    # tax and two fees are rounded to whole cents
    assert left.profit >= D("0.25") * left.net - D("0.02")
    less = now.left_at(found.price_needed - D("0.05"))
    assert less.profit < D("0.25") * less.net + D("0.02")


@pytest.mark.parametrize(
    ("set_on", "due_on"),
    [("2026-01-15", "2026-07-15"), ("2026-08-31", "2027-02-28"), ("2026-12-01", "2027-06-01")],
)
def test_a_price_is_old_on_the_day_six_months_later(set_on, due_on):
    start, due = (datetime.date.fromisoformat(day) for day in (set_on, due_on))
    assert is_due(start, due, 6)
    assert not is_due(start, due - datetime.timedelta(days=1), 6)
