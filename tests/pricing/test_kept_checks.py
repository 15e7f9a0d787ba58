"""Checks of list prices are kept while neither the price nor the day changes."""

import datetime
import json
from dataclasses import fields, replace
from decimal import Decimal

import pytest

from pricing.calc.price.ingredients import as_plain
from pricing.price_review import kept_checks
from pricing.price_review.inputs import Today, check
from pricing.price_review.kept_checks import DayChecks, KeptChecks, content_of
from tests.calc import worked_case
from tests.calc.kept_prices import kept

D = Decimal
DAY = datetime.date(2026, 9, 1)
SAID = {"version_id": 1, "channel_id": 7, "set_on": DAY}


def today(**changes):
    channel = worked_case.channel()
    values = {
        "on": DAY,
        "unit_costs": {"1": D("2.5")},
        "rates": worked_case.rates(),
        "channels": {None: channel, 7: channel},
        "threshold": D("0.03"),
        "timing_threshold": D("0.1"),
        "after_months": 12,
        "timed": {1: {"fold": D("0.2")}},
    }
    return Today(**(values | changes))


def test_what_is_kept_is_what_is_checked():
    checks = DayChecks(10)
    for price in (kept(60), kept(12), None):
        plain = None if price is None else as_plain(price)
        text = None if plain is None else json.dumps(plain)
        for _ in range(2):
            assert checks.check(text, **SAID, today=today()) == check(plain, **SAID, today=today())


def test_a_price_is_checked_against_a_day_once(monkeypatch):
    days, text = KeptChecks(2), json.dumps(as_plain(kept(60)))
    first = days.against(today()).check(text, **SAID, today=today())
    monkeypatch.setattr(kept_checks, "check", None)
    assert days.against(today()).check(text, **SAID, today=today()) is first


@pytest.mark.parametrize(
    "other",
    [
        {"version_id": 2},
        {"channel_id": None},
        {"set_on": DAY - datetime.timedelta(days=900)},
    ],
)
def test_another_price_of_the_same_basis_is_checked_by_itself(other):
    checks, text = DayChecks(10), json.dumps(as_plain(kept(60)))
    first = checks.check(text, **SAID, today=today())
    assert checks.check(text, **SAID | other, today=today()) is not first


CHANGES = {
    "on": DAY + datetime.timedelta(days=1),
    "unit_costs": {"1": D("2.51")},
    "rates": replace(worked_case.rates(), wage_per_hour=D("18.01")),
    "channels": {None: worked_case.channel()},
    "threshold": D("0.04"),
    "timing_threshold": D("0.2"),
    "after_months": 6,
    "timed": {1: {"fold": D("0.21")}},
}


@pytest.mark.parametrize("name", [field.name for field in fields(Today)])
def test_any_change_of_a_day_makes_it_another_day(name):
    assert content_of(today(**{name: CHANGES[name]})) != content_of(today())
    assert content_of(today()) == content_of(today())


def test_no_more_is_kept_than_was_meant():
    checks, text = DayChecks(1), json.dumps(as_plain(kept(60)))
    checks.check(None, **SAID, today=today())
    first = checks.check(text, **SAID, today=today())
    assert checks.check(text, **SAID, today=today()) is not first
    days = KeptChecks(1)
    first_day = days.against(today())
    assert days.against(today()) is first_day
    days.against(today(threshold=D("0.5")))
    assert days.against(today()) is not first_day
