"""Money and minutes as people write them; another currency and hostile text are refused.

Signs and names of currencies are those of the Unicode CLDR as carried by Babel; what shops write
beside them (kr, Fr., 9.-) is common practice, no source.
"""

import contextlib
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.entries import OtherCurrency, parse_minutes, parse_money
from maker.calc.refusal import Refusal
from maker.calc.units import UnreadableNumber


@pytest.mark.parametrize(
    ("text", "currency", "locale", "amount"),
    [
        ("9.60", "EUR", "en_GB", "9.60"),
        ("$9.60", "USD", "en_US", "9.60"),
        ("US$ 9.60", "USD", "en_GB", "9.60"),
        ("9,60 €", "EUR", "de_DE", "9.60"),
        ("€ 9.60", "EUR", "en_GB", "9.60"),
        ("9,60\N{NO-BREAK SPACE}€", "EUR", "fr_FR", "9.60"),
        ("EUR 9.60", "EUR", "en_GB", "9.60"),
        ("9.60eur", "EUR", "en_GB", "9.60"),
        ("9 euros", "EUR", "en_GB", "9"),
        ("5 Dollars", "CAD", "en_CA", "5"),
        ("1.234,56", "EUR", "en_GB", "1234.56"),
        ("1,234.56", "EUR", "de_DE", "1234.56"),
        ("1 234,56 €", "EUR", "fr_FR", "1234.56"),
        ("£1,234", "GBP", "en_GB", "1234"),
        ("1,234 €", "EUR", "de_DE", "1.234"),
        ("1.234 €", "EUR", "de_DE", "1234"),
        ("$.50", "USD", "en_US", "0.50"),
        ("Fr. 5.50", "CHF", "de_CH", "5.50"),
        ("Fr.50", "CHF", "de_CH", "50"),
        ("9.-", "CHF", "de_CH", "9"),
        ("5 kr", "SEK", "sv_SE", "5"),
        ("5,50 zł", "PLN", "pl_PL", "5.50"),
        ("¥980", "JPY", "ja_JP", "980"),
        ("12 1/2 $", "USD", "en_US", "12.5"),
    ],
)
def test_money_is_read_as_it_is_written(text: str, currency: str, locale: str, amount: str) -> None:
    assert parse_money(text, currency, locale) == Fraction(amount)


@pytest.mark.parametrize(
    ("text", "currency"),
    [("$9.60", "EUR"), ("9,60 €", "USD"), ("5 GBP", "EUR"), ("£5", "EUR"), ("CA$5", "USD"),
     ("₽5", "EUR"), ("5 kr", "EUR"), ("US$5", "CAD")],
)  # fmt: skip
def test_another_currency_is_refused_with_words(text: str, currency: str) -> None:
    with pytest.raises(OtherCurrency, match=f"in {currency}, this workshop's currency"):
        parse_money(text, currency, "en_GB")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "an amount of money. Enter one"),
        ("€", "an amount of money. Enter one"),
        ("a lot", "an amount of money. Enter one"),
        ("5 %", "an amount of money. Enter one"),
        ("5 bananas", "an amount of money. Enter one"),
        ("nan", "an amount of money. Enter one"),
        ("inf", "an amount of money. Enter one"),
        ("5 € 3", "an amount of money. Enter one"),
        ("1e999", "a number we can read"),
        ("€1e5", "a number we can read"),
        ("9" * 400, "too many digits"),
        ("1/0", "divides by zero"),
    ],
)
def test_what_is_not_money_is_refused(text: str, says: str) -> None:
    with pytest.raises(UnreadableNumber, match=says):
        parse_money(text, "EUR", "en_GB")


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("90", "90"),
        ("90 min", "90"),
        ("90min", "90"),
        ("1h 30", "90"),
        ("1h30", "90"),
        ("1 h 30 min", "90"),
        ("1 hour 30 minutes", "90"),
        ("1:30", "90"),
        ("1:30:15", "90.25"),
        ("0:45", "45"),
        ("1.5 h", "90"),
        ("1,5 h", "90"),
        ("1 1/2 h", "90"),
        ("½ h", "30"),
        ("45s", "0.75"),
        ("2m 30s", "2.5"),
        ("2 min 30", "2.5"),
        ("2.5", "2.5"),
    ],
)
def test_minutes_are_read_as_they_are_said(text: str, minutes: str) -> None:
    assert parse_minutes(text) == Fraction(minutes)


def test_a_bare_number_may_be_hours() -> None:
    assert parse_minutes("3.5", "h") == 210
    assert parse_minutes("3:30", "h") == 210


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "a time. Enter one"),
        ("soon", "a time. Enter one"),
        ("1:75", "a time. Enter one"),
        ("30 min 1 h", "a time. Enter one"),
        ("5 s 3", "a time. Enter one"),
        ("1 h 2 h", "a time. Enter one"),
        ("nan", "a time. Enter one"),
        ("1e999", "a number we can read"),
        ("1e9 h", "a time. Enter one"),
        ("9" * 400, "too many digits"),
    ],
)
def test_what_is_not_a_time_is_refused(text: str, says: str) -> None:
    with pytest.raises(UnreadableNumber, match=says):
        parse_minutes(text)


@given(st.text(max_size=20) | st.from_regex(r"[0-9 .,:€$hmins/½-]{0,14}"))
def test_no_text_does_anything_but_read_or_refuse(text: str) -> None:
    with contextlib.suppress(Refusal):
        assert parse_money(text, "EUR", "de_DE") >= 0
    with contextlib.suppress(Refusal):
        assert parse_minutes(text, locale="de_DE") >= 0
