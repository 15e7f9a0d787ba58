"""A date is said in one way, whatever its day."""

import datetime

from maker.calc.dates import say_date, short_date


def test_a_date_has_no_zero_before_its_day():
    on = datetime.date(2026, 12, 5)
    assert short_date(on) == "5 Dec 2026"
    assert say_date(on) == f"Sat {short_date(on)}"
